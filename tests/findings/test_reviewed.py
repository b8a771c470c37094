"""How sure anyone can be, set by hand: one name to lower, a second without interest to raise, nothing ever edited."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidence.findings.finding import Certainty, CertaintyStep, Level
from evidence.findings.kept import finding_from_json, finding_to_json
from evidence.findings.reviewed import may_stand, raises, reviewed
from evidence.model.lists import CERTAINTY_LEVELS
from evidence.model.tables import Override
from tests.invented import finding_of, measured

LEVELS: tuple[Level, ...] = ("high", "moderate", "low", "very low")
STEPS = (CertaintyStep("one study", 2),)


def override(level: str, *, computed: str = "low", date: str = "2031-05-03", serial: int = 1, **more: str) -> Override:
    values = {"by": "R. Viewer", "reason": "Seen.", "second": "", "second_no_interest": ""} | more
    return Override(
        id=f"A-0001-r{serial}", number="A-0001", computed=computed, certainty=level, date=date, origin="own", **values
    )


AGREED = {"second": "S. Second", "second_no_interest": "yes"}


def test_without_a_review_nothing_changes() -> None:
    computed = Certainty("low", STEPS)
    assert reviewed(computed, []) is computed


def test_one_name_lowers_and_the_figures_own_level_stays_visible() -> None:
    found = reviewed(Certainty("low", STEPS), [override("very low")])
    assert (found.level, found.computed, found.steps) == ("very low", "low", STEPS)
    assert found.in_force is not None and found.in_force.by == "R. Viewer"


@pytest.mark.parametrize(
    "lacks",
    [
        {"second": "", "second_no_interest": "yes"},
        {"second": "S. Second", "second_no_interest": ""},
        {"second": "r.  viewer", "second_no_interest": "yes"},
    ],
)
def test_raising_without_a_second_name_that_gains_nothing_never_counts(lacks: dict[str, str]) -> None:
    found = reviewed(Certainty("low", STEPS), [override("high", **lacks)])
    assert found.level == "low"
    assert found.in_force is None
    assert len(found.reviews) == 1


def test_raising_with_a_second_name_counts() -> None:
    found = reviewed(Certainty("low", STEPS), [override("moderate", **AGREED)])
    assert found.level == "moderate"
    assert found.in_force is not None and found.in_force.second == "S. Second"


def test_a_newer_review_replaces_and_both_stay_visible() -> None:
    first, second = override("very low"), override("moderate", date="2031-06-01", serial=2, **AGREED)
    for order in ([first, second], [second, first]):
        found = reviewed(Certainty("low", STEPS), order)
        assert found.level == "moderate"
        assert [(each.certainty, each.counts) for each in found.reviews] == [("very low", False), ("moderate", True)]


def test_of_two_reviews_of_one_day_the_later_number_counts_beyond_nine_too() -> None:
    found = reviewed(Certainty("low", STEPS), [override("very low", serial=10), override("low", serial=9)])
    assert found.level == "very low"


def test_where_the_figures_have_changed_the_lower_level_stands() -> None:
    raised = override("high", computed="moderate", **AGREED)
    assert reviewed(Certainty("low", STEPS), [raised]).level == "low"
    assert reviewed(Certainty("low", STEPS), [override("very low", computed="high")]).level == "very low"


@given(
    st.sampled_from(LEVELS),
    st.lists(
        st.tuples(st.sampled_from(CERTAINTY_LEVELS), st.sampled_from(CERTAINTY_LEVELS), st.sampled_from(["", "yes"])),
        min_size=1, max_size=5,
    ),
)  # fmt: skip
def test_no_list_of_reviews_raises_a_level_without_a_second_name(
    level: Level, signed: list[tuple[str, str, str]]
) -> None:
    rows = [
        override(to, computed=was, serial=place, second="S. Second" if free else "", second_no_interest=free)
        for place, (to, was, free) in enumerate(signed, start=1)
    ]
    found = reviewed(Certainty(level, STEPS), rows)
    if raises(found.level, level):
        assert found.in_force is not None and found.in_force.second
    assert len(found.reviews) == len(rows)
    assert sum(review.counts for review in found.reviews) <= 1


def test_levels_are_in_order() -> None:
    assert all(raises(a, b) and not raises(b, a) for a, b in pairwise(CERTAINTY_LEVELS))
    assert may_stand("low", "low", "R. Viewer", "", "")


def test_a_review_is_kept_with_its_finding() -> None:
    from dataclasses import replace

    found = finding_of([measured(retained_percent=80, n=5, n_kind="donors")])
    with_review = replace(found, certainty=reviewed(found.certainty, [override("very low")]))
    assert finding_from_json(finding_to_json(with_review)) == with_review
