"""The storage chart: what is left over time in one store, drawn where studies measured and hatched where nobody did."""

from __future__ import annotations

import math
from html import escape

import numpy as np

from evidence.findings.storage import StoreAnswer, TimedFigure
from reports.charts.marks import StorageChart, StorageKey, StoragePoint
from reports.charts.paper import INK, PALE, PAPER, QUIET, Paper, for_page, for_print
from reports.charts.what_stays import ChartDrawing
from reports.words.path_words import PathWords

__all__ = ["draw_storage", "storage_chart", "storage_in_words", "storage_table"]

# Geometry in points, y downwards; narrow, so that the letters keep their size on a phone.
WIDTH = 320.0
LEFT, RIGHT = 30.0, 312.0
TOP, FLOOR = 22.0, 190.0
MOST = 120.0  # parts of 100 at the upper edge; more where a study found more
SMALL = 10.5
LINE_HEIGHT = 12.5
RADIUS = 4.2
HATCH = 8.0
MOST_TICKS = 6
BEYOND = 1.15  # the axis goes on this far past the longest time, so that what nobody measured can be seen
_HOURS_UP_TO = 3.0  # days


def storage_chart(answer: StoreAnswer, words: PathWords) -> StorageChart | None:
    """Return what is known of a store as a chart; None below two times with a figure that starts before the store."""
    starts = [figure for figure in answer.figures if figure.times_in == 1]
    if len({figure.days for figure in starts}) < 2:
        return None
    say = words.say
    longest, shortest = max(answer.measured_days), min(figure.days for figure in starts)
    curve = answer.curve
    line: list[tuple[float, float, float, float]] = []
    if curve is not None:
        days = np.unique(np.clip(np.append(curve.days, shortest), shortest, float(curve.days[-1])))
        edges = [np.exp(np.interp(days, curve.days, edge)) * 100 for edge in (curve.middle, curve.low, curve.high)]
        line = [(float(day), *(float(edge[place]) for edge in edges)) for place, day in enumerate(days)]  # type: ignore[misc]
    rows = []
    by_time: dict[str, list[TimedFigure]] = {}
    for figure in sorted(starts, key=lambda figure: figure.days):
        by_time.setdefault(words.time(figure.days), []).append(figure)
    for time, mine in by_time.items():
        day, worked_out = mine[0].days, ""
        if line:
            _, kept, low, high = min(line, key=lambda point: abs(point[0] - day))
            worked_out = say.say(
                "over_time/worked_out", kept=words.parts(kept), low=words.parts(low), high=words.parts(high)
            )
        found = [
            say.say(
                "over_time/found", study=words.study(figure.study),
                kept=words.parts(100 * math.exp(figure.log_ratio)), baseline=words.baseline(figure.baseline),
            )
            for figure in mine
        ]  # fmt: skip
        rows.append((time, worked_out, say.apart(found)))
    notes = [
        say.say(
            "over_time/between", study=words.study(figure.study), first=words.time(min(figure.times)),
            second=words.time(max(figure.times)), kept=words.parts(100 * math.exp(figure.log_ratio)),
        )
        for figure in answer.figures
        if figure.times_in == 0 and len(figure.times) > 1
    ]  # fmt: skip
    if line:
        notes.append(say.say("over_time/nothing_between"))
    hours = longest <= _HOURS_UP_TO
    return StorageChart(
        title=say.say("over_time/title", component=words.component_name(answer), where=words.store(answer.store)),
        axis=say.say("over_time/axis"),
        time_axis=say.say("over_time/hours" if hours else "over_time/days"),
        unit_days=1 / 24 if hours else 1.0,
        level=words.rules.storage.left_percent,
        points=tuple(StoragePoint(figure.days, 100 * math.exp(figure.log_ratio), figure.baseline) for figure in starts),
        curve=tuple(line),
        key=StorageKey(*(say.say(f"over_time/{name}") for name in ("line", "band", "fresh", "other", "beyond"))),
        headings=(
            say.say("over_time/time_heading"),
            say.say("over_time/worked_out_heading"),
            say.say("over_time/studies_heading"),
        ),
        rows=tuple(rows),
        notes=tuple(notes),
    )


def storage_in_words(chart: StorageChart) -> str:
    """Return the chart in sentences, for those who cannot see it."""
    said = [
        "; ".join(part for part in (f"{time}: {worked_out}", found) if part) for time, worked_out, found in chart.rows
    ]
    return " ".join([f"{chart.title}, {chart.axis}.", *(f"{line}." for line in said), *chart.notes])


def storage_table(chart: StorageChart) -> str:
    """Return the text table beside the drawing, as HTML; without a fit it has no column for it."""
    kept = [0, 1, 2] if chart.curve else [0, 2]
    head = "".join(f'<th scope="col">{escape(chart.headings[place])}</th>' for place in kept)
    rows = "".join(
        f'<tr><th scope="row">{escape(row[0])}</th>'
        + "".join(f"<td>{escape(row[place])}</td>" for place in kept[1:])
        + "</tr>"
        for row in chart.rows
    )
    caption = f"<caption>{escape(chart.title)}</caption>"
    return f'<table class="over-time">{caption}<thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>'


def draw_storage(chart: StorageChart) -> ChartDrawing | None:
    """Draw the chart; None where there is no mark to draw."""
    if not chart.points:
        return None
    svg = _draw(chart).svg()
    return ChartDrawing(for_page(svg, "over-time", storage_in_words(chart)), for_print(svg))


class _Axis:
    """Days and parts of 100 to points; the days end a little past the longest time."""

    def __init__(self, chart: StorageChart) -> None:
        self.unit = chart.unit_days
        self.last = max([point.days for point in chart.points] + [point[0] for point in chart.curve])
        self.first = min(point.days for point in chart.points)
        reach = self.last / self.unit * BEYOND
        sizes = [size * 10.0**power for power in range(5) for size in (1.0, 2.0, 5.0)]
        self.step = next((size for size in sizes if reach / size <= MOST_TICKS), sizes[-1])
        self.end = reach * self.unit
        self.most = max(MOST, *(1.05 * point.still_there for point in chart.points))

    def x(self, days: float) -> float:
        return LEFT + (RIGHT - LEFT) * days / self.end

    def y(self, percent: float) -> float:
        return FLOOR - (FLOOR - TOP) * min(max(percent, 0.0), self.most) / self.most

    def ticks(self) -> list[float]:
        return [count * self.step for count in range(int(self.end / self.unit / self.step) + 1)]


def _draw(chart: StorageChart) -> Paper:
    axis = _Axis(chart)
    keys = _keys(chart)
    height = FLOOR + 40 + LINE_HEIGHT * 1.35 * len(keys)
    paper = Paper(WIDTH, height)
    paper.text(LEFT - 26, TOP - 11, chart.axis, SMALL, QUIET)
    _hatch(paper, axis.x(axis.last), RIGHT, TOP, FLOOR)
    if axis.x(axis.first) - LEFT > HATCH:
        _hatch(paper, LEFT, axis.x(axis.first), TOP, FLOOR)
    if len(chart.curve) > 1:
        _band(paper, chart, axis)
    for level in (100.0, chart.level):
        _dotted(paper, LEFT, RIGHT, axis.y(level))
    paper.paths([[(LEFT, axis.y(0)), (RIGHT, axis.y(0))], [(LEFT, axis.y(0)), (LEFT, axis.y(axis.most))]], INK)
    for tick in (
        0.0,
        25.0,
        50.0,
        75.0,
        100.0,
        chart.level,
        *(150.0 + 50 * n for n in range(99) if 150 + 50 * n <= axis.most),
    ):
        paper.path([(LEFT - 4, axis.y(tick)), (LEFT, axis.y(tick))], INK)
        paper.text(LEFT - 6, axis.y(tick) + 3.6, f"{tick:g}", SMALL, INK, "right")
    for time in axis.ticks():
        x = axis.x(time * axis.unit)
        paper.path([(x, FLOOR), (x, FLOOR + 4)], INK)
        paper.text(x, FLOOR + 15, f"{time:g}", SMALL, INK, "center")
    paper.text((LEFT + RIGHT) / 2, FLOOR + 29, chart.time_axis, SMALL, QUIET, "center")
    if len(chart.curve) > 1:
        paper.path([(axis.x(days), axis.y(middle)) for days, middle, _, _ in chart.curve], INK, 2.2)
    for point in chart.points:
        _point(paper, axis.x(point.days), axis.y(point.still_there), point.baseline == "fresh")
    y = FLOOR + 34
    for name, words in keys:
        y += LINE_HEIGHT * 1.35
        _sample(paper, name, LEFT, y - 4)
        paper.text(LEFT + 40, y, words, SMALL, INK)
    return paper


def _keys(chart: StorageChart) -> list[tuple[str, str]]:
    fresh = {point.baseline == "fresh" for point in chart.points}
    fitted = len(chart.curve) > 1
    wanted = {"line": fitted, "band": fitted, "fresh": True in fresh, "other": False in fresh, "beyond": True}
    return [(name, getattr(chart.key, name)) for name, there in wanted.items() if there]


def _band(paper: Paper, chart: StorageChart, axis: _Axis) -> None:
    upper = [(axis.x(days), axis.y(high)) for days, _, _, high in chart.curve]
    lower = [(axis.x(days), axis.y(low)) for days, _, low, _ in chart.curve]
    paper.path([*upper, *reversed(lower), upper[0]], QUIET, 0.75, PALE)
    # an edge beyond the paper is no edge: it is left open
    shown = [point for point, (_, _, _, high) in zip(upper, chart.curve, strict=True) if high <= axis.most]
    for edge in (shown, lower):
        if len(edge) > 1:
            paper.path(edge, INK, 0.9)


def _point(paper: Paper, x: float, y: float, fresh: bool) -> None:
    paper.disc(x, y, RADIUS, INK, INK if fresh else PAPER)


def _hatch(paper: Paper, left: float, right: float, top: float, foot: float) -> None:
    """Rule slanting lines over a part that nobody measured, cut at its edges."""
    lines: list[list[tuple[float, float]]] = []
    tall = foot - top
    start = left - tall
    while start < right:
        # y falls from foot to top as x runs from start to start + tall
        a, z = max(start, left), min(start + tall, right)
        if z - a > 0.5:
            lines.append([(a, foot - (a - start)), (z, foot - (z - start))])
        start += HATCH
    if lines:
        paper.paths(lines, QUIET, 0.8)


def _dotted(paper: Paper, left: float, right: float, y: float) -> None:
    starts = [left + 4.5 * place for place in range(int((right - left) / 4.5) + 1)]
    paper.paths([[(x, y), (min(x + 1.5, right), y)] for x in starts if x < right], QUIET, 1.0)


def _sample(paper: Paper, name: str, x: float, y: float) -> None:
    if name == "line":
        paper.path([(x, y), (x + 32, y)], INK, 2.2)
    elif name == "band":
        paper.path([(x, y - 5), (x + 32, y - 5), (x + 32, y + 5), (x, y + 5), (x, y - 5)], QUIET, 0.75, PALE)
        paper.paths([[(x, y - 5), (x + 32, y - 5)], [(x, y + 5), (x + 32, y + 5)]], INK, 0.9)
    elif name == "beyond":
        _hatch(paper, x, x + 32, y - 5, y + 5)
    else:
        _point(paper, x + 16, y, name == "fresh")
