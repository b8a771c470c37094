"""tau2, Q, I2 and the Q-profile interval."""

import math
import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize, stats
from statsmodels.stats.meta_analysis import combine_effects

from evidence.synthesis.heterogeneity import ESTIMATORS, estimate_tau2, generalised_q, heterogeneity, q_profile
from evidence.synthesis.refusal import NoEstimate
from tests.synthesis.published_data import Floats, bulls, eight_schools, gravitation, nicotine_gum

DATA_SETS = {"nicotine gum": nicotine_gum, "eight schools": eight_schools, "gravitation": gravitation, "bulls": bulls}

effect_lists = st.lists(
    st.tuples(st.floats(-3, 3, allow_nan=False), st.floats(0.001, 4.0, allow_nan=False)), min_size=2, max_size=12
)


def unzip(rows: list[tuple[float, float]]) -> tuple[Floats, Floats]:
    table = np.array(rows)
    return table[:, 0], table[:, 1]


def restricted_loglik(effects: Floats, variances: Floats, tau2: float) -> float:
    """The definition, by matrices: -1/2 (ln det V + ln det X'V^-1 X + y'Py)."""
    covariance = np.diag(variances + tau2)
    inverse = np.linalg.inv(covariance)
    ones = np.ones((effects.size, 1))
    middle = ones.T @ inverse @ ones
    projection = inverse - inverse @ ones @ np.linalg.inv(middle) @ ones.T @ inverse
    log_dets = np.linalg.slogdet(covariance)[1] + np.linalg.slogdet(middle)[1]
    return -0.5 * float(log_dets + effects @ projection @ effects)


@pytest.mark.parametrize("name", DATA_SETS)
def test_dl_and_pm_agree_with_statsmodels(name: str) -> None:
    effects, variances = DATA_SETS[name]()
    scale = float(np.mean(variances))  # statsmodels stops Paule-Mandel at an absolute tolerance: give it a unit scale
    standard = effects / math.sqrt(scale), variances / scale
    dl = combine_effects(*standard, method_re="dl")
    assert estimate_tau2(effects, variances, "dl") == pytest.approx(max(0.0, dl.tau2) * scale, rel=1e-6)
    assert generalised_q(effects, variances) == pytest.approx(dl.q, rel=1e-6)
    assert heterogeneity(effects, variances).i2 == pytest.approx(max(0.0, dl.i2), abs=1e-6)
    if dl.q > effects.size - 1:
        # Tighter than 1e-9, and rounding below zero makes statsmodels return 0.
        pm = combine_effects(*standard, method_re="pm", atol=1e-9, maxiter=500)
        assert estimate_tau2(effects, variances, "pm") == pytest.approx(pm.tau2 * scale, rel=1e-6)


@pytest.mark.parametrize("name", DATA_SETS)
def test_reml_is_the_highest_point_of_the_restricted_likelihood(name: str) -> None:
    effects, variances = DATA_SETS[name]()
    scale = float(np.mean(variances))
    effects, variances = (effects - effects[0]) / math.sqrt(scale), variances / scale
    found = estimate_tau2(effects, variances, "reml")
    best = optimize.minimize_scalar(
        lambda tau2: -restricted_loglik(effects, variances, tau2),
        bounds=(0.0, 10 * float(np.var(effects)) + 1.0),
        method="bounded",
        options={"xatol": 1e-10},
    )
    assert found == pytest.approx(best.x, rel=1e-4, abs=1e-6)
    assert restricted_loglik(effects, variances, found) >= -best.fun - 1e-9


@settings(max_examples=60, deadline=None)
@given(effect_lists)
def test_no_tau2_on_a_fine_grid_beats_reml(rows: list[tuple[float, float]]) -> None:
    effects, variances = unzip(rows)
    found = restricted_loglik(effects, variances, estimate_tau2(effects, variances, "reml"))
    others = [restricted_loglik(effects, variances, tau2) for tau2 in (0.0, *np.geomspace(1e-5, 50.0, 150))]
    assert found >= max(others) - 1e-8


@settings(max_examples=100, deadline=None)
@given(effect_lists)
def test_q_profile_ends_solve_the_generalised_q_equation(rows: list[tuple[float, float]]) -> None:
    # viechtbauer2007: Q(low) and Q(high) are the 97.5 and 2.5 % points of chi-squared, or the end is 0.
    effects, variances = unzip(rows)
    df = effects.size - 1
    for end, probability in zip(q_profile(effects, variances), (0.975, 0.025), strict=True):
        target = stats.chi2.ppf(probability, df)
        if end > 0.0:
            assert generalised_q(effects, variances, end) == pytest.approx(target, rel=1e-7)
        else:
            assert generalised_q(effects, variances, 0.0) <= target * (1 + 1e-12)


@settings(max_examples=60, deadline=None)
@given(effect_lists)
def test_paule_mandel_makes_q_its_expectation(rows: list[tuple[float, float]]) -> None:
    effects, variances = unzip(rows)
    tau2 = estimate_tau2(effects, variances, "pm")
    if tau2 > 0.0:
        assert generalised_q(effects, variances, tau2) == pytest.approx(effects.size - 1, rel=1e-8)
    else:
        assert generalised_q(effects, variances, 0.0) <= (effects.size - 1) * (1 + 1e-12)


def hard_inputs() -> dict[str, tuple[Floats, Floats]]:
    draw = np.random.default_rng(20261125)
    return {
        "identical effects": (np.full(5, -0.3), np.array([0.01, 0.02, 0.3, 0.04, 0.05])),
        "identical rows": (np.zeros(2), np.ones(2)),
        "one huge study": (np.array([0.0, 1.0, -1.0]), np.array([1e-25, 1.0, 2.0])),
        "two huge studies apart": (np.array([0.0, 1.0, -1.0]), np.array([1e-20, 1e-20, 1.0])),
        "tiny differences": (1.0 + 1e-12 * np.arange(4.0), np.full(4, 1e-9)),
        "large numbers": (np.array([1e12, -1e12, 3e11]), np.array([1.0, 1e20, 1e25])),
        "500 studies": (draw.normal(0.0, 0.4, 500), draw.uniform(0.001, 2.0, 500)),
        "500 equal studies": (np.zeros(500), np.full(500, 0.1)),
    }


@pytest.mark.parametrize("name", hard_inputs())
@pytest.mark.parametrize("estimator", ESTIMATORS)
def test_hard_inputs_give_finite_answers_without_a_warning(name: str, estimator: str) -> None:
    effects, variances = hard_inputs()[name]
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        spread = heterogeneity(effects, variances, estimator=estimator)
    numbers = (spread.q, spread.q_p, spread.i2, spread.tau2, spread.tau2_low, spread.tau2_high)
    assert all(math.isfinite(number) and number >= 0.0 for number in numbers)
    assert spread.i2 <= 1.0
    assert spread.tau2_low <= spread.tau2_high


def test_a_study_that_outweighs_all_others_does_not_cost_the_digits_of_dl() -> None:
    # Two studies: S1 - S2 / S1 = 2 w1 w2 / (w1 + w2), so with w1 huge and w2 = 1, tau2 = (Q - 1) / 2, Q = (y1 - y2)^2.
    assert estimate_tau2([0.0, 3.0], [1e-25, 1.0], "dl") == pytest.approx((9.0 - 1.0) / 2.0, rel=1e-12)


def test_one_study_has_no_tau2() -> None:
    with pytest.raises(NoEstimate, match="at least two"):
        heterogeneity([0.1], [0.2])
    assert issubclass(NoEstimate, ValueError)


def test_an_unknown_estimator_is_refused_by_name() -> None:
    with pytest.raises(NoEstimate, match="'mle'"):
        estimate_tau2([0.1, 0.2], [0.2, 0.2], "mle")
