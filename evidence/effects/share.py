"""Shares (percent alive, percent of the fatty acids): both values as printed, and their difference in points.

d = after - before, in percentage points; no logarithm, for a share is not an amount.
"""

from __future__ import annotations

from dataclasses import dataclass

from evidence.effects.effect import LeftOut, gate
from evidence.effects.printed import parse_printed
from evidence.model.rules import Rules
from evidence.model.tables import Measurement

__all__ = ["Share", "share_of"]


@dataclass(frozen=True)
class Share:
    """What one row says of a share: before and after in percent of the whole, by which assay, and of what (unit)."""

    measurement: str
    study: str
    assay: str
    unit: str
    before: float
    after: float

    @property
    def points(self) -> float:
        """The difference in percentage points."""
        return self.after - self.before


def share_of(row: Measurement, rules: Rules) -> Share | LeftOut:
    """Return the two values of a share, or why the row is listed only."""
    refused = gate(row, True, rules)
    if refused is not None:
        return LeftOut(row.id, row.study, refused)
    before, after, difference = map(parse_printed, (row.baseline_mean, row.treated_mean, row.diff_mean))
    if before is None:
        # a change of 4 % may be of the share or of the whole
        return LeftOut(row.id, row.study, "a change of a share without the share itself can be read in two ways")
    end = after.value if after is not None else None if difference is None else before.value + difference.value
    if end is None:
        return LeftOut(row.id, row.study, "only one of the two shares is printed")
    if "%" not in row.unit or not (0 <= before.value <= 100 and 0 <= end <= 100):
        return LeftOut(row.id, row.study, "a share lies between 0 and 100 %")
    if row.number_is not in ("value", "about"):
        return LeftOut(row.id, row.study, "a bound or range of a share is listed, not pooled")
    return Share(row.id, row.study, row.assay.strip().lower(), row.unit.strip(), before.value, end)
