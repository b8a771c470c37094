"""What to measure next: mothers for a wanted closeness, and which step gains most."""

from __future__ import annotations

import dataclasses
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from evidence.effects.effect import Effect
from evidence.findings.gaps import Gap, gaps, mothers_for, mothers_needed, pooled_sd
from evidence.findings.path_store import PathEvidence, path_evidence
from evidence.store import Store


@pytest.fixture(scope="module")
def shipped(shipped_store: Store) -> PathEvidence:
    return path_evidence(shipped_store)


@given(st.floats(0.5, 80.0), st.floats(1.0, 50.0))
def test_as_many_mothers_as_it_takes_and_not_one_more(sd: float, half_width: float) -> None:
    def half(n: int) -> float:
        return float(stats.t.ppf(0.975, n - 1)) * sd / math.sqrt(n)

    n = mothers_for(sd, half_width)
    assert half(n) <= half_width * (1 + 1e-9)
    assert n == 2 or half(n - 1) > half_width * (1 - 1e-9)


def test_a_spread_of_ten_known_to_five_takes_eighteen() -> None:
    # by hand with printed t quantiles: t(0.975, 17) = 2.110, 2.110 x 10 / sqrt(18) = 4.97; t(0.975, 16) = 2.120,
    # 2.120 x 10 / sqrt(17) = 5.14 (quantiles from memory, three decimals)
    assert mothers_for(10.0, 5.0) == 18


def _effect(se: float, n: float | None, own: bool) -> Effect:
    return Effect("row", "study", "figure", -0.1, se, 0.2, "recipe", own, n)


def test_spreads_are_pooled_by_their_degrees_of_freedom() -> None:
    # s = 0.2 of 5 mothers, s = 0.4 of 11: (4 x 0.04 + 10 x 0.16) / 14
    effects = [_effect(0.2 / math.sqrt(5), 5, True), _effect(0.4 / math.sqrt(11), 11, True), _effect(9.0, 30, False)]
    found = pooled_sd(effects)
    assert found is not None
    assert found == (pytest.approx(math.sqrt(1.76 / 14)), 2)
    assert pooled_sd([_effect(0.2, 5, False), _effect(0.2, None, True)]) is None


def _by_step(found: tuple[Gap, ...], component: str) -> dict[str, Gap]:
    return {gap.step.split()[0]: gap for gap in found if gap.component == component}


def test_one_more_study_never_widens_and_the_list_is_in_order(shipped: PathEvidence) -> None:
    found = gaps(shipped)
    assert all(0 <= gap.width_after <= gap.width_now <= shipped.rules.path.widest_points for gap in found)
    for asked in (True, False):
        gains = [gap.gain for gap in found if gap.most_asked is asked]
        assert gains == sorted(gains, reverse=True)
    assert [gap.most_asked for gap in found] == sorted((gap.most_asked for gap in found), reverse=True)


def test_what_nobody_measured_gains_more_than_what_several_did(shipped: PathEvidence) -> None:
    fat = _by_step(gaps(shipped), "total-fat")
    assert fat["freeze-dried"].k_figures == 0 < fat["frozen"].k_figures
    assert fat["freeze-dried"].gain > fat["frozen"].gain


def test_a_larger_study_brings_more(shipped: PathEvidence) -> None:
    def after(mothers: float) -> dict[tuple[str, str], float]:
        path = shipped.rules.path.model_copy(update={"usual_study_mothers": mothers})
        evidence = dataclasses.replace(shipped, rules=shipped.rules.model_copy(update={"path": path}))
        return {(gap.component, gap.step): gap.width_after for gap in gaps(evidence) if gap.most_asked}

    small, large = after(5), after(500)
    assert small.keys() == large.keys()
    assert all(large[key] <= small[key] for key in small)
    vitamin_c = ("vitamin-c", "frozen -20C 60d")
    now = next(gap.width_now for gap in gaps(shipped) if (gap.component, gap.step) == vitamin_c)
    assert large[vitamin_c] < small[vitamin_c] < now


def test_mothers_come_from_the_components_own_spread_where_printed(shipped: PathEvidence) -> None:
    fat, antibodies = mothers_needed(shipped, "total-fat", 10), mothers_needed(shipped, "iga", 10)
    assert fat is not None and fat.own_sd and fat.k_rows > 0
    assert antibodies is not None and not antibodies.own_sd
    assert antibodies.sd_between_milks == shipped.rules.spread.fragile_sd
    assert antibodies.mothers == mothers_for(100 * shipped.rules.spread.fragile_sd, 10)


def test_germs_have_no_number_of_mothers(shipped: PathEvidence) -> None:
    assert mothers_needed(shipped, "total-bacteria", 10) is None
