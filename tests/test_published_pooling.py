"""Pooling against answers printed elsewhere, in the digits printed there; sources of the data: published/README.md."""

import math

import pytest
from scipy import stats

from evidence.synthesis.classical import pool
from evidence.synthesis.heterogeneity import estimate_tau2, heterogeneity, inverse_variance_mean
from tests.synthesis.published_data import bulls, eight_schools, gravitation, group_means, nicotine_gum


@pytest.mark.parametrize("estimator", ["reml", "dl", "pm"])
def test_dyestuff_batches_vary_by_the_printed_sd(estimator: str) -> None:
    # P3: one-way REML fit of the Dyestuff data, test values of the MixedModels library of the Julia language:
    # residual SD 49.510093347813246, between-batch SD 42.00063130711604, mean 1527.5, SE 19.383424615110936.
    # The printed optimum is itself good to about 1e-6. Equal variances: all three estimators coincide.
    means, numbers = group_means("dyestuff", "batch", "yield")
    pooled = pool(means, 49.510093347813246**2 / numbers, estimator=estimator, interval="wald")
    assert pooled.tau2 is not None
    assert math.sqrt(pooled.tau2) == pytest.approx(42.00063130711604, rel=2e-6)
    assert pooled.estimate == pytest.approx(1527.5, abs=1e-9)
    assert pooled.se == pytest.approx(19.383424615110936, rel=2e-6)


@pytest.mark.parametrize("estimator", ["reml", "dl", "pm"])
def test_batches_made_without_variance_pool_as_a_common_effect(estimator: str) -> None:
    # P4: ML fit of Dyestuff2 in the same library: SD between batches exactly 0, residual SD 3.653231351374652,
    # mean 5.6656, SE 0.6669857396443261.
    means, numbers = group_means("dyestuff2", "batch", "yield")
    pooled = pool(means, 3.653231351374652**2 / numbers, estimator=estimator, interval="wald")
    assert pooled.tau2 == 0.0
    assert pooled.estimate == pytest.approx(5.6656, abs=1e-9)
    assert pooled.se == pytest.approx(0.6669857396443261, rel=1e-8)


def test_bulls_vary_by_the_printed_variance() -> None:
    # P5: lecture script, Technical University of Denmark, course 02429 (2024), example 2: variance between bulls 76.8.
    # (The residual variance is printed 248.7; the digits 248.7043 used as input are the collector's joint fit.)
    means, variances = bulls()
    assert round(estimate_tau2(means, variances, "reml"), 1) == 76.8


def test_gravitational_constant_is_the_weighted_mean_with_the_printed_uncertainty() -> None:
    # P7: CODATA 2018, Rev. Mod. Phys. 93 (2021) 025010, quoted in public notes: 6.67430(15), expansion factor 3.9.
    # Three small correlations are left out here, so the mean is held to 1e-5, the uncertainty to its printed digits.
    values, variances = gravitation()
    mean, variance = inverse_variance_mean(values, variances)
    assert mean == pytest.approx(6.67430, abs=1.05e-5)
    assert round(3.9 * math.sqrt(variance), 5) == 0.00015


@pytest.mark.parametrize("estimator", ["reml", "dl", "pm"])
def test_eight_schools_show_no_variance_and_the_printed_common_mean(estimator: str) -> None:
    # P10: Gelman and others, Bayesian Data Analysis, 3rd ed., section 5.5: mean 7.7, variance 16.6, SE 4.1 and, from
    # the rounded numbers, interval -0.5 to 15.9 (plus or minus two SE).
    effects, variances = eight_schools()
    pooled = pool(effects, variances, estimator=estimator, interval="wald", level=2 * stats.norm.cdf(2.0) - 1)
    assert pooled.tau2 == 0.0
    assert round(pooled.estimate, 1) == 7.7
    assert round(pooled.se**2, 1) == 16.6
    assert round(pooled.se, 1) == 4.1
    assert pooled.ci_low == pytest.approx(-0.5, abs=0.05)
    assert pooled.ci_high == pytest.approx(15.9, abs=0.1)


def test_nicotine_gum_trials_give_the_remembered_answers() -> None:
    # P11, expected values FROM MEMORY (Everitt and Hothorn, A Handbook of Statistical Analyses Using R): DL odds ratio
    # 1.75 (1.48 to 2.07), Q 34.9 on 25 degrees of freedom, P 0.09, tau2 0.05.
    effects, variances = nicotine_gum()
    pooled = pool(effects, variances, estimator="dl", interval="wald")
    spread = heterogeneity(effects, variances, estimator="dl")
    assert [round(math.exp(x), 2) for x in (pooled.estimate, pooled.ci_low, pooled.ci_high)] == [1.75, 1.48, 2.07]
    assert round(spread.q, 1) == 34.9
    assert spread.q_df == 25
    assert round(spread.q_p, 2) == 0.09
    assert round(spread.tau2, 2) == 0.05
