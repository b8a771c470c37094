"""The middle of tau, shared by the questions of a class: the m with the highest marginal likelihood.

    L(m) = product over questions of  integral N(ln tau; ln m + shift, s^2) l_q(tau) d ln tau
    l_q(tau) = integral over mu (flat) of the product of the question's figures (likelihood.py)

The idea: rover2023. l_q is worked out once a question on a fixed grid of ln tau; m is then searched for in its limits.
Where several s are offered, the pair (m, s) with the highest likelihood is taken: where some questions agree and others
differ twice as much, one s for all editions is too narrow.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from evidence.synthesis.likelihood import RowGroup, group_rows, log_likelihood
from evidence.synthesis.mixture import COARSE_MU_PANELS, MOST_PASSES, start_edges
from evidence.synthesis.panels import POINTS, is_resolved, make_panels, place_edges
from evidence.synthesis.refusal import Floats, NoEstimate
from evidence.synthesis.settings import GridSettings

__all__ = ["Question", "TauMedian", "fit_tau_median"]

_PRIOR_REACH = 6.0  # SDs of ln tau looked at on either side
_WIDEST_REACH = 4.5  # at least so many of the widest prior offered
_STEP = 0.45  # of the grid of ln tau, in units of the narrowest log_sd; the trapezoid is exact far below that
_TRIES = 41
_SHRINKS = 4

Question = tuple[ArrayLike, ArrayLike, ArrayLike]
"""log_ratio, se and u of one question's figures, shape (k,) each."""


@dataclass(frozen=True)
class TauMedian:
    """The fitted middle of tau.

    Attributes:
        median: m on the log-ratio scale, inside the limits given.
        log_sd: s, the SD of ln tau, one of those offered.
        n_questions: questions with two or more figures, the only ones that say anything about tau.
        log_marginal_likelihood: ln L(m) at that median.
        at_limit: whether the likelihood pushed m against one of the limits.
    """

    median: float
    log_sd: float
    n_questions: int
    log_marginal_likelihood: float
    at_limit: bool


def fit_tau_median(
    questions: Sequence[Question],
    *,
    log_sd: float,
    shift: float,
    low: float,
    high: float,
    grid: GridSettings,
    factors: Sequence[float] = (1.0,),
) -> TauMedian:
    """Fit the median of tau over the questions of one class; questions with one figure are passed over.

    questions: (log_ratio, se, u) each, shape (k,); log_sd, shift: of the prior of ln tau; low, high: limits of the
    median, 0 < low <= high; factors: multiples of log_sd to choose from, the first of equal likelihood is taken.
    Raises NoEstimate: no question with two figures, limits or settings out of order.
    """
    if not (0.0 < low <= high < np.inf and 0.0 < log_sd < np.inf and np.isfinite(shift)):
        raise NoEstimate(f"The limits of the median must be 0 < low <= high, and log_sd above 0, not {low}, {high}.")
    if not factors or not all(0.0 < factor < np.inf for factor in factors):
        raise NoEstimate(f"There must be factors of log_sd, each above 0, not {factors!r}.")
    grouped = []
    for log_ratio, se, u in questions:
        rows = group_rows(("figure",) * np.size(log_ratio), log_ratio, se, u)
        if sum(row.count for row in rows) >= 2:
            grouped.append(rows)
    if not grouped:
        raise NoEstimate("No question has two figures: nothing shows how much studies differ.")
    grouped.sort(key=lambda rows: [(row.log_ratio, row.se, row.u, row.count) for row in rows])
    reach = log_sd * max(_PRIOR_REACH * min(factors), _WIDEST_REACH * max(factors))
    step = _STEP * log_sd * min(factors)
    number = int(np.ceil((np.log(high / low) + 2.0 * reach) / step)) + 1
    log_tau = np.linspace(np.log(low) + shift - reach, np.log(high) + shift + reach, number)
    logs = np.array([_log_integrals(rows, np.exp(log_tau), grid) for rows in grouped])
    found = [_best_median(logs, log_tau - shift, log_sd * factor, low, high) for factor in factors]
    return max(found, key=lambda each: each.log_marginal_likelihood)


def _best_median(logs: Floats, scale: Floats, log_sd: float, low: float, high: float) -> TauMedian:
    """Return the best m for one s; logs: ln l_q, shape (questions, T); scale: ln tau - shift, shape (T,)."""
    tops = np.max(logs, axis=1)
    heights = np.exp(logs - tops[:, None]).T

    def log_marginal(log_median: Floats) -> Floats:
        """Return ln L, shape as log_median."""
        prior = np.exp(-0.5 * ((scale - log_median[:, None]) / log_sd) ** 2)
        prior /= np.sum(prior, axis=1, keepdims=True)
        mixed: Floats = np.log(prior @ heights) + tops
        total: Floats = np.sum(mixed, axis=1)
        return total

    # Ever finer even searches round the best: deterministic, and not misled by a second, lower peak.
    left, right = float(np.log(low)), float(np.log(high))
    best, top = left, 0.0
    for _ in range(_SHRINKS):
        tries = np.linspace(left, right, _TRIES)
        values = log_marginal(tries)
        at = int(np.argmax(values))
        best, top = float(tries[at]), float(values[at])
        left, right = float(tries[max(at - 1, 0)]), float(tries[min(at + 1, _TRIES - 1)])
    median = min(high, max(low, float(np.exp(best))))
    edge = (right - left) + 1e-12
    at_limit = best - np.log(low) <= edge or np.log(high) - best <= edge
    return TauMedian(median, log_sd, logs.shape[0], top, bool(at_limit))


def _log_integrals(rows: Sequence[RowGroup], tau: Floats, grid: GridSettings) -> Floats:
    """Return ln l_q(tau), shape (T,): every tau gets its share of the points of mu."""
    panels = make_panels(start_edges(rows, tau[:: max(1, tau.size // 5)], grid.se_nodes))
    some_tau = tau[::2]  # neighbours differ too little in width to need panels of their own
    for _ in range(MOST_PASSES):
        logs = log_likelihood(rows, panels.points, some_tau, grid.se_nodes, grid.not_significant_reach)
        density = np.exp(logs - np.max(logs, axis=1, keepdims=True))
        density /= (density @ panels.weights)[:, None]
        mass = np.sum(density, axis=0)
        if is_resolved(panels, mass):
            break
        panels = make_panels(place_edges(panels, mass, COARSE_MU_PANELS, resolved=False))
    else:
        raise NoEstimate("The figures of a question contradict each other so sharply that tau cannot be fitted.")
    panels = make_panels(place_edges(panels, mass, grid.mu_points // POINTS, resolved=True))
    logs = log_likelihood(rows, panels.points, tau, grid.se_nodes, grid.not_significant_reach)
    tops = np.max(logs, axis=1)
    integrals: Floats = np.log(np.exp(logs - tops[:, None]) @ panels.weights) + tops
    return integrals
