"""Mixtures of many normals, one row a tau: added, coarsened, asked for their quantiles."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from evidence.synthesis.refusal import Floats

__all__ = ["NormalMixture", "Normals", "added", "coarsened", "outer_sum", "quantile"]

_BINS = 8  # of variance and of mean, when mixtures of two blocks are added
_MOST_STEPS = 200
_COARSE_NORMALS = 400
_CLOSE = 1e-11  # of the SD: smaller steps end the search


@dataclass(frozen=True)
class NormalMixture:
    """Normals given tau: log weight (likelihood included), mean and variance, each shape (T, C)."""

    log_weight: Floats
    mean: Floats
    variance: Floats


@dataclass(frozen=True)
class Normals:
    """One mixture: weights that sum to 1, means and variances, each shape (C,)."""

    weight: Floats
    mean: Floats
    variance: Floats


def _few(mixture: NormalMixture) -> NormalMixture:
    """Return the mixture with at most 64 normals a tau: sorted by variance, then mean, neighbours taken together."""
    if mixture.mean.shape[1] <= _BINS * _BINS:
        return mixture
    parts: list[tuple[Floats, Floats, Floats]] = []
    for logs, means, variances in zip(mixture.log_weight, mixture.mean, mixture.variance, strict=True):
        top = float(np.max(logs))
        weights = np.exp(logs - top)
        groups: list[tuple[float, float, float]] = []
        for wide in _shared_out(np.argsort(variances, kind="stable"), weights):
            for near in _shared_out(wide[np.argsort(means[wide], kind="stable")], weights):
                total = float(np.sum(weights[near]))
                mean = float(np.sum(weights[near] * means[near])) / total
                apart = variances[near] + (means[near] - mean) ** 2
                groups.append((math.log(total) + top, mean, float(np.sum(weights[near] * apart)) / total))
        groups += [(-math.inf, groups[0][1], groups[0][2])] * (_BINS * _BINS - len(groups))
        log_weight, mean_, variance = (np.array(column) for column in zip(*groups, strict=True))
        parts.append((log_weight, mean_, variance))
    return NormalMixture(*(np.array([part[place] for part in parts]) for place in range(3)))


def _shared_out(order: NDArray[np.intp], weights: Floats) -> list[NDArray[np.intp]]:
    """Return the order cut into at most _BINS parts of about equal weight."""
    below = np.cumsum(weights[order])
    place = np.minimum((below / below[-1] * _BINS).astype(int), _BINS - 1)
    return [order[place == number] for number in range(_BINS) if np.any(weights[order[place == number]] > 0.0)]


def added(one: NormalMixture, other: NormalMixture) -> NormalMixture:
    """Return the sum of two independent parts, given tau."""
    left, right = _few(one), _few(other)
    return NormalMixture(
        outer_sum(left.log_weight, right.log_weight),
        outer_sum(left.mean, right.mean),
        outer_sum(left.variance, right.variance),
    )


def quantile(probability: float, coarse: Normals, mixture: Normals, centre: float, spread: float) -> float:
    """Return the quantile of a mixture of normals by Newton's steps.

    Inside a bracket on a coarsened mixture first: the many normals of the whole one then need two or three steps.
    """
    low, high = centre - spread, centre + spread
    while _below(coarse, low)[0] > probability:
        low -= 2.0 * (centre - low)
    while _below(coarse, high)[0] < probability:
        high += 2.0 * (high - centre)
    value = 0.5 * (low + high)
    for pieces in (coarse, mixture):
        for _ in range(_MOST_STEPS):
            reached, slope = _below(pieces, value)
            low, high = (value, high) if reached < probability else (low, value)
            step = (probability - reached) / slope if slope > 0.0 else math.inf
            if abs(step) < _CLOSE * spread or high - low < _CLOSE * spread:
                break
            value = value + step if low < value + step < high else 0.5 * (low + high)
        # the coarse answer is near, not exact: leave room round it
        low, high = value - 0.5 * spread, value + 0.5 * spread
    return value


def _below(mixture: Normals, value: float) -> tuple[float, float]:
    """Return the probability below value and the density there."""
    sd = np.sqrt(mixture.variance)
    score = (value - mixture.mean) / sd
    density = np.exp(-0.5 * score**2) / (sd * math.sqrt(2.0 * math.pi))
    return float(mixture.weight @ ndtr(score)), float(mixture.weight @ density)


def coarsened(mixture: Normals) -> Normals:
    """Return neighbours by variance, then by mean, taken together: a few hundred normals."""
    many = mixture.mean.size
    if many <= _COARSE_NORMALS:
        return mixture
    by_variance = np.argsort(np.argsort(mixture.variance, kind="stable"), kind="stable")
    order = np.lexsort((mixture.mean, by_variance * math.isqrt(_COARSE_NORMALS) // many))
    starts = np.unique(np.linspace(0, many, _COARSE_NORMALS, endpoint=False).astype(int))
    weight, mean, variance = (part[order] for part in (mixture.weight, mixture.mean, mixture.variance))
    total = np.add.reduceat(weight, starts)
    middle = np.add.reduceat(weight * mean, starts) / total
    apart = np.add.reduceat(weight * (variance + mean**2), starts) / total - middle**2
    return Normals(total, middle, apart)


def outer_sum(one: Floats, other: Floats) -> Floats:
    """Return every sum over the second axis: (T, C, ...) and (T, N, ...) to (T, C N, ...)."""
    summed = one[:, :, None] + other[:, None]
    return np.asarray(summed.reshape(summed.shape[0], -1, *summed.shape[3:]))
