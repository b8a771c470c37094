"""Pooling with a given covariance matrix, and the common effect."""

import math
import warnings
from dataclasses import astuple
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize, stats
from statsmodels.regression.linear_model import GLS

from evidence.synthesis.classical import INTERVALS, pool
from evidence.synthesis.common_effect import common_effect, common_effect_with_covariance
from evidence.synthesis.covariance import pool_with_covariance
from evidence.synthesis.heterogeneity import ESTIMATORS
from evidence.synthesis.refusal import NoEstimate
from evidence.synthesis.settings import GridSettings, TauPrior
from evidence.synthesis.shared import posterior
from evidence.synthesis.shared_covariance import posterior_with_covariance
from tests.synthesis.published_data import Floats, nicotine_gum
from tests.synthesis.test_heterogeneity import effect_lists, unzip

GRID = GridSettings(mu_points=281, tau_points=45, se_nodes=5, not_significant_reach=2.1)


def correlated(size: int, seed: int) -> tuple[Floats, Floats]:
    """Return effects that vary with tau 0.4, and the covariance of their errors, with correlations of both signs."""
    draw = np.random.default_rng(seed)
    roots = draw.normal(size=(size, size + 3))
    matrix = roots @ roots.T / (size + 3) * draw.uniform(0.02, 0.2)
    return draw.normal(-0.2, 0.4, size) + np.linalg.cholesky(matrix) @ draw.normal(size=size), matrix


def restricted_loglik(effects: Floats, covariance: Floats, tau2: float) -> float:
    """The definition, by matrices: -1/2 (ln det S + ln det X'S^-1 X + y'Py)."""
    inverse = np.linalg.inv(covariance + tau2 * np.eye(effects.size))
    middle = float(np.sum(inverse))
    projection = inverse - np.outer(inverse.sum(axis=1), inverse.sum(axis=0)) / middle
    log_det = np.linalg.slogdet(covariance + tau2 * np.eye(effects.size))[1]
    return -0.5 * float(log_det + math.log(middle) + effects @ projection @ effects)


@pytest.mark.parametrize("seed", range(4))
def test_the_mean_and_its_error_are_those_of_generalised_least_squares(seed: int) -> None:
    effects, matrix = correlated(7, seed)
    pooled = pool_with_covariance(effects, matrix, interval="wald")
    assert pooled.tau2 is not None
    theirs = GLS(effects, np.ones((7, 1)), sigma=matrix + pooled.tau2 * np.eye(7)).fit(cov_type="fixed scale")
    assert pooled.estimate == pytest.approx(theirs.params[0], rel=1e-9)
    assert pooled.se == pytest.approx(math.sqrt(theirs.normalized_cov_params[0, 0]), rel=1e-9)


@pytest.mark.parametrize("seed", range(6))
def test_reml_is_the_highest_point_of_the_restricted_likelihood(seed: int) -> None:
    effects, matrix = correlated(5, seed)
    pooled = pool_with_covariance(effects, matrix)
    assert pooled.tau2 is not None
    best = optimize.minimize_scalar(
        lambda tau2: -restricted_loglik(effects, matrix, tau2), bounds=(0.0, 10.0), method="bounded"
    )
    here = restricted_loglik(effects, matrix, pooled.tau2)
    others = [restricted_loglik(effects, matrix, tau2) for tau2 in (0.0, *np.geomspace(1e-7, 30.0, 300))]
    assert here >= max(-best.fun, *others) - 1e-9


@pytest.mark.parametrize("seed", range(4))
def test_moment_estimators_and_the_profile_solve_their_equations(seed: int) -> None:
    effects, matrix = correlated(6, seed)

    def q(tau2: float) -> float:
        inverse = np.linalg.inv(matrix + tau2 * np.eye(6))
        mean = float(np.sum(inverse @ effects) / np.sum(inverse))
        return float((effects - mean) @ inverse @ (effects - mean))

    pm, dl = (pool_with_covariance(effects, matrix, estimator=name) for name in ("pm", "dl"))
    assert pm.tau2 is not None and dl.tau2 is not None and dl.q is not None
    assert dl.q == pytest.approx(q(0.0), rel=1e-9)
    assert q(pm.tau2) == pytest.approx(5.0, rel=1e-9) if pm.tau2 else q(0.0) <= 5.0
    inverse = np.linalg.inv(matrix)
    trace = float(np.trace(inverse) - np.sum(inverse @ inverse) / np.sum(inverse))  # tr P
    assert dl.tau2 == pytest.approx(max(0.0, (q(0.0) - 5.0) / trace), rel=1e-8)
    for end, probability in ((dl.tau2_low, 0.975), (dl.tau2_high, 0.025)):
        assert end is not None
        target = stats.chi2.ppf(probability, 5)
        assert q(end) == pytest.approx(target, rel=1e-8) if end else q(0.0) <= target


@settings(max_examples=60, deadline=None)
@given(effect_lists, st.sampled_from(ESTIMATORS), st.sampled_from(INTERVALS))
def test_a_matrix_without_correlations_gives_the_plain_line(
    rows: list[tuple[float, float]], estimator: str, interval: str
) -> None:
    effects, variances = unzip(rows)
    plain = pool(effects, variances, estimator=estimator, interval=interval)
    exactly = pool_with_covariance(effects, np.diag(variances), estimator=estimator, interval=interval)
    assert astuple(exactly) == astuple(plain)
    # A correlation too small to matter sends the same rows through the other arithmetic.
    matrix = np.diag(variances)
    matrix[0, 1] = matrix[1, 0] = 1e-14 * math.sqrt(variances[0] * variances[1])
    nearly = pool_with_covariance(effects, matrix, estimator=estimator, interval=interval)
    # At two peaks of equal height either may be taken; elsewhere they agree.
    assert nearly.q == pytest.approx(plain.q, rel=1e-7, abs=1e-9)
    if estimator != "reml" or abs((nearly.tau2 or 0.0) - (plain.tau2 or 0.0)) < 1e-3:
        for name in ("estimate", "se", "tau2", "tau2_low", "tau2_high", "ci_low"):
            assert getattr(nearly, name) == pytest.approx(getattr(plain, name), rel=1e-5, abs=1e-7), name


def test_two_studies_that_share_half_their_error_are_as_by_hand() -> None:
    # By hand: V = [[2, 1], [1, 4]] / 100, y = (0, 1). The difference has variance 2 + 4 - 2 = 4 / 100, so Q = 25 and
    # every estimator gives tau2 = (1 - 0.04) / 2 = 0.48; then S = [[.5, .01], [.01, .52]] and m = .49 / 1.00 = 0.49.
    for estimator in ESTIMATORS:
        pooled = pool_with_covariance([0.0, 1.0], [[0.02, 0.01], [0.01, 0.04]], estimator=estimator, interval="wald")
        assert (pooled.q, pooled.tau2) == pytest.approx((25.0, 0.48), rel=1e-10)
        assert pooled.estimate == pytest.approx(0.49, rel=1e-10)
        assert pooled.se**2 == pytest.approx((0.5 * 0.52 - 0.01**2) / 1.0, rel=1e-10)


def exact_mean(effects: list[Fraction], matrix: list[list[Fraction]]) -> tuple[float, float]:
    """Return 1'V^-1 y / 1'V^-1 1 and 1 / 1'V^-1 1 in exact arithmetic."""
    size = len(effects)
    table = [[*row, Fraction(1), effect] for row, effect in zip(matrix, effects, strict=True)]
    for column in range(size):
        pivot = table[column][column]
        table[column] = [entry / pivot for entry in table[column]]
        for row in range(size):
            if row != column:
                factor = table[row][column]
                table[row] = [a - factor * b for a, b in zip(table[row], table[column], strict=True)]
    precision = sum(row[size] for row in table)
    return float(sum(row[size + 1] for row in table) / precision), float(1 / precision)


@pytest.mark.parametrize("gap", [1e-3, 1e-6, 1e-8])
def test_a_nearly_singular_matrix_gives_the_exact_answer(gap: float) -> None:
    # Two studies of the same milks whose errors differ by almost nothing: the answer leans on their difference.
    correlation = 1.0 - gap
    matrix = [[0.01, 0.02 * correlation, 0.003], [0.02 * correlation, 0.04, 0.006], [0.003, 0.006, 0.09]]
    effects = [-0.3, -0.2, -0.5]
    exactly = exact_mean([Fraction(e) for e in effects], [[Fraction(v) for v in row] for row in matrix])
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        found = common_effect_with_covariance(effects, matrix)
        pooled = pool_with_covariance(effects, matrix)
    assert found.estimate == pytest.approx(exactly[0], rel=1e-6)
    assert found.se**2 == pytest.approx(exactly[1], rel=1e-6)
    assert all(math.isfinite(number) for number in astuple(pooled) if isinstance(number, float))


@pytest.mark.parametrize("correlation", [1.0, 1.0 - 1e-12, 1.1, -1.0])
def test_a_singular_or_impossible_matrix_is_refused_by_name(correlation: float) -> None:
    with pytest.raises(NoEstimate, match="not positive definite"):
        pool_with_covariance([0.1, 0.2], [[0.01, 0.02 * correlation], [0.02 * correlation, 0.04]])


def test_variances_too_far_apart_beside_correlations_are_refused_by_name() -> None:
    matrix = np.diag([1e-20, 1e-20, 1.0, 1.0])
    matrix[2, 3] = matrix[3, 2] = 0.5
    with pytest.raises(NoEstimate, match="too far apart"):
        pool_with_covariance([0.0, 0.1, 0.2, 0.3], matrix)


def test_five_hundred_correlated_studies_have_a_finite_answer_without_a_warning() -> None:
    effects, matrix = correlated(500, 3)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        pooled = pool_with_covariance(effects, matrix)
    assert all(math.isfinite(number) for number in astuple(pooled) if isinstance(number, float))
    assert pooled.tau2_low is not None and pooled.tau2 is not None and pooled.tau2_high is not None
    assert pooled.tau2_low <= pooled.tau2_high
    # Drawn with tau 0.4; the SE of tau is at most about tau / sqrt(2 x 499) plus what the errors add.
    assert math.sqrt(pooled.tau2) == pytest.approx(0.4, rel=0.15)


@pytest.mark.parametrize(
    ("matrix", "said"),
    [
        ([[0.1, 0.0]], "must be square"),
        ([[0.1]], "1 rows and columns for 2 effects"),
        ([[0.1, 0.01], [0.02, 0.1]], "not symmetric: rows"),
        ([[0.1, math.nan], [math.nan, 0.1]], "not finite"),
        ([[0.1, "x"], ["x", 0.1]], "square of numbers"),
        ([[0.1, 0.0], [0.0]], "square of numbers"),
        ([[0.0, 0.0], [0.0, 0.1]], "above zero"),
    ],
)
def test_what_is_no_covariance_matrix_is_refused_with_a_sentence(matrix: object, said: str) -> None:
    with pytest.raises(NoEstimate, match=said):
        pool_with_covariance([0.1, 0.2], matrix)  # type: ignore[arg-type]


@settings(max_examples=60, deadline=None)
@given(effect_lists, st.integers(2, 4))
def test_exact_copies_of_all_studies_narrow_the_common_effect_by_the_root(
    rows: list[tuple[float, float]], copies: int
) -> None:
    effects, variances = unzip(rows)
    once, often = common_effect(effects, variances), common_effect(np.tile(effects, copies), np.tile(variances, copies))
    assert often.estimate == pytest.approx(once.estimate, rel=1e-9, abs=1e-12)
    assert often.ci_high - often.ci_low == pytest.approx((once.ci_high - once.ci_low) / math.sqrt(copies), rel=1e-9)


def test_an_exact_copy_of_a_study_narrows_its_common_effect_by_the_root_of_two() -> None:
    once, twice = common_effect([-0.4], [0.04]), common_effect([-0.4, -0.4], [0.04, 0.04])
    assert twice.ci_high - twice.ci_low == pytest.approx((once.ci_high - once.ci_low) / math.sqrt(2.0), rel=1e-12)
    assert (once.se, once.q, once.k) == (0.2, 0.0, 1)


@settings(max_examples=60, deadline=None)
@given(effect_lists, st.sampled_from(ESTIMATORS))
def test_without_variance_between_studies_the_line_is_the_common_effect(
    rows: list[tuple[float, float]], estimator: str
) -> None:
    # Effects drawn together until every estimator gives tau2 = 0.
    effects, variances = unzip(rows)
    together = effects * 1e-3 * math.sqrt(float(np.min(variances)))
    pooled, common = pool(together, variances, estimator=estimator, interval="wald"), common_effect(together, variances)
    assert pooled.tau2 == 0.0
    for name in ("estimate", "se", "ci_low", "ci_high", "q"):
        assert getattr(pooled, name) == pytest.approx(getattr(common, name), rel=1e-12, abs=1e-15), name


def test_the_shared_mixture_of_uncorrelated_figures_is_that_of_the_one_likelihood() -> None:
    effects, variances = nicotine_gum()
    prior = TauPrior(0.3, 0.5)
    one = posterior(("figure",) * 26, effects, np.sqrt(variances), np.zeros(26), prior=prior, grid=GRID)
    other = posterior_with_covariance(effects, np.diag(variances), prior=prior)
    for ours, theirs in (("estimate", "estimate"), ("ci_low", "ci_low"), ("ci_high", "ci_high"), ("sd", "sd")):
        assert getattr(other, ours) == pytest.approx(getattr(one, theirs), abs=1e-5)
    assert (other.new_low, other.new_high) == pytest.approx((one.new_low, one.new_high), abs=1e-4)


@pytest.mark.parametrize("prior", [TauPrior(0.3, 0.5), TauPrior(1e-3, 0.1), TauPrior(2.0, 3.0)])
def test_the_shared_mixture_of_correlated_figures_is_that_of_brute_force(prior: TauPrior) -> None:
    effects, matrix = correlated(4, 9)
    log_tau = np.linspace(prior.log_centre - 9 * prior.log_sd, prior.log_centre + 9 * prior.log_sd, 4001)
    weights, means, variances = [], [], []
    for one in log_tau:
        total = matrix + np.exp(2 * one) * np.eye(4)
        inverse = np.linalg.inv(total)
        means.append(float(np.sum(inverse @ effects) / np.sum(inverse)))
        variances.append(1.0 / float(np.sum(inverse)))
        height = stats.multivariate_normal(np.full(4, means[-1]), total, allow_singular=True).logpdf(effects)
        # The integral over mu of a normal likelihood is its height times sqrt(2 pi variance).
        weights.append(height + 0.5 * math.log(variances[-1]) + stats.norm.logpdf(one, prior.log_centre, prior.log_sd))
    mass = np.exp(np.array(weights) - max(weights))
    mass /= np.sum(mass)
    for name, spread, probability in (
        ("ci_low", 0.0, 0.025),
        ("estimate", 0.0, 0.5),
        ("ci_high", 0.0, 0.975),
        ("new_low", 1.0, 0.025),
        ("new_high", 1.0, 0.975),
    ):
        found = getattr(posterior_with_covariance(effects, matrix, prior=prior), name)
        sd = np.sqrt(np.array(variances) + spread * np.exp(2 * log_tau))
        assert float(mass @ stats.norm.cdf(found, np.array(means), sd)) == pytest.approx(probability, abs=1e-5), name
