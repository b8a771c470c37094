"""A share is told by its two values, with what it was compared with, and never as parts still there."""

from __future__ import annotations

import pytest

from evidence.model.tables import Measurement
from evidence.store import Store
from reports.words.answers import answer_sentences, how_sure
from reports.words.brief import brief_answer
from reports.words.catalogue import load_catalogue
from reports.words.library import Library, load_library
from tests.invented import FRESH, finding_of, measured

# real keys, so that the library knows their names; the figures are invented
KEYS = ("buss2001vitamin", "goelz2009effects", "vieira2011analysis", "lev2014major")


@pytest.fixture(scope="module")
def library(shipped_store: Store) -> Library:
    return load_library(shipped_store)


def _rows(number: int) -> list[Measurement]:
    return [
        measured(
            study=key, component="cell-viability", measured_as="share", unit="% viable cells", assay="trypan blue",
            baseline_mean=92, treated_mean=78 - at, **FRESH,
        )
        for at, key in enumerate(KEYS[:number])
    ]  # fmt: skip


def test_both_values_stand_in_one_sentence_with_the_comparison(library: Library) -> None:
    first, last = answer_sentences(finding_of(_rows(1)), library, load_catalogue())
    assert "at 92 before and 78" in first and "% viable cells" in first and "fresh" in first
    assert "not how much" in last


def test_four_studies_are_told_as_three_and_their_average(library: Library) -> None:
    told = answer_sentences(finding_of(_rows(4)), library, load_catalogue())
    assert len([text for text in told if "before and" in text]) == 3
    assert "One more study printed such a share." in told
    (together,) = [text for text in told if "points of 100" in text]
    # 14, 15, 16 and 17 points less: 15.5 on average
    assert "−16 points" in together or "−15 points" in together
    assert "fresh" in together
    assert not any("still there" in text or "kept" in text for text in told)


def test_a_share_is_not_called_a_result_without_a_number(library: Library) -> None:
    say = load_catalogue()
    found = finding_of(_rows(1))
    assert found.certainty.level == "very low"
    assert "nobody printed a number" not in how_sure(found, say)
    assert "from 92 to 78" in brief_answer(found, library, say)
    assert "in words only" not in brief_answer(found, library, say)
