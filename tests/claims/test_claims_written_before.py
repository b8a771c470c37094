"""The claims that were written before the check: how well it does, and that it never supports what may not stand."""

from __future__ import annotations

import pytest

from evidence.store import Store
from tests.claims.score import FIELDS, UNTUNED, Scored, lot_of, read_rows, score, table, tuned


@pytest.fixture(scope="module")
def scored(shipped_store: Store) -> list[Scored]:
    return score(shipped_store)


def test_there_are_claims_enough_in_three_languages_and_both_halves() -> None:
    rows = read_rows()
    assert len(rows) >= 150 and {row["lang"] for row in rows} == {"en", "fr", "es"}
    assert len({row["id"] for row in rows}) == len(rows) == len({row["text"] for row in rows})
    halves = sum(tuned(row) for row in rows)
    assert 0.4 < halves / len(rows) < 0.6


def test_nothing_is_falsely_supported(scored: list[Scored]) -> None:
    assert [each.row["text"] for each in scored if each.falsely_supported] == []


def test_what_goes_too_far_is_never_let_stand(scored: list[Scored]) -> None:
    """Counted on both halves of the lots that were tuned to: false reassurance is the worst error."""
    met = [each for each in scored if lot_of(each.row) < UNTUNED]
    passed = [each.row["text"] for each in met if each.let_pass]
    assert len(passed) <= 0.02 * len(met), passed


def test_few_harmless_sentences_are_stopped(scored: list[Scored]) -> None:
    """Counted on every lot."""
    harmless = [each for each in scored if each.row["verdict"] == "none"]
    stopped = [each.row["text"] for each in harmless if each.false_alarm]
    assert len(harmless) > 100 and len(stopped) <= 0.03 * len(harmless), stopped


@pytest.mark.parametrize("half", [True, False], ids=["tuned", "untouched"])
def test_scores_stay_where_the_readme_says(scored: list[Scored], half: bool) -> None:
    told = table(each for each in scored if lot_of(each.row) < UNTUNED and tuned(each.row) == half)
    for field in FIELDS:
        assert told[field] >= 0.93 * told["rows"], (field, told)


def test_the_lot_that_nothing_was_tuned_to_scores_as_the_readme_says(scored: list[Scored]) -> None:
    """No good score, and that is why it stands here: 24 of 40 verdicts when the grown word lists met it once."""
    told = table(each for each in scored if lot_of(each.row) >= UNTUNED)
    assert told["rows"] == 40 and told["verdict"] >= 24 and told["false alarms"] <= 1, told
