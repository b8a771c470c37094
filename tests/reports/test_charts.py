"""The bar and the what-stays chart: what is drawn is what was measured, and it reads without colour."""

from __future__ import annotations

import dataclasses
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reports.charts.bar import bar_svg
from reports.charts.marks import Bar, BaselineClass, ChartLine, WhatStaysChart
from reports.charts.paper import ACCENT, INK, PAPER, QUIET, RULE
from reports.charts.what_stays import chart_axis, draw_what_stays, what_stays_in_words
from reports.sheets.layout import layout_words
from tests.reports.markup import contrast, read_page
from tests.reports.sample import CHART, HOSTILE

LABELS = layout_words("en").chart


def _chart(**changes: object) -> WhatStaysChart:
    return dataclasses.replace(CHART, **changes)  # type: ignore[arg-type]


def _drawn(chart: WhatStaysChart) -> str:
    drawing = draw_what_stays(chart, LABELS)
    assert drawing is not None
    return drawing.for_print


def _paths(svg: str) -> list[tuple[list[tuple[float, float]], str]]:
    """Every path as its corner points and its style."""
    found = re.findall(r'<path d="([^"]*)" style="([^"]*)"', svg)
    return [
        ([(float(x), float(y)) for x, y in re.findall(r"([\d.]+) ([\d.]+)(?= |$)", d)], style) for d, style in found
    ]


def _discs(svg: str) -> list[tuple[float, float, str]]:
    """Every round mark as its centre and its fill."""
    discs = []
    for d, style in re.findall(r'<path d="([^"]*C[^"]*)" style="([^"]*)"', svg):
        numbers = [float(number) for number in re.findall(r"[\d.]+", d)]
        xs, ys = numbers[0::2], numbers[1::2]
        fill = re.search(r"fill: (#\w+)", style)
        assert fill
        discs.append(((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2, fill.group(1)))
    return discs


def _ticks(svg: str) -> dict[str, float]:
    """Where the numbers under the axis stand."""
    found = re.findall(r'<text [^>]*text-anchor: middle[^>]* x="([\d.]+)"[^>]*>(\d+)</text>', svg)
    return {number: float(x) for x, number in found}


def _bar_parts(bar: Bar) -> dict[str, dict[str, str]]:
    return {tag["class"]: tag for _, tag in read_page(bar_svg(bar, LABELS)).tags if "class" in tag}


def test_the_bar_is_filled_by_the_share_still_there() -> None:
    parts = _bar_parts(Bar(71.0, None, None, "", ""))
    assert float(parts["bar-there"]["width"]) / float(parts["bar-gone"]["width"]) == pytest.approx(0.71, abs=0.002)


def test_the_bracket_spans_the_range_on_the_scale_of_the_bar() -> None:
    parts = _bar_parts(Bar(71.0, 58.0, 87.0, "", ""))
    start, width = float(parts["bar-gone"]["x"]), float(parts["bar-gone"]["width"])
    found = re.fullmatch(r"M([\d.]+) .*H([\d.]+)V.*", parts["bar-range"]["d"])
    assert found
    ends = [(float(end) - start) / width for end in found.groups()]
    assert ends == pytest.approx([0.58, 0.87], abs=0.002)


def test_the_bar_names_both_its_ends() -> None:
    words = read_page(bar_svg(Bar(71.0, 58.0, 87.0, "", ""), LABELS)).words()
    assert words == "58 to 87 still there gone"


def test_a_bar_above_one_hundred_is_full_and_no_fuller() -> None:
    parts = _bar_parts(Bar(134.0, 96.0, 180.0, "", ""))
    assert float(parts["bar-there"]["width"]) == pytest.approx(float(parts["bar-gone"]["width"]), abs=0.1)


def test_without_a_range_no_bracket_is_drawn() -> None:
    assert "bar-range" not in _bar_parts(Bar(71.0, None, None, "", ""))


def test_nothing_left_draws_no_filled_part() -> None:
    assert "bar-there" not in _bar_parts(Bar(0.0, None, None, "", ""))


def test_the_bar_is_said_in_words() -> None:
    (svg,) = read_page(bar_svg(Bar(71.0, None, None, "", f"said {HOSTILE}"), LABELS)).named("svg")
    assert (svg["role"], svg["aria-label"]) == ("img", f"said {HOSTILE}")


def test_a_bar_whose_caption_says_what_it_means_is_described_as_it_is_drawn() -> None:
    def told(bar: Bar) -> str:
        return read_page(bar_svg(bar, LABELS)).named("svg")[0]["aria-label"]

    assert "filled to its end, at 134" in told(Bar(134.0, None, None, "", "printed under it"))
    assert "under a bracket from 96 to 180" in told(Bar(134.0, 96.0, 180.0, "", "printed under it"))
    assert "empty bar" in told(Bar(None, 58.0, 87.0, "", "")) and "from 58 to 87" in told(Bar(None, 58.0, 87.0, "", ""))


def test_every_study_stands_at_its_own_percentage() -> None:
    svg = _drawn(CHART)
    ticks = _ticks(svg)
    scale = (ticks["100"] - ticks["0"]) / 100
    placed = [(x - ticks["0"]) / scale for x, _, _ in _discs(svg)]
    assert placed == pytest.approx([line.retained_percent for line in CHART.lines], abs=0.2)


def test_a_full_mark_means_fresh_and_an_open_one_anything_else() -> None:
    classes: tuple[BaselineClass, ...] = get_args(BaselineClass)
    lines = tuple(dataclasses.replace(CHART.lines[0], baseline=baseline) for baseline in classes)
    fills = [fill for _, _, fill in _discs(_drawn(_chart(lines=lines)))]
    assert fills == [INK if baseline == "fresh" else PAPER for baseline in classes]
    assert set(classes) == set(LABELS.baselines)


def test_every_row_says_in_a_word_what_it_was_compared_with() -> None:
    svg = _drawn(CHART)
    for line in CHART.lines:
        assert f">{line.baseline}</text>" in svg


def test_only_a_spread_of_its_own_gives_a_study_a_line() -> None:
    borrowed = tuple(dataclasses.replace(line, own_spread=False) for line in CHART.lines)
    printed = [style for _, style in _paths(_drawn(CHART)) if "stroke-width: 1.4" in style]
    lent = [style for _, style in _paths(_drawn(_chart(lines=borrowed))) if "stroke-width: 1.4" in style]
    assert (len(printed), len(lent)) == (2, 0)


def test_one_study_has_no_band() -> None:
    alone = _chart(lines=CHART.lines[:1], pooled=None, pooled_low=None, pooled_high=None, new_low=None, new_high=None)
    assert ACCENT in _drawn(CHART)
    assert ACCENT not in _drawn(alone)


def test_the_pooled_band_runs_through_every_row_from_low_to_high() -> None:
    svg = _drawn(CHART)
    ticks = _ticks(svg)
    scale = (ticks["100"] - ticks["0"]) / 100
    (band,) = [points for points, style in _paths(svg) if ACCENT in style and len(points) == 5]
    xs, ys = {x for x, _ in band}, {y for _, y in band}
    assert sorted((x - ticks["0"]) / scale for x in xs) == pytest.approx([58.0, 87.0], abs=0.2)
    assert all(min(ys) < y < max(ys) for _, y, _ in _discs(svg))


def test_there_are_round_marks_only() -> None:
    svg = _drawn(CHART)
    bands = 2
    closed = [points for points, _ in _paths(svg) if len(points) == 5 and points[0] == points[-1]]
    assert len(_discs(svg)) == len(CHART.lines)
    assert len(closed) == bands, "a closed shape beside margin and pooled band: a square or a diamond"


def test_lines_are_at_least_three_quarters_of_a_point_and_three_to_one() -> None:
    # 0.75 pt and 3:1: WCAG 2.2, 1.4.11 for the contrast; the width is house style.
    widths = [float(width) for width in re.findall(r"stroke-width: ([\d.]+)", _drawn(CHART))]
    assert min(widths) >= 0.75
    assert min(contrast(colour, PAPER) for colour in (INK, QUIET, RULE, ACCENT)) >= 3
    assert min(contrast(colour, PAPER) for colour in (INK, QUIET, ACCENT)) >= 4.5, "used for words"


def test_what_studies_said_only_in_words_is_not_drawn() -> None:
    assert draw_what_stays(_chart(lines=()), LABELS) is None


def test_the_chart_in_words_tells_every_study_and_both_ranges() -> None:
    told = what_stays_in_words(CHART, LABELS)
    for line in CHART.lines:
        assert f"{line.label} [{line.source_number}] · {line.baseline}: {line.retained_percent:.0f}." in told
    assert "71 (58 to 87)" in told
    assert "39 to 129" in told


def test_markup_in_a_name_stays_text() -> None:
    label = "</text><script> $x^2$ 1.23456 : #1e1a2c"
    svg = _drawn(_chart(lines=(dataclasses.replace(CHART.lines[0], label=label),)))
    written = [data for tag, data in read_page(svg).text if tag == "text"]
    assert not read_page(svg).named("script")
    assert label.replace(" ", "") in "".join(written).replace(" ", "")


@given(
    st.lists(st.floats(0, 1e5), min_size=1, max_size=4),
    st.one_of(st.none(), st.floats(0, 1e7)),
)
def test_the_axis_holds_every_mark_and_few_ticks(kept: list[float], high: float | None) -> None:
    lines = tuple(ChartLine("a", 1, "fresh", value, None, None, False, None) for value in kept)
    end, step = chart_axis(_chart(lines=lines, new_low=None if high is None else 0.0, new_high=high))
    assert end >= max([*kept, CHART.margin_high])
    assert end <= 2.5 * max([*kept, 200.0]), "a wide interval may not squeeze the studies"
    assert 2 <= round(end / step) <= 7
    assert end / step == pytest.approx(round(end / step))


def test_the_same_chart_is_the_same_bytes_in_another_process() -> None:
    code = (
        "from tests.reports.sample import CHART; from reports.sheets.layout import layout_words; "
        "from reports.charts.what_stays import draw_what_stays; "
        "d = draw_what_stays(CHART, layout_words('en').chart); print(d.for_page + d.for_print)"
    )
    root = Path(__file__).parents[2]
    command = [sys.executable, "-c", code]
    environment = os.environ | {"PYTHONPATH": str(root), "PYTHONHASHSEED": "7", "PYTHONUTF8": "1"}
    other = subprocess.run(
        command, cwd=root, capture_output=True, text=True, encoding="utf-8", env=environment, check=True
    )
    here = draw_what_stays(CHART, LABELS)
    assert here is not None
    assert other.stdout.strip() == here.for_page + here.for_print
