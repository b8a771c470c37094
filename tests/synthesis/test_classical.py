"""The classical line: means, intervals, predictions, and what is refused."""

import math
import warnings
from dataclasses import astuple

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.meta_analysis import combine_effects

from evidence.synthesis.classical import INTERVALS, pool
from evidence.synthesis.heterogeneity import ESTIMATORS, inverse_variance_mean
from evidence.synthesis.refusal import NoEstimate
from tests.synthesis.published_data import bulls, gravitation, nicotine_gum
from tests.synthesis.test_heterogeneity import effect_lists, hard_inputs, unzip

VARYING = {"nicotine gum": nicotine_gum, "gravitation": gravitation, "bulls": bulls}


@pytest.mark.parametrize("name", VARYING)
@pytest.mark.parametrize("estimator", ["dl", "pm"])
def test_means_and_intervals_agree_with_statsmodels(name: str, estimator: str) -> None:
    effects, variances = VARYING[name]()
    root = math.sqrt(float(np.mean(variances)))
    options = {"atol": 1e-9, "maxiter": 500} if estimator == "pm" else {}
    theirs = combine_effects(effects / root, variances / root**2, method_re=estimator, use_t=True, **options)
    wald = pool(effects, variances, estimator=estimator, interval="wald")
    assert wald.estimate == pytest.approx(theirs.mean_effect_re * root, rel=1e-7)
    assert wald.se == pytest.approx(theirs.sd_eff_w_re * root, rel=1e-6)
    hk = pool(effects, variances, estimator=estimator, interval="hk")
    assert hk.se == pytest.approx(theirs.sd_eff_w_re_hksj * root, rel=1e-6)
    low, high = theirs.conf_int(use_t=True)[3]  # the fourth: random effects, estimated scale
    assert (hk.ci_low, hk.ci_high) == pytest.approx((low * root, high * root), rel=1e-6)


@settings(max_examples=60, deadline=None)
@given(effect_lists, st.sampled_from(ESTIMATORS))
def test_the_floor_is_never_narrower_than_either_interval_it_joins(
    rows: list[tuple[float, float]], estimator: str
) -> None:
    # rover2015: q* = max(1, q), so the SE is the larger of the Wald and the Hartung-Knapp one.
    effects, variances = unzip(rows)
    widths = {kind: pool(effects, variances, estimator=estimator, interval=kind).se for kind in INTERVALS}
    assert widths["hk-floor"] == pytest.approx(max(widths["hk"], widths["wald"]), rel=1e-12)


@settings(max_examples=40, deadline=None)
@given(effect_lists, st.randoms(use_true_random=False), st.sampled_from(ESTIMATORS))
def test_rows_in_any_order_give_the_same_bytes(rows: list[tuple[float, float]], random: object, estimator: str) -> None:
    shuffled = list(rows)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    assert astuple(pool(*unzip(rows), estimator=estimator)) == astuple(pool(*unzip(shuffled), estimator=estimator))


@settings(max_examples=40, deadline=None)
@given(effect_lists, st.floats(-5, 5))
def test_shifting_every_effect_shifts_only_the_estimate(rows: list[tuple[float, float]], shift: float) -> None:
    effects, variances = unzip(rows)
    before, after = pool(effects, variances), pool(effects + shift, variances)
    assert after.estimate == pytest.approx(before.estimate + shift, abs=1e-6)
    assert after.tau2 == pytest.approx(before.tau2, abs=1e-6)
    assert after.ci_high - after.ci_low == pytest.approx(before.ci_high - before.ci_low, rel=1e-5)


def test_without_heterogeneity_the_mean_is_the_common_effect() -> None:
    # By hand: weights 4 and 1, mean (4 x 1 + 1 x 1.5) / 5 = 1.1, variance 1 / 5; Q = 4 x 0.01 + 0.16 = 0.2 < 1.
    pooled = pool([1.0, 1.5], [0.25, 1.0], interval="wald")
    assert pooled.tau2 == 0.0
    assert (pooled.estimate, pooled.se) == pytest.approx((1.1, math.sqrt(0.2)))
    assert (pooled.q, pooled.i2) == pytest.approx((0.2, 0.0))
    assert inverse_variance_mean([1.0, 1.5], [0.25, 1.0]) == pytest.approx((1.1, 0.2))


def test_prediction_uses_t_with_k_minus_two_degrees_of_freedom() -> None:
    effects, variances = nicotine_gum()
    pooled = pool(effects, variances, interval="wald")
    assert pooled.tau2 is not None and pooled.prediction_high is not None and pooled.prediction_low is not None
    reach = stats.t.ppf(0.975, 24) * math.sqrt(pooled.tau2 + pooled.se**2)  # higgins2009
    assert pooled.prediction_high - pooled.estimate == pytest.approx(reach, rel=1e-12)
    assert pooled.estimate - pooled.prediction_low == pytest.approx(reach, rel=1e-12)


@pytest.mark.parametrize("interval", INTERVALS)
def test_one_study_is_not_pooled(interval: str) -> None:
    single = pool([-0.4], [0.04], interval=interval)
    assert (single.estimate, single.se, single.k, single.interval) == (-0.4, 0.2, 1, "wald")
    assert single.ci_low == pytest.approx(-0.4 - stats.norm.ppf(0.975) * 0.2)
    nothing = (single.tau2, single.tau2_low, single.tau2_high, single.i2, single.q, single.q_p, single.estimator)
    assert nothing == (None,) * 7
    assert single.prediction_low is None and single.prediction_high is None


def test_two_studies_have_an_interval_and_no_prediction() -> None:
    pair = pool([-0.4, -0.1], [0.04, 0.02])
    assert pair.prediction_low is None and pair.prediction_high is None
    assert pair.tau2_high is not None


@pytest.mark.parametrize("name", hard_inputs())
@pytest.mark.parametrize("estimator", ESTIMATORS)
@pytest.mark.parametrize("interval", INTERVALS)
def test_hard_inputs_pool_to_finite_numbers_without_a_warning(name: str, estimator: str, interval: str) -> None:
    effects, variances = hard_inputs()[name]
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        pooled = pool(effects, variances, estimator=estimator, interval=interval)
    numbers = [value for value in astuple(pooled) if isinstance(value, float)]
    assert len(numbers) >= 10
    assert all(math.isfinite(number) for number in numbers)
    assert np.min(effects) - 1e-9 <= pooled.estimate <= np.max(effects) + 1e-9


@pytest.mark.parametrize(
    ("effects", "variances", "options", "said"),
    [
        ([], [], {}, "nothing to combine"),
        ([0.1, 0.2], [0.1], {}, "equally many"),
        ([0.1, math.nan], [0.1, 0.1], {}, "not finite"),
        ([0.1, 0.2], [0.1, math.inf], {}, "not finite"),
        ([0.1, 0.2], [0.1, 0.0], {}, "above zero"),
        ([0.1, 0.2], [0.1, -1.0], {}, "above zero"),
        ([0.1, 0.2], [0.1, 1e-200], {}, "between"),
        ([[0.1, 0.2]], [[0.1, 0.1]], {}, "not a table"),
        (["a", "b"], [0.1, 0.1], {}, "must be numbers"),
        ([0.1, 0.2], [0.1, 0.1], {"estimator": "best"}, "'best'"),
        ([0.1, 0.2], [0.1, 0.1], {"interval": "narrow"}, "'narrow'"),
        ([0.1, 0.2], [0.1, 0.1], {"level": 95.0}, "between 0 and 1"),
    ],
)
def test_what_has_no_answer_is_refused_with_a_sentence(
    effects: list[float], variances: list[float], options: dict[str, str], said: str
) -> None:
    with pytest.raises(NoEstimate, match=said):
        pool(effects, variances, **options)  # type: ignore[arg-type]
