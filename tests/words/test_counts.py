"""A fall in a count is told by the tenth, hundredth or thousandth it is near, never as more than it was."""

from __future__ import annotations

import pytest

from reports.words.answers import _fold


@pytest.mark.parametrize(
    ("kept", "word"),
    [(9, "tenth"), (1.2, "hundredth"), (0.1, "thousandth"), (0.0, "thousandth"), (0.2, "share"), (50, "share")],
)
def test_two_in_a_thousand_is_not_called_a_thousandth(kept: float, word: str) -> None:
    assert _fold(kept) == word
