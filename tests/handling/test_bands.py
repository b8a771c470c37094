"""Bands of time and temperature: their edges, and what stays not stated."""

from __future__ import annotations

import pytest

from evidence.handling import contrast, handling_key, parse_chain
from evidence.handling.bands import window
from evidence.model.rules import Rules


def _key(treated: str, baseline: str, rules: Rules) -> str | None:
    return handling_key(contrast(parse_chain(treated), parse_chain(baseline)), rules.bands)


def test_the_freezer_windows_are_those_of_the_method_s_rules(rules: Rules) -> None:
    # the project's statistical rules: to 8, 9 to 45, 46 to 120, over 120 days
    days = rules.bands.freezer_days
    seen = [window(day, day, days) for day in (0, 8, 9, 45, 46, 120, 121, 5000)]
    assert seen == ["to-8", "to-8", "9-45", "9-45", "46-120", "46-120", "over-120", "over-120"]


@pytest.mark.parametrize(
    ("low", "high", "expected"),
    [
        (None, None, "not-stated"),
        (None, 90, "46-120"),
        (10, 40, "9-45"),
        (7, 30, "not-stated"),
        (30, 200, "not-stated"),
        (150, None, "over-120"),
        (30, None, "not-stated"),
        (8.5, 8.5, "9-45"),
    ],
)
def test_a_bound_counts_at_its_end_and_a_span_of_windows_counts_nowhere(
    low: float | None, high: float | None, expected: str, rules: Rules
) -> None:
    assert window(low, high, rules.bands.freezer_days) == expected


@pytest.mark.parametrize(
    ("freezer", "expected"),
    [
        ("-20C", "home"),
        ("-18..-20C", "home"),
        ("-5C", "home"),
        ("-4C", "not-stated"),
        ("-59C", "home"),
        ("-60C", "deep"),
        ("-70..-80C", "deep"),
        ("-20..-80C", "not-stated"),
        ("", "not-stated"),
        ("[home]", "home"),
        ("[liquid-nitrogen]", "deep"),
        ("-4F", "home"),
    ],
)
def test_household_and_laboratory_freezers_are_told_apart(freezer: str, expected: str, rules: Rules) -> None:
    text = f"expressed > frozen {freezer}".strip()
    assert _key(text, "expressed", rules) == f"frozen:{expected}:not-stated" + "d"


@pytest.mark.parametrize(
    ("store", "expected"),
    [
        ("4C", "cold"), ("9.9C", "cold"), ("10C", "room"), ("30C", "room"), ("30.5C", "warm"), ("40C", "warm"),
        ("20..40C", "not-stated"), ("4..25C", "not-stated"), ("", "not-stated"), ("[room]", "room"),
    ],
)  # fmt: skip
def test_powder_is_kept_cold_at_room_temperature_or_warm(store: str, expected: str, rules: Rules) -> None:
    dried = "expressed > freeze-dried"
    assert _key(f"{dried} > kept {store}".strip(), dried, rules) == f"kept:freeze-dried:{expected}:not-statedd"


@pytest.mark.parametrize(
    ("treated", "baseline", "expected"),
    [
        ("expressed > frozen -20C 1mo", "expressed", "frozen:home:9-45d"),
        ("expressed > frozen -20C 24wk", "expressed", "frozen:home:over-120d"),
        ("expressed > chilled 4C 1d", "expressed", "chilled:to-24h"),
        ("expressed > chilled 4C 25h", "expressed", "chilled:25-72h"),
        ("expressed > chilled 4C 4d", "expressed", "chilled:over-72h"),
        ("expressed > room 25C 4h", "expressed", "room:to-4h"),
        ("expressed > room 25C 5h", "expressed", "room:over-4h"),
        ("expressed > pasteurised holder", "expressed", "pasteurised:holder"),
        ("expressed > pasteurised", "expressed", "pasteurised"),
        ("expressed > freeze-dried [shelf 40C] > reconstituted", "expressed", "freeze-dried"),
        ("expressed > frozen -20C > freeze-dried", "expressed", "frozen+freeze-dried"),
        ("expressed > spray-dried > kept 25C 90d", "expressed > spray-dried", "kept:spray-dried:room:46-120d"),
        ("expressed > frozen -80C", "expressed > frozen -20C", None),
    ],
)
def test_the_key_names_what_was_isolated(treated: str, baseline: str, expected: str | None, rules: Rules) -> None:
    assert _key(treated, baseline, rules) == expected
