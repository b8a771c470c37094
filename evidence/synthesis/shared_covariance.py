"""The shared mixture for figures whose errors are correlated: mu flat, ln tau normal, y ~ N(mu 1, V + tau^2 I).

For each tau mu is normal, with the mean of generalised least squares and its variance; the weight of a tau is its prior
times the restricted likelihood (covariance.py), which is the likelihood with mu integrated out. So the answer is a
mixture of normals over a grid of ln tau; a new study adds tau^2 to each variance. For V without correlations it is
what shared.py gives with u = 0.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.linalg import eigh
from scipy.special import ndtr

from evidence.synthesis.covariance import as_covariance, differences_of
from evidence.synthesis.refusal import Floats, NoEstimate, as_numbers
from evidence.synthesis.settings import TauPrior

__all__ = ["SharedWithCovariance", "posterior_with_covariance"]

_POINTS = 801  # of ln tau in each look
_LOOKS = 12
_PRIOR_REACH = 8.0  # SDs of ln tau looked at on either side, at least
_BEYOND = 3.0  # further on the scale of ln tau than any distance or standard error
_DROP = 40.0  # log units below the top that no longer count
_HALVINGS = 200


@dataclass(frozen=True)
class SharedWithCovariance:
    """What correlated figures say about mu, on the log-ratio scale.

    Attributes:
        estimate: median of mu.
        sd: standard deviation of mu.
        ci_low, ci_high: equal-tailed interval of mu.
        new_low, new_high: the same of the true log ratio of a new study.
    """

    estimate: float
    sd: float
    ci_low: float
    ci_high: float
    new_low: float
    new_high: float


def posterior_with_covariance(
    log_ratio: ArrayLike, covariance: ArrayLike, *, prior: TauPrior, level: float = 0.95
) -> SharedWithCovariance:
    """Combine k >= 2 figures with a known covariance matrix and a given prior of tau.

    log_ratio: shape (k,); covariance: shape (k, k), symmetric and positive definite. Raises NoEstimate, a ValueError.
    """
    if not 0.0 < level < 1.0:
        raise NoEstimate(f"The level of an interval lies between 0 and 1, not {level!r}.")
    effects = as_numbers(log_ratio, "log_ratio")
    matrix = as_covariance(covariance, effects.size)
    differences = differences_of(effects, matrix)
    roots = np.log(np.diag(matrix)) / 2.0
    widest = max(float(np.ptp(effects)), float(np.exp(np.max(roots))))
    low = min(prior.log_centre - _PRIOR_REACH * prior.log_sd, float(np.min(roots)) - _BEYOND)
    high = max(prior.log_centre + _PRIOR_REACH * prior.log_sd, float(np.log(widest)) + _BEYOND)
    # exp() of a squared tau must stay a number.
    low, high = max(low, -300.0), min(high, 300.0)
    for _ in range(_LOOKS):
        log_tau = np.linspace(low, high, _POINTS)
        logs = differences.loglik(np.exp(2.0 * log_tau)) - 0.5 * ((log_tau - prior.log_centre) / prior.log_sd) ** 2
        counted = np.flatnonzero(logs > np.max(logs) - _DROP)
        first, last = max(int(counted[0]) - 1, 0), min(int(counted[-1]) + 1, _POINTS - 1)
        if last - first > _POINTS // 2:
            break
        low, high = float(log_tau[first]), float(log_tau[last])
    weights = np.exp(logs - np.max(logs))
    weights /= np.sum(weights)
    tau2 = np.exp(2.0 * log_tau)
    means, variances = _means(effects, matrix, tau2)
    middle = float(weights @ means)
    mixture = _Mixture(weights, means, np.sqrt(variances))
    new_study = _Mixture(weights, means, np.sqrt(variances + tau2))
    tail = (1.0 - level) / 2.0
    return SharedWithCovariance(
        estimate=mixture.quantile(0.5),
        sd=float(np.sqrt(weights @ (variances + (means - middle) ** 2))),
        ci_low=mixture.quantile(tail),
        ci_high=mixture.quantile(1.0 - tail),
        new_low=new_study.quantile(tail),
        new_high=new_study.quantile(1.0 - tail),
    )


def _means(effects: Floats, covariance: Floats, tau2: Floats) -> tuple[Floats, Floats]:
    """Return the generalised least squares mean at each tau2, and its variance; tau2: shape (t,), results too."""
    variances, axes = eigh(covariance)
    ones, anchor = np.sum(axes, axis=0), float(effects[int(np.argmin(np.diag(covariance)))])
    turned = axes.T @ (effects - anchor)
    weight = 1.0 / (np.maximum(variances, 0.0) + tau2[:, None])
    precision = weight @ ones**2
    return anchor + (weight @ (ones * turned)) / precision, 1.0 / precision


@dataclass(frozen=True)
class _Mixture:
    """A mixture of normals: weights, means and standard deviations, shape (t,) each."""

    weight: Floats
    mean: Floats
    sd: Floats

    def quantile(self, probability: float) -> float:
        """Return the quantile by halving."""
        low, high = float(np.min(self.mean - 40.0 * self.sd)), float(np.max(self.mean + 40.0 * self.sd))
        for _ in range(_HALVINGS):
            middle = 0.5 * (low + high)
            if middle in (low, high):
                break
            if float(self.weight @ ndtr((middle - self.mean) / self.sd)) < probability:
                low = middle
            else:
                high = middle
        return 0.5 * (low + high)
