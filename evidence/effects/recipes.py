"""How the standard error of a log ratio is got: one function a recipe, formula and source at its head.

y = ln ratio, R = ratio, n = mothers; m and c = mean and SD/mean, b baseline, t treated. s_d is the SD between milks of
the ln ratio; se = s_d / sqrt(n). u is the SD of ln(se): how well the standard error itself is known.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy.special import stdtrit

from evidence.model.lists import PooledClass
from evidence.model.rules import SpreadRules

__all__ = [
    "Recipe",
    "StandardError",
    "borrowed",
    "class_sd",
    "from_difference",
    "from_exact_p",
    "from_interval",
    "from_log_counts",
    "from_log_difference",
    "from_means",
    "from_percent_sd",
    "limited_by_p",
    "t_quantile",
]

Recipe = str


@dataclass(frozen=True)
class StandardError:
    """A standard error of a ln ratio, its u, the recipe that made it, and whether the spread is the study's own."""

    se: float
    u: float
    recipe: Recipe
    own_spread: bool


def class_sd(group: PooledClass | None, rules: SpreadRules) -> float:
    """Return the SD between milks of the ln ratio that a class lends."""
    return {"bulk": rules.bulk_sd, "count": rules.count_sd}.get(group or "", rules.fragile_sd)


def t_quantile(p: float, df: float) -> float:
    """Return the quantile of Student's t with df degrees of freedom."""
    return float(stdtrit(df, p))


def _u_of_sd(n: float) -> float:
    # SD of ln of a sample SD, normal data: 1/sqrt(2 (n - 1))
    return 1 / math.sqrt(2 * (n - 1))


def from_difference(sd_difference: float, mean_b: float, mean_t: float, cv: float, n: float) -> StandardError | None:
    """Recipe "difference with SD": s_d^2 = (SD_D^2 - c^2 (m_b - m_t)^2) / (m_b m_t), c = 0 if unknown (delta)."""
    square = (sd_difference**2 - cv**2 * (mean_b - mean_t) ** 2) / (mean_b * mean_t)
    if square <= 0 or n < 2:
        return None
    return StandardError(math.sqrt(square / n), _u_of_sd(n), "difference with SD", True)


def from_percent_sd(sd_percent: float, ratio: float, n: float) -> StandardError | None:
    """Recipe "SD of the percents": s_d = SD / R (delta method), SD and R on the same scale."""
    if sd_percent <= 0 or n < 2:
        return None
    return StandardError(sd_percent / 100 / ratio / math.sqrt(n), _u_of_sd(n), "SD of the percents", True)


def from_interval(low: float, high: float, ratio: float, n: float, rules: SpreadRules) -> StandardError | None:
    """Recipe "interval of the percent", low and high as ratios.

    se = ln(high/low) / (2 t) where the interval is symmetric on the log scale, that is ln(high/R)/ln(R/low) between the
    limits of rules.toml; else (high - low) / (2 t R); t = t(0.975, n-1).
    """
    if n < 2 or high <= low or ratio <= 0:
        return None
    t = t_quantile(0.975, n - 1)
    se = (high - low) / (2 * t * ratio)
    if 0 < low < ratio < high:
        symmetry = math.log(high / ratio) / math.log(ratio / low)
        if rules.interval_symmetry_low <= symmetry <= rules.interval_symmetry_high:
            se = math.log(high / low) / (2 * t)
    return StandardError(se, _u_of_sd(n), "interval of the percent", True)


def from_means(cv_b: float, cv_t: float, correlation: float, n: float, rules: SpreadRules) -> StandardError | None:
    """Recipe "two means with SD, same milk": s_d^2 = c_b^2 + c_t^2 - 2 r c_b c_t (delta method)."""
    square = cv_b**2 + cv_t**2 - 2 * correlation * cv_b * cv_t
    if square <= 0 or n < 2:
        return None
    return StandardError(math.sqrt(square / n), rules.u_means, "two means with SD", True)


def from_log_counts(sd_b: float, sd_t: float, correlation: float, n: float, rules: SpreadRules) -> StandardError | None:
    """Recipe "two log counts with SD": s_d^2 = ln(10)^2 (SD_b^2 + SD_t^2 - 2 r SD_b SD_t), SDs in log10; exact."""
    square = sd_b**2 + sd_t**2 - 2 * correlation * sd_b * sd_t
    if square <= 0 or n < 2:
        return None
    return StandardError(math.log(10) * math.sqrt(square / n), rules.u_means, "two log counts with SD", True)


def from_log_difference(sd_difference: float, n: float) -> StandardError | None:
    """Recipe "log difference with SD": s_d = ln(10) SD of the differences in log10; exact."""
    if sd_difference <= 0 or n < 2:
        return None
    return StandardError(math.log(10) * sd_difference / math.sqrt(n), _u_of_sd(n), "log difference with SD", True)


def from_exact_p(log_ratio: float, p: float, n: float, rounding: float, rules: SpreadRules) -> StandardError | None:
    """Recipe "exact P": se = |y| / t(1 - P/2, n-1), only for a P of use and |y| well above its rounding error."""
    usable = rules.p_exact_lowest < p < rules.p_exact_highest
    if not usable or n < 2 or abs(log_ratio) <= rules.p_rounding_multiple * rounding:
        return None
    se = abs(log_ratio) / t_quantile(1 - p / 2, n - 1)
    return StandardError(se, max(rules.u_p_lowest, _u_of_sd(n)), "exact P", True)


def borrowed(class_sd: float, n: float | None, pooled_only: bool, rules: SpreadRules) -> StandardError:
    """Recipe "spread of similar milk": s_d of the class over sqrt(n); no n: over sqrt(20), one pool: sqrt(2)."""
    if pooled_only:
        return StandardError(
            class_sd / math.sqrt(rules.one_pool_divisor), rules.u_no_n, "similar milk, one pool", False
        )
    if n is None:
        return StandardError(class_sd / math.sqrt(rules.no_n_divisor), rules.u_no_n, "similar milk, no n", False)
    return StandardError(class_sd / math.sqrt(n), rules.u_borrowed, "similar milk, n printed", False)


def limited_by_p(
    found: StandardError, log_ratio: float, n: float | None, *, below: float | None, not_significant: bool, alpha: float
) -> StandardError:
    """Hold a standard error to what a test said.

    Significant at P < a: never above |y| / t(1 - a/2, n-1). Not significant: never below |y| / t(1 - alpha/2, n-1).
    """
    if n is None or n < 2 or log_ratio == 0:
        return found
    if below is not None:
        highest = abs(log_ratio) / t_quantile(1 - below / 2, n - 1)
        if found.se > highest:
            return StandardError(highest, found.u, f"{found.recipe}, capped by P", found.own_spread)
    if not_significant and not found.own_spread:
        lowest = abs(log_ratio) / t_quantile(1 - alpha / 2, n - 1)
        if found.se < lowest:
            return StandardError(lowest, found.u, f"{found.recipe}, raised: not significant", found.own_spread)
    return found
