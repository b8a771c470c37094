"""How much studies differ: Q, I2, three estimators of tau2 and the Q-profile interval.

Model: y_i ~ N(mu, v_i + tau2), v_i known. With w_i = 1 / (v_i + tau2) and m = sum(w y) / sum(w):

    Q(tau2) = sum(w_i (y_i - m)^2)         strictly falling in tau2; Q = Q(0)
    I2      = max(0, (Q - (k - 1)) / Q)    a share from 0 to 1 (higgins2002, from Q and its degrees of freedom)
    DerSimonian-Laird  tau2 = max(0, (Q - (k - 1)) / (S1 - S2 / S1)), S1, S2 sums of 1/v, 1/v^2 (dersimonian1986)
    Paule-Mandel       Q(tau2) = k - 1, or 0 if Q <= k - 1 (paule1982; dersimonian2007)
    REML               the tau2 >= 0 with the highest restricted likelihood (viechtbauer2005)
    Q-profile          Q(low) = chi2(1 - a/2, k - 1), Q(high) = chi2(a/2, k - 1), 0 if Q is below (viechtbauer2007)
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import chdtrc, gammaincinv

from evidence.synthesis.refusal import Floats, NoEstimate, as_effects

__all__ = [
    "ESTIMATORS",
    "Heterogeneity",
    "estimate_tau2",
    "generalised_q",
    "heterogeneity",
    "inverse_variance_mean",
    "q_profile",
]

ESTIMATORS = ("reml", "dl", "pm")
_SEARCH_POINTS = 96  # where the slope of the restricted likelihood is looked at for a change of sign
_MOST_STEPS = 200  # far above what any solver here takes (about ten)


@dataclass(frozen=True)
class Heterogeneity:
    """How much k >= 2 studies differ.

    Attributes:
        q: Cochran's Q around the inverse-variance mean.
        q_df: its degrees of freedom, k - 1.
        q_p: upper-tail probability of q under chi-squared with q_df degrees of freedom.
        i2: max(0, (q - q_df) / q), a share from 0 to 1; 0 when q is 0.
        tau2: variance between studies by the estimator asked for, squared units of the effect, never below 0.
        tau2_low, tau2_high: Q-profile interval of tau2, both cut at 0.
    """

    q: float
    q_df: int
    q_p: float
    i2: float
    tau2: float
    tau2_low: float
    tau2_high: float


def inverse_variance_mean(log_ratio: ArrayLike, variance: ArrayLike, tau2: float = 0.0) -> tuple[float, float]:
    """Return the mean weighted by 1 / (variance + tau2), and its variance 1 / sum of the weights.

    log_ratio, variance: shape (k,), k >= 1; tau2 >= 0. Raises NoEstimate.
    """
    effects, variances = as_effects(log_ratio, variance)
    mean, _, precision = _weighted(effects, variances, tau2)
    return mean, 1.0 / precision


def generalised_q(log_ratio: ArrayLike, variance: ArrayLike, tau2: float = 0.0) -> float:
    """Return Q(tau2), the weighted squares about the weighted mean; shapes (k,). Raises NoEstimate."""
    effects, variances = as_effects(log_ratio, variance)
    _, residuals, _ = _weighted(effects, variances, tau2)
    return float(np.sum(residuals**2 / (variances + tau2)))


def estimate_tau2(log_ratio: ArrayLike, variance: ArrayLike, estimator: str = "reml") -> float:
    """Return the variance between studies by reml, dl or pm; shapes (k,), k >= 2. Raises NoEstimate."""
    effects, variances = _several(log_ratio, variance)
    if estimator == "reml":
        return _reml(effects, variances)
    if estimator == "dl":
        return _dersimonian_laird(effects, variances)
    if estimator == "pm":
        return _tau2_where_q_is(effects, variances, effects.size - 1.0)
    raise NoEstimate(f"There is no estimator {estimator!r} of tau2; known are {', '.join(ESTIMATORS)}.")


def q_profile(log_ratio: ArrayLike, variance: ArrayLike, level: float = 0.95) -> tuple[float, float]:
    """Return the Q-profile interval (low, high) of tau2; shapes (k,), k >= 2 (viechtbauer2007). Raises NoEstimate.

    Effects closer together than even tau2 = 0 makes likely give (0, 0), the part of the interval at or above 0.
    """
    effects, variances = _several(log_ratio, variance)
    tail = _tail(level)
    half_df = (effects.size - 1) / 2.0
    low = _tau2_where_q_is(effects, variances, 2.0 * float(gammaincinv(half_df, 1.0 - tail)))
    high = _tau2_where_q_is(effects, variances, 2.0 * float(gammaincinv(half_df, tail)))
    return low, high


def heterogeneity(
    log_ratio: ArrayLike, variance: ArrayLike, *, estimator: str = "reml", level: float = 0.95
) -> Heterogeneity:
    """Return Q, I2, tau2 and its Q-profile interval; shapes (k,), k >= 2. Raises NoEstimate."""
    effects, variances = _several(log_ratio, variance)
    q, df = generalised_q(effects, variances), effects.size - 1
    low, high = q_profile(effects, variances, level)
    return Heterogeneity(
        q=q,
        q_df=df,
        q_p=float(chdtrc(df, q)),
        i2=(q - df) / q if q > df else 0.0,
        tau2=estimate_tau2(effects, variances, estimator),
        tau2_low=low,
        tau2_high=high,
    )


def _several(log_ratio: ArrayLike, variance: ArrayLike) -> tuple[Floats, Floats]:
    effects, variances = as_effects(log_ratio, variance)
    if effects.size < 2:
        raise NoEstimate("One study cannot show how much studies differ: tau2 needs at least two.")
    return effects, variances


def _tail(level: float) -> float:
    if not 0.0 < level < 1.0:
        raise NoEstimate(f"The level of an interval lies between 0 and 1, not {level!r}.")
    return (1.0 - level) / 2.0


def _weighted(effects: Floats, variances: Floats, tau2: float) -> tuple[float, Floats, float]:
    """Return weighted mean, residuals about it, and the sum of the weights."""
    weights = 1.0 / (variances + tau2)
    precision = float(np.sum(weights))
    # Differences from the heaviest study: its own residual keeps its digits when it outweighs all the others.
    anchor = float(effects[int(np.argmax(weights))])
    apart = effects - anchor
    shift = float(np.sum(weights * apart)) / precision
    return anchor + shift, apart - shift, precision


def _other_weights(weights: Floats) -> Floats:
    """Return for each study the sum of the OTHER studies' weights, without the subtraction that loses digits."""
    others = np.zeros_like(weights)
    others[..., 1:] += np.cumsum(weights[..., :-1], axis=-1)
    others[..., :-1] += np.cumsum(weights[..., :0:-1], axis=-1)[..., ::-1]
    return others


def _dersimonian_laird(effects: Floats, variances: Floats) -> float:
    weights = 1.0 / variances
    q, df = generalised_q(effects, variances), effects.size - 1
    # S1 - S2 / S1 written as sum(w_i (S1 - w_i)) / S1.
    scale = float(np.sum(weights * _other_weights(weights)) / np.sum(weights))
    return max(0.0, (q - df) / scale)


def _tau2_where_q_is(effects: Floats, variances: Floats, target: float) -> float:
    """Solve Q(tau2) = target, or return 0 if Q(0) is not above it.

    1 / Q rises and is concave in tau2 (Q = y'Py, Q' = -y'PPy, Q'' = 2 y'PPPy; Cauchy-Schwarz), so Newton's steps on
    it from the left never pass the root; for equal variances it is a straight line and one step is exact.
    """
    tau2 = 0.0
    for _ in range(_MOST_STEPS):
        _, residuals, _ = _weighted(effects, variances, tau2)
        scaled = residuals / (variances + tau2)
        q = float(np.sum(residuals * scaled))
        if q <= target:
            break
        step = (1.0 / target - 1.0 / q) * q * q / float(np.sum(scaled * scaled))
        if tau2 + step == tau2:
            break
        tau2 += step
    return tau2


def _reml_slopes(effects: Floats, variances: Floats, tau2: Floats) -> tuple[Floats, Floats]:
    """Return, for each of the tau2 given, twice the slope of the restricted log likelihood and tr PP.

    The slope is y'PPy - tr P with P_ij = w_i [i = j] - w_i w_j / S1, S1 the sum of the weights.
    """
    weights = 1.0 / (variances + tau2[:, None])
    precision = np.sum(weights, axis=1, keepdims=True)
    apart = effects - effects[np.argmax(weights, axis=1)][:, None]
    residuals = apart - np.sum(weights * apart, axis=1, keepdims=True) / precision
    others = _other_weights(weights)
    share = weights / precision
    fit = np.sum((weights * residuals) ** 2, axis=1)
    trace = np.sum(share * others, axis=1)
    squares = np.sum(weights**2, axis=1, keepdims=True)
    off_diagonal = np.sum(share**2 * np.maximum(squares - weights**2, 0.0), axis=1)
    return fit - trace, np.sum((share * others) ** 2, axis=1) + off_diagonal


def _reml_loglik(effects: Floats, variances: Floats, tau2: float) -> float:
    _, residuals, precision = _weighted(effects, variances, tau2)
    total = variances + tau2
    return -0.5 * (float(np.sum(np.log(total))) + math.log(precision) + float(np.sum(residuals**2 / total)))


def _reml(effects: Floats, variances: Floats) -> float:
    """Find every peak of the restricted likelihood on tau2 >= 0 by the sign of its slope; return the highest."""
    spread = float(np.sum((effects - np.mean(effects)) ** 2)) / (effects.size - 1)
    # From twice the larger of these on the slope is negative: y'PPy <= SS / tau2^2, tr P >= (k - 1) 2 / (3 tau2).
    top = 2.0 * max(spread, float(np.max(variances)))
    bottom = min(float(np.min(variances)), top) * 1e-6
    points = np.concatenate(([0.0], np.geomspace(bottom, top, _SEARCH_POINTS)))
    rising = _reml_slopes(effects, variances, points)[0] > 0.0
    peaks = [] if rising[0] else [0.0]
    for turn in np.flatnonzero(rising[:-1] & ~rising[1:]):
        peaks.append(_reml_peak(effects, variances, float(points[turn]), float(points[turn + 1])))
    return max(peaks, key=lambda peak: (_reml_loglik(effects, variances, peak), -peak))


def _reml_peak(effects: Floats, variances: Floats, left: float, right: float) -> float:
    """Return the peak between left (slope above 0) and right (not above): Fisher steps, halving when they leave.

    Where the likelihood is sharper than its information says, Fisher's steps swing about the peak for ever: a step that
    is not half as long as the one before is replaced by halving the interval.
    """
    tau2, before = 0.5 * (left + right), math.inf
    for _ in range(_MOST_STEPS):
        slopes, informations = _reml_slopes(effects, variances, np.array([tau2]))
        slope, information = float(slopes[0]), float(informations[0])
        if slope > 0.0:
            left = tau2
        else:
            right = tau2
        step = slope / information
        if abs(step) <= 1e-13 * tau2 or right - left <= 1e-15 * right:
            break
        if left < tau2 + step < right and abs(step) <= 0.5 * before:
            tau2, before = tau2 + step, abs(step)
        else:
            tau2, before = 0.5 * (left + right), right - left
    return tau2
