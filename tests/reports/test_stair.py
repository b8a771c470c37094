"""The stair: treads where the numbers say, solid, dashed or missing, readable without colour and without eyes."""

from __future__ import annotations

import re

import pytest

from evidence.findings.path_store import path_evidence
from evidence.handling import parse_chain
from evidence.model.tables import Study
from evidence.store import Store
from evidence.store.reading import all_rows
from reports.charts.paper import INK, QUIET, RULE
from reports.charts.stair import FLOOR, MOST, TOP, Mark, Stair, Tread, draw_stair, stair_in_words, stair_of, stair_table
from reports.words.catalogue import load_catalogue
from reports.words.path_words import PathWords

MARKS: dict[Mark, str] = {
    "measured": "measured", "joined": "worked out by joining", "ends": "at most and at least", "missing": "not measured"
}  # fmt: skip


def _tread(number: int, mark: Mark, middle: float | None, low: float | None, high: float | None) -> Tread:
    return Tread(number, "frozen", f"freezing {number} <&>", mark, middle, low, high, f"about {middle}", "one study")


def _stair(*treads: Tread) -> Stair:
    return Stair("Iron: what is left", "fresh", "parts of 100", MARKS, ("Step", "Left", "Rests on"), treads)


def _svg(*treads: Tread) -> str:
    drawing = draw_stair(_stair(*treads))
    assert drawing is not None
    return drawing.for_print


def _paths(svg: str) -> list[tuple[list[list[tuple[float, float]]], float]]:
    """Every path as its separate lines of corner points, and how thick it is."""
    found = []
    for d, style in re.findall(r'<path d="([^"]*)" style="([^"]*)"', svg):
        lines = [
            [(float(x), float(y)) for x, y in re.findall(r"([\d.]+) ([\d.]+)", part)] for part in d.split("M") if part
        ]
        width = re.search(r"stroke-width: ([\d.]+)", style)
        found.append((lines, float(width[1]) if width else 1.0))
    return found


def _level(percent: float) -> float:
    return FLOOR - (FLOOR - TOP) * percent / MOST


def _at(svg: str, percent: float) -> list[tuple[int, float]]:
    """The level lines at a height: of how many pieces, how thick."""
    return [
        (len(lines), width)
        for lines, width in _paths(svg)
        if width >= 2 and all(abs(y - _level(percent)) < 0.02 for line in lines for _, y in line)
    ]


def test_a_measured_tread_is_one_solid_line_at_its_height() -> None:
    assert [pieces for pieces, _ in _at(_svg(_tread(1, "measured", 80, 70, 90)), 80)] == [
        1,
    ]


def test_a_joined_tread_is_dashed() -> None:
    ((pieces, _),) = _at(_svg(_tread(1, "joined", 80, 70, 90)), 80)
    assert pieces > 3


def test_two_ends_are_two_dashed_lines_and_no_middle() -> None:
    svg = _svg(_tread(1, "ends", None, 20, 60))
    assert _at(svg, 20)[0][0] > 3 and _at(svg, 60)[0][0] > 3
    assert not _at(svg, 40)


def test_a_step_nobody_measured_has_no_tread_and_a_question_mark() -> None:
    svg = _svg(_tread(1, "measured", 80, 70, 90), _tread(2, "missing", None, None, None))
    assert svg.count(">?<") == 2  # on the stair and in the key
    solid = [lines for lines, width in _paths(svg) if width >= 2 and len(lines) == 1]
    assert len(solid) == 3  # fresh, the measured step, the key


def test_fresh_milk_stands_at_a_hundred() -> None:
    assert len(_at(_svg(_tread(1, "measured", 80, 70, 90)), 100)) == 1


def test_intervals_reach_from_low_to_high() -> None:
    svg = _svg(_tread(1, "measured", 80, 70, 90))
    uprights = [
        sorted(y for _, y in line) for lines, _ in _paths(svg) for line in lines if len({x for x, _ in line}) == 1
    ]
    assert any(ends == pytest.approx([_level(90), _level(70)], abs=0.02) for ends in uprights)


def test_an_end_that_cannot_be_given_is_an_arrow() -> None:
    def arrows(low: float | None, high: float | None) -> int:
        return sum(len(line) == 3 for lines, _ in _paths(_svg(_tread(1, "ends", None, low, high))) for line in lines)

    assert arrows(20, 60) < arrows(None, 60) < arrows(None, 250)


def test_nothing_known_draws_nothing() -> None:
    assert draw_stair(_stair(_tread(1, "missing", None, None, None))) is None


def test_every_line_is_ink_thick_enough_for_a_photocopy() -> None:
    svg = _svg(_tread(1, "measured", 80, 70, 90), _tread(2, "joined", 60, 40, 90), _tread(3, "ends", None, 9, 60))
    assert set(re.findall(r"#[0-9a-f]{6}", svg)) <= {INK, QUIET, RULE}
    assert all(width >= 0.75 for _, width in _paths(svg))


def test_the_same_stair_gives_the_same_bytes() -> None:
    assert _svg(_tread(1, "joined", 80, 70, 90)) == _svg(_tread(1, "joined", 80, 70, 90))


def test_words_and_table_say_every_step_to_those_who_cannot_see() -> None:
    stair = _stair(_tread(1, "measured", 80, 70, 90), _tread(2, "missing", None, None, None))
    assert all(tread.name in stair_in_words(stair) for tread in stair.treads)
    table = stair_table(stair)
    assert table.count('<th scope="row">') == 2
    assert "freezing 1 &lt;&amp;&gt;" in table and "<&>" not in table
    drawing = draw_stair(stair)
    assert drawing is not None
    assert 'role="img"' in drawing.for_page and "aria-label=" in drawing.for_page and "<&>" not in drawing.for_page


def test_many_steps_are_numbered_and_none_falls_off() -> None:
    svg = _svg(*(_tread(number, "joined", 100 - 8 * number, 10, 99) for number in range(1, 9)))
    assert ">8<" in svg and ">frozen<" not in svg
    right = max(x for lines, _ in _paths(svg) for line in lines for x, _ in line)
    assert right <= 320


def test_the_shipped_path_of_vitamin_c_is_drawn_as_it_is_told(shipped_store: Store) -> None:
    evidence = path_evidence(shipped_store)
    words = PathWords(
        dict(evidence.components), {study.key: study for study in all_rows(shipped_store, Study)},
        load_catalogue(part="path"), load_catalogue(), evidence.rules,
    )  # fmt: skip
    chain = "expressed > frozen -20C 60d > thawed > freeze-dried > kept 22C 120d > reconstituted"
    answer = evidence.answer("vitamin-c", parse_chain(chain), thorough=False)
    stair = stair_of(answer, words)
    assert [tread.mark for tread in stair.treads] == ["ends", "ends", "missing"]
    assert stair.treads[1].high == answer.steps[1].so_far.ci_high
    assert draw_stair(stair) is not None
