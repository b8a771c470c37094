"""The what-stays chart for clinicians: studies as lines over one axis, percent still there, drawn once as SVG."""

from __future__ import annotations

import io
import math
import re
import textwrap
from collections.abc import Callable
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING

from reports.charts.labels import ChartLabels, whole
from reports.charts.marks import ChartLine, WhatStaysChart

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["ChartDrawing", "axis_end", "draw_what_stays", "what_stays_in_words"]

# Geometry in points, y downwards; narrow, so that the letters keep their size on a phone.
WIDTH = 320
LABEL_LEFT = 2
LEFT = 124
RIGHT = 306
TOP = 24
LINE_HEIGHT = 13.5
ROW_GAP = 11
TEXT = 10.5
SMALL = 10.5
RADIUS = 4.6
LABEL_CHARACTERS = 19
LABEL_LINES = 3
MOST_TICKS = 6
INTERVALS_STOP_AT = 200.0

# Colours on white paper; the page swaps each for its own variable, so that the chart follows the dark mode.
INK, QUIET, RULE, PALE, ACCENT, PAPER = "#1e1a2c", "#565068", "#7f7894", "#eeebf7", "#3d3193", "#ffffff"
VARIABLES = {
    INK: "var(--ink)",
    QUIET: "var(--quiet)",
    RULE: "var(--rule)",
    PALE: "var(--pale)",
    ACCENT: "var(--accent)",
    PAPER: "var(--paper)",
}


@dataclass(frozen=True)
class ChartDrawing:
    """One drawing in two dresses: for_page takes its colours and letters from the page, for_print carries its own."""

    for_page: str
    for_print: str


def draw_what_stays(chart: WhatStaysChart, labels: ChartLabels) -> ChartDrawing | None:
    """Draw the chart; None where no study printed a figure, because then there is nothing to draw.

    The drawing is the same text for the same content on every machine (no date, no random names).
    """
    if not chart.lines:
        return None
    from matplotlib import rc_context

    settings = {"svg.fonttype": "none", "svg.hashsalt": "whatstays", "font.family": "DejaVu Sans", "path.simplify": False}
    with rc_context(settings):
        figure = _figure(chart, labels)
        written = io.StringIO()
        figure.savefig(written, format="svg", transparent=True, metadata={"Date": None, "Creator": None})
    print_form = _lean(written.getvalue())
    return ChartDrawing(for_page=_for_page(print_form, what_stays_in_words(chart, labels)), for_print=print_form)


def what_stays_in_words(chart: WhatStaysChart, labels: ChartLabels) -> str:
    """The chart in sentences, for those who cannot see it: every study, the pooled band, the wider bracket."""
    said = [labels.summary.format(title=chart.title, count=len(chart.lines))]
    said += [f"{_label(line, labels)}: {whole(line.retained_percent)}." for line in chart.lines]
    if chart.pooled is not None and chart.pooled_low is not None and chart.pooled_high is not None:
        said.append(_pooled_label(chart.pooled, chart.pooled_low, chart.pooled_high, labels) + ".")
    if chart.new_low is not None and chart.new_high is not None:
        said.append(labels.another_laboratory.format(low=whole(chart.new_low), high=whole(chart.new_high)) + ".")
    return " ".join(said)


def axis_end(chart: WhatStaysChart) -> float:
    """Where the axis ends, in percent: past every mark, the margin and every interval, these only up to 200.

    An interval that reaches further is cut with an arrow, so that one wide study does not squeeze the others.
    """
    marks = [line.retained_percent for line in chart.lines] + [chart.margin_high, 100.0]
    reaches = [line.high for line in chart.lines if line.own_spread] + [chart.pooled_high, chart.new_high]
    marks += [chart.pooled] if chart.pooled is not None else []
    marks += [min(reach, INTERVALS_STOP_AT) for reach in reaches if reach is not None]
    step = _step(max(marks))
    return math.ceil(max(marks) * 1.04 / step) * step


def _step(reach: float) -> float:
    """The distance between two ticks, so that at most six steps fit and 100 stands on one of them or between two."""
    sizes = [size * 10.0**power for power in range(6) for size in (20.0, 25.0, 50.0, 100.0)]
    return next((size for size in sizes if reach / size <= MOST_TICKS), sizes[-1])


class _Sheet:
    """A figure used as a sheet of drawing paper: x in percent, y in points from the top."""

    def __init__(self, figure: Figure, height: float, end: float) -> None:
        self.figure, self.height, self.end = figure, height, end

    def x(self, percent: float) -> float:
        return LEFT + (RIGHT - LEFT) * min(max(percent, 0.0), self.end) / self.end

    def path(self, points: list[tuple[float, float]], colour: str, width: float = 1.0, fill: str = "none") -> None:
        from matplotlib.patches import PathPatch
        from matplotlib.path import Path as Outline
        from matplotlib.transforms import IdentityTransform

        outline = Outline([(x, self.height - y) for x, y in points])
        self.figure.add_artist(
            PathPatch(
                outline,
                edgecolor=colour,
                facecolor=fill,
                linewidth=width,
                transform=IdentityTransform(),
                capstyle="butt",
                joinstyle="miter",
            )
        )

    def box(self, low: float, high: float, top: float, bottom: float, colour: str, width: float, fill: str) -> None:
        a, b = self.x(low), self.x(high)
        self.path([(a, top), (b, top), (b, bottom), (a, bottom), (a, top)], colour, width, fill)

    def disc(self, x: float, y: float, colour: str, fill: str) -> None:
        from matplotlib.patches import Circle
        from matplotlib.transforms import IdentityTransform

        shape = Circle((x, self.height - y), RADIUS, edgecolor=colour, facecolor=fill, linewidth=1.6)
        shape.set_transform(IdentityTransform())
        self.figure.add_artist(shape)

    def text(self, x: float, y: float, words: str, size: float, colour: str, anchor: str = "left") -> None:
        from matplotlib.text import Text
        from matplotlib.transforms import IdentityTransform

        # parse_math off: a dollar sign in a study's name is a dollar sign.
        self.figure.add_artist(
            Text(
                x,
                self.height - y,
                words,
                fontsize=size,
                color=colour,
                ha=anchor,
                va="baseline",
                transform=IdentityTransform(),
                parse_math=False,
                gid="halo",
            )
        )


def _figure(chart: WhatStaysChart, labels: ChartLabels) -> Figure:
    from matplotlib.figure import Figure

    rows = [_wrapped(line, labels) for line in chart.lines]
    tops = [TOP + sum(_row_height(row) for row in rows[:place]) for place in range(len(rows) + 1)]
    base = tops[-1]
    has_new = chart.new_low is not None and chart.new_high is not None
    has_pooled = chart.pooled is not None and chart.pooled_low is not None and chart.pooled_high is not None
    height = base + 38 + (20 if has_pooled else 0) + (30 if has_new else 0)
    figure = Figure(figsize=(WIDTH / 72, height / 72), dpi=72)
    sheet = _Sheet(figure, height, axis_end(chart))
    sheet.box(chart.margin_low, chart.margin_high, TOP - 6, base, RULE, 0.75, PALE)
    _axis(sheet, base)
    sheet.text((LEFT + RIGHT) / 2, base + 31, labels.axis, SMALL, QUIET, "center")
    y = base + 51.0
    if has_pooled:
        y = _pooled_band(sheet, chart, base, y, labels)
    if has_new:
        _bracket(sheet, chart, y, labels)
    for line, row, top in zip(chart.lines, rows, tops, strict=False):
        _study(sheet, line, row, top)
    _under(sheet, sheet.x((chart.margin_low + chart.margin_high) / 2), 12, labels.margin, QUIET)
    return figure


def _axis(sheet: _Sheet, base: float) -> None:
    step = _step(sheet.end / 1.04)
    sheet.path([(LEFT, base), (RIGHT, base)], INK, 1.0)
    sheet.path([(sheet.x(100), TOP - 6), (sheet.x(100), base)], RULE, 0.9)
    for count in range(int(round(sheet.end / step)) + 1):
        at = sheet.x(count * step)
        sheet.path([(at, base), (at, base + 4)], INK, 1.0)
        sheet.text(at, base + 16, whole(count * step), SMALL, INK, "center")


def _row_height(row: list[str]) -> float:
    return len(row) * LINE_HEIGHT + ROW_GAP


def _wrapped(line: ChartLine, labels: ChartLabels) -> list[str]:
    """The study's name in at most three short lines, the word for what it was compared with in a line of its own."""
    name = labels.study.format(study=line.label, source=line.source_number)
    lines = textwrap.wrap(name, LABEL_CHARACTERS, max_lines=LABEL_LINES, placeholder=" …")
    return [*lines, labels.baselines[line.baseline]]


def _study(sheet: _Sheet, line: ChartLine, row: list[str], top: float) -> None:
    start = top + ROW_GAP / 2
    for place, words in enumerate(row):
        colour = QUIET if place == len(row) - 1 else INK
        sheet.text(LABEL_LEFT, start + LINE_HEIGHT * (place + 0.78), words, TEXT, colour)
    y = top + _row_height(row) / 2
    if line.own_spread and line.low is not None and line.high is not None:
        sheet.path([(sheet.x(line.low), y), (sheet.x(line.high), y)], INK, 1.4)
        if line.high > sheet.end:
            _arrow(sheet, y)
    fill = INK if line.baseline == "fresh" else PAPER
    sheet.disc(sheet.x(line.retained_percent), y, INK, fill)


def _pooled_band(sheet: _Sheet, chart: WhatStaysChart, base: float, y: float, labels: ChartLabels) -> float:
    assert chart.pooled is not None and chart.pooled_low is not None and chart.pooled_high is not None
    sheet.box(chart.pooled_low, chart.pooled_high, TOP - 6, base, ACCENT, 1.5, "none")
    middle = sheet.x(chart.pooled)
    sheet.path([(middle, TOP - 6), (middle, base)], ACCENT, 0.9)
    words = _pooled_label(chart.pooled, chart.pooled_low, chart.pooled_high, labels)
    _under(sheet, middle, y, words, ACCENT)
    return y + 20


def _bracket(sheet: _Sheet, chart: WhatStaysChart, y: float, labels: ChartLabels) -> None:
    assert chart.new_low is not None and chart.new_high is not None
    low, high, rule = sheet.x(chart.new_low), sheet.x(chart.new_high), y - 4
    beyond = chart.new_high > sheet.end
    outline = [(low, rule - 6), (low, rule), (high, rule)] + ([] if beyond else [(high, rule - 6)])
    sheet.path(outline, ACCENT, 1.2)
    if beyond:
        _arrow(sheet, rule, ACCENT)
    words = labels.another_laboratory.format(low=whole(chart.new_low), high=whole(chart.new_high))
    _under(sheet, (low + high) / 2, y + 12, words, ACCENT)


def _under(sheet: _Sheet, middle: float, y: float, words: str, colour: str) -> None:
    # Half a line is about 0.31 of the size a letter: enough to keep a centred line inside the drawing.
    half = len(words) * SMALL * 0.31
    at = min(max(middle, half), WIDTH - half) if 2 * half < WIDTH else WIDTH / 2
    sheet.text(at, y, words, SMALL, colour, "center")


def _arrow(sheet: _Sheet, y: float, colour: str = INK) -> None:
    sheet.path([(RIGHT - 6, y - 4), (RIGHT, y), (RIGHT - 6, y + 4)], colour, 1.4)


def _label(line: ChartLine, labels: ChartLabels) -> str:
    return labels.line.format(study=line.label, source=line.source_number, baseline=labels.baselines[line.baseline])


def _pooled_label(middle: float, low: float, high: float, labels: ChartLabels) -> str:
    return labels.pooled.format(middle=whole(middle), low=whole(low), high=whole(high))


HALO = 'paint-order="stroke" stroke="#ffffff" stroke-width="3.5" stroke-linejoin="round"'


def _lean(svg: str) -> str:
    """Keep the drawing and drop what the page does not need: declarations, metadata, names of groups."""
    body = re.sub(r"<metadata>.*?</metadata>|<defs>.*?</defs>", "", svg[svg.index("<svg") :], flags=re.DOTALL)
    return re.sub(r">\s+<", "><", _in_tags(body, _lean_tag)).strip()


def _lean_tag(tag: str) -> str:
    if tag == '<g id="halo">':
        return f"<g {HALO}>"
    if tag.startswith("<svg"):
        return re.sub(r'<svg.*viewBox="([^"]*)".*', r'<svg xmlns="http://www.w3.org/2000/svg" viewBox="\1">', tag, flags=re.DOTALL)
    tag = re.sub(r' (id|clip-path|transform)="[^"]*"', "", tag)
    return re.sub(r"\s+", " ", re.sub(r"(\d+\.\d\d)\d+", r"\1", tag))


def _for_page(svg: str, words: str) -> str:
    opening = f'<svg class="what-stays" role="img" aria-label="{escape(words)}"'

    def dressed(tag: str) -> str:
        if tag.startswith("<svg"):
            return tag.replace('<svg xmlns="http://www.w3.org/2000/svg"', opening)
        for colour, variable in VARIABLES.items():
            tag = tag.replace(f": {colour}", f": {variable}")
        return re.sub(r" font-family: [^;\"]*;", "", tag.replace(HALO, 'class="halo"'))

    return _in_tags(svg, dressed)


def _in_tags(svg: str, change: Callable[[str], str]) -> str:
    """Apply a change to the tags only: what a study is called is never touched."""
    return re.sub(r"<[^>]*>", lambda found: change(found.group()), svg)
