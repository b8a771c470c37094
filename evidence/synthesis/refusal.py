"""What has no answer: one named error, and the checks every method of this room starts with."""

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = ["Floats", "NoEstimate", "as_effects", "as_numbers"]

Floats = NDArray[np.float64]

# What double precision carries through the sums of squares below; limits of the machine, not of the evidence.
LARGEST_EFFECT = 1e15
SMALLEST_VARIANCE, LARGEST_VARIANCE = 1e-30, 1e30


class NoEstimate(ValueError):
    """The rows given have no estimate; the message is a sentence that says why."""


def as_numbers(values: ArrayLike, name: str) -> Floats:
    """Return values as a new one-dimensional array of finite numbers, or raise NoEstimate naming what was wrong."""
    try:
        array = np.array(values, dtype=np.float64, ndmin=1)
    except (TypeError, ValueError):
        raise NoEstimate(f"{name} must be numbers.") from None
    if array.ndim != 1:
        raise NoEstimate(f"{name} must be one row of numbers, not a table of {array.ndim} dimensions.")
    if array.size == 0:
        raise NoEstimate(f"{name} holds no numbers: there is nothing to combine.")
    if not np.all(np.isfinite(array)):
        raise NoEstimate(f"{name} holds a number that is not finite.")
    return array + 0.0  # -0.0 becomes 0.0, so that equal rows have equal bytes


def as_effects(log_ratio: ArrayLike, variance: ArrayLike) -> tuple[Floats, Floats]:
    """Return effects and their variances, shape (k,) each, checked and sorted so that the order given cannot matter.

    Raises NoEstimate: no effects, unequal lengths, numbers that are not finite, a variance that is not positive.
    """
    effects, variances = as_numbers(log_ratio, "log_ratio"), as_numbers(variance, "variance")
    if effects.shape != variances.shape:
        raise NoEstimate(f"log_ratio has {effects.size} numbers, variance {variances.size}: they must be equally many.")
    if np.any(variances <= 0.0):
        raise NoEstimate("A variance must be above zero.")
    if np.max(np.abs(effects)) > LARGEST_EFFECT:
        raise NoEstimate(f"A log_ratio beyond {LARGEST_EFFECT:g} is more than the arithmetic carries.")
    if np.min(variances) < SMALLEST_VARIANCE or np.max(variances) > LARGEST_VARIANCE:
        raise NoEstimate(f"A variance must lie between {SMALLEST_VARIANCE:g} and {LARGEST_VARIANCE:g}.")
    order = np.lexsort((variances, effects))
    return effects[order], variances[order]
