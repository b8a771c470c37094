"""The stair in the height of a few lines of text, one for a part of milk; its figures stand in words beside it."""

from __future__ import annotations

from reports.charts.paper import INK, QUIET, Paper, for_page, for_print
from reports.charts.stair import Stair, Tread
from reports.charts.what_stays import ChartDrawing

__all__ = ["draw_small_stair"]

# Geometry in points, y downwards.
WIDTH, HEIGHT = 168.0, 42.0
LEFT, RIGHT = 2.0, 166.0
TOP, FLOOR = 5.0, 32.0
MOST = 115.0  # parts of 100 at the upper edge; what reaches further ends in an arrow
SMALL = 8.5
DASH, GAP = 4.0, 2.8
CAP = 2.6


def draw_small_stair(stair: Stair, as_words: str) -> ChartDrawing:
    """Draw a stair small; as_words stands in for the picture."""
    svg = _draw(stair).svg()
    return ChartDrawing(for_page(svg, "small-stair", as_words), for_print(svg))


def _y(percent: float) -> float:
    return FLOOR - (FLOOR - TOP) * min(max(percent, 0.0), MOST) / MOST


def _draw(stair: Stair) -> Paper:
    paper = Paper(WIDTH, HEIGHT)
    wide = (RIGHT - LEFT) / (len(stair.treads) + 1)
    paper.path([(LEFT, _y(0)), (RIGHT, _y(0))], INK, 0.9)
    _dashed(paper, LEFT + wide, RIGHT, _y(100), 0.8, (1.2, 2.6), QUIET)
    paper.path([(LEFT, _y(100)), (LEFT + wide, _y(100))], INK, 2.0)
    paper.text(LEFT + wide / 2, FLOOR + 9, stair.fresh, SMALL, INK, "center")
    edge: float | None = _y(100)
    for place, tread in enumerate(stair.treads, start=1):
        x = LEFT + wide * place
        edge = _tread(paper, tread, x, wide, edge)
        paper.text(x + wide / 2, FLOOR + 9, str(tread.number), SMALL, INK, "center")
    return paper


def _tread(paper: Paper, tread: Tread, x: float, wide: float, edge: float | None) -> float | None:
    middle = x + wide / 2
    if tread.mark == "missing":
        paper.text(middle, _y(50) + 4, "?", 11, INK, "center")
        return None
    if tread.mark == "ends":
        for end in (tread.high, tread.low):
            if end is not None and end < 100.5:
                _dashed(paper, x + 1, x + wide - 1, _y(end), 1.6, (DASH, GAP), INK)
        _interval(paper, middle, tread.low, tread.high)
        return None
    assert tread.middle is not None
    y = _y(tread.middle)
    if edge is not None:
        paper.path([(x, edge), (x, y)], INK, 0.8)
    if tread.mark == "measured":
        paper.path([(x, y), (x + wide, y)], INK, 2.0)
    else:
        _dashed(paper, x, x + wide, y, 2.0, (DASH, GAP), INK)
    _interval(paper, middle, tread.low, tread.high)
    return y


def _interval(paper: Paper, x: float, low: float | None, high: float | None) -> None:
    """Rule what fits; an end that cannot be given, or lies beyond the edge, ends in an arrow."""
    up, down = high is None or high > MOST, low is None
    top, foot = TOP - 3 if up else _y(high or 0.0), _y(low or 0.0) - (1 if down else 0)
    paper.path([(x, top), (x, foot)], INK, 0.9)
    for y, arrow, way in ((top, up, 1.0), (foot, down, -1.0)):
        if arrow:
            paper.path([(x - CAP, y + way * 4), (x, y), (x + CAP, y + way * 4)], INK, 0.9)
        else:
            paper.path([(x - CAP, y), (x + CAP, y)], INK, 0.9)


def _dashed(
    paper: Paper, left: float, right: float, y: float, width: float, pattern: tuple[float, float], colour: str
) -> None:
    dash, gap = pattern
    starts = [left + place * (dash + gap) for place in range(int((right - left) / (dash + gap)) + 1)]
    paper.paths([[(x, y), (min(x + dash, right), y)] for x in starts if x < right], colour, width)
