"""Rows within studies at three levels."""

import math
import warnings
from dataclasses import astuple

import numpy as np
import pytest
from scipy import optimize, stats
from statsmodels.regression.mixed_linear_model import MixedLM

from evidence.synthesis.classical import pool
from evidence.synthesis.refusal import NoEstimate
from evidence.synthesis.row_blocks import RowBlocks, blocks_from_correlation, blocks_from_covariance
from evidence.synthesis.three_level import three_level
from tests.synthesis.published_data import Floats, nicotine_gum


def layout(seed: int, studies: int = 9) -> tuple[list[str], Floats, Floats]:
    """Return names, effects and variances of studies with one to five rows."""
    draw = np.random.default_rng(seed)
    sizes = draw.integers(1, 6, studies)
    of_row = np.repeat(np.arange(studies), sizes)
    variances = draw.uniform(0.01, 0.1, of_row.size)
    effects = draw.normal(0.0, 0.3, studies)[of_row] + draw.normal(-0.3, np.sqrt(variances + 0.03))
    return [f"s{number}" for number in of_row], effects, variances


def dense(rows: RowBlocks) -> tuple[Floats, Floats]:
    """Return the covariance of the sampling errors and which rows share a study, both (n, n)."""
    covariance, together = (np.zeros((rows.k_rows, rows.k_rows)) for _ in range(2))
    for batch in rows.batches:
        for row, one, other in zip(batch.row, batch.covariance, batch.together, strict=True):
            covariance[np.ix_(row, row)], together[np.ix_(row, row)] = one, other
    return covariance, together


def loglik(rows: RowBlocks, tau2: float, within: float) -> float:
    """The definition, by dense matrices: -1/2 (ln det S + ln 1'S^-1 1 + y'Py)."""
    covariance, together = dense(rows)
    total = covariance + tau2 * together + within * np.eye(rows.k_rows)
    inverse = np.linalg.inv(total)
    ones = np.ones(rows.k_rows)
    middle = float(ones @ inverse @ ones)
    mean = float(ones @ inverse @ rows.log_ratio) / middle
    residual = rows.log_ratio - mean
    return -0.5 * float(np.linalg.slogdet(total)[1] + math.log(middle) + residual @ inverse @ residual)


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("rho", [0.0, 0.8])
def test_no_pair_of_variances_beats_the_estimate(seed: int, rho: float) -> None:
    rows = blocks_from_correlation(*layout(seed), rho=rho)
    found = three_level(rows)
    assert found.tau2_within is not None
    here = loglik(rows, found.tau2, found.tau2_within)
    grid = (0.0, *np.geomspace(1e-4, 2.0, 14))
    others = [loglik(rows, tau2, within) for tau2 in grid for within in grid]
    near = optimize.minimize(
        lambda pair: -loglik(rows, pair[0] ** 2, pair[1] ** 2),
        (math.sqrt(found.tau2) + 0.01, math.sqrt(found.tau2_within) + 0.01),
        method="Nelder-Mead",
        options={"xatol": 1e-8, "fatol": 1e-12},
    )
    assert here >= max(*others, -near.fun) - 1e-9


def test_mean_and_error_are_generalised_least_squares_at_those_variances() -> None:
    rows = blocks_from_correlation(*layout(3), rho=0.5)
    found = three_level(rows)
    covariance, together = dense(rows)
    total = covariance + found.tau2 * together + (found.tau2_within or 0.0) * np.eye(rows.k_rows)
    inverse = np.linalg.inv(total)
    assert found.estimate == pytest.approx(float(np.sum(inverse @ rows.log_ratio) / np.sum(inverse)), rel=1e-9)
    assert found.se == pytest.approx(float(np.sum(inverse)) ** -0.5, rel=1e-9)
    k = rows.k_studies
    assert found.df == k - 1
    assert found.ci_high - found.estimate == pytest.approx(stats.t.ppf(0.975, k - 1) * found.se, rel=1e-12)
    assert found.prediction_high is not None
    reach = stats.t.ppf(0.975, k - 2) * math.sqrt(found.tau2 + (found.tau2_within or 0.0) + found.se**2)
    assert found.prediction_high - found.estimate == pytest.approx(reach, rel=1e-12)


def test_negligible_errors_give_the_mixed_model_of_statsmodels() -> None:
    study, effects, _ = layout(5, studies=14)
    rows = blocks_from_correlation(study, effects, np.full(effects.size, 1e-9), rho=0.0)
    found = three_level(rows)
    theirs = MixedLM(effects, np.ones((effects.size, 1)), groups=np.array(study)).fit(reml=True, method="lbfgs")
    assert found.estimate == pytest.approx(float(theirs.fe_params[0]), abs=1e-5)
    assert found.tau2 == pytest.approx(float(theirs.cov_re[0, 0]), rel=1e-3)
    assert found.tau2_within == pytest.approx(float(theirs.scale), rel=1e-3)
    assert found.se == pytest.approx(float(theirs.bse_fe[0]), rel=1e-3)


def test_studies_of_one_row_give_the_plain_line_and_no_variance_within() -> None:
    effects, variances = nicotine_gum()
    found = three_level(blocks_from_correlation([f"t{i}" for i in range(26)], effects, variances, rho=0.8))
    plain = pool(effects, variances, interval="wald")
    assert found.tau2_within is None
    assert (found.tau2, found.estimate, found.se) == pytest.approx((plain.tau2, plain.estimate, plain.se), rel=1e-7)
    assert (found.q, found.i2) == pytest.approx((plain.q, plain.i2), rel=1e-9)


def test_rows_in_any_order_and_in_any_form_give_the_same_answer() -> None:
    study, effects, variances = layout(8)
    first = three_level(blocks_from_correlation(study, effects, variances, rho=0.6))
    turned = np.random.default_rng(0).permutation(len(study))
    second = three_level(
        blocks_from_correlation([study[i] for i in turned], effects[turned], variances[turned], rho=0.6)
    )
    se = np.sqrt(variances)
    same = np.array(study)[:, None] == np.array(study)[None, :]
    matrix = np.where(same, np.where(np.eye(se.size, dtype=bool), 1.0, 0.6), 0.0) * np.outer(se, se)
    third = three_level(blocks_from_covariance(study, effects, matrix))
    assert astuple(second) == pytest.approx(astuple(first), rel=1e-7, abs=1e-10)
    assert astuple(third) == pytest.approx(astuple(first), rel=1e-7, abs=1e-10)


def test_a_change_of_unit_changes_only_the_unit() -> None:
    study, effects, variances = layout(2)
    one = three_level(blocks_from_correlation(study, effects, variances, rho=0.3))
    other = three_level(blocks_from_correlation(study, 1000.0 * effects, 1e6 * variances, rho=0.3))
    assert (other.estimate, other.se) == pytest.approx((1000.0 * one.estimate, 1000.0 * one.se), rel=1e-7)
    assert (other.tau2, other.tau2_within) == pytest.approx(
        (1e6 * one.tau2, 1e6 * (one.tau2_within or 0.0)), rel=1e-6, abs=1e-3
    )


def test_rows_that_err_together_across_studies_are_carried() -> None:
    study, effects, variances = layout(4)
    matrix = np.diag(variances)
    matrix[0, -1] = matrix[-1, 0] = 0.7 * math.sqrt(variances[0] * variances[-1])
    rows = blocks_from_covariance(study, effects, matrix)
    np.testing.assert_array_equal(dense(rows)[0], matrix)
    found = three_level(rows)
    assert found.tau2_within is not None
    grid = (0.0, *np.geomspace(1e-4, 2.0, 10))
    best = max(loglik(rows, tau2, within) for tau2 in grid for within in grid)
    assert loglik(rows, found.tau2, found.tau2_within) >= best - 1e-9


@pytest.mark.parametrize("effects", [np.zeros(6), np.array([5.0, 5.0, 5.0, 5.0, 5.0, 5.0 + 1e-9])])
def test_identical_effects_have_no_variances_and_no_warning(effects: Floats) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        found = three_level(blocks_from_correlation(list("aabbcd"), effects, np.full(6, 0.1), rho=0.0))
    assert (found.tau2, found.tau2_within) == (0.0, 0.0)
    assert found.se == pytest.approx(math.sqrt(0.1 / 6))


def test_one_huge_study_leads_without_a_warning() -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        found = three_level(
            blocks_from_correlation(list("aabbc"), [0.1, 0.1, 0.12, 0.09, 0.1], [1e-8, 1e-8, 0.5, 0.5, 0.5], rho=0.0)
        )
    assert found.estimate == pytest.approx(0.1, abs=1e-4)
    assert all(math.isfinite(number) for number in astuple(found) if isinstance(number, float))


def test_one_study_and_unfit_rows_are_refused_with_a_sentence() -> None:
    with pytest.raises(NoEstimate, match="at least two"):
        three_level(blocks_from_correlation(["a", "a"], [0.1, 0.2], [0.1, 0.1], rho=0.8))
    with pytest.raises(NoEstimate, match="below 1"):
        blocks_from_correlation(["a", "b"], [0.1, 0.2], [0.1, 0.1], rho=1.0)
    with pytest.raises(NoEstimate, match="1 names for 2"):
        blocks_from_correlation(["a"], [0.1, 0.2], [0.1, 0.1], rho=0.8)
    with pytest.raises(NoEstimate, match="level"):
        three_level(blocks_from_correlation(["a", "b"], [0.1, 0.2], [0.1, 0.1], rho=0.8), level=95.0)
