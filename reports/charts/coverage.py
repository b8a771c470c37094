"""How often intervals hold on made-up evidence with a known truth: a row a scenario, percent along the axis.

A full mark is our interval, an open one the classical line, a stroke one study's own interval; the goal is a pale band.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reports.charts.paper import ACCENT, INK, PALE, PAPER, QUIET, RULE, Paper, for_page

__all__ = ["CoverageLine", "draw_coverage"]

WIDTH, LEFT, RIGHT, TOP, ROW, FOOT = 480.0, 170.0, 18.0, 26.0, 26.0, 44.0
LOWEST, HIGHEST, TICK = 30, 100, 10


@dataclass(frozen=True)
class CoverageLine:
    """One scenario: shares of intervals that held, in percent, and the Monte Carlo error of ours."""

    scenario: str
    ours: float
    error: float
    classical: float
    single: float


def draw_coverage(
    lines: Sequence[CoverageLine], goal: tuple[float, float], words: str, goal_label: str, axis: str
) -> str:
    """Return the drawing as an `<svg>` element for a page; words stand in for the picture."""
    height = TOP + ROW * len(lines) + FOOT
    paper = Paper(WIDTH, height)

    def x(percent: float) -> float:
        held = min(max(percent, LOWEST), HIGHEST)
        return LEFT + (WIDTH - LEFT - RIGHT) * (held - LOWEST) / (HIGHEST - LOWEST)

    low, high, bottom = x(goal[0]), x(goal[1]), TOP + ROW * len(lines)
    paper.path([(low, TOP), (high, TOP), (high, bottom), (low, bottom), (low, TOP)], RULE, 0.8, PALE)
    paper.text((low + high) / 2, TOP - 8, goal_label, 10, QUIET, "center")
    for place, line in enumerate(lines):
        y = TOP + ROW * (place + 0.5)
        paper.text(0, y + 4, line.scenario, 11, INK)
        paper.path([(x(line.single), y - 6), (x(line.single), y + 6)], INK, 1.4)
        paper.disc(x(line.classical), y, 4.5, INK, PAPER)
        paper.path([(x(line.ours - 2 * line.error), y), (x(line.ours + 2 * line.error), y)], ACCENT, 1.4)
        paper.disc(x(line.ours), y, 4.5, ACCENT, ACCENT)
    paper.path([(LEFT, bottom + 4), (WIDTH - RIGHT, bottom + 4)], INK, 1.0)
    for tick in range(LOWEST, HIGHEST + 1, TICK):
        paper.path([(x(tick), bottom + 4), (x(tick), bottom + 8)], INK, 1.0)
        paper.text(x(tick), bottom + 20, str(tick), 10, INK, "center")
    paper.text((LEFT + WIDTH - RIGHT) / 2, bottom + 39, axis, 10, QUIET, "center")
    return for_page(paper.svg(), "what-stays", words)
