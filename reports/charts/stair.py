"""The stair: a path from fresh milk, one tread a step, solid where measured, dashed where joined, missing where not."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import Literal

from evidence.findings.path import PathAnswer, StepAnswer
from reports.charts.paper import INK, QUIET, RULE, Paper, for_page, for_print
from reports.charts.what_stays import ChartDrawing
from reports.words.catalogue import Catalogue
from reports.words.path_words import PathWords

__all__ = ["Stair", "Tread", "draw_stair", "stair_in_words", "stair_of", "stair_table"]

Mark = Literal["measured", "joined", "ends", "missing"]

# Geometry in points, y downwards; narrow, so that the letters keep their size on a phone.
WIDTH = 320.0
LEFT, RIGHT = 30.0, 316.0
TOP, FLOOR = 22.0, 192.0
MOST = 110.0  # parts of 100 at the upper edge; what reaches further ends in an arrow
SMALL = 10.5
LINE_HEIGHT = 12.5
MOST_NAMED = 5  # with more treads only numbers fit; the table names them
DASH, GAP = 5.0, 3.5
CAP = 4.0


@dataclass(frozen=True)
class Tread:
    """One step: its number and short word, its full name, and what is left of 100 in fresh milk at its end.

    middle is None where only ends can be given; all three are None where nothing can. rests: what it rests on.
    """

    number: int
    word: str
    name: str
    mark: Mark
    middle: float | None
    low: float | None
    high: float | None
    left: str
    rests: str


@dataclass(frozen=True)
class Stair:
    """A path to draw; labels come with it, in the reader's language."""

    title: str
    fresh: str
    axis: str
    marks: dict[Mark, str]
    headings: tuple[str, str, str]
    treads: tuple[Tread, ...]


def _mark(step: StepAnswer) -> Mark:
    if step.so_far.status is None or (step.so_far.ci_low is None and step.so_far.ci_high is None):
        return "missing"
    if step.so_far.status == "bounded":
        return "ends"
    return "measured" if step.direct else "joined"


def stair_of(answer: PathAnswer, words: PathWords) -> Stair:
    """Return an answer as a stair."""
    say = words.say
    treads = []
    for number, step in enumerate(answer.steps, start=1):
        mark, reach = _mark(step), step.so_far
        left = words.table_amount(reach) if mark != "missing" else say.say("chart/nothing")
        told = words.step(step, answer)
        treads.append(
            Tread(
                number, _word(step.asked.name, say), told.name, mark,
                reach.retained_percent if mark != "missing" else None, reach.ci_low, reach.ci_high, left, told.mark,
            )
        )  # fmt: skip
    marks: dict[Mark, str] = {
        "measured": say.say("chart/measured"),
        "joined": say.say("chart/joined"),
        "ends": say.say("chart/ends"),
        "missing": say.say("chart/missing"),
    }
    headings = (say.say("chart/step_heading"), say.say("chart/left_heading"), say.say("chart/rests_heading"))
    title = say.say("chart/title", component=words.name(answer))
    return Stair(title, say.say("chart/fresh"), say.say("chart/axis"), marks, headings, tuple(treads))


def _word(step: str, say: Catalogue) -> str:
    return say.say(f"tread/{step}") if say.has(f"tread/{step}") else step


def stair_in_words(stair: Stair) -> str:
    """Return the stair in sentences, for those who cannot see it."""
    said = [f"{tread.number}. {tread.name}: {tread.left}; {tread.rests}." for tread in stair.treads]
    return " ".join([f"{stair.title}.", *said])


def stair_table(stair: Stair) -> str:
    """Return the text table beside the drawing, as HTML."""
    head = "".join(f'<th scope="col">{escape(heading)}</th>' for heading in stair.headings)
    rows = "".join(
        f'<tr><th scope="row">{tread.number}. {escape(tread.name)}</th><td>{escape(tread.left)}</td>'
        f"<td>{escape(tread.rests)}</td></tr>"
        for tread in stair.treads
    )
    return f'<table class="stair"><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>'


def draw_stair(stair: Stair) -> ChartDrawing | None:
    """Draw the stair; None where no step has anything to draw."""
    if all(tread.mark == "missing" for tread in stair.treads):
        return None
    svg = _draw(stair).svg()
    return ChartDrawing(for_page(svg, "stair", stair_in_words(stair)), for_print(svg))


def _figure(percent: float) -> str:
    """Return a percentage as the drawing prints it, the same in every language."""
    return "<1" if percent < 0.5 else f"{percent:.0f}"


def _y(percent: float) -> float:
    return FLOOR - (FLOOR - TOP) * min(max(percent, 0.0), MOST) / MOST


def _draw(stair: Stair) -> Paper:
    used = [mark for mark in stair.marks if any(tread.mark == mark for tread in stair.treads)]
    height = FLOOR + 3.4 * LINE_HEIGHT + 10 + LINE_HEIGHT * 1.35 * len(used)
    paper = Paper(WIDTH, height)
    paper.text(LEFT - 26, TOP - 11, stair.axis, SMALL, QUIET)
    paper.paths([[(LEFT, _y(0)), (RIGHT, _y(0))], [(LEFT, _y(0)), (LEFT, _y(MOST))]], INK)
    for tick in (0, 25, 50, 75, 100):
        paper.path([(LEFT - 4, _y(tick)), (LEFT, _y(tick))], INK)
        paper.text(LEFT - 6, _y(tick) + 3.6, str(tick), SMALL, INK, "right")
    _dashed(paper, LEFT, RIGHT, _y(100), RULE, 0.9, (1.5, 3.0))
    wide = (RIGHT - LEFT) / (len(stair.treads) + 1)
    paper.path([(LEFT, _y(100)), (LEFT + wide, _y(100))], INK, 2.4)
    _name(paper, LEFT + wide / 2, stair.fresh)
    edge: float | None = _y(100)
    for place, tread in enumerate(stair.treads, start=1):
        x = LEFT + wide * place
        edge = _tread(paper, tread, x, wide, edge)
        many = len(stair.treads) > MOST_NAMED
        _name(paper, x + wide / 2, str(tread.number), "" if many else tread.word)
    y = FLOOR + 3.4 * LINE_HEIGHT
    for mark in used:
        y += LINE_HEIGHT * 1.35
        _sample(paper, mark, LEFT, y - 4)
        paper.text(LEFT + 40, y, stair.marks[mark], SMALL, INK)
    return paper


def _name(paper: Paper, x: float, *lines: str) -> None:
    for place, line in enumerate(line for text in lines for line in _short_lines(text)):
        paper.text(x, FLOOR + LINE_HEIGHT * (place + 1.05), line, SMALL, INK, "center")


def _short_lines(text: str) -> list[str]:
    return text.replace("-", "-\n").split("\n") if len(text) > 8 else [text]


def _tread(paper: Paper, tread: Tread, x: float, wide: float, edge: float | None) -> float | None:
    """Draw one tread between x and x + wide; return the height at which it is left, None where it is open."""
    middle = x + wide / 2
    if tread.mark == "missing":
        paper.text(middle, _y(50) + 4, "?", 16, INK, "center")
        return None
    if tread.mark == "ends":
        for end in (tread.high, tread.low):
            if end is not None and end < 100.5:
                _dashed(paper, x, x + wide, _y(end), INK, 2.0, (DASH, GAP))
        if tread.high is not None and tread.high < 100.5:
            paper.text(x + wide - 2, _y(tread.high) - 4, _figure(tread.high), SMALL, INK, "right")
        if tread.low is not None:
            paper.text(x + wide - 2, _y(tread.low) - 4, _figure(tread.low), SMALL, INK, "right")
        _interval(paper, middle, tread.low, tread.high)
        return None
    assert tread.middle is not None
    y = _y(tread.middle)
    if edge is not None:
        paper.path([(x, edge), (x, y)], INK, 0.9)
    if tread.mark == "measured":
        paper.path([(x, y), (x + wide, y)], INK, 2.4)
    else:
        _dashed(paper, x, x + wide, y, INK, 2.4, (DASH, GAP))
    paper.text(x + wide - 2, y - 4, _figure(tread.middle), SMALL, INK, "right")
    _interval(paper, middle, tread.low, tread.high)
    return y


def _interval(paper: Paper, x: float, low: float | None, high: float | None) -> None:
    """Rule what fits from low to high; an end that cannot be given, or lies beyond the edge, ends in an arrow."""
    top = TOP - 4 if high is None or high > MOST else _y(high)
    foot = _y(0) - 2 if low is None else _y(low)
    paper.path([(x, top), (x, foot)], INK, 1.1)
    arrows: list[tuple[float, float]] = []
    if high is None or high > MOST:
        arrows.append((top, 1.0))
    else:
        paper.path([(x - CAP, top), (x + CAP, top)], INK, 1.1)
    if low is None:
        arrows.append((foot, -1.0))
    else:
        paper.path([(x - CAP, foot), (x + CAP, foot)], INK, 1.1)
    for y, way in arrows:
        paper.path([(x - CAP, y + way * 6), (x, y), (x + CAP, y + way * 6)], INK, 1.1)


def _dashed(
    paper: Paper, left: float, right: float, y: float, colour: str, width: float, pattern: tuple[float, float]
) -> None:
    dash, gap = pattern
    starts = [left + place * (dash + gap) for place in range(int((right - left) / (dash + gap)) + 1)]
    paper.paths([[(x, y), (min(x + dash, right), y)] for x in starts if x < right], colour, width)


def _sample(paper: Paper, mark: Mark, x: float, y: float) -> None:
    if mark == "missing":
        paper.text(x + 16, y + 4, "?", 13, INK, "center")
    elif mark == "measured":
        paper.path([(x, y), (x + 32, y)], INK, 2.4)
    elif mark == "joined":
        _dashed(paper, x, x + 32, y, INK, 2.4, (DASH, GAP))
    else:
        _dashed(paper, x, x + 32, y - 3.5, INK, 2.0, (DASH, GAP))
        _dashed(paper, x, x + 32, y + 3.5, INK, 2.0, (DASH, GAP))
