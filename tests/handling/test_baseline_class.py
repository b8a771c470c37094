"""The class of a baseline: computed from its steps, and fresh only with the page's own word."""

from __future__ import annotations

import pytest

from evidence.handling import baseline_class, fresh_limit_hours, parse_chain
from evidence.handling.meaning import said_fresh
from evidence.model.rules import Rules


def _class(chain: str, said: str, rules: Rules, hours: float = 4) -> str:
    return baseline_class(parse_chain(chain), said, hours, rules.fresh)


@pytest.mark.parametrize(
    ("chain", "expected"),
    [
        ("expressed", "fresh"),
        ("expressed > pooled", "fresh"),
        ("expressed > not-stated", "not stated"),
        ("not-stated", "not stated"),
        ("expressed > chilled 4C 2h", "fresh"),
        ("expressed > chilled 4C 24h", "chilled"),
        ("expressed > chilled 4C", "chilled"),
        ("expressed > chilled 4C >2h", "chilled"),
        ("expressed > room 25C 6h", "otherwise treated"),
        ("expressed > room 25C", "otherwise treated"),
        ("expressed > frozen -20C 1h", "frozen"),
        ("expressed > thawed", "frozen"),
        ("expressed > frozen -20C > thawed > chilled 4C 24h", "frozen"),
        ("expressed > pasteurised holder", "heat-treated"),
        ("expressed > scalded", "heat-treated"),
        ("expressed > frozen -20C > thawed > pasteurised holder", "heat-treated"),
        ("expressed > freeze-dried", "dried"),
        ("expressed > pasteurised holder > freeze-dried > kept 25C 30d", "dried"),
        ("expressed > homogenised", "otherwise treated"),
        ("expressed > fortified", "otherwise treated"),
        ("expressed > light", "otherwise treated"),
    ],
)
def test_each_class_is_computed_from_the_steps(chain: str, expected: str, rules: Rules) -> None:
    assert _class(chain, "fresh milk", rules) == expected


@pytest.mark.parametrize("said", ["", "raw", "untreated", "control", "refreshed drink", "freshwater"])
def test_without_the_page_s_own_word_no_baseline_is_fresh(said: str, rules: Rules) -> None:
    assert _class("expressed", said, rules) == "not stated"


@pytest.mark.parametrize(
    "said", ["Fresh", "freshly expressed milk", "analysed at 0 h", "lait frais", "Day 0 (control)"]
)
def test_the_page_s_word_is_found_wherever_it_stands(said: str, rules: Rules) -> None:
    assert said_fresh(said, rules.fresh)


@pytest.mark.parametrize("said", ["", "10 h", "120 h", "day 01", "raw milk", "not fresh", "non-fresh milk"])
def test_part_of_a_longer_word_or_number_is_not_the_word(said: str, rules: Rules) -> None:
    assert not said_fresh(said, rules.fresh)


@pytest.mark.parametrize(
    ("component", "outcome", "rule"),
    [("total-fat", "bulk", "bulk_hours"), ("lactoferrin", "fragile", "fragile_hours"), ("vitamin-c", "fragile",
    "quick_hours")],
)  # fmt: skip
def test_fresh_lasts_as_many_hours_as_the_rules_allow_the_component(
    component: str, outcome: str, rule: str, rules: Rules
) -> None:
    hours = getattr(rules.fresh, rule)
    assert fresh_limit_hours(component, outcome, rules.fresh) == hours
    at, beyond = (f"expressed > chilled 4C {hours + more:g}h" for more in (0, 0.5))
    assert baseline_class(parse_chain(at), "fresh", hours, rules.fresh) == "fresh"
    assert baseline_class(parse_chain(beyond), "fresh", hours, rules.fresh) == "chilled"


def test_the_hours_are_those_the_method_s_rules_print(rules: Rules) -> None:
    # the project's statistical rules, section on path and time: bulk 24, fragile 4, vitamin C and germs 1
    limits = [
        fresh_limit_hours(name, outcome, rules.fresh)
        for name, outcome in (
            ("total-fat", "bulk"),
            ("iga", "fragile"),
            ("vitamin-c", "fragile"),
            ("glutathione", "fragile"),
            ("total-bacteria", "count"),
        )
    ]
    assert limits == [24, 4, 1, 1, 1]


def test_hours_in_the_fridge_and_on_the_counter_add_up(rules: Rules) -> None:
    assert _class("expressed > chilled 4C 2h > room 20C 1h", "fresh", rules) == "fresh"
    assert _class("expressed > chilled 4C 3h > room 20C 3h", "fresh", rules) == "chilled"
    assert _class("expressed > chilled 4C 3h > chilled 4C 3h", "fresh", rules) == "chilled"


@pytest.mark.parametrize(
    ("written", "expected"), [("90min", "fresh"), ("0.1d", "fresh"), ("1d", "chilled"), ("1wk", "chilled")]
)
def test_hours_are_counted_in_whatever_unit_the_paper_prints(written: str, expected: str, rules: Rules) -> None:
    assert _class(f"expressed > chilled 4C {written}", "fresh", rules) == expected


def test_of_a_range_of_hours_the_longest_counts(rules: Rules) -> None:
    assert _class("expressed > chilled 4C 1..4h", "fresh", rules) == "fresh"
    assert _class("expressed > chilled 4C 1..6h", "fresh", rules) == "chilled"
