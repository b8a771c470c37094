"""The classical line for many groups at once: what pool() gives with its floor interval, as arrays.

Formulas: classical.py and heterogeneity.py. Groups become columns (columns.py), tau2 is found for all of them together
(many_tau2.py), and no Python loop runs over groups.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtri, stdtrit

from evidence.synthesis.columns import Columns, Integers, column_sums, lay_out, weigh
from evidence.synthesis.heterogeneity import ESTIMATORS
from evidence.synthesis.many_tau2 import tau2_of_columns
from evidence.synthesis.refusal import (
    LARGEST_EFFECT,
    LARGEST_VARIANCE,
    SMALLEST_VARIANCE,
    Floats,
    NoEstimate,
    as_numbers,
)

__all__ = ["PooledTable", "pool_many"]

_UPPER = 0.975  # two-sided 95 %, the level at which pool() stands


@dataclass(frozen=True)
class PooledTable:
    """One entry a group, groups in rising order of their labels; every array has shape (g,).

    Attributes:
        group: the labels.
        estimate: pooled means, on the scale of the effects given (for log ratios: the log scale).
        se: standard errors, as the interval uses them.
        ci_low, ci_high: 95 % intervals of the mean: Hartung-Knapp with the floor; from its own variance where k is 1.
        tau2: variance between studies; NaN where k is 1, for it does not exist there.
        i2: share from 0 to 1, from q and its degrees of freedom; NaN where k is 1.
        q: Cochran's Q; NaN where k is 1.
        k: rows of each group.
    """

    group: NDArray[np.generic]
    estimate: Floats
    se: Floats
    ci_low: Floats
    ci_high: Floats
    tau2: Floats
    i2: Floats
    q: Floats
    k: Integers


def pool_many(log_ratio: ArrayLike, variance: ArrayLike, group: ArrayLike, *, estimator: str = "reml") -> PooledTable:
    """Pool every group of rows by random effects, as pool() would one by one, in a time linear in the rows.

    log_ratio, variance: shape (n,), n >= 1, in any order; group: shape (n,), a label a row, numbers or words; estimator
    reml, dl or pm. Raises NoEstimate (a ValueError) with a sentence. Sources: classical.py, heterogeneity.py.
    """
    if estimator not in ESTIMATORS:
        raise NoEstimate(f"There is no estimator {estimator!r} of tau2; known are {', '.join(ESTIMATORS)}.")
    effects, variances = as_numbers(log_ratio, "log_ratio"), as_numbers(variance, "variance")
    label = _labels(group)
    if not effects.size == variances.size == label.size:
        counts = f"{effects.size}, {variances.size} and {label.size}"
        raise NoEstimate(f"log_ratio, variance and group have {counts} entries: they must be equally many.")
    _refuse_what_cannot_be_carried(effects, variances, label)
    try:
        layout = lay_out(label)
    except TypeError:
        raise NoEstimate("The labels of group must be all numbers or all words.") from None
    size = layout.size
    columns = {name: np.full(size.size, np.nan) for name in ("estimate", "se", "tau2", "i2", "q")}
    for place, some in layout.batches(effects, variances):
        for name, values in _pool(some, estimator).items():
            columns[name][place] = values
    different, which = np.unique(size, return_inverse=True)
    quantile = np.where(different > 1, stdtrit(np.maximum(different - 1, 1), _UPPER), ndtri(_UPPER))
    reach = quantile[which] * columns["se"]
    estimate = columns["estimate"]
    return PooledTable(group=layout.group, ci_low=estimate - reach, ci_high=estimate + reach, k=size, **columns)


def _labels(group: ArrayLike) -> NDArray[np.generic]:
    try:
        array: NDArray[np.generic] = np.asarray(group)
    except ValueError:
        raise NoEstimate("group must be one row of labels.") from None
    if array.ndim != 1:
        raise NoEstimate(f"group must be one row of labels, not a table of {array.ndim} dimensions.")
    if array.dtype.kind == "f" and not np.all(np.isfinite(array)):
        raise NoEstimate("group holds a label that is not a finite number.")
    return array


def _refuse_what_cannot_be_carried(effects: Floats, variances: Floats, label: NDArray[np.generic]) -> None:
    """Raise NoEstimate naming the first row out of range and its group."""
    wrong = (variances < SMALLEST_VARIANCE) | (variances > LARGEST_VARIANCE)
    if np.any(wrong):
        row = int(np.argmax(wrong))
        limits = f"above zero, between {SMALLEST_VARIANCE:g} and {LARGEST_VARIANCE:g}"
        raise NoEstimate(f"A variance of group {label[row]} is {variances[row]:g}; it must lie {limits}.")
    wrong = np.abs(effects) > LARGEST_EFFECT
    if np.any(wrong):
        row = int(np.argmax(wrong))
        carried = f"beyond {LARGEST_EFFECT:g} is more than the arithmetic carries"
        raise NoEstimate(f"A log_ratio of group {label[row]} is {effects[row]:g}; {carried}.")


def _pool(columns: Columns, estimator: str) -> dict[str, Floats]:
    """Return estimate, se, tau2, i2 and q of columns that are equally wide, each shape (G,)."""
    if columns.apart.shape[0] == 1:
        nothing = np.full(columns.size.size, np.nan)
        se = np.sqrt(columns.variance[0])
        return {"estimate": columns.anchor, "se": se, "tau2": nothing, "i2": nothing, "q": nothing}
    df = columns.size - 1.0
    at = weigh(columns, 0.0)
    q = column_sums(at.residual * at.weight, at.residual)
    tau2 = tau2_of_columns(columns, q, estimator)
    i2 = np.divide(q - df, q, out=np.zeros_like(q), where=q > df)
    at = weigh(columns, tau2)
    stretch = np.maximum(1.0, column_sums(at.residual * at.weight, at.residual) / df)
    return {"estimate": columns.anchor + at.shift, "se": np.sqrt(stretch / at.total), "tau2": tau2, "i2": i2, "q": q}
