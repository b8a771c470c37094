"""Rows that may err together, cut into blocks that do not: what three_level.py and cluster_robust.py compute with."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from evidence.synthesis.covariance import as_covariance
from evidence.synthesis.refusal import Floats, NoEstimate, as_effects, as_numbers

__all__ = ["RowBatch", "RowBlocks", "blocks_from_correlation", "blocks_from_covariance"]

Integers = NDArray[np.int64]


@dataclass(frozen=True)
class RowBatch:
    """Blocks of equally many rows, b blocks of m rows.

    Attributes:
        row: shape (b, m), which rows of the caller.
        log_ratio: shape (b, m).
        covariance: shape (b, m, m), of the sampling errors.
        together: shape (b, m, m), 1 where two rows are of one study, else 0.
    """

    row: Integers
    log_ratio: Floats
    covariance: Floats
    together: Floats


@dataclass(frozen=True)
class RowBlocks:
    """All rows.

    Attributes:
        study: shape (n,), the index of each row's study, 0 to k - 1.
        log_ratio: shape (n,).
        batches: the blocks, those of one size together; rows of different blocks are independent.
    """

    study: Integers
    log_ratio: Floats
    batches: tuple[RowBatch, ...]

    @property
    def k_studies(self) -> int:
        """How many studies."""
        return int(self.study.max()) + 1

    @property
    def k_rows(self) -> int:
        """How many rows."""
        return int(self.study.size)


def blocks_from_correlation(
    study: Sequence[str], log_ratio: ArrayLike, variance: ArrayLike, *, rho: float
) -> RowBlocks:
    """Return blocks, one a study, in which any two rows have the covariance rho se_i se_j.

    study: n names; log_ratio, variance: shape (n,); rho from 0 to below 1. Raises NoEstimate.
    """
    as_effects(log_ratio, variance)
    effects, errors = as_numbers(log_ratio, "log_ratio"), np.sqrt(as_numbers(variance, "variance"))
    of_row = _study_of_row(study, effects.size)
    if not 0.0 <= rho < 1.0:
        raise NoEstimate(f"The correlation between rows of one study lies between 0 and below 1, not {rho!r}.")

    def covariance(rows: Integers) -> Floats:
        correlation = np.where(np.eye(rows.shape[1], dtype=bool), 1.0, rho)
        matrices: Floats = errors[rows][:, :, None] * errors[rows][:, None, :] * correlation
        return matrices

    batches = []
    for rows in _of_equal_size(of_row):
        together = np.ones((*rows.shape, rows.shape[1]))
        batches.append(RowBatch(rows, effects[rows], covariance(rows), together))
    return RowBlocks(of_row, effects, tuple(batches))


def blocks_from_covariance(study: Sequence[str], log_ratio: ArrayLike, covariance: ArrayLike) -> RowBlocks:
    """Return blocks of rows that share a study or a covariance.

    study: n names; log_ratio: shape (n,); covariance: shape (n, n), positive definite. Raises NoEstimate.
    """
    # Loaded here: nothing else in this room needs graphs, and they take a while.
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    effects = as_numbers(log_ratio, "log_ratio")
    matrix = as_covariance(covariance, effects.size)
    of_row = _study_of_row(study, effects.size)
    left, right = np.nonzero(matrix)
    # A row is also tied to the first row of its study.
    first = np.unique(of_row, return_index=True)[1]
    left, right = np.concatenate((left, np.arange(effects.size))), np.concatenate((right, first[of_row]))
    links = coo_array((np.ones(left.size), (left, right)), shape=matrix.shape)
    block = connected_components(links, directed=False)[1].astype(np.int64)
    batches = []
    for rows in _of_equal_size(block):
        together = (of_row[rows][:, :, None] == of_row[rows][:, None, :]).astype(np.float64)
        batches.append(RowBatch(rows, effects[rows], matrix[rows[:, :, None], rows[:, None, :]], together))
    return RowBlocks(of_row, effects, tuple(batches))


def _study_of_row(study: Sequence[str], size: int) -> Integers:
    if len(study) != size:
        raise NoEstimate(f"study has {len(study)} names for {size} effects: they must be equally many.")
    return np.unique(np.array([str(name) for name in study]), return_inverse=True)[1].astype(np.int64)


def _of_equal_size(block: Integers) -> list[Integers]:
    """Return, for each size of block that occurs, the rows of those blocks, shape (b, m)."""
    size = np.bincount(block)
    order = np.argsort(block, kind="stable").astype(np.int64)
    start = np.cumsum(size) - size
    tables = []
    for number in np.unique(size).tolist():
        of_size = start[size == number]
        tables.append(order[of_size[:, None] + np.arange(number)])
    return tables
