"""Loss over storage time: simulated courses give back what made them, and nothing is said beyond the data."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidence.synthesis import GridSettings, NoEstimate, TauPrior
from evidence.synthesis.kinetics import (
    Curve,
    arrhenius,
    decimal_reduction_time,
    fit_course,
    fit_storage,
    half_life,
    other_orders,
    random_scale,
    reached,
    share_left,
    storage_curve,
    time_until,
)

GRID = GridSettings(mu_points=281, tau_points=45, se_nodes=5, not_significant_reach=2.1)
PRIOR = TauPrior(0.05, 0.7, 0.2)


@given(st.floats(1e-6, 10.0), st.floats(0.01, 0.99), st.floats(0.0, 0.5))
def test_the_time_until_a_share_is_left_leaves_that_share(rate: float, share: float, jump: float) -> None:
    time = time_until(rate, share, jump)
    left = share_left(rate, time, jump)
    assert left == pytest.approx(share, rel=1e-9) or (time == 0.0 and math.exp(-jump) < share)


@given(st.floats(1e-6, 10.0))
def test_half_and_a_tenth_are_left_after_half_life_and_decimal_reduction_time(rate: float) -> None:
    assert share_left(rate, half_life(rate)) == pytest.approx(0.5)
    assert share_left(rate, decimal_reduction_time(rate)) == pytest.approx(0.1)


@pytest.mark.parametrize("order", [0, 1])
def test_a_course_made_by_a_rate_gives_that_rate_back(order: int) -> None:
    time = np.array([0.0, 10.0, 30.0, 60.0])
    amount = 50.0 - 0.3 * time if order == 0 else 50.0 * np.exp(-0.02 * time)
    found = fit_course(time, amount, order)
    assert found.rate == pytest.approx(0.3 if order == 0 else 0.02)
    assert found.start == pytest.approx(50.0)
    assert found.r2 == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: half_life(0.0), "above zero"),
        (lambda: time_until(0.1, 1.5), "at most 1"),
        (lambda: fit_course([1.0, 1.0], [2.0, 3.0]), "two different"),
        (lambda: fit_course([0.0, 1.0], [2.0, 0.0]), "above zero"),
        (lambda: fit_course([0.0, 1.0], [2.0, 1.0], order=2), "0 or 1"),
        (lambda: arrhenius([300.0, 300.0], [1.0, 2.0]), "two different"),
        (lambda: arrhenius([300.0, 310.0], [1.0, -2.0]), "above zero"),
    ],
)
def test_what_has_no_rate_is_refused_in_a_sentence(call: object, sentence: str) -> None:
    with pytest.raises(NoEstimate, match=sentence):
        call()  # type: ignore[operator]


def _fit(days: list[float], jump: float, rate: float, se: float = 0.01, studies: int = 2) -> Curve:
    study = [f"study{place % studies}" for place in range(len(days))]
    log_ratio = [-jump - rate * day for day in days]
    fit = fit_storage(study, days, log_ratio, [se] * len(days), [0.0] * len(days), rho=0.8, prior=PRIOR, grid=GRID)
    return storage_curve(fit)


def test_studies_made_by_one_rate_and_jump_give_them_back() -> None:
    curve = _fit([10.0, 10.0, 60.0, 60.0, 120.0, 120.0], jump=0.05, rate=0.002)
    assert curve.rate == pytest.approx(0.002, rel=1e-3)
    assert curve.jump == pytest.approx(0.05, abs=1e-3)
    assert curve.rate_low < 0.002 < curve.rate_high
    assert curve.jump_low < 0.05 < curve.jump_high


def test_the_curve_ends_with_the_data() -> None:
    assert float(_fit([10.0, 20.0, 80.0], 0.0, 0.001).days[-1]) == 80.0


def test_a_share_is_reached_where_the_line_says_and_its_edges_round_it() -> None:
    curve = _fit([10.0, 10.0, 60.0, 60.0, 120.0, 120.0], jump=0.0, rate=0.004, se=0.004)
    found = reached(curve, 0.9)
    assert found.days == pytest.approx(time_until(0.004, 0.9), rel=0.01)
    assert found.low is not None and found.days is not None and found.low <= found.days
    assert found.high is None or found.high >= found.days


def test_a_share_not_reached_in_the_data_is_not_said_to_be() -> None:
    found = reached(_fit([10.0, 10.0, 60.0, 60.0], jump=0.0, rate=0.0001, se=0.002), 0.9)
    assert found.days is None


def test_less_than_the_share_from_the_start_is_day_nought() -> None:
    assert reached(_fit([10.0, 10.0, 60.0, 60.0], jump=0.4, rate=0.0001, se=0.002), 0.9).days == 0.0


def test_one_time_carries_no_rate() -> None:
    with pytest.raises(NoEstimate, match="two different times"):
        fit_storage(["a", "b"], [30.0, 30.0], [-0.1, -0.2], [0.1, 0.1], [0.0, 0.0], rho=0.8, prior=PRIOR, grid=GRID)


def test_a_comparison_of_two_times_in_the_store_tells_of_the_rate() -> None:
    def width(with_difference: bool) -> float:
        study, days, log_ratio, entered = ["a", "b"], [10.0, 60.0], [-0.02, -0.12], [1.0, 1.0]
        if with_difference:
            study, days, log_ratio, entered = [*study, "c"], [*days, 100.0], [*log_ratio, -0.2], [*entered, 0.0]
        fit = fit_storage(
            study, days, log_ratio, [0.03] * len(days), [0.0] * len(days), rho=0.8, prior=PRIOR, grid=GRID,
            entered=entered,
        )  # fmt: skip
        curve = storage_curve(fit)
        return curve.rate_high - curve.rate_low

    assert width(True) < width(False)


def test_orders_agree_where_the_loss_is_small_and_part_where_it_is_not() -> None:
    days = [5.0, 10.0, 20.0, 40.0, 80.0, 80.0]
    study = ["a", "b", "a", "b", "a", "b"]

    def left(rate: float, at: float) -> dict[str, float]:
        log_ratio = [-rate * day for day in days]
        fit = fit_storage(study, days, log_ratio, [0.01] * 6, [0.0] * 6, rho=0.8, prior=PRIOR, grid=GRID)
        return other_orders(fit, 0.01, at)

    slow, quick = left(0.0002, 80.0), left(0.02, 80.0)
    assert slow["zero"] == pytest.approx(slow["first"], abs=0.002)
    assert quick["first"] == pytest.approx(math.exp(-1.6), abs=0.005)
    assert quick["weibull"] == pytest.approx(math.exp(-1.6), abs=0.01)
    # a straight line cannot follow such a fall: half-way it is far from the curve
    half_way = left(0.02, 20.0)
    assert half_way["first"] == pytest.approx(math.exp(-0.4), abs=0.01)
    assert abs(half_way["zero"] - half_way["first"]) > 0.05


def test_a_study_departs_by_tau_at_the_longest_time_half_of_it_in_its_rate() -> None:
    scale = random_scale(np.array([10.0, 60.0, 120.0]))
    jump, rate = scale[0] ** 2, (120.0 * scale[1]) ** 2
    assert jump + rate == pytest.approx(1.0)
    assert jump == pytest.approx(rate)
