"""Cluster-robust errors: CR2 and its degrees of freedom."""

import math

import numpy as np
import pytest
from scipy import stats
from scipy.linalg import block_diag

from evidence.synthesis.cluster_robust import cluster_robust
from evidence.synthesis.own_row_models import as_row_blocks, pool_own_rows_robust
from evidence.synthesis.refusal import NoEstimate
from tests.synthesis.published_data import Floats
from tests.synthesis.test_own_rows import Rows
from tests.synthesis.test_three_level import layout


def clusters(seed: int, number: int = 8, most: int = 5) -> tuple[Floats, Floats, list[str], list[Floats]]:
    """Return design, outcome, labels and a working covariance of clusters of one row to most."""
    draw = np.random.default_rng(seed)
    sizes = draw.integers(1, most + 1, number)
    n = int(sizes.sum())
    roots = [draw.normal(size=(size, size + 2)) for size in sizes]
    working = [root @ root.T / root.shape[1] + 0.1 * np.eye(len(root)) for root in roots]
    labels = [f"c{number}" for number in np.repeat(np.arange(number), sizes)]
    return np.column_stack((np.ones(n), draw.normal(size=n))), draw.normal(size=n), labels, working


@pytest.mark.parametrize("seed", range(4))
def test_the_estimate_of_variance_is_unbiased_when_the_working_model_holds(seed: int) -> None:
    # The purpose of CR2 (bell2002): its expectation under the working covariance F is M = (X'F^-1 X)^-1. It is a square
    # of the outcome, so its expectation is its sum over the columns of a root of F (the mean of y drops out).
    design, _, labels, working = clusters(seed)
    full = block_diag(*working)
    root = np.linalg.cholesky(full)
    expected = np.linalg.inv(design.T @ np.linalg.inv(full) @ design)
    squares = sum(cluster_robust(design, column, labels, working=working).se ** 2 for column in root.T)
    np.testing.assert_allclose(squares, np.diag(expected), rtol=1e-9)


@pytest.mark.parametrize("seed", range(2))
def test_degrees_of_freedom_are_twice_the_squared_mean_over_the_variance(seed: int) -> None:
    # Satterthwaite: for normal outcomes se^2 = y'Ay has mean tr AF and variance 2 tr AFAF; df = 2 mean^2 / variance.
    # A is read off the function itself by polarisation: y'Az = (q(y + z) - q(y) - q(z)) / 2.
    design, outcome, labels, working = clusters(seed, number=5, most=3)
    root = np.linalg.cholesky(block_diag(*working))

    def square(values: Floats) -> float:
        return float(cluster_robust(design, values, labels, working=working).se[1] ** 2)

    single = np.array([square(column) for column in root.T])
    kernel = np.diag(single)
    for i in range(single.size):
        for j in range(i):
            kernel[i, j] = kernel[j, i] = (square(root[:, i] + root[:, j]) - single[i] - single[j]) / 2.0
    found = cluster_robust(design, outcome, labels, working=working)
    assert found.df[1] == pytest.approx(np.trace(kernel) ** 2 / np.sum(kernel**2), rel=1e-7)


def test_clusters_of_one_row_and_a_mean_give_the_ordinary_error() -> None:
    values = np.array([1.0, 2.0, 4.0, 8.0, 3.0])
    found = cluster_robust(np.ones((5, 1)), values, range(5))
    assert found.se[0] == pytest.approx(float(np.std(values, ddof=1)) / math.sqrt(5), rel=1e-12)
    assert found.df[0] == pytest.approx(4.0, rel=1e-12)
    theirs = stats.ttest_1samp(values, 0.0)
    assert (found.t[0], found.p[0]) == pytest.approx((theirs.statistic, theirs.pvalue), rel=1e-9)


def test_a_cluster_that_alone_decides_a_coefficient_does_not_break_it() -> None:
    design = np.column_stack((np.ones(6), np.array([1.0, 1.0, 0.0, 0.0, 0.0, 0.0])))
    found = cluster_robust(design, [1.0, 2.0, 3.0, 1.0, 2.0, 5.0], list("aabbcd"))
    assert np.all(np.isfinite(found.se)) and np.all(found.df > 0.0)


def test_what_has_no_answer_is_refused_with_a_sentence() -> None:
    ones = np.ones((4, 1))
    with pytest.raises(NoEstimate, match="at least two"):
        cluster_robust(ones, [1.0, 2.0, 3.0, 4.0], list("aaaa"))
    with pytest.raises(NoEstimate, match="not independent"):
        cluster_robust(np.ones((4, 2)), [1.0, 2.0, 3.0, 4.0], list("aabb"))
    with pytest.raises(NoEstimate, match="one row"):
        cluster_robust(ones, [1.0, 2.0, 3.0], list("aab"))
    with pytest.raises(NoEstimate, match="square matrix for each cluster"):
        cluster_robust(ones, [1.0, 2.0, 3.0, 4.0], list("aabb"), working=[np.eye(2), np.eye(3)])
    with pytest.raises(NoEstimate, match="not finite"):
        cluster_robust(ones * math.nan, [1.0, 2.0, 3.0, 4.0], list("aabb"))


def test_own_rows_are_weighed_by_the_three_level_fit() -> None:
    study, effects, variances = layout(1)
    rows = as_row_blocks(Rows(tuple(study), tuple(effects), tuple(variances)), rho=0.8)
    found = pool_own_rows_robust(rows)
    assert (found.interval_kind, found.estimator, found.k_rows) == ("robust", "reml", len(study))
    assert found.df is not None and found.tau2 is not None and found.tau2_within is not None
    reach = stats.t.ppf(0.975, found.df) * found.se
    assert (found.ci_low, found.ci_high) == pytest.approx((found.estimate - reach, found.estimate + reach), rel=1e-10)
    # The same through the regression with dense matrices, labels that sort as the blocks do.
    names = sorted(set(study))
    order = np.argsort(np.array([names.index(name) for name in study]), kind="stable")
    working = []
    for name in names:
        errors = np.sqrt(variances[np.array(study) == name])
        correlation = np.where(np.eye(errors.size, dtype=bool), 1.0, 0.8)
        working.append(np.outer(errors, errors) * correlation + found.tau2 + found.tau2_within * np.eye(errors.size))
    other = cluster_robust(np.ones((len(study), 1)), effects[order], [study[i] for i in order], working=working)
    assert (found.estimate, found.se, found.df) == pytest.approx(
        (other.estimate[0], other.se[0], other.df[0]), rel=1e-9
    )


def test_the_robust_interval_covers_when_rows_share_more_than_the_model_knows() -> None:
    # Rows of one study share all of their error (correlation 1) while the model is told 0: over 150 drawn worlds of 12
    # studies the 95 % interval should cover the truth as often as it says, within Monte Carlo error (3 SD: 5.3 points).
    draw = np.random.default_rng(20261125)
    study = np.repeat(np.arange(12), draw.integers(1, 5, 12))
    covered = 0
    for _ in range(150):
        effects = draw.normal(0.0, 0.3, 12)[study]
        rows = as_row_blocks(Rows(tuple(map(str, study)), tuple(effects), (0.02,) * study.size), rho=0.0)
        found = pool_own_rows_robust(rows)
        covered += found.ci_low <= 0.0 <= found.ci_high
    assert covered / 150 >= 0.897


def test_identical_effects_and_studies_that_err_together_are_refused_by_name() -> None:
    same = Rows(("a", "a", "b"), (0.1, 0.1, 0.1), (0.1, 0.1, 0.1))
    with pytest.raises(NoEstimate, match="the same"):
        pool_own_rows_robust(as_row_blocks(same, rho=0.8))
    rows = Rows(("a", "b", "c"), (0.1, 0.2, 0.3), (0.1, 0.1, 0.1))
    matrix = [[0.1, 0.05, 0.0], [0.05, 0.1, 0.0], [0.0, 0.0, 0.1]]
    with pytest.raises(NoEstimate, match="no clusters"):
        pool_own_rows_robust(as_row_blocks(rows, covariance=matrix))
    with pytest.raises(NoEstimate, match="either a correlation"):
        as_row_blocks(rows)
