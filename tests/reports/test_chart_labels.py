"""Nothing that is written on a chart touches another word or a mark: 1 to 40 studies, any names, three languages."""

from __future__ import annotations

import html
import re
from dataclasses import dataclass
from itertools import combinations
from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reports.charts.marks import BaselineClass, ChartLine, WhatStaysChart
from reports.charts.paper import text_width
from reports.charts.what_stays import LEFT, RADIUS, WIDTH, draw_what_stays
from reports.sheets.layout import layout_words
from reports.words.catalogue import LANGUAGES

CLASSES = get_args(BaselineClass)
# letters of names: narrow, wide, accented, and what joins them
LETTERS = "iljWMmŁéñÖ abcdefghijklmnopqrstuvwxyz ABCDEFGHIJKLMNOPQRSTUVWXYZ -'’."


@dataclass(frozen=True)
class Box:
    """Where words stand, in points: x to the right, y downwards."""

    words: str
    left: float
    right: float
    top: float
    bottom: float

    def touches(self, other: Box) -> bool:
        return (
            self.left < other.right and other.left < self.right and self.top < other.bottom and other.top < self.bottom
        )


def boxes(svg: str) -> list[Box]:
    """The boxes of all words of a drawing: from the height of capitals and ascenders to the depth of a comma or p."""
    found: list[Box] = []
    for tag, words in re.findall(r"<text ([^>]*)>(.*?)</text>", svg):
        said = html.unescape(words)
        size = float(re.findall(r"font-size: ([\d.]+)px", tag)[0])
        x, y = (float(re.findall(rf'\b{name}="([\d.]+)"', tag)[0]) for name in "xy")
        wide = text_width(said, size)
        left = {"middle": x - wide / 2, "end": x - wide}.get("".join(re.findall(r"text-anchor: (\w+)", tag)), x)
        found.append(Box(said, left, left + wide, y - 0.76 * size, y + 0.24 * size))
    return found


names = st.text(LETTERS, min_size=1, max_size=90).map(lambda name: f"{name.strip() or 'Li'} 2031")
percents = st.floats(0.5, 400)


@st.composite
def charts(draw: st.DrawFn) -> WhatStaysChart:
    lines = []
    for number in range(1, draw(st.integers(1, 40)) + 1):
        low, kept, high = sorted(draw(st.tuples(percents, percents, percents)))
        own = draw(st.booleans())
        lines.append(ChartLine(draw(names), number, draw(st.sampled_from(CLASSES)), kept, low, high, own, 0.1))
    low, pooled, high = sorted(draw(st.tuples(percents, percents, percents)))
    new = (low / 2, high * 1.5) if len(lines) >= 3 else (None, None)
    several = len(lines) >= 2
    return WhatStaysChart(
        title="Invented", lines=tuple(lines), margin_low=90, margin_high=110, pooled=pooled if several else None,
        pooled_low=low if several else None, pooled_high=high if several else None, new_low=new[0], new_high=new[1],
        words_rows=(),
    )  # fmt: skip


@pytest.mark.parametrize("language", list(LANGUAGES))
@settings(max_examples=25, deadline=None)
@given(chart=charts())
def test_no_words_touch_other_words_or_the_field_of_marks(language: str, chart: WhatStaysChart) -> None:
    drawing = draw_what_stays(chart, layout_words(language).chart)
    assert drawing is not None
    found = boxes(drawing.for_print)
    assert len(found) >= 2 * len(chart.lines)
    for box in found:
        assert box.left >= -0.5 and box.right <= WIDTH + 0.5, box
    assert [(a.words, b.words) for a, b in combinations(found, 2) if a.touches(b)] == []
    axis = next(box for box in found if box.words == "0")
    labels = [box for box in found if box.left < 10 and box.bottom < axis.top]
    assert len(labels) >= 2 * len(chart.lines)
    assert [box for box in labels if box.right > LEFT - RADIUS] == []


@given(names, st.integers(1, 140))
def test_the_number_that_leads_to_the_source_is_always_there(name: str, number: int) -> None:
    line = ChartLine(name, number, "not stated", 70.0, None, None, False, None)
    chart = WhatStaysChart(
        title="Invented", lines=(line,), margin_low=90, margin_high=110, pooled=None, pooled_low=None,
        pooled_high=None, new_low=None, new_high=None, words_rows=(),
    )  # fmt: skip
    drawing = draw_what_stays(chart, layout_words("en").chart)
    assert drawing is not None
    assert f"[{number}]" in "".join(box.words for box in boxes(drawing.for_print)).replace(" ", "")


def test_a_short_name_is_written_whole_and_a_hyphen_is_a_place_to_break() -> None:
    def told(name: str) -> list[str]:
        line = ChartLine(name, 1, "fresh", 70.0, None, None, False, None)
        chart = WhatStaysChart(
            title="Invented", lines=(line,), margin_low=90, margin_high=110, pooled=None, pooled_low=None,
            pooled_high=None, new_low=None, new_high=None, words_rows=(),
        )  # fmt: skip
        drawing = draw_what_stays(chart, layout_words("en").chart)
        assert drawing is not None
        return [box.words for box in boxes(drawing.for_print) if box.left < 10]

    assert told("Li 2020")[:2] == ["Li 2020 [1]", "fresh"]
    assert told("Wojciechowska-Grzegorzewska 2019")[:2] == ["Wojciechowska-", "Grzegorzewska"]
