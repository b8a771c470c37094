"""The parents' bar as inline SVG: one bar from 0 to 100, its two ends named, the range as a ruled bracket above."""

from __future__ import annotations

from html import escape

from reports.charts.labels import ChartLabels, whole
from reports.charts.marks import Bar

__all__ = ["bar_svg", "bar_words"]

# Drawing units; the page scales the picture, so only their proportions matter.
WIDTH = 320
EDGE = 2
BRACKET_Y = 24
BAR_TOP = 36
BAR_HEIGHT = 26
WORDS_Y = 80
HEIGHT = 86
LABEL_HALF = 44
OVERRUN = 14


def bar_words(bar: Bar, labels: ChartLabels) -> str:
    """The bar in words, for those who cannot see it: what it means, or how it looks where its caption says that."""
    if bar.still_there is not None and bar.still_there <= 100:
        return bar.as_words
    ranged = bar.low is not None and bar.high is not None
    values = {
        name: whole(value) for name, value in (("kept", bar.still_there), ("low", bar.low), ("high", bar.high))
        if value is not None
    }  # fmt: skip
    if bar.still_there is None:
        return labels.bar_open.format(**values)
    return (labels.bar_ranged if ranged else labels.bar_filled).format(**values)


def bar_svg(bar: Bar, labels: ChartLabels) -> str:
    """Draw the bar; returns one `<svg>` element that takes its colours from the page and reads in black and white.

    Source: common practice for a single proportion, no source.
    """
    beyond = bar.high is not None and bar.high > 100
    span = WIDTH - 2 * EDGE - (OVERRUN if beyond else 0)
    filled = span * _clamped(bar.still_there or 0.0) / 100
    top = 0 if bar.low is not None and bar.high is not None else BAR_TOP - EDGE
    parts = [
        f'<svg class="bar" viewBox="0 {top} {WIDTH} {HEIGHT - top}" role="img" '
        f'aria-label="{escape(bar_words(bar, labels))}">',
        f'<rect class="bar-gone" x="{EDGE}" y="{BAR_TOP}" width="{span}" height="{BAR_HEIGHT}"/>',
    ]
    if filled > 0:
        shape = f'x="{EDGE}" y="{BAR_TOP}" width="{filled:.1f}" height="{BAR_HEIGHT}"'
        parts.append(f'<rect class="bar-there" {shape}/>')
    if bar.low is not None and bar.high is not None:
        parts.extend(_bracket(bar.low, bar.high, span, labels))
    parts.append(f'<text x="{EDGE}" y="{WORDS_Y}">{escape(labels.still_there)}</text>')
    parts.append(f'<text x="{EDGE + span}" y="{WORDS_Y}" text-anchor="end">{escape(labels.gone)}</text>')
    parts.append("</svg>")
    return "".join(parts)


def _bracket(low: float, high: float, span: int, labels: ChartLabels) -> list[str]:
    left = EDGE + span * _clamped(low) / 100
    right = EDGE + span * _clamped(high) / 100 + (OVERRUN if high > 100 else 0)
    start = f"M{left:.1f} {BRACKET_Y + 8}V{BRACKET_Y}"
    # A range that goes on past 100 runs off the end of the bar in an arrow.
    end = f"H{right:.1f}V{BRACKET_Y + 8}" if high <= 100 else f"H{right:.1f}m-6 -5l6 5l-6 5"
    middle = min(max((left + right) / 2, EDGE + LABEL_HALF), WIDTH - EDGE - LABEL_HALF)
    text = escape(labels.range.format(low=whole(low), high=whole(high)))
    return [
        f'<path class="bar-range" d="{start}{end}"/>',
        f'<text x="{middle:.1f}" y="{BRACKET_Y - 8}" text-anchor="middle">{text}</text>',
    ]


def _clamped(value: float) -> float:
    return min(max(value, 0.0), 100.0)
