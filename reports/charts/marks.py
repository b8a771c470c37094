"""What a chart is drawn from: figures ready to print, and the words that stand in for the picture."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = ["Bar", "BaselineClass", "ChartLine", "StorageChart", "StoragePoint", "WhatStaysChart"]

BaselineClass = Literal["fresh", "chilled", "frozen", "heat-treated", "dried", "otherwise treated", "not stated"]


@dataclass(frozen=True)
class Bar:
    """The parents' bar: 0 to 100 parts, "still there" and "gone" at its ends, the range as a ruled bracket above.

    still_there, low and high in parts of 100 (they may exceed 100: the bar stops at 100, the bracket runs off its end
    and the caption carries as_words). still_there None: nobody can tell, so nothing is filled and the bracket stands
    alone. low and high None: no bracket. hundred_is is the whole caption, one sentence that says what the 100 is
    ("100 = the same milk before drying; ..."). as_words says what the picture means: to those who cannot see it, or in
    the caption.
    """

    still_there: float | None
    low: float | None
    high: float | None
    hundred_is: str
    as_words: str


@dataclass(frozen=True)
class ChartLine:
    """One study on the what-stays chart: percent still there, its own interval where it printed a spread.

    low and high are drawn only if own_spread; a bound is told in the label. weight_share is a fraction, 0 to 1.
    """

    label: str
    source_number: int
    baseline: BaselineClass
    retained_percent: float
    low: float | None
    high: float | None
    own_spread: bool
    weight_share: float | None


@dataclass(frozen=True)
class WhatStaysChart:
    """The clinicians' chart: studies as lines, the equivalence margin as a pale band, the pooled interval as a band.

    All in percent still there. pooled_* None: no pooled band is drawn (one study). new_low and new_high are where
    another laboratory's result may lie. words_rows: study label, source number, baseline, what it said.
    """

    title: str
    lines: tuple[ChartLine, ...]
    margin_low: float
    margin_high: float
    pooled: float | None
    pooled_low: float | None
    pooled_high: float | None
    new_low: float | None
    new_high: float | None
    words_rows: tuple[tuple[str, int, BaselineClass, str], ...]


@dataclass(frozen=True)
class StoragePoint:
    """One study's figure after some days in the store: parts still there of 100, and what it was compared with."""

    days: float
    still_there: float
    baseline: BaselineClass


@dataclass(frozen=True)
class StorageChart:
    """What is left over time in one store, ready worded in the reader's language.

    curve: (days, middle, low, high), parts still there of 100, from the shortest to the longest time measured and not
    beyond; empty where no loss over time was worked out. unit_days: days in one unit of the time axis (1, or 1/24 for
    hours). level: the height of the marked line. key: the words beside the samples of
    line, band, full mark, open mark and of the part nobody measured. rows: of the table beside it, each with time, what
    was worked out, what studies found; notes: sentences under it.
    """

    title: str
    axis: str
    time_axis: str
    unit_days: float
    level: float
    points: tuple[StoragePoint, ...]
    curve: tuple[tuple[float, float, float, float], ...]
    key: StorageKey
    headings: tuple[str, str, str]
    rows: tuple[tuple[str, str, str], ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class StorageKey:
    """The words that stand beside the samples under a storage chart."""

    line: str
    band: str
    fresh: str
    other: str
    beyond: str
