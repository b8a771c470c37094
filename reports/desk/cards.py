"""An answer made ready: all that a reply says of one finding, as plain values that can be kept and read at once."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

__all__ = ["Card", "Figure", "Lead", "StudyCited", "covers"]

# the time window at the end of a handling key, as evidence.handling.bands writes it
_WINDOW = re.compile(r":(?:(?P<low>to|over|\d+)-(?P<high>[\d.]+)|not-stated)(?P<unit>[dh])$")


@dataclass(frozen=True)
class StudyCited:
    """A source of an answer."""

    key: str
    reference: str
    doi: str | None
    pmid: str | None
    baseline: str


@dataclass(frozen=True)
class Card:
    """One finding, worded in one language.

    status: answered, words_only, or no_evidence where its rows are only listed. kind: the handling without its bands.
    name: the component with its form; after: the handling in words. sentence, phone, email: the three lengths. line: in
    one line, line_named: the same with the component named. figures: studies with a figure. group: its pooled class.
    """

    number: str
    component: str
    handling: str
    kind: str
    status: str
    group: str
    name: str
    noun: str
    after: str
    sentence: str
    phone: str
    email: str
    line: str
    line_named: str
    how_sure: str
    certainty: str
    flags: list[str]
    figures: int
    retained_percent: float | None
    ci_low: float | None
    ci_high: float | None
    interval_kind: str | None
    interval_level: float | None
    k_studies: int
    k_rows: int
    baselines: dict[str, int]
    studies: list[dict[str, Any]]

    @property
    def cited(self) -> tuple[StudyCited, ...]:
        """The sources."""
        return tuple(StudyCited(**each) for each in self.studies)


@dataclass(frozen=True)
class Lead:
    """An answer in short, for lists and nearest questions; first: it is the one that leads for its kind of handling."""

    component: str
    kind: str
    handling: str
    number: str
    status: str
    group: str
    family: str
    figures: int
    name: str
    after: str
    first: bool


@dataclass(frozen=True)
class Figure:
    """A figure of one study: its kind of handling, percent of the component gone, and what it was compared with.

    name: the component's forms, as reports.words.names has them.
    """

    component: str
    number: str
    kind: str
    study: str
    name: list[str]
    after: str
    compared: str
    fresh: bool
    lost: float


def covers(handling: str, days: float | None) -> bool:
    """Return whether a time asked for falls into a handling's window; without a time, anything does."""
    window = _WINDOW.search(handling)
    if days is None or window is None:
        return days is None
    if window["low"] is None:
        return False
    asked = round(days if window["unit"] == "d" else days * 24, 6)
    if window["low"] == "to":
        return asked <= float(window["high"])
    if window["low"] == "over":
        return asked > float(window["high"])
    return float(window["low"]) - 1 < asked <= float(window["high"])
