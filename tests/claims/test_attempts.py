"""Attempts to have a sentence supported that says more than its study, or to promise without the usual words."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from evidence.store import Store
from reports.claims.check import Checker, open_checker

# "more than the study": a true figure, its comparison and its study, and something else beside it (figures of
# answers A-1134, A-0432, A-0979 and A-0652); "promise": copy that promises without the usual words
with Path(__file__).with_name("attempts.csv").open(encoding="utf-8", newline="") as _file:
    ATTEMPTS = [(row["attempt"], row["text"]) for row in csv.DictReader(_file)]
MORE_THAN_THE_STUDY = [text for attempt, text in ATTEMPTS if attempt == "more than the study"]
PROMISES = [text for attempt, text in ATTEMPTS if attempt == "promise"]


@pytest.fixture(scope="module")
def checker(shipped_store: Store) -> Checker:
    return open_checker(shipped_store)


@pytest.mark.parametrize("sentence", MORE_THAN_THE_STUDY)
def test_a_true_figure_does_not_carry_what_stands_beside_it(sentence: str, checker: Checker) -> None:
    (claim,) = checker.check([sentence])
    assert claim.verdict != "supported"


@pytest.mark.parametrize("text", PROMISES)
def test_a_promise_in_other_words_is_stopped(text: str, checker: Checker) -> None:
    assert any(claim.to_change for claim in checker.check([text]))
