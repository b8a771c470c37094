"""The storage chart: a line and its band where studies measured, hatching where nobody did, a table beside it."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from evidence.findings.path_store import path_evidence
from evidence.findings.storage import store_answer, stores_of
from evidence.model.tables import Study
from evidence.store import Store
from evidence.store.reading import all_rows
from reports.charts.marks import StorageChart, StorageKey, StoragePoint
from reports.charts.paper import ACCENT, INK, PALE, PAPER, QUIET
from reports.charts.storage import (
    FLOOR,
    LEFT,
    RIGHT,
    TOP,
    draw_storage,
    storage_chart,
    storage_in_words,
    storage_table,
)
from reports.words.catalogue import load_catalogue
from reports.words.path_words import PathWords

CURVE = ((10.0, 95.0, 90.0, 100.0), (50.0, 80.0, 60.0, 98.0), (100.0, 60.0, 40.0, 90.0))
POINTS = (StoragePoint(10.0, 96.0, "fresh"), StoragePoint(100.0, 60.0, "not stated"))
CHART = StorageChart(
    "Iron over time", "parts of 100", "days", 1.0, 90.0, POINTS, CURVE,
    StorageKey("worked out", "may lie", "fresh", "anything else", "nobody"), ("Time", "Worked out", "Found"),
    (("10 days", "about 95", "A & B <2020>: 96"), ("100 days", "about 60", "C 2021: 60")), ("A note.",),
)  # fmt: skip


def _svg(chart: StorageChart = CHART) -> str:
    drawing = draw_storage(chart)
    assert drawing is not None
    return drawing.for_print


def _shapes(svg: str) -> list[tuple[list[list[tuple[float, float]]], str]]:
    found = []
    for d, style in re.findall(r'<path d="([^"]*)" style="([^"]*)"', svg):
        lines = [
            [(float(x), float(y)) for x, y in re.findall(r"(-?[\d.]+) (-?[\d.]+)", part)]
            for part in d.split("M")
            if part
        ]
        found.append((lines, style))
    return found


def _x(days: float) -> float:
    return LEFT + (RIGHT - LEFT) * days / 115.0


def _y(percent: float) -> float:
    return FLOOR - (FLOOR - TOP) * percent / 120.0


def _line_through(svg: str, width: str) -> list[tuple[float, float]]:
    (found,) = [
        lines[0] for lines, style in _shapes(svg) if f"stroke-width: {width}" in style and len(lines[0]) == len(CURVE)
    ]
    return found


def test_the_line_runs_from_the_shortest_to_the_longest_time_measured() -> None:
    line = _line_through(_svg(), "2.2")
    assert line == [pytest.approx((_x(days), _y(middle)), abs=0.02) for days, middle, _, _ in CURVE]


def test_what_nobody_measured_is_hatched_and_nothing_else_is() -> None:
    hatched = [
        line for lines, style in _shapes(_svg()) if "stroke-width: 0.8" in style and len(lines) > 3 for line in lines
    ]
    ends = [x for line in hatched for x, y in line if TOP - 0.1 <= y <= FLOOR + 0.1]
    assert ends
    assert all(x <= _x(10) + 0.1 or x >= _x(100) - 0.1 for x in ends)
    assert min(ends) == pytest.approx(LEFT, abs=0.1) and max(ends) == pytest.approx(RIGHT, abs=0.1)


def test_every_study_is_a_round_mark_full_only_for_fresh_milk() -> None:
    discs = [style for lines, style in _shapes(_svg()) if "stroke-width: 1.6" in style]
    assert len(discs) == len(POINTS) + 2  # and the two samples
    assert sum(f"fill: {INK}" in style for style in discs) == 2


def test_without_a_fit_there_are_marks_and_no_line() -> None:
    svg = _svg(replace(CHART, curve=()))
    assert "stroke-width: 2.2" not in svg and PALE not in svg
    assert "worked out" not in svg
    assert "Worked out" not in storage_table(replace(CHART, curve=()))


def test_a_study_that_found_more_is_not_cut_off() -> None:
    svg = _svg(replace(CHART, points=(*POINTS, StoragePoint(50.0, 180.0, "fresh"))))
    tops = [min(y for _, y in lines[0]) for lines, style in _shapes(svg) if "stroke-width: 1.6" in style]
    assert min(tops) > 0
    assert ">150<" in svg


def test_nothing_depends_on_colour_and_every_line_outlives_a_photocopy() -> None:
    svg = _svg()
    assert set(re.findall(r"#[0-9a-f]{6}", svg)) <= {INK, QUIET, PALE, PAPER}
    assert ACCENT not in svg
    assert all(float(width) >= 0.75 for width in re.findall(r"stroke-width: ([\d.]+)", svg))


def test_the_same_chart_gives_the_same_bytes() -> None:
    assert _svg() == _svg()


def test_nothing_measured_draws_nothing() -> None:
    assert draw_storage(replace(CHART, points=(), curve=())) is None


def test_table_and_words_say_all_of_it_and_stay_text() -> None:
    table, told = storage_table(CHART), storage_in_words(CHART)
    assert table.count('<th scope="row">') == 2 and "A &amp; B &lt;2020&gt;: 96" in table
    assert all(part in told for row in CHART.rows for part in row) and "A note." in told


def test_shipped_charts_stand_on_the_figures_of_their_studies(shipped_store: Store) -> None:
    evidence = path_evidence(shipped_store)
    words = PathWords(
        dict(evidence.components), {study.key: study for study in all_rows(shipped_store, Study)},
        load_catalogue(part="path"), load_catalogue(), evidence.rules,
    )  # fmt: skip
    drawn = 0
    for strand in evidence.strands("total-fat"):
        for store in stores_of(strand):
            answer = store_answer(strand, store, evidence.priors[strand.group], evidence.rules)
            chart = storage_chart(answer, words)
            if chart is None:
                continue
            drawn += 1
            assert len(chart.points) == sum(figure.times_in == 1 for figure in answer.figures)
            assert bool(chart.curve) == answer.fitted
            if chart.curve:
                days = [point.days for point in chart.points]
                assert chart.curve[0][0] == min(days)
                assert chart.curve[-1][0] <= max(answer.measured_days)
            assert draw_storage(chart) is not None
    assert drawn
