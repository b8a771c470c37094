"""Counts, shares, markers and titres: never parts still there of a nutrient."""

from __future__ import annotations

import math

import pytest

from evidence.effects import Effect, LeftOut, effect_of
from evidence.model.rules import Rules
from tests.invented import measured

GERMS = {"component": "total-bacteria", "measured_as": "count"}


def test_a_count_on_the_log_scale_is_a_difference_of_logarithms(rules: Rules) -> None:
    # 5.2 to 3.9 log10: d = -1.3, ln ratio = ln(10) x -1.3
    row = measured(baseline_mean="5.2", treated_mean="3.9", unit="log10 CFU/mL", **GERMS)
    found = effect_of(row, "count", rules)
    assert isinstance(found, Effect)
    assert found.log_ratio == pytest.approx(-1.3 * math.log(10))


def test_a_count_on_the_plain_scale_is_a_ratio(rules: Rules) -> None:
    found = effect_of(measured(baseline_mean="5e4", treated_mean="1e3", unit="CFU/mL", **GERMS), "count", rules)
    assert isinstance(found, Effect)
    assert found.retained_percent == pytest.approx(2)
    assert found.kind == "figure"


def test_the_spread_of_a_plain_count_never_becomes_its_standard_error(rules: Rules) -> None:
    given = {"baseline_mean": "5e4", "treated_mean": "3e4", "unit": "CFU/mL", "n": 10, "n_kind": "donors", **GERMS}
    plain = effect_of(measured(**given), "count", rules)
    spread = effect_of(measured(baseline_spread="1e3", treated_spread="1e3", spread_kind="SD", **given), "count", rules)
    assert isinstance(plain, Effect) and isinstance(spread, Effect)
    assert spread.se == plain.se == pytest.approx(rules.spread.count_sd / math.sqrt(10))


def test_a_plain_count_that_varies_by_more_than_half_its_mean_is_unusable(rules: Rules) -> None:
    row = measured(
        baseline_mean="5e4", baseline_spread="2.6e4", treated_mean="3e4", treated_spread="1e3", spread_kind="SD",
        unit="CFU/mL", n=10, n_kind="donors", **GERMS,
    )  # fmt: skip
    found = effect_of(row, "count", rules)
    assert isinstance(found, LeftOut)
    assert "half their mean" in found.reason


def test_a_count_of_none_left_is_no_figure(rules: Rules) -> None:
    given = {"baseline_mean": "5e4", "treated_mean": "0", "unit": "CFU/mL", **GERMS}
    assert isinstance(effect_of(measured(**given), "count", rules), LeftOut)
    said = effect_of(measured(in_words="not detected", **given), "count", rules)
    assert isinstance(said, Effect)
    assert (said.kind, said.log_ratio) == ("fall", None)


def test_a_logarithm_that_no_count_can_have_is_no_figure(rules: Rules) -> None:
    row = measured(baseline_mean="5", treated_mean="1e6", unit="log10 CFU/mL", in_words="increase", **GERMS)
    found = effect_of(row, "count", rules)
    assert isinstance(found, Effect)
    assert found.log_ratio is None


def test_a_share_is_told_in_words_and_never_pooled(rules: Rules) -> None:
    row = measured(
        component="cell-viability", measured_as="share", baseline_mean="92", treated_mean="78", unit="%",
        in_words="decrease"
    )  # fmt: skip
    found = effect_of(row, None, rules)
    assert isinstance(found, Effect)
    assert (found.kind, found.log_ratio) == ("fall", None)


def test_a_marker_may_rise_several_times(rules: Rules) -> None:
    # free fatty acids 0.35 to 1.28 g per litre: 3.66 times as much
    row = measured(component="free-fatty-acids", measured_as="marker", baseline_mean="0.35", treated_mean="1.28")
    found = effect_of(row, "marker", rules)
    assert isinstance(found, Effect)
    assert found.retained_percent == pytest.approx(365.7, abs=0.05)


def test_a_marker_borrows_from_fragile_components_and_not_from_bulk(rules: Rules) -> None:
    row = measured(component="free-fatty-acids", measured_as="marker", retained_percent=150, n=10, n_kind="donors")
    found = effect_of(row, "marker", rules)
    assert isinstance(found, Effect)
    assert found.se == pytest.approx(rules.spread.fragile_sd / math.sqrt(10))


@pytest.mark.parametrize("where", ["unit", "assay"])
def test_a_titre_is_never_better_known_than_its_doublings(where: str, rules: Rules) -> None:
    given = {"component": "lactoferrin", "measured_as": "activity", "retained_percent": 50, "n": 50, "n_kind": "donors"}
    plain = effect_of(measured(**given), "fragile", rules)
    titre = effect_of(measured(**{where: "Titre (doublings)"}, **given), "fragile", rules)
    assert isinstance(plain, Effect) and isinstance(titre, Effect)
    assert plain.se < 0.35
    assert titre.se == 0.35


def test_counts_in_log10_use_their_own_spread(rules: Rules) -> None:
    # 5.2 (SD 0.6) to 3.9 (SD 0.8) log10 over 10 milks: s_d^2 = ln(10)^2 (0.36 + 0.64 - 2 r 0.48)
    given = {
        "baseline_mean": "5.2",
        "treated_mean": "3.9",
        "unit": "log10 CFU/mL",
        "n": 10,
        "n_kind": "donors",
        **GERMS,
    }
    spread = {"baseline_spread": "0.6", "treated_spread": "0.8", "spread_kind": "SD"}
    found = effect_of(measured(**given, **spread), "count", rules)
    assert isinstance(found, Effect)
    r = rules.spread.paired_correlation_fragile
    assert found.se == pytest.approx(math.log(10) * math.sqrt((1 - 2 * r * 0.48) / 10))
    assert (found.recipe, found.own_spread) == ("two log counts with SD", True)
    over = effect_of(measured(**given, **spread, spread_of="replicates"), "count", rules)
    assert isinstance(over, Effect) and not over.own_spread


def test_a_log_difference_with_its_sd(rules: Rules) -> None:
    row = measured(
        baseline_mean="5.2", diff_mean="-1.3", diff_spread="0.5", diff_kind="SD", unit="log10 CFU/mL", n=25,
        n_kind="donors", **GERMS,
    )  # fmt: skip
    found = effect_of(row, "count", rules)
    assert isinstance(found, Effect)
    assert found.log_ratio == pytest.approx(-1.3 * math.log(10))
    assert found.se == pytest.approx(math.log(10) * 0.5 / 5)
    assert found.u == pytest.approx(1 / math.sqrt(48))


@pytest.mark.parametrize(("after", "kind"), [(78, "fall"), (95, "rise"), (92, "no_change")])
def test_a_share_without_a_word_on_it_says_which_way_it_went(after: float, kind: str, rules: Rules) -> None:
    row = measured(
        component="cell-viability", measured_as="share", baseline_mean=92, treated_mean=after, unit="%",
        in_words="not tested",
    )  # fmt: skip
    found = effect_of(row, None, rules)
    assert isinstance(found, Effect)
    assert (found.kind, found.log_ratio) == (kind, None)
