"""A component's whole way from fresh milk to the shelf: the stair, each step on its own, and what would settle it."""

from __future__ import annotations

from evidence.findings.path_store import PathEvidence
from evidence.handling import parse_chain
from reports.charts.stair import draw_stair, stair_in_words, stair_of
from reports.sheets.family.content import Drawing, Leaflet, Section, Table
from reports.sheets.family.maker import FamilyMaker
from reports.words.named import component_name
from reports.words.path_words import PathWords
from reports.words.told import EDITION, Told

__all__ = ["from_fresh"]


def from_fresh(component: str, evidence: PathEvidence, road: PathWords, maker: FamilyMaker) -> Leaflet | None:
    """Return the page, or None where no step of the usual way has a figure."""
    answer = evidence.answer(component, parse_chain(evidence.rules.path.standard_chain))
    if not any(step.amount is not None for step in answer.steps):
        return None
    say = road.say
    rows = [row for step in answer.steps for study in step.studies for row in study.rows]
    stair = stair_of(answer, road)
    drawing = draw_stair(stair)
    table = Table(
        stair.title,
        stair.headings,
        tuple(
            (
                Told(say.say("sheet/step", number=tread.number, step=tread.name), EDITION),
                Told(tread.left, *rows),
                Told(tread.rests, EDITION),
            )
            for tread in stair.treads
        ),
    )
    drawn: tuple[Drawing, ...] = ()
    if drawing is not None:
        words = Told(stair_in_words(stair), *rows)
        drawn = (Drawing(stair.title, drawing.for_page, drawing.for_print, words, say.say("page/caption"), table),)
    told = [road.step(step, answer) for step in answer.steps]
    steps = []
    for place, (each, step) in enumerate(zip(told, answer.steps, strict=True), start=1):
        behind = [row for study in step.spoken_by for row in study.rows]
        # where nobody looked, the edition as a whole says so
        said = tuple(Told(line[:1].upper() + line[1:], *(behind or [EDITION])) for line in each.lines)
        steps.append(
            Section(f"step-{place}", Told(say.say("sheet/step", number=place, step=each.name), EDITION), said=said)
        )
    readings, missing, agreement = road.readings(answer), road.missing(answer), road.agreement(answer)
    sections = [Section("stair", say.say("page/picture"), drawings=drawn, tables=() if drawn else (table,))]
    if readings:
        points = tuple(Told(line, *rows) for line in readings)
        sections.append(Section("two-ends", say.say("page/readings"), points=points))
    sections.append(Section("steps", say.say("page/one_by_one"), sections=tuple(steps)))
    if missing:
        sections.append(
            Section("missing", say.say("missing/lead"), points=tuple(Told(f"{line}.", EDITION) for line in missing))
        )
    if agreement:
        sections.append(Section("agreement", say.say("page/agreement"), said=(Told(agreement, *rows),)))
    keys = dict.fromkeys(each.study for step in answer.steps for each in step.spoken_by)
    way = road.road([step.asked for step in answer.steps])
    name = component_name(maker.component(component), road.plain)
    return Leaflet(
        **maker.frame(f"{component}-from-fresh", "from_fresh", component=name),
        intro=(Told(" ".join(road.headline(answer)), *rows, EDITION), Told(say.say("page/intro", steps=way), EDITION)),
        sections=tuple(sections),
        sources=tuple(maker.sheets.source(key, number) for number, key in enumerate(keys, start=1)),
    )
