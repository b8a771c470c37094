"""Do small studies find something else than large ones? A regression of the effect on its standard error.

    y_i = a + b se_i + e_i,   weights 1 / se_i^2,   Var(e_i) = s^2 se_i^2,   t = b / se(b) on k - 2 degrees of freedom

which is the regression of y/se on 1/se with intercept b (egger1997). b = 0: no difference between small and large; a is
what a study without error would find. Where standard errors are lent they only follow the number of mothers.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import stdtr

from evidence.synthesis.refusal import NoEstimate, as_effects

__all__ = ["SmallStudies", "small_study_regression"]


@dataclass(frozen=True)
class SmallStudies:
    """The regression of k >= 3 effects on their standard errors.

    Attributes:
        slope: b, effect per unit of standard error; below 0, small studies find more loss.
        slope_se: its standard error.
        t: slope over its standard error.
        p: two-sided probability of t on k - 2 degrees of freedom.
        at_no_error: a, the effect at a standard error of 0.
        k: number of studies.
    """

    slope: float
    slope_se: float
    t: float
    p: float
    at_no_error: float
    k: int


def small_study_regression(log_ratio: ArrayLike, se: ArrayLike, *, fewest: int) -> SmallStudies:
    """Return the regression of effects on their standard errors.

    log_ratio, se: shape (k,); fewest: studies needed, at least 3. Raises NoEstimate: fewer studies than that, equal
    standard errors, effects that lie on a line exactly. Source: egger1997.
    """
    errors = np.array(se, dtype=np.float64, ndmin=1)
    effects, variances = as_effects(log_ratio, np.where(errors > 0, errors, 0.0) ** 2)
    k, least = effects.size, max(fewest, 3)
    if k < least:
        raise NoEstimate(f"Whether small studies differ from large ones needs {least} studies; there are {k}.")
    errors = np.sqrt(variances)
    weights = 1.0 / variances
    centre = float(np.sum(weights * errors) / np.sum(weights))
    mean = float(np.sum(weights * effects) / np.sum(weights))
    apart = errors - centre
    spread = float(np.sum(weights * apart**2))
    if spread <= 1e-12 * k:  # in units of the standard errors: no difference that arithmetic could carry
        raise NoEstimate("All studies have the same standard error: none is smaller than another.")
    slope = float(np.sum(weights * apart * (effects - mean))) / spread
    left = float(np.sum(weights * (effects - mean - slope * apart) ** 2))
    if left <= 1e-24 * float(np.sum(weights * effects**2)):
        raise NoEstimate("The effects lie on a line exactly: their scatter round it cannot be judged.")
    slope_se = math.sqrt(left / (k - 2) / spread)
    t = slope / slope_se
    return SmallStudies(slope, slope_se, t, 2.0 * float(stdtr(k - 2, -abs(t))), mean - slope * centre, k)
