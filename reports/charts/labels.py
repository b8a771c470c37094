"""The few fixed words that stand on the charts themselves, one language at a time."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["ChartLabels", "whole"]


@dataclass(frozen=True)
class ChartLabels:
    """Words drawn on a chart, or that stand in for one.

    `range`, `pooled` and `another_laboratory` hold {low}, {high} or {middle}, which are whole numbers; those of the bar
    {kept}, {low} and {high}; `study` and `line` hold {study}, {source} (a number) and {baseline}.

    baselines holds one word for every baseline class, in the language of the page.
    """

    still_there: str
    gone: str
    range: str
    axis: str
    margin: str
    pooled: str
    another_laboratory: str
    study: str
    line: str
    summary: str
    bar_filled: str
    bar_ranged: str
    bar_open: str
    baselines: dict[str, str]


def whole(value: float) -> str:
    """A percentage as a chart prints it: to the nearest whole number, halves to the even one."""
    return f"{value:.0f}"
