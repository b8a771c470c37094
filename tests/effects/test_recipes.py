"""Every recipe for a standard error, worked by hand beside it. y = ln ratio; c = SD over mean; u = SD of ln(se)."""

from __future__ import annotations

import math

import pytest
from scipy import stats

from evidence.effects import Effect, effect_of
from evidence.model.lists import PooledClass
from evidence.model.rules import Rules
from tests.invented import measured

# t(0.975, 9) of any printed table
T9 = 2.262
TEN = {"n": 10, "n_kind": "donors"}


def _effect(rules: Rules, group: PooledClass = "fragile", **given: object) -> Effect:
    found = effect_of(measured(**given), group, rules)
    assert isinstance(found, Effect), found
    return found


def test_t_is_the_table_s() -> None:
    assert stats.t.ppf(0.975, 9) == pytest.approx(T9, abs=0.0005)


def test_a_difference_with_its_sd(rules: Rules) -> None:
    # before 10, after 8, SD of the differences 1.5, no SD of the means: s_d^2 = 1.5^2 / 80
    found = _effect(rules, baseline_mean="10.0", diff_mean="-2.0", diff_spread="1.5", diff_kind="SD", **TEN)
    assert found.retained_percent == pytest.approx(80)
    assert found.se == pytest.approx(math.sqrt(2.25 / 80 / 10))
    assert found.u == pytest.approx(1 / math.sqrt(18))
    assert (found.recipe, found.own_spread) == ("difference with SD", True)


def test_a_difference_with_its_sd_takes_the_spread_of_the_milks_off(rules: Rules) -> None:
    # c = 3/10: s_d^2 = (1.5^2 - 0.09 x 4) / 80
    found = _effect(
        rules, baseline_mean="10.0", baseline_spread="3.0", spread_kind="SD", treated_mean="8.0", diff_mean="-2.0",
        diff_spread="1.5", diff_kind="SD", **TEN,
    )  # fmt: skip
    assert found.se == pytest.approx(math.sqrt((2.25 - 0.36) / 80 / 10))


@pytest.mark.parametrize(
    ("spread", "kind", "sd"), [("0.5", "SE", 0.5 * math.sqrt(10)), ("-3.0..-1.0", "CI95", math.sqrt(10) / T9)]
)
def test_a_standard_error_or_an_interval_of_the_difference_first_becomes_its_sd(
    spread: str, kind: str, sd: float, rules: Rules
) -> None:
    found = _effect(rules, baseline_mean="10.0", diff_mean="-2.0", diff_spread=spread, diff_kind=kind, **TEN)
    assert found.recipe == "difference with SD"
    assert found.se == pytest.approx(sd / math.sqrt(80 * 10), rel=1e-3)


def test_an_sd_of_the_percents(rules: Rules) -> None:
    # 80 % with SD 12 points over ten milks: s_d = 0.12 / 0.8
    found = _effect(rules, retained_percent=80, percent_spread=12, percent_spread_kind="SD", **TEN)
    assert found.se == pytest.approx(0.15 / math.sqrt(10))
    assert found.u == pytest.approx(1 / math.sqrt(18))
    assert found.own_spread


@pytest.mark.parametrize("of", ["replicates", "settings"])
def test_an_sd_over_replicates_or_settings_is_no_spread_of_milks(of: str, rules: Rules) -> None:
    found = _effect(rules, retained_percent=80, percent_spread=12, percent_spread_kind="SD", spread_of=of, **TEN)
    assert not found.own_spread


def test_an_interval_of_the_percent_that_is_even_on_the_log_scale(rules: Rules) -> None:
    # 64 to 100 around 80: ln(100/80) = ln(80/64), se = ln(100/64) / (2 t)
    found = _effect(
        rules, retained_percent=80, interval_low=64, interval_high=100, interval_kind="CI95, retained", **TEN
    )
    assert found.se == pytest.approx(math.log(100 / 64) / (2 * T9), rel=1e-3)
    assert found.own_spread


def test_an_interval_that_is_uneven_on_the_log_scale_is_taken_in_points(rules: Rules) -> None:
    # 10 to 90 around 80: ln(90/80) / ln(80/10) = 0.06, so (0.9 - 0.1) / (2 t 0.8)
    found = _effect(
        rules, retained_percent=80, interval_low=10, interval_high=90, interval_kind="CI95, retained", **TEN
    )
    assert found.se == pytest.approx(0.8 / (2 * T9 * 0.8), rel=1e-3)


def test_an_interval_of_the_change_is_the_interval_of_what_is_left(rules: Rules) -> None:
    left = _effect(
        rules, retained_percent=80, interval_low=64, interval_high=100, interval_kind="CI95, retained", **TEN
    )
    change = _effect(rules, change_percent=-20, interval_low=-36, interval_high=0, interval_kind="CI95, change", **TEN)
    assert change.se == pytest.approx(left.se)


def test_a_range_between_milks_gives_an_sd_by_wan_2014(rules: Rules) -> None:
    # 60 to 91 % over ten milks: table 1 prints 3.078 for n = 10 (the closed form is within 1 %): SD = 31 / 3.078 points
    found = _effect(
        rules, retained_percent=80, interval_low=60, interval_high=91, interval_kind="range of milks, retained", **TEN
    )  # fmt: skip
    assert found.se == pytest.approx(31 / 3.078 / 100 / 0.8 / math.sqrt(10), rel=0.01)
    assert found.own_spread


@pytest.mark.parametrize(("group", "r"), [("bulk", 0.8), ("fragile", 0.5)])
def test_two_means_with_sd_of_the_same_milk(group: PooledClass, r: float, rules: Rules) -> None:
    # c_b = 0.3, c_t = 0.25; r = 0.8 for bulk and 0.5 for fragile components
    found = _effect(
        rules, group, baseline_mean="10.0", baseline_spread="3.0", treated_mean="8.0", treated_spread="2.0",
        spread_kind="SD", **TEN,
    )  # fmt: skip
    assert found.se == pytest.approx(math.sqrt((0.09 + 0.0625 - 2 * r * 0.3 * 0.25) / 10))
    assert (found.u, found.own_spread) == (0.4, True)


@pytest.mark.parametrize("p", ["<0.001", "0.0009"])
def test_two_means_with_sd_are_held_to_their_p(p: str, rules: Rules) -> None:
    # such a P at n = 10 asks for a smaller se than r = 0.5 gives
    given = {
        "baseline_mean": "10.0", "baseline_spread": "3.0", "treated_mean": "8.0", "treated_spread": "2.0",
        "spread_kind": "SD", **TEN,
    }  # fmt: skip
    found = _effect(rules, p=p, p_of="this contrast", **given)
    assert found.se == pytest.approx(abs(math.log(0.8)) / stats.t.ppf(1 - float(p.strip("<")) / 2, 9))
    assert found.se < _effect(rules, **given).se


def test_an_exact_p_of_this_contrast(rules: Rules) -> None:
    # t(0.99, 9) = 2.821 in any printed table
    found = _effect(rules, retained_percent=70, p="0.02", p_of="this contrast", **TEN)
    assert found.se == pytest.approx(abs(math.log(0.7)) / 2.821, rel=1e-3)
    assert (found.u, found.recipe, found.own_spread) == (0.3, "exact P", True)


def test_of_few_milks_an_exact_p_says_little_of_its_se(rules: Rules) -> None:
    found = _effect(rules, retained_percent=70, p="0.02", p_of="this contrast", n=4, n_kind="donors")
    assert found.u == pytest.approx(1 / math.sqrt(6))


@pytest.mark.parametrize("p", ["0.95", "0.00005"])
def test_a_p_near_one_or_nought_is_not_used_as_exact(p: str, rules: Rules) -> None:
    assert _effect(rules, retained_percent=70, p=p, p_of="this contrast", **TEN).recipe != "exact P"


def test_a_change_within_its_own_rounding_gives_no_se(rules: Rules) -> None:
    # 99 % printed without decimals may be anything from 98.5 to 99.5: the change is below three rounding errors
    found = _effect(rules, retained_percent=99, p="0.4", p_of="this contrast", **TEN)
    assert found.recipe != "exact P"
    assert not found.own_spread


def test_p_below_a_limit_caps_what_is_borrowed(rules: Rules) -> None:
    # t(0.9995, 9) = 4.781 in any printed table: |ln 0.7| / 4.781 is below 0.30 / sqrt(10)
    found = _effect(rules, retained_percent=70, p="<0.001", p_of="this contrast", **TEN)
    assert found.se == pytest.approx(abs(math.log(0.7)) / 4.781, rel=1e-3)
    assert (found.u, found.own_spread) == (0.7, False)


def test_p_below_a_limit_that_asks_for_less_caps_nothing(rules: Rules) -> None:
    found = _effect(rules, retained_percent=30, p="<0.05", p_of="this contrast", **TEN)
    assert found.se == pytest.approx(0.30 / math.sqrt(10))


@pytest.mark.parametrize(
    "given",
    [{"p": "ns", "p_of": "this contrast"}, {"p": ">0.05", "p_of": "this contrast"}, {"in_words": "no change"}],
)
def test_a_figure_called_not_significant_raises_what_is_borrowed(given: dict[str, str], rules: Rules) -> None:
    found = _effect(rules, retained_percent=70, **given, **TEN)
    assert found.se == pytest.approx(abs(math.log(0.7)) / T9, rel=1e-3)
    assert found.se > 0.30 / math.sqrt(10)
    assert found.u == 0.7


def test_an_exact_p_above_the_level_that_cannot_be_used_still_raises(rules: Rules) -> None:
    found = _effect(rules, retained_percent=70, p="0.95", p_of="this contrast", **TEN)
    assert found.se == pytest.approx(abs(math.log(0.7)) / T9, rel=1e-3)


@pytest.mark.parametrize(("group", "sd"), [("bulk", 0.13), ("fragile", 0.30)])
def test_n_alone_borrows_the_sd_of_the_class(group: PooledClass, sd: float, rules: Rules) -> None:
    found = _effect(rules, group, retained_percent=80, **TEN)
    assert found.se == pytest.approx(sd / math.sqrt(10))
    assert (found.u, found.own_spread) == (0.7, False)


@pytest.mark.parametrize(
    ("given", "milks"), [({}, 20), ({"n": 6, "n_kind": "replicates"}, 2), ({"n": 1, "n_kind": "pools"}, 2)]
)
@pytest.mark.parametrize(("group", "sd"), [("bulk", 0.13), ("fragile", 0.30)])
def test_no_n_counts_as_twenty_milks_and_one_pool_as_two(
    given: dict[str, object], milks: int, group: PooledClass, sd: float, rules: Rules
) -> None:
    found = _effect(rules, group, retained_percent=80, **given)
    assert found.se == pytest.approx(sd / math.sqrt(milks))
    assert (found.u, found.own_spread) == (0.8, False)


def test_p_below_one_or_below_nothing_breaks_no_arithmetic(rules: Rules) -> None:
    for p in ("<1", "<0", "0", ">0", "1", ">=1"):
        found = _effect(rules, retained_percent=70, p=p, p_of="this contrast", **TEN)
        assert 0 < found.se < 10


def test_the_best_recipe_wins_whatever_else_is_printed(rules: Rules) -> None:
    given = {
        "baseline_mean": "10.0", "treated_mean": "8.0", "baseline_spread": "3.0", "treated_spread": "2.0",
        "spread_kind": "SD", "p": "0.02", "p_of": "this contrast", **TEN,
    }  # fmt: skip
    percents = {"percent_spread": 12, "percent_spread_kind": "SD"}
    difference = {"diff_mean": "-2.0", "diff_spread": "1.5", "diff_kind": "SD"}
    assert _effect(rules, **given, **percents, **difference).recipe.startswith("difference with SD")
    assert _effect(rules, **given, **percents).recipe.startswith("SD of the percents")
    assert _effect(rules, **given).recipe.startswith("two means with SD")


def test_the_word_significant_caps_as_p_below_the_usual_level(rules: Rules) -> None:
    # 40 milks would be lent 0.30 / sqrt(40); a fall to 97 called significant cannot be known that badly: t(0.975, 39)
    # is 2.023 in any printed table
    given = {"retained_percent": 97, "n": 40, "n_kind": "donors"}
    said = _effect(rules, p="sig", p_of="this contrast", **given)
    assert said.se == pytest.approx(abs(math.log(0.97)) / 2.023, rel=1e-3)
    assert said.recipe.endswith("capped by P")
    assert said.se == pytest.approx(_effect(rules, p="<0.05", p_of="this contrast", **given).se)
    other = _effect(rules, p="sig", p_of="all arms", **given)
    assert other.se == pytest.approx(0.30 / math.sqrt(40))
