"""The classical random-effects line: an inverse-variance mean with a Wald or a Hartung-Knapp interval.

With w_i = 1 / (v_i + tau2), m = sum(w y) / sum(w), q = sum(w (y - m)^2) / (k - 1), V = 1 / sum(w):

    wald      m -+ z sqrt(V)
    hk        m -+ t(k - 1) sqrt(q V)              (hartung2001)
    hk-floor  m -+ t(k - 1) sqrt(max(1, q) V)      (rover2015, the modified form for few studies)
    prediction interval, k >= 3:  m -+ t(k - 2) sqrt(tau2 + se^2)   (higgins2009; se as in the interval used)
"""

import math
from dataclasses import dataclass

from numpy.typing import ArrayLike
from scipy.special import ndtri, stdtrit

from evidence.synthesis.heterogeneity import ESTIMATORS, Heterogeneity, generalised_q, heterogeneity
from evidence.synthesis.heterogeneity import inverse_variance_mean as weighted_mean
from evidence.synthesis.refusal import NoEstimate, as_effects

__all__ = ["INTERVALS", "PooledEstimate", "pool"]

INTERVALS = ("hk-floor", "hk", "wald")


@dataclass(frozen=True)
class PooledEstimate:
    """k studies pooled; everything on the scale of the effects given (for log ratios: the log scale).

    Attributes:
        estimate: the pooled mean.
        se: its standard error, as the interval uses it (Hartung-Knapp scaled where that was asked for).
        ci_low, ci_high: confidence interval of the mean at the level asked for.
        tau2: variance between studies; None for one study.
        tau2_low, tau2_high: Q-profile interval of tau2; None for one study.
        i2: (q - (k - 1)) / q cut at 0, a share from 0 to 1; None for one study.
        q: Cochran's Q; None for one study.
        q_p: its upper-tail probability on k - 1 degrees of freedom; None for one study.
        prediction_low, prediction_high: where the true effect of a new study may lie; None below three studies.
        k: number of studies.
        estimator: reml, dl or pm; None for one study.
        interval: hk-floor, hk or wald; one study has only wald, with its own variance.
    """

    estimate: float
    se: float
    ci_low: float
    ci_high: float
    tau2: float | None
    tau2_low: float | None
    tau2_high: float | None
    i2: float | None
    q: float | None
    q_p: float | None
    prediction_low: float | None
    prediction_high: float | None
    k: int
    estimator: str | None
    interval: str


def pool(
    log_ratio: ArrayLike,
    variance: ArrayLike,
    *,
    estimator: str = "reml",
    interval: str = "hk-floor",
    level: float = 0.95,
) -> PooledEstimate:
    """Pool k >= 1 effects with known variances by random effects.

    log_ratio, variance: shape (k,), in any order; estimator reml, dl or pm; interval hk-floor, hk or wald; level is
    that of every interval. Raises NoEstimate (a ValueError) with a sentence. Sources: see the top of this file.
    """
    effects, variances = as_effects(log_ratio, variance)
    if estimator not in ESTIMATORS:
        raise NoEstimate(f"There is no estimator {estimator!r} of tau2; known are {', '.join(ESTIMATORS)}.")
    if interval not in INTERVALS:
        raise NoEstimate(f"There is no interval {interval!r}; known are {', '.join(INTERVALS)}.")
    if not 0.0 < level < 1.0:
        raise NoEstimate(f"The level of an interval lies between 0 and 1, not {level!r}.")
    upper = 0.5 + level / 2.0
    k = effects.size
    if k == 1:
        mean, se = float(effects[0]), math.sqrt(float(variances[0]))
        return _estimate(mean, se, float(ndtri(upper)) * se, None, None, 1, None, "wald")
    spread = heterogeneity(effects, variances, estimator=estimator, level=level)
    mean, mean_variance = weighted_mean(effects, variances, spread.tau2)
    if interval == "wald":
        stretch, quantile = 1.0, float(ndtri(upper))
    else:
        stretch, quantile = generalised_q(effects, variances, spread.tau2) / (k - 1), float(stdtrit(k - 1, upper))
        if interval == "hk-floor":
            stretch = max(1.0, stretch)
    se = math.sqrt(stretch * mean_variance)
    prediction = float(stdtrit(k - 2, upper)) * math.sqrt(spread.tau2 + se * se) if k >= 3 else None
    return _estimate(mean, se, quantile * se, spread, prediction, k, estimator, interval)


def _estimate(
    mean: float,
    se: float,
    reach: float,
    spread: Heterogeneity | None,
    prediction: float | None,
    k: int,
    estimator: str | None,
    interval: str,
) -> PooledEstimate:
    return PooledEstimate(
        estimate=mean,
        se=se,
        ci_low=mean - reach,
        ci_high=mean + reach,
        tau2=spread.tau2 if spread else None,
        tau2_low=spread.tau2_low if spread else None,
        tau2_high=spread.tau2_high if spread else None,
        i2=spread.i2 if spread else None,
        q=spread.q if spread else None,
        q_p=spread.q_p if spread else None,
        prediction_low=mean - prediction if prediction is not None else None,
        prediction_high=mean + prediction if prediction is not None else None,
        k=k,
        estimator=estimator,
        interval=interval,
    )
