"""The what-stays chart for clinicians: studies as lines over one axis, percent still there, drawn once as SVG."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from reports.charts.labels import ChartLabels, whole
from reports.charts.marks import ChartLine, WhatStaysChart
from reports.charts.paper import ACCENT, INK, PALE, PAPER, QUIET, RULE, Paper, for_page, for_print, text_width

__all__ = ["ChartDrawing", "chart_axis", "draw_what_stays", "what_stays_in_words"]

# Geometry in points, y downwards; narrow, so that the letters keep their size on a phone.
WIDTH = 320
LABEL_LEFT = 2
LEFT = 124
RIGHT = 306
TOP = 24
LINE_HEIGHT = 13.5
ROW_GAP = 11
SMALL = 10.5
RADIUS = 4.6
LABEL_WIDTH = 114
LABEL_LINES = 3
MOST_TICKS = 6
INTERVALS_STOP_AT = 200.0


@dataclass(frozen=True)
class ChartDrawing:
    """One drawing in two dresses: for_page takes its colours and letters from the page, for_print carries its own."""

    for_page: str
    for_print: str


@dataclass(frozen=True)
class _Axis:
    """Percent to points."""

    end: float
    step: float

    def x(self, percent: float) -> float:
        return LEFT + (RIGHT - LEFT) * min(max(percent, 0.0), self.end) / self.end


def draw_what_stays(chart: WhatStaysChart, labels: ChartLabels) -> ChartDrawing | None:
    """Draw the chart; None where no study printed a figure, because then there is nothing to draw."""
    if not chart.lines:
        return None
    svg = _draw(chart, labels).svg()
    return ChartDrawing(for_page(svg, "what-stays", what_stays_in_words(chart, labels)), for_print(svg))


def what_stays_in_words(chart: WhatStaysChart, labels: ChartLabels) -> str:
    """The chart in sentences, for those who cannot see it: every study, the pooled band, the wider bracket."""
    said = [labels.summary.format(title=chart.title, count=len(chart.lines))]
    for line in chart.lines:
        baseline = labels.baselines[line.baseline]
        label = labels.line.format(study=line.label, source=line.source_number, baseline=baseline)
        said.append(f"{label}: {whole(line.retained_percent)}.")
    if pooled := _pooled(chart):
        said.append(_pooled_label(pooled, labels) + ".")
    if new := _new(chart):
        said.append(_new_label(new, labels) + ".")
    return " ".join(said)


def chart_axis(chart: WhatStaysChart) -> tuple[float, float]:
    """Where the axis ends and how far apart its ticks stand, in percent, at most six steps.

    It ends past every mark, the margin and every interval, but intervals only up to 200: one that reaches further is
    cut with an arrow, so that one wide study does not squeeze the others.
    """
    marks = [line.retained_percent for line in chart.lines] + [chart.margin_high, 100.0]
    marks += [chart.pooled] if chart.pooled is not None else []
    reaches = [line.high for line in chart.lines if line.own_spread] + [chart.pooled_high, chart.new_high]
    marks += [min(reach, INTERVALS_STOP_AT) for reach in reaches if reach is not None]
    reach = max(marks) * 1.04
    sizes = [size * 10.0**power for power in range(9) for size in (20.0, 25.0, 50.0, 100.0)]
    step = next((size for size in sizes if reach / size <= MOST_TICKS), sizes[-1])
    return math.ceil(reach / step) * step, step


def _draw(chart: WhatStaysChart, labels: ChartLabels) -> Paper:
    rows = [_wrapped(line, labels) for line in chart.lines]
    tops = [TOP + sum(_row_height(row) for row in rows[:place]) for place in range(len(rows) + 1)]
    base = tops[-1]
    pooled, new = _pooled(chart), _new(chart)
    paper = Paper(WIDTH, base + 38 + (20 if pooled else 0) + (30 if new else 0))
    axis = _Axis(*chart_axis(chart))
    _band(paper, axis, (chart.margin_low, chart.margin_high), base, RULE, 0.75, PALE)
    _scale(paper, axis, base, labels)
    y = base + 51
    if pooled:
        middle, low, high = pooled
        _band(paper, axis, (low, high), base, ACCENT, 1.5, "none")
        paper.path([(axis.x(middle), TOP - 6), (axis.x(middle), base)], ACCENT, 0.9)
        _centred(paper, axis.x(middle), y, _pooled_label(pooled, labels), ACCENT)
        y += 20
    if new:
        _bracket(paper, axis, new, y, labels)
    for line, row, top in zip(chart.lines, rows, tops, strict=False):
        _study(paper, axis, line, row, top)
    _centred(paper, axis.x((chart.margin_low + chart.margin_high) / 2), 12, labels.margin, QUIET)
    return paper


def _scale(paper: Paper, axis: _Axis, base: float, labels: ChartLabels) -> None:
    ticks = [count * axis.step for count in range(round(axis.end / axis.step) + 1)]
    strokes: list[list[tuple[float, float]]] = [[(axis.x(tick), base), (axis.x(tick), base + 4)] for tick in ticks]
    paper.paths([[(LEFT, base), (RIGHT, base)], *strokes], INK)
    paper.path([(axis.x(100), TOP - 6), (axis.x(100), base)], RULE, 0.9)
    for tick in ticks:
        paper.text(axis.x(tick), base + 16, whole(tick), SMALL, INK, "center")
    paper.text((LEFT + RIGHT) / 2, base + 31, labels.axis, SMALL, QUIET, "center")


def _band(
    paper: Paper, axis: _Axis, ends: tuple[float, float], base: float, colour: str, width: float, fill: str
) -> None:
    low, high = axis.x(ends[0]), axis.x(ends[1])
    corners = [(low, TOP - 6.0), (high, TOP - 6.0), (high, base), (low, base), (low, TOP - 6.0)]
    paper.path(corners, colour, width, fill)


def _row_height(row: list[str]) -> float:
    return len(row) * LINE_HEIGHT + ROW_GAP


def _wrapped(line: ChartLine, labels: ChartLabels) -> list[str]:
    """The study's name in at most three short lines, the word for what it was compared with in a line of its own."""
    name = labels.study.format(study=line.label, source=line.source_number)
    source = labels.study.format(study="", source=line.source_number).strip()
    lines = _in_lines(name)
    if len(lines) > LABEL_LINES:  # the number that leads to the source is never what is left out
        shown = lines[:LABEL_LINES]
        while shown[-1] and not _fits(f"{shown[-1]}… {source}"):
            shown[-1] = shown[-1][:-1].rstrip()
        lines = [*shown[:-1], f"{shown[-1]}… {source}"]
    return [*lines, labels.baselines[line.baseline]]


def _fits(words: str) -> bool:
    return text_width(words, SMALL) <= LABEL_WIDTH


def _in_lines(name: str) -> list[str]:
    """Break a name between words, after hyphens, and where nothing else fits inside a word."""
    lines = [""]
    for word in name.split():
        parts = re.split(r"(?<=[^-]-)(?=[^-])", word)
        for place, part in enumerate(parts):
            joint = " " if place == 0 and lines[-1] else ""
            if _fits(lines[-1] + joint + part):
                lines[-1] += joint + part
                continue
            lines.append("")
            for letter in part:
                if not _fits(lines[-1] + letter):
                    lines.append("")
                lines[-1] += letter
    return [line for line in lines if line]


def _study(paper: Paper, axis: _Axis, line: ChartLine, row: list[str], top: float) -> None:
    for place, words in enumerate(row):
        colour = QUIET if place == len(row) - 1 else INK
        paper.text(LABEL_LEFT, top + ROW_GAP / 2 + LINE_HEIGHT * (place + 0.78), words, SMALL, colour)
    y = top + _row_height(row) / 2
    if line.own_spread and line.low is not None and line.high is not None:
        paper.path([(axis.x(line.low), y), (axis.x(line.high), y)], INK, 1.4)
        if line.high > axis.end:
            _arrow(paper, y, INK)
    fill = INK if line.baseline == "fresh" else PAPER
    paper.disc(axis.x(line.retained_percent), y, RADIUS, INK, fill)


def _bracket(paper: Paper, axis: _Axis, new: tuple[float, float], y: float, labels: ChartLabels) -> None:
    low, high, rule = axis.x(new[0]), axis.x(new[1]), y - 4
    beyond = new[1] > axis.end
    paper.path([(low, rule - 6), (low, rule), (high, rule)] + ([] if beyond else [(high, rule - 6)]), ACCENT, 1.2)
    if beyond:
        _arrow(paper, rule, ACCENT)
    _centred(paper, (low + high) / 2, y + 12, _new_label(new, labels), ACCENT)


def _arrow(paper: Paper, y: float, colour: str) -> None:
    paper.path([(RIGHT - 6, y - 4), (RIGHT, y), (RIGHT - 6, y + 4)], colour, 1.4)


def _centred(paper: Paper, middle: float, y: float, words: str, colour: str) -> None:
    half = text_width(words, SMALL) / 2
    at = min(max(middle, half), WIDTH - half) if 2 * half < WIDTH else WIDTH / 2
    paper.text(at, y, words, SMALL, colour, "center")


def _pooled(chart: WhatStaysChart) -> tuple[float, float, float] | None:
    if chart.pooled is None or chart.pooled_low is None or chart.pooled_high is None:
        return None
    return chart.pooled, chart.pooled_low, chart.pooled_high


def _new(chart: WhatStaysChart) -> tuple[float, float] | None:
    return None if chart.new_low is None or chart.new_high is None else (chart.new_low, chart.new_high)


def _pooled_label(pooled: tuple[float, float, float], labels: ChartLabels) -> str:
    middle, low, high = pooled
    return labels.pooled.format(middle=whole(middle), low=whole(low), high=whole(high))


def _new_label(new: tuple[float, float], labels: ChartLabels) -> str:
    return labels.another_laboratory.format(low=whole(new[0]), high=whole(new[1]))
