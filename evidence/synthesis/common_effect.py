"""The common effect: all studies estimate one number, so their variances alone decide.

m = sum(y / v) / sum(1 / v), variance 1 / sum(1 / v); for a covariance matrix V, m = 1'V^-1 y / 1'V^-1 1, variance
1 / 1'V^-1 1 (aitken1936). Interval m -+ z sqrt(variance). Every random-effects line becomes this as tau2 goes to 0.
"""

import math
from dataclasses import dataclass

from numpy.typing import ArrayLike
from scipy.special import ndtri

from evidence.synthesis.covariance import as_covariance, generalised_mean
from evidence.synthesis.heterogeneity import generalised_q, inverse_variance_mean
from evidence.synthesis.refusal import NoEstimate, as_numbers

__all__ = ["CommonEffect", "common_effect", "common_effect_with_covariance"]


@dataclass(frozen=True)
class CommonEffect:
    """One number behind k studies, on the scale of the effects given.

    Attributes:
        estimate: the weighted mean.
        se: its standard error.
        ci_low, ci_high: its interval, from the normal distribution.
        q: weighted squares about it, Cochran's Q; 0 for one study.
        k: number of studies.
    """

    estimate: float
    se: float
    ci_low: float
    ci_high: float
    q: float
    k: int


def common_effect(log_ratio: ArrayLike, variance: ArrayLike, *, level: float = 0.95) -> CommonEffect:
    """Return the common effect of k >= 1 studies; shapes (k,), variances above 0. Raises NoEstimate."""
    mean, mean_variance = inverse_variance_mean(log_ratio, variance)
    effects = as_numbers(log_ratio, "log_ratio")
    return _with_interval(mean, mean_variance, generalised_q(log_ratio, variance), effects.size, level)


def common_effect_with_covariance(log_ratio: ArrayLike, covariance: ArrayLike, *, level: float = 0.95) -> CommonEffect:
    """Return the common effect of k >= 1 studies that err together; shapes (k,), (k, k). Raises NoEstimate."""
    effects = as_numbers(log_ratio, "log_ratio")
    matrix = as_covariance(covariance, effects.size)
    mean, mean_variance, q = generalised_mean(effects, matrix)
    return _with_interval(mean, mean_variance, q, effects.size, level)


def _with_interval(mean: float, variance: float, q: float, k: int, level: float) -> CommonEffect:
    if not 0.0 < level < 1.0:
        raise NoEstimate(f"The level of an interval lies between 0 and 1, not {level!r}.")
    se = math.sqrt(variance)
    reach = float(ndtri(0.5 + level / 2.0)) * se
    return CommonEffect(mean, se, mean - reach, mean + reach, q, k)
