"""Groups of unequal size laid out as columns, so that all of them are computed with at once.

Each group is one column: its rows by rising variance (the heaviest study on top), then padding of infinite variance,
which weighs nothing. Widths come in steps of a quarter octave, so padding stays below a fifth of a column.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evidence.synthesis.refusal import Floats

__all__ = ["Columns", "Integers", "Layout", "Weighed", "column_sums", "lay_out", "weigh"]

Integers = NDArray[np.int64]
_CELLS_AT_ONCE = 1 << 17  # in one batch: enough that calls cost nothing, few enough that memory stays small
_CELLS_IN_CACHE = 1 << 15  # what fits into a processor's cache beside the work on it


@dataclass(frozen=True)
class Columns:
    """Some groups as columns.

    Attributes:
        apart: shape (K, G), effects minus the group's anchor, the effect with the smallest variance; 0 where padded.
        variance: shape (K, G), rising downwards; infinite where padded.
        anchor: shape (G,), what apart was taken from.
        size: shape (G,), rows of each group.
    """

    apart: Floats
    variance: Floats
    anchor: Floats
    size: Integers

    def some(self, which: NDArray[np.bool_] | Integers | slice) -> "Columns":
        """Return the groups of a mask, of indices (in that order) or of a slice."""
        return Columns(self.apart[:, which], self.variance[:, which], self.anchor[which], self.size[which])

    def parts(self) -> Iterator[tuple[slice, "Columns"]]:
        """Yield views of the groups, a cacheful at a time, and where they stand."""
        step = max(1, _CELLS_IN_CACHE // self.apart.shape[0])
        for left in range(0, self.size.size, step):
            yield slice(left, left + step), self.some(slice(left, left + step))

    def largest_variance(self) -> Floats:
        """Return the largest variance of each group, shape (G,)."""
        largest: Floats = self.variance[self.size - 1, np.arange(self.size.size)]
        return largest


def column_sums(one: Floats, other: Floats) -> Floats:
    """Return the sums of products down the columns; both shape (K, G), result (G,)."""
    sums: Floats = np.einsum("kg,kg->g", one, other)
    return sums


@dataclass(frozen=True)
class Weighed:
    """Columns weighed by 1 / (variance + tau2).

    Attributes:
        weight: shape (K, G), 0 where padded.
        lighter: shape (G,), sum of the weights without the heaviest.
        total: shape (G,), sum of the weights.
        shift: shape (G,), weighted mean of apart.
        residual: shape (K, G), apart minus shift.
    """

    weight: Floats
    lighter: Floats
    total: Floats
    shift: Floats
    residual: Floats


def weigh(columns: Columns, tau2: Floats | float) -> Weighed:
    """Return weights, weighted means and residuals at tau2, shape (G,) or one number."""
    weight = 1.0 / (columns.variance + tau2)
    lighter = np.add.reduce(weight[1:], axis=0)
    total = weight[0] + lighter
    shift = column_sums(weight, columns.apart) / total
    return Weighed(weight, lighter, total, shift, columns.apart - shift)


@dataclass(frozen=True)
class Layout:
    """Where each row and each group goes.

    Attributes:
        group: shape (g,), the labels, rising.
        size: shape (g,), rows of each.
        row: shape (n,), the caller's rows, those of one group together, groups as above.
        start: shape (g,), where each group begins in row.
        place: shape (g,), groups by rising width, as indices of group.
        width: shape (g,), their padded widths, rising.
    """

    group: NDArray[np.generic]
    size: Integers
    row: Integers
    start: Integers
    place: Integers
    width: Integers

    def batches(self, effects: Floats, variances: Floats) -> Iterator[tuple[Integers, Columns]]:
        """Yield indices of some groups, and those groups as columns; effects, variances: shape (n,)."""
        ends = np.flatnonzero(np.diff(self.width, append=0)) + 1
        first = 0
        for end in ends.tolist():
            width = int(self.width[first])
            step = max(1, _CELLS_AT_ONCE // width)
            for left in range(first, end, step):
                place = self.place[left : min(left + step, end)]
                yield place, self._columns(place, width, effects, variances)
            first = end

    def _columns(self, place: Integers, width: int, effects: Floats, variances: Floats) -> Columns:
        size = self.size[place]
        first = np.cumsum(size) - size
        down = np.arange(int(np.sum(size))) - np.repeat(first, size)
        rows = self.row[np.repeat(self.start[place], size) + down]
        # Complex numbers sort by their real part, then their imaginary one: rows in any order give the same bytes.
        both = np.empty((place.size, width), dtype=np.complex128)
        padded = rows.size < both.size
        if padded:
            both.real, both.imag = np.inf, 0.0
            where = np.repeat(np.arange(place.size), size), down
            both.real[where], both.imag[where] = variances[rows], effects[rows]
        else:
            both.real, both.imag = variances[rows].reshape(both.shape), effects[rows].reshape(both.shape)
        both.sort(axis=1)
        # Rows of one group lie side by side where the groups are few and long.
        table = both.T if width > place.size else np.ascontiguousarray(both.T)
        anchor = table[0].imag.copy()
        variance, apart = table.real.copy(order="K"), table.imag - anchor
        if padded:
            apart[np.isinf(variance)] = 0.0
        return Columns(apart, variance, anchor, size)


def lay_out(label: NDArray[np.generic]) -> Layout:
    """Return where rows go; label: shape (n,), n >= 1, the group of each row: numbers or words that can be sorted."""
    row = _sorting(label)
    ordered = label[row]
    first = np.concatenate(([True], ordered[1:] != ordered[:-1]))
    start = np.flatnonzero(first).astype(np.int64)
    size = np.diff(start, append=label.size).astype(np.int64)
    width = _width(size)
    place = np.argsort(width, kind="stable").astype(np.int64)
    return Layout(ordered[start], size, row, start, place, width[place])


def _sorting(label: NDArray[np.generic]) -> Integers:
    """Return the indices that sort the labels, equal ones in the order given."""
    if label.dtype.kind in "iu" and int(label.max()) - int(label.min()) < 1 << 32:
        # Sixteen bits at a time: such numbers are sorted by counting, in a time linear in the rows.
        above = (label - label.min()).astype(np.uint32)
        row = np.argsort((above & 0xFFFF).astype(np.uint16), kind="stable")
        high = (above >> 16).astype(np.uint16)
        return (row[np.argsort(high[row], kind="stable")] if np.any(high) else row).astype(np.int64)
    return np.argsort(label, kind="stable").astype(np.int64)


def _width(size: Integers) -> Integers:
    """Return the padded width: the size itself up to 8, then the next of four widths an octave."""
    octave = np.floor(np.log2(np.maximum(size - 1, 1))).astype(np.int64)
    step = np.left_shift(np.int64(1), np.maximum(octave - 2, 0))
    return np.where(size <= 8, size, -(-size // step) * step)
