"""Whether a network as a whole agrees with itself: what forcing all comparisons onto one set of steps costs in fit.

    Q = min_b (y - X b)' W (y - X b) - min_m (y - D m)' W (y - D m)  ~  chi-squared, rank D - rank X degrees of freedom

W = Var(y)^-1, Var as in network.py; D gives every distinct comparison (row of X) a mean of its own, over time a line of
its own, so that the second model asks nothing of how steps add up. With one loop Q is the square of direct minus
indirect over its standard error (bucher1997). Decomposition: krahn2013; differences of Q between such models:
rucker2020. tau follows its posterior under the second model, so that disagreement is not counted as heterogeneity
beforehand: p is averaged over it, as one study a comparison tells little of tau; q is that at its median.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import gammaincc

from evidence.synthesis.network import Network
from evidence.synthesis.refusal import Floats
from evidence.synthesis.settings import GridSettings, TauPrior

__all__ = ["GlobalConsistency", "global_consistency"]

_REACH = 5.0  # SDs of ln tau to either side of its prior's centre


@dataclass(frozen=True)
class GlobalConsistency:
    """The test of a whole network.

    Attributes:
        q: the statistic at tau, not below 0.
        df: its degrees of freedom, at least 1.
        p: probability of so large a Q where steps add up, averaged over tau.
        tau: median of the heterogeneity, on the log-ratio scale.
    """

    q: float
    df: int
    p: float
    tau: float


def global_consistency(
    network: Network, *, prior: TauPrior, grid: GridSettings, lines: Sequence[int] = ()
) -> GlobalConsistency | None:
    """Test a network; None where no comparison can contradict the others (no degree of freedom).

    lines: the columns of the design that hold times; comparisons that differ in these alone are one, with a line.
    """
    apart = _apart(network.design, lines)
    df = int(np.linalg.matrix_rank(_even(apart))) - int(np.linalg.matrix_rank(_even(network.design)))
    if df < 1:
        return None
    scores = np.linspace(-_REACH, _REACH, grid.tau_points)
    taus = np.exp(prior.log_centre + prior.log_sd * scores)
    found = [_fitted(network, apart, float(tau)) for tau in taus]
    logs = np.array([log_likelihood for log_likelihood, _ in found]) - 0.5 * scores**2
    weights = np.exp(logs - np.max(logs))
    weights /= np.sum(weights)
    # upper tail of chi-squared: the regularised upper incomplete gamma function
    p = float(weights @ gammaincc(df / 2, np.array([q for _, q in found]) / 2))
    below = np.cumsum(weights) - 0.5 * weights
    tau = float(np.exp(np.interp(0.5, below, np.log(taus))))
    return GlobalConsistency(_fitted(network, apart, tau)[1], df, p, tau)


def _apart(design: Floats, lines: Sequence[int]) -> Floats:
    """Return D: for every distinct comparison a column of ones, and one for each column of times it has."""
    kinds = design.copy()
    kinds[:, list(lines)] = kinds[:, list(lines)] != 0.0
    _, which = np.unique(kinds, axis=0, return_inverse=True)
    columns = []
    for kind in range(int(which.max(initial=-1)) + 1):
        mine = (which.ravel() == kind).astype(np.float64)
        timed = [line for line in lines if np.any(design[:, line] * mine)]
        # a comparison of times alone has no mean beside its line
        if np.any(np.delete(design, list(lines), axis=1)[mine > 0]):
            columns.append(mine)
        columns += [mine * design[:, line] for line in timed]
    return np.array(columns).T


def _even(design: Floats) -> Floats:
    size = np.max(np.abs(design), axis=0)
    return np.asarray(design / np.where(size > 0.0, size, 1.0))


def _variance(network: Network, tau: float) -> Floats:
    names = np.array(network.study)
    random = network.design * network.random_scale
    same = names[:, None] == names[None, :]
    # E se^2 = se^2 exp(2 u^2) where ln(se) is normal with SD u
    grown = np.exp(network.u**2)
    return np.asarray(tau**2 * same * (random @ random.T) + network.covariance * np.outer(grown, grown))


def _whitening(network: Network, tau: float) -> Floats:
    lower = np.linalg.cholesky(_variance(network, tau))
    return np.asarray(np.linalg.solve(lower, np.eye(lower.shape[0])))


def _left_over(design: Floats, values: Floats) -> float:
    """Return the sum of squares that least squares leaves, whatever the rank of the design."""
    even = _even(design)
    rest = values - even @ np.linalg.lstsq(even, values, rcond=None)[0]
    return float(rest @ rest)


def _fitted(network: Network, apart: Floats, tau: float) -> tuple[float, float]:
    """Return the restricted log likelihood of tau under the second model, and Q at this tau."""
    root = _whitening(network, tau)
    values = root @ network.log_ratio
    means = _independent(root @ _even(apart))
    free = _left_over(means, values)
    spread = 2.0 * float(np.sum(np.log(np.diag(root))))
    log_likelihood = 0.5 * (spread - float(np.linalg.slogdet(means.T @ means)[1]) - free)
    return log_likelihood, max(0.0, _left_over(root @ network.design, values) - free)


def _independent(columns: Floats) -> Floats:
    """Return as many columns as the rank, so that a comparison at one time only does no harm."""
    kept: list[int] = []
    for place in range(columns.shape[1]):
        if np.linalg.matrix_rank(columns[:, [*kept, place]]) > len(kept):
            kept.append(place)
    return columns[:, kept]
