"""Cluster-robust standard errors of a linear regression: CR2 with Satterthwaite degrees of freedom.

y = X b + e, clusters j independent, working covariance F = diag(F_j), W = F^-1, M = (X'WX)^-1, b = M X'W y. With
F_j = D_j'D_j (Cholesky) and B_j = D_j (F_j - X_j M X_j') D_j',  A_j = D_j' B_j^(-1/2) D_j  (symmetric root, generalised
inverse), the estimate of Var(b) is exactly unbiased if F is right, and right for any F as clusters become many:

    V = M [sum_j X_j' W_j A_j e_j e_j' A_j' W_j X_j] M                 (bell2002; pustejovsky2018)

For one coefficient c, p_j = A_j' W_j X_j M c and G_ij = p_i' F_i p_i [i = j] - (X_i'p_i)' M (X_j'p_j):

    df = (sum_j G_jj)^2 / sum_ij G_ij^2                                 (pustejovsky2018)
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.linalg import cholesky, eigh, solve_triangular
from scipy.special import stdtr

from evidence.synthesis.refusal import Floats, NoEstimate, as_numbers

__all__ = ["RobustCoefficients", "cluster_robust"]

_LOST = 1e-10  # eigenvalues below this share of the largest are zeros that rounding has touched


@dataclass(frozen=True)
class RobustCoefficients:
    """Coefficients of a regression with errors that hold whatever happens inside a cluster; each shape (p,).

    Attributes:
        estimate: the coefficients b.
        se: CR2 standard errors.
        df: Satterthwaite degrees of freedom of each.
        t: estimate over se.
        p: two-sided probability of t.
        clusters: how many clusters.
    """

    estimate: Floats
    se: Floats
    df: Floats
    t: Floats
    p: Floats
    clusters: int


def cluster_robust(
    design: ArrayLike,
    outcome: ArrayLike,
    cluster: Sequence[object] | NDArray[np.generic],
    *,
    working: Sequence[Floats] | None = None,
) -> RobustCoefficients:
    """Return coefficients with CR2 standard errors.

    design: shape (n, p), full rank; outcome: shape (n,); cluster: n labels; working: the covariance of each cluster's
    rows (clusters by rising label, rows in the order given), identity where None. Raises NoEstimate, a ValueError.
    """
    values = as_numbers(outcome, "outcome")
    matrix = np.array(design, dtype=np.float64)
    if matrix.ndim != 2 or matrix.shape[0] != values.size or len(cluster) != values.size:
        raise NoEstimate("design needs one row, and cluster one label, for each outcome.")
    if not np.all(np.isfinite(matrix)):
        raise NoEstimate("design holds a number that is not finite.")
    if np.linalg.matrix_rank(matrix) < matrix.shape[1]:
        raise NoEstimate("The columns of the design are not independent: their coefficients cannot be told apart.")
    _, of_row = np.unique(np.array([str(label) for label in cluster]), return_inverse=True)
    if of_row.max() < 1:
        raise NoEstimate("One cluster cannot show how much clusters differ: robust errors need at least two.")
    places = [np.flatnonzero(of_row == number) for number in range(int(of_row.max()) + 1)]
    covariances = [np.eye(place.size) for place in places] if working is None else list(working)
    if [one.shape for one in covariances] != [(place.size, place.size) for place in places]:
        raise NoEstimate("working needs a square matrix for each cluster, as wide as the cluster has rows.")
    roots = [cholesky(one) for one in covariances]  # F_j = D_j'D_j
    whitened = [solve_triangular(d, matrix[place], trans="T") for d, place in zip(roots, places, strict=True)]
    outcomes = [solve_triangular(d, values[place], trans="T") for d, place in zip(roots, places, strict=True)]
    bread = np.linalg.inv(sum(x.T @ x for x in whitened))
    estimate = bread @ sum(x.T @ y for x, y in zip(whitened, outcomes, strict=True))
    scores, pulls, own = [], [], []
    for root, x, y in zip(roots, whitened, outcomes, strict=True):
        # In whitened rows, x = D'^-1 X: F_j - X_j M X_j' = D' (I - x M x') D; adjusted is D p_j.
        square = root @ root.T
        adjusted = square @ _inverse_root(square @ (np.eye(y.size) - x @ bread @ x.T) @ square) @ x @ bread
        scores.append(adjusted.T @ (y - x @ estimate))
        pulls.append(x.T @ adjusted)
        own.append(np.sum(adjusted**2, axis=0))
    se = np.sqrt(np.sum(np.square(scores), axis=0))
    df = _satterthwaite(np.array(own), np.array(pulls), bread)
    t = np.divide(estimate, se, out=np.full_like(estimate, np.inf), where=se > 0.0)
    return RobustCoefficients(estimate, se, df, t, 2.0 * stdtr(df, -np.abs(t)), len(places))


def _inverse_root(symmetric: Floats) -> Floats:
    """Return the symmetric inverse square root, generalised where the matrix is singular."""
    values, axes = eigh(0.5 * (symmetric + symmetric.T))
    kept = values > _LOST * max(float(values[-1]), 0.0)
    roots = np.divide(1.0, np.sqrt(np.where(kept, values, 1.0)), out=np.zeros_like(values), where=kept)
    result: Floats = (axes * roots) @ axes.T
    return result


def _satterthwaite(own: Floats, pulls: Floats, bread: Floats) -> Floats:
    """Return the degrees of freedom; own: shape (J, p); pulls: shape (J, p, p), X_j'p_j for each coefficient."""
    df = np.empty(own.shape[1])
    for coefficient in range(df.size):
        pull = pulls[:, :, coefficient]
        between = -(pull @ bread @ pull.T)
        between[np.diag_indices_from(between)] += own[:, coefficient]
        df[coefficient] = np.trace(between) ** 2 / np.sum(between**2)
    return df
