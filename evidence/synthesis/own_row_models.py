"""A reader's own rows with a covariance matrix of their own, at three levels, or with cluster-robust errors.

Without a matrix, rows of one study err together with the correlation rho (dependence.py). With one, the mean of a
study's rows has the covariances A V A', A the matrix that takes means. Cluster-robust: the three-level fit is the
working model that weighs the rows, clusters are studies (cluster_robust.py).
"""

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import stdtrit

from evidence.synthesis.cluster_robust import cluster_robust
from evidence.synthesis.covariance import as_covariance, pool_with_covariance
from evidence.synthesis.own_rows import EffectRows, OwnPool, as_own_pool, retained_percent
from evidence.synthesis.refusal import Floats, NoEstimate, as_numbers
from evidence.synthesis.row_blocks import RowBlocks, blocks_from_correlation, blocks_from_covariance
from evidence.synthesis.settings import GridSettings, TauPrior
from evidence.synthesis.shared import posterior
from evidence.synthesis.shared_covariance import posterior_with_covariance
from evidence.synthesis.three_level import ThreeLevelEstimate, three_level

__all__ = [
    "as_row_blocks",
    "pool_own_rows_robust",
    "pool_own_rows_shared_with_covariance",
    "pool_own_rows_three_level",
    "pool_own_rows_with_covariance",
    "study_means",
]


def study_means(effects: EffectRows, covariance: ArrayLike) -> tuple[tuple[str, ...], Floats, Floats]:
    """Return study names (rising), the plain mean of each study's rows, shape (k,), and their covariance, (k, k).

    covariance: shape (n, n), of the rows in the order of effects. Raises NoEstimate.
    """
    values = as_numbers(effects.log_ratio, "log_ratio")
    matrix = as_covariance(covariance, values.size)
    names, of_row = np.unique(np.array([str(name) for name in effects.study]), return_inverse=True)
    averaging = (of_row == np.arange(names.size)[:, None]).astype(np.float64)
    averaging /= np.sum(averaging, axis=1, keepdims=True)
    # A zero stays a zero: sums of products with exact zeros are exact.
    return tuple(names.tolist()), averaging @ values, averaging @ matrix @ averaging.T


def pool_own_rows_with_covariance(
    effects: EffectRows,
    covariance: ArrayLike,
    *,
    estimator: str = "reml",
    interval: str = "hk-floor",
    level: float = 0.95,
) -> OwnPool:
    """Pool own rows with their covariance matrix, one estimate a study, by the classical line. Raises NoEstimate."""
    _, means, matrix = study_means(effects, covariance)
    pooled = pool_with_covariance(means, matrix, estimator=estimator, interval=interval, level=level)
    return as_own_pool(pooled, len(effects.study))


def pool_own_rows_shared_with_covariance(
    effects: EffectRows, covariance: ArrayLike, *, prior: TauPrior, grid: GridSettings, level: float = 0.95
) -> OwnPool:
    """Pool own rows with their covariance matrix and a given prior of tau. Raises NoEstimate."""
    _, means, matrix = study_means(effects, covariance)
    k = means.size
    if np.any(matrix - np.diag(np.diag(matrix))):
        found = posterior_with_covariance(means, matrix, prior=prior, level=level)
        middle, sd, ends = found.estimate, found.sd, (found.ci_low, found.ci_high, found.new_low, found.new_high)
    else:
        one = posterior(
            ("figure",) * k, means, np.sqrt(np.diag(matrix)), np.zeros(k), prior=prior, grid=grid, level=level
        )
        middle, sd, ends = one.estimate, one.sd, (one.ci_low, one.ci_high, one.new_low, one.new_high)
    spread = pool_with_covariance(means, matrix) if k >= 2 else None
    return OwnPool(
        estimate=middle,
        se=sd,
        ci_low=ends[0],
        ci_high=ends[1],
        tau2=None,
        tau2_low=None,
        tau2_high=None,
        i2=spread.i2 if spread else None,
        q=spread.q if spread else None,
        q_p=spread.q_p if spread else None,
        prediction_low=ends[2],
        prediction_high=ends[3],
        k_studies=k,
        k_rows=len(effects.study),
        retained_percent=retained_percent(middle),
        estimator=None,
        interval_kind="shared",
    )


def as_row_blocks(effects: EffectRows, *, rho: float | None = None, covariance: ArrayLike | None = None) -> RowBlocks:
    """Return own rows for the models of rows: with their covariance matrix, or with the correlation rho in a study."""
    if covariance is not None:
        return blocks_from_covariance(effects.study, effects.log_ratio, covariance)
    if rho is None:
        raise NoEstimate("Rows of one study need either a correlation or a covariance matrix.")
    return blocks_from_correlation(effects.study, effects.log_ratio, effects.variance, rho=rho)


def pool_own_rows_three_level(rows: RowBlocks, *, level: float = 0.95) -> OwnPool:
    """Pool own rows at three levels. Raises NoEstimate."""
    fitted = three_level(rows, level=level)
    return _of_rows(
        fitted,
        estimate=fitted.estimate,
        se=fitted.se,
        ends=(fitted.ci_low, fitted.ci_high),
        prediction=(fitted.prediction_low, fitted.prediction_high),
        df=fitted.df,
        kind="three-level",
    )


def pool_own_rows_robust(rows: RowBlocks, *, level: float = 0.95) -> OwnPool:
    """Pool own rows weighed by the three-level fit, with errors robust to what happens inside a study.

    Raises NoEstimate, also where rows of different studies err together: studies are then no clusters.
    """
    fitted = three_level(rows, level=level)
    if np.ptp(rows.log_ratio) == 0.0:
        raise NoEstimate("All effects are the same: robust errors, which come from how they differ, would be zero.")
    within = fitted.tau2_within or 0.0
    working: dict[int, Floats] = {}
    for batch in rows.batches:
        if np.any(batch.together != 1.0):
            raise NoEstimate("Rows of different studies err together in this matrix: studies are no clusters then.")
        total = batch.covariance + fitted.tau2 * batch.together + within * np.eye(batch.row.shape[1])
        working.update(zip(rows.study[batch.row[:, 0]].tolist(), total, strict=True))
    # Labels that sort as numbers, for clusters are taken by rising label.
    labels = np.char.zfill(rows.study.astype(str), len(str(rows.k_studies)))
    ones = np.ones((rows.k_rows, 1))
    robust = cluster_robust(ones, rows.log_ratio, labels, working=[working[j] for j in range(rows.k_studies)])
    estimate, se, df = float(robust.estimate[0]), float(robust.se[0]), float(robust.df[0])
    upper = 0.5 + level / 2.0
    reach = float(stdtrit(df, upper)) * se
    k, spread = rows.k_studies, fitted.tau2 + within
    beyond = float(stdtrit(k - 2, upper)) * float(np.sqrt(spread + se * se)) if k >= 3 else None
    return _of_rows(
        fitted,
        estimate=estimate,
        se=se,
        ends=(estimate - reach, estimate + reach),
        prediction=(None, None) if beyond is None else (estimate - beyond, estimate + beyond),
        df=df,
        kind="robust",
    )


def _of_rows(
    fitted: ThreeLevelEstimate,
    *,
    estimate: float,
    se: float,
    ends: tuple[float, float],
    prediction: tuple[float | None, float | None],
    df: float,
    kind: str,
) -> OwnPool:
    return OwnPool(
        estimate=estimate,
        se=se,
        ci_low=ends[0],
        ci_high=ends[1],
        tau2=fitted.tau2,
        tau2_low=None,
        tau2_high=None,
        i2=fitted.i2,
        q=fitted.q,
        q_p=fitted.q_p,
        prediction_low=prediction[0],
        prediction_high=prediction[1],
        k_studies=fitted.k_studies,
        k_rows=fitted.k_rows,
        retained_percent=retained_percent(estimate),
        estimator="reml",
        interval_kind=kind,
        df=df,
        tau2_within=fitted.tau2_within,
    )
