"""The likelihood of one question's rows: figures, words and bounds, each with an uncertain standard error.

With S^2 = se^2 + tau^2, and every row averaged over Gauss-Hermite nodes of ln(se) with SD u:

    figure      phi((y - mu) / S) / S
    no_change   Phi((r se - mu) / S) - Phi((-r se - mu) / S)    r = not_significant_reach, se at the node
    fall        Phi(-mu / S)            rise       Phi(mu / S)
    at_most     Phi((y - mu) / S)       at_least   Phi((mu - y) / S)      y the ln of the bound
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import log_ndtr, ndtr

from evidence.synthesis.refusal import Floats, NoEstimate, as_effects, as_numbers

__all__ = ["KINDS", "RowGroup", "group_rows", "log_likelihood", "se_nodes"]

KINDS = ("figure", "no_change", "fall", "rise", "at_most", "at_least")
_WITH_NUMBER = ("figure", "at_most", "at_least")
_SMALLEST_SAFE = 1e-280  # below this a sum of tail areas is taken again from their logarithms


@dataclass(frozen=True)
class RowGroup:
    """Equal rows, taken together.

    Attributes:
        kind: one of KINDS.
        log_ratio: the ln ratio or the ln of the bound; 0 where the kind has no number.
        se: standard error on the log scale, above 0.
        u: SD of ln(se), 0 or more.
        count: how many such rows there are.
    """

    kind: str
    log_ratio: float
    se: float
    u: float
    count: int


def group_rows(kind: Sequence[str], log_ratio: ArrayLike, se: ArrayLike, u: ArrayLike) -> tuple[RowGroup, ...]:
    """Return the rows checked, equal ones together, in an order that does not depend on the order given.

    kind, log_ratio, se, u: length k each; log_ratio is not read where the kind has no number (it may be NaN there).
    Raises NoEstimate: unknown kind, unequal lengths, numbers not finite, se not positive, u negative.
    """
    kinds = tuple(kind)
    for word in kinds:
        if word not in KINDS:
            raise NoEstimate(f"There is no kind of row {word!r}; known are {', '.join(KINDS)}.")
    has_number = np.array([word in _WITH_NUMBER for word in kinds], dtype=bool)
    given = np.array(log_ratio, dtype=np.float64, ndmin=1)
    if given.shape != has_number.shape:
        raise NoEstimate(f"There are {len(kinds)} kinds but {given.size} log ratios: they must be equally many.")
    numbers = as_numbers(np.where(has_number, given, 0.0), "log_ratio")
    errors, doubts = as_numbers(se, "se"), as_numbers(u, "u")
    if errors.shape != numbers.shape or doubts.shape != numbers.shape:
        raise NoEstimate("se and u must be as many as the rows.")
    if np.any(errors <= 0.0):
        raise NoEstimate("A standard error must be above zero.")
    if np.any(doubts < 0.0):
        raise NoEstimate("u, the SD of ln(se), must not be negative.")
    as_effects(numbers, errors**2)  # the same limits of the arithmetic as in the classical line
    codes = [KINDS.index(word) for word in kinds]
    counts = Counter(zip(codes, numbers.tolist(), errors.tolist(), doubts.tolist(), strict=True))
    return tuple(
        RowGroup(KINDS[code], number, error, doubt, count)
        for (code, number, error, doubt), count in sorted(counts.items())
    )


def se_nodes(row: RowGroup, number: int) -> tuple[Floats, Floats]:
    """Return the standard errors at the nodes, rising, and their weights, which sum to 1; shape (number,) or (1,)."""
    if row.u == 0.0 or number == 1:
        return np.array([row.se]), np.array([1.0])
    places, weights = _normal_rule(number)
    return row.se * np.exp(row.u * places), weights


@lru_cache(maxsize=8)
def _normal_rule(number: int) -> tuple[Floats, Floats]:
    places, weights = np.polynomial.hermite_e.hermegauss(number)
    return places, weights / np.sum(weights)


def log_likelihood(rows: Sequence[RowGroup], mu: Floats, tau: Floats, nodes: int, reach: float) -> Floats:
    """Return the log likelihood of all rows, shape (T, M), for tau (T,) and mu (M,)."""
    total = np.zeros((tau.size, mu.size))
    for row in rows:
        errors, weights = se_nodes(row, nodes)
        spreads = np.sqrt(errors[:, None] ** 2 + tau**2)
        if row.kind == "figure":
            term = _figure(mu - row.log_ratio, spreads, weights)
        elif row.kind == "no_change":
            term = _window(np.abs(mu), spreads, weights, reach * errors)
        elif row.kind in ("fall", "at_most"):
            term = _one_side(row.log_ratio - mu, spreads, weights)
        else:
            term = _one_side(mu - row.log_ratio, spreads, weights)
        total += row.count * term if row.count > 1 else term
    return total


def _figure(apart: Floats, spreads: Floats, weights: Floats) -> Floats:
    """Log of the averaged normal density; relative to the widest node, so that it never runs out of digits."""
    half_squares = -0.5 * apart**2
    precisions = spreads**-2.0
    widest = np.multiply.outer(precisions[-1], half_squares)
    heights = weights[:, None] / (spreads * np.sqrt(2.0 * np.pi))
    if weights.size == 1:
        known: Floats = widest + np.log(heights[0])[:, None]
        return known
    summed = np.broadcast_to(heights[-1][:, None], widest.shape).copy()
    for height, excess in zip(heights[:-1], precisions[:-1] - precisions[-1], strict=True):
        part = np.multiply.outer(excess, half_squares)
        np.exp(part, out=part)
        part *= height[:, None]
        summed += part
    np.log(summed, out=summed)
    summed += widest
    return summed


def _one_side(inside: Floats, spreads: Floats, weights: Floats) -> Floats:
    """Log of the averaged Phi(inside / S)."""
    summed = np.zeros((spreads.shape[1], inside.size))
    for weight, spread in zip(weights, spreads, strict=True):
        part = np.multiply.outer(1.0 / spread, inside)
        ndtr(part, out=part)
        part *= weight
        summed += part
    faint = summed < _SMALLEST_SAFE
    logs = np.log(np.where(faint, 1.0, summed))
    if np.any(faint):
        at_tau, at_mu = np.nonzero(faint)
        areas = log_ndtr(inside[at_mu] / spreads[:, at_tau])
        logs[faint] = np.logaddexp.reduce(np.log(weights)[:, None] + areas, axis=0)
    return logs


def _window(distance: Floats, spreads: Floats, weights: Floats, halves: Floats) -> Floats:
    """Log of the averaged Phi((half - d) / S) - Phi((-half - d) / S), d = abs(mu): the window is even in mu."""
    summed = np.zeros((spreads.shape[1], distance.size))
    for weight, spread, half in zip(weights, spreads, halves, strict=True):
        within = np.multiply.outer(1.0 / spread, half - distance)
        beyond = within - (2.0 * half / spread)[:, None]
        ndtr(within, out=within)
        ndtr(beyond, out=beyond)
        within -= beyond
        within *= weight
        summed += within
    faint = summed < _SMALLEST_SAFE
    logs = np.log(np.where(faint, 1.0, summed))
    if np.any(faint):
        at_tau, at_mu = np.nonzero(faint)
        upper = log_ndtr((halves[:, None] - distance[at_mu]) / spreads[:, at_tau])
        lower = log_ndtr((-halves[:, None] - distance[at_mu]) / spreads[:, at_tau])
        # The lower area is the smaller; a window too narrow to see the difference is kept just below the upper area.
        gap = np.minimum(lower - upper, -1e-16)
        areas = upper + np.log(-np.expm1(gap))
        logs[faint] = np.logaddexp.reduce(np.log(weights)[:, None] + areas, axis=0)
    return logs
