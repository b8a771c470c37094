"""The gate: what a row must pass before a logarithm is taken, one rule a test."""

from __future__ import annotations

import math

import pytest

from evidence.effects import Effect, LeftOut, effect_of, pooled_class
from evidence.model.lists import PooledClass
from evidence.model.rules import Rules
from evidence.model.tables import Measurement
from tests.invented import measured


def _effect(row: Measurement, rules: Rules, group: PooledClass | None = "fragile") -> Effect:
    found = effect_of(row, group, rules)
    assert isinstance(found, Effect), found
    return found


def _why(row: Measurement, rules: Rules, group: PooledClass | None = "fragile") -> str:
    found = effect_of(row, group, rules)
    assert isinstance(found, LeftOut), found
    return found.reason


@pytest.mark.parametrize(
    ("given", "word"),
    [
        ({"read_from": "memory"}, "memory"),
        ({"held": "the two figures do not fit"}, "the two figures do not fit"),
        ({"design": "separate milk"}, "two different milks"),
        ({"basis": "powder"}, "powder"),
        ({"second_read": ""}, "second time"),
        ({"number_is": "unclear"}, "two ways"),
    ],
)
def test_a_row_that_fails_the_gate_is_listed_with_its_reason(given: dict[str, str], word: str, rules: Rules) -> None:
    assert word in _why(measured(retained_percent=70, n=5, n_kind="donors", **given), rules)


@pytest.mark.parametrize("group", ["bulk", "fragile", "count", "marker"])
def test_memory_passes_no_gate_whatever_else_a_row_prints(group: PooledClass, rules: Rules) -> None:
    for given in ({"retained_percent": 70}, {"in_words": "decrease"}, {"retained_percent": 70, "number_is": "at most"}):
        assert "memory" in _why(measured(read_from="memory", **given), rules, group)


def test_a_sentence_on_all_nutrients_counts_for_none(rules: Rules) -> None:
    assert "all nutrients" in _why(measured(in_words="no change", words_scope="all nutrients"), rules)


def test_a_figure_of_its_own_counts_even_beside_such_a_sentence(rules: Rules) -> None:
    assert _effect(measured(retained_percent=70, words_scope="all nutrients"), rules).kind == "figure"


@pytest.mark.parametrize("given", [{"retained_percent": "-4"}, {"change_percent": "-104"}])
def test_less_than_nothing_left_never_becomes_a_figure(given: dict[str, str], rules: Rules) -> None:
    assert isinstance(effect_of(measured(**given), "fragile", rules), LeftOut)


@pytest.mark.parametrize(
    "given",
    [{"retained_percent": "5"}, {"retained_percent": "0"}, {"change_percent": "-97"}, {"retained_percent": "0.2"}],
)
def test_five_of_100_or_fewer_is_a_bound_and_never_a_value(given: dict[str, str], rules: Rules) -> None:
    found = _effect(measured(**given), rules)
    assert found.kind == "at_most"
    assert found.retained_percent == pytest.approx(rules.gate.bound_at_or_below_percent)


def test_just_over_five_is_a_value(rules: Rules) -> None:
    assert _effect(measured(retained_percent="5.1"), rules).kind == "figure"


def test_at_least_three_of_100_is_not_turned_into_at_most_five(rules: Rules) -> None:
    found = _effect(measured(retained_percent=3, number_is="at least"), rules)
    assert found.kind == "at_least"
    assert found.retained_percent == pytest.approx(3)


def test_more_than_all_is_never_clipped(rules: Rules) -> None:
    assert _effect(measured(retained_percent=118), rules, "bulk").retained_percent == pytest.approx(118)
    assert _effect(measured(retained_percent=180), rules, "fragile").retained_percent == pytest.approx(180)


def test_a_bulk_component_well_over_all_is_held_until_looked_at(rules: Rules) -> None:
    assert "water" in _why(measured(retained_percent=121), rules, "bulk")
    assert "water" in _why(measured(baseline_mean="3.0", treated_mean="3.7"), rules, "bulk")
    assert _effect(measured(retained_percent=120), rules, "bulk").kind == "figure"


@pytest.mark.parametrize(
    ("given", "kind", "percent"),
    [
        ({"retained_percent": 80, "number_is": "at least"}, "at_least", 80),
        ({"retained_percent": 80, "number_is": "at most"}, "at_most", 80),
        ({"retained_percent": 80, "number_is": "up to"}, "at_most", 80),
        # of a loss it is the size that is bounded
        ({"change_percent": -20, "number_is": "at least"}, "at_most", 80),
        ({"change_percent": -20, "number_is": "up to"}, "at_least", 80),
        ({"change_percent": 20, "number_is": "at least"}, "at_least", 120),
    ],
)
def test_at_least_and_at_most_are_bounds(given: dict[str, object], kind: str, percent: float, rules: Rules) -> None:
    found = _effect(measured(**given), rules)
    assert (found.kind, found.retained_percent) == (kind, pytest.approx(percent))


@pytest.mark.parametrize(
    "kind", ["range of settings, retained", "range of times, change", "range of analytes, retained"]
)
def test_a_range_over_settings_times_or_analytes_is_listed(kind: str, rules: Rules) -> None:
    assert "range" in _why(measured(interval_low=60, interval_high=90, interval_kind=kind, number_is="range"), rules)


def test_a_range_with_words_keeps_its_words_and_no_figure(rules: Rules) -> None:
    row = measured(
        interval_low=60, interval_high=90, interval_kind="range of settings, retained", number_is="range",
        in_words="decrease"
    )  # fmt: skip
    found = _effect(row, rules)
    assert (found.kind, found.log_ratio) == ("fall", None)


def test_a_range_that_touches_nothing_left_gives_no_logarithm(rules: Rules) -> None:
    row = measured(
        retained_percent=60, n=10, n_kind="donors", interval_low=0, interval_high=90,
        interval_kind="range of milks, retained",
    )  # fmt: skip
    found = _effect(row, rules)
    assert found.kind == "figure"
    assert math.isfinite(found.se)


@pytest.mark.parametrize(
    ("given", "mothers"),
    [
        ({"n": 12, "n_kind": "donors"}, 12),
        ({"n": 12, "n_kind": "samples"}, 6),
        ({"n": 60, "n_kind": "samples", "n_mothers": 14}, 14),
        ({"n": 12, "n_kind": "not stated"}, 6),
        ({"n": 3, "n_kind": "pools"}, None),
        ({"n": 3, "n_kind": "pools", "n_mothers": 30}, None),
        ({"n": 3, "n_kind": "replicates"}, None),
        ({}, None),
    ],
)
def test_n_is_mothers_and_neither_pools_nor_replicates(
    given: dict[str, object], mothers: float | None, rules: Rules
) -> None:
    assert _effect(measured(retained_percent=70, **given), rules).n == mothers


def test_a_p_of_several_arms_is_not_used(rules: Rules) -> None:
    given = {"retained_percent": 70, "n": 10, "n_kind": "donors", "p": "0.01"}
    own = _effect(measured(p_of="this contrast", **given), rules)
    other = _effect(measured(p_of="all arms", **given), rules)
    without = _effect(measured(retained_percent=70, n=10, n_kind="donors"), rules)
    assert own.recipe == "exact P"
    assert (other.se, other.recipe) == (without.se, without.recipe)


def test_p_of_zero_is_a_limit_and_not_a_value(rules: Rules) -> None:
    given = {"retained_percent": 70, "n": 10, "n_kind": "donors", "p_of": "this contrast"}
    zero, limit = (_effect(measured(p=p, **given), rules) for p in ("0.000", "<0.0005"))
    assert (zero.se, zero.recipe) == (limit.se, limit.recipe)
    assert not zero.own_spread


def test_a_printed_percent_that_differs_from_its_means_is_flagged_and_the_means_are_used(rules: Rules) -> None:
    means = {"baseline_mean": "10.0", "treated_mean": "7.0"}
    near = _effect(measured(retained_percent=71.5, **means), rules)
    far = _effect(measured(retained_percent=75, **means), rules)
    assert near.flags == ()
    assert "printed percent differs from the printed means" in far.flags
    assert near.retained_percent == far.retained_percent == pytest.approx(70)


@pytest.mark.parametrize(("sd", "read_as_se"), [("0.05", True), ("0.5", True), ("0.8", False), ("3", False)])
def test_an_unlabelled_plus_minus_is_a_standard_deviation_unless_it_is_far_too_small(
    sd: str, read_as_se: bool, rules: Rules
) -> None:
    # a quarter of the usual coefficient of variation between milks, 0.31: below 0.0775 of the mean it is read as an SE
    row = measured(
        baseline_mean="10.0", treated_mean="10.0", baseline_spread=sd, treated_spread=sd, spread_kind="not stated",
        n=16, n_kind="donors",
    )  # fmt: skip
    found = _effect(row, rules)
    r = rules.spread.paired_correlation_fragile
    cv = float(sd) / 10 * (4 if read_as_se else 1)
    assert found.se == pytest.approx(math.sqrt(2 * cv**2 * (1 - r)) / 4)
    assert any("standard error" in flag for flag in found.flags) is read_as_se


def test_a_paper_that_is_silent_says_nothing(rules: Rules) -> None:
    assert isinstance(effect_of(measured(in_words="not tested"), "fragile", rules), LeftOut)


@pytest.mark.parametrize(
    ("words", "kind"),
    [
        ("decrease", "fall"),
        ("increase", "rise"),
        ("no change", "no_change"),
        ("not detected", "fall"),
        ("mixed", "mixed"),
    ],
)
def test_words_give_a_direction_and_never_an_amount(words: str, kind: str, rules: Rules) -> None:
    found = _effect(measured(in_words=words, n=9, n_kind="donors"), rules)
    assert (found.kind, found.log_ratio, found.retained_percent) == (kind, None, None)


@pytest.mark.parametrize(
    ("measured_as", "outcome", "wanted", "expected"),
    [
        ("amount", "bulk", "keep", "bulk"),
        ("amount", "fragile", "keep", "fragile"),
        ("activity", "fragile", "keep", "fragile"),
        ("count", "fragile", "keep", "count"),
        ("amount", "count", "germs", "count"),
        ("share", "fragile", "keep", None),
        ("amount", "share", "keep", None),
        ("physical", "bulk", "neither", None),
        ("amount", "fragile", "a rise is unwelcome", "marker"),
        ("marker", "fragile", "keep", "marker"),
    ],
)
def test_shares_and_physical_properties_are_never_pooled_and_counts_lend_nothing(
    measured_as: str, outcome: str, wanted: str, expected: str | None
) -> None:
    assert pooled_class(measured_as, outcome, wanted) == expected
