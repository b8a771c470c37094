"""The storage-time sheet: what was still there after a time in one store, band by band; never how long milk keeps."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence

from evidence.findings.finding import Finding
from evidence.findings.storage import StoreAnswer
from evidence.model.tables import Guidance
from reports.charts.storage import draw_storage, storage_chart, storage_in_words
from reports.sheets.family.content import Drawing, Leaflet, Section, Table
from reports.sheets.family.maker import FamilyMaker
from reports.sheets.family.order import from_time
from reports.words.answers import component_words
from reports.words.brief import short_answer
from reports.words.named import component_name, statement_words
from reports.words.path_words import PathWords
from reports.words.told import Told

__all__ = ["storage_times"]

# the stores in the order in which a parent meets them, by the beginning of their handling keys
_PLACES = {
    "fridge": "chilled:", "freezer": "frozen:home:", "unstated": "frozen:not-stated:", "deep": "frozen:deep:",
    "powder": "kept:freeze-dried:",
}  # fmt: skip
_ON_SIDE_ONE = ("fridge", "freezer", "powder")
_STORES = {"fridge": "chilled", "freezer": "frozen:home", "deep": "frozen:deep"}
_SUPERSEDED = "Superseded"
_UNSTATED = "not-stated"
_TOPICS = {"storage refrigerator": 1, "storage freezer": 2}


def storage_times(
    maker: FamilyMaker, over_time: Sequence[StoreAnswer], road: PathWords, guidance: Sequence[Guidance]
) -> Leaflet:
    """Return the sheet; over_time are the stores in which times carry a rate of loss."""
    words = maker.words
    sections: list[Section] = []
    details: list[Section] = []
    curves: list[Drawing] = []
    used: list[Finding] = []
    for place, beginning in _PLACES.items():
        mine = _asked(beginning, maker)
        if mine:
            used += [finding for row in mine.values() for finding in row.values()]
            drawn = [answer for answer in over_time if answer.fitted and answer.store == _STORES.get(place)]
            (sections if place in _ON_SIDE_ONE else details).append(_place(place, mine, maker))
            curves += [each for answer in drawn if (each := _drawing(answer, road, maker)) is not None]
    sections += [_unknown(maker), *_authorities(guidance, maker)]
    if curves:
        said = (words.say("storage/curve_said"),)
        details.append(Section("curves", words.say("storage/curve"), said=said, drawings=tuple(curves)))
    return Leaflet(
        **maker.frame("storage-times", "storage"),
        intro=(words.say("storage/intro"), words.say("storage/compared")),
        sections=tuple(sections),
        details=tuple(details),
        sources=maker.sources(used),
    )


def _asked(beginning: str, maker: FamilyMaker) -> dict[tuple[str, str], dict[str, Finding]]:
    """Return answers by (row's name, component) and window of time; an unstated time is no time and is left out.

    A row has what parents ask about most, and what else they ask about where two times have a number; of a
    component's forms and kinds of measure the one measured at most times.
    """
    rows: dict[tuple[str, str], dict[str, Finding]] = {}
    most = maker.sheets.rules.path.most_asked
    for component, found in maker.findings.items():
        stores: dict[str, dict[tuple[str, str], dict[str, Finding]]] = defaultdict(lambda: defaultdict(dict))
        for finding in found:
            store, _, window = finding.handling.rpartition(":")
            timed = finding.handling.startswith(beginning) and "+" not in finding.handling and window[:-1] != _UNSTATED
            if timed and finding.state != "listed_only":
                stores[store][finding.form, finding.measured_as][window] = finding
        for store, forms in stores.items():
            windows = max(forms.values(), key=_reach)
            figures = sum(finding.pooled is not None for finding in windows.values())
            asked = maker.component(component).question_worthy == "1"
            if component in most or (asked and figures > 1):
                first = next(iter(windows.values()))
                rows[_row_name(first, store, beginning, maker), component] = windows
    return dict(sorted(rows.items(), key=lambda item: item[0][0].lower()))


def _reach(windows: dict[str, Finding]) -> tuple[int, int, int]:
    figures = sum(finding.pooled is not None for finding in windows.values())
    return figures, len(windows), sum(len(finding.every_study) for finding in windows.values())


def _row_name(finding: Finding, store: str, beginning: str, maker: FamilyMaker) -> str:
    name = component_words(finding, maker.sheets.library, maker.say)
    band = f"{store}:".removeprefix(beginning).rstrip(":")
    if not band:
        return name[:1].upper() + name[1:]
    return maker.words.say("storage/kept_at", component=name, where=maker.say.say(f"band/{band}"))


def _place(place: str, rows: dict[tuple[str, str], dict[str, Finding]], maker: FamilyMaker) -> Section:
    words, say = maker.words, maker.say
    windows = sorted({window for row in rows.values() for window in row}, key=lambda window: from_time(f":{window}"))
    heading = words.say(f"storage/{place}")
    columns = [_heading(window, say.say) for window in windows]
    table = Table(
        words.say("storage/caption", place=heading),
        (words.say("storage/part"), *columns),
        tuple((name, *(_cell(row.get(window), maker) for window in windows)) for (name, _), row in rows.items()),
    )
    said = (words.say("storage/powder_said"),) if place == "powder" else ()
    return Section(place, heading, said=said, tables=(table,))


def _heading(window: str, say: Callable[..., str]) -> str:
    text = say(f"band/{window[-1]}:{window[:-1]}")
    return text[:1].upper() + text[1:]


def _cell(finding: Finding | None, maker: FamilyMaker) -> str:
    words = maker.words
    if finding is None:
        return words.say("storage/unmeasured")
    answer = short_answer(finding, maker.sheets.library, maker.say)
    if finding.state == "listed_only":
        return words.say("storage/listed", answer=answer)
    sure = maker.say.say(f"sure_word/{finding.certainty.level}")
    return Told(words.say("storage/cell", answer=answer, sure=sure), finding.number)


def _drawing(answer: StoreAnswer, road: PathWords, maker: FamilyMaker) -> Drawing | None:
    chart = storage_chart(answer, road)
    drawing = draw_storage(chart) if chart is not None else None
    if chart is None or drawing is None:
        return None
    store = f"{answer.store}:"
    behind = [
        finding.number
        for finding in maker.findings.get(answer.component, ())
        if finding.handling.startswith(store) and finding.form == answer.form
    ]
    table = Table(
        chart.title,
        chart.headings,
        tuple(tuple(Told(cell, *behind) for cell in row) for row in chart.rows),
    )
    words = Told(storage_in_words(chart), *behind)
    return Drawing(chart.title, drawing.for_page, drawing.for_print, words, " ".join(chart.notes), table)


def _unknown(maker: FamilyMaker) -> Section:
    """Return what nobody knows: which of the most asked parts have no number in kept powder."""
    words, most = maker.words, maker.sheets.rules.path.most_asked
    silent = [
        component_name(maker.component(component), maker.say)
        for component in most
        if not any(
            finding.handling.startswith(_PLACES["powder"]) and finding.figure_studies
            for finding in maker.findings.get(component, ())
        )
    ]
    powder = [words.say("storage/unknown_powder", components=maker.say.joined(silent))] if silent else []
    points = (*powder, words.say("storage/unknown_between"))
    return Section("unknown", words.say("storage/unknown"), points=points)


def _authorities(guidance: Iterable[Guidance], maker: FamilyMaker) -> list[Section]:
    """Return what authorities say, side by side, the service's own country first."""
    words = maker.words
    rows: dict[tuple[str, ...], dict[str, list[Guidance]]] = defaultdict(lambda: defaultdict(list))
    for each in guidance:
        if each.topic in _TOPICS and not each.statement_in_own_words.startswith(_SUPERSEDED):
            rows[each.country, each.authority, each.document_title, each.year][each.topic].append(each)
    if not rows:
        return []
    home = maker.settings.country
    ordered = sorted(rows.items(), key=lambda item: (item[0][0] != home, item[0]))
    table = Table(
        words.say("storage/guidance_caption"),
        tuple(words.say(f"storage/{name}") for name in ("authority", "fridge_column", "freezer_column", "document")),
        tuple(
            (
                words.say("storage/by", authority=authority, country=country),
                *(_quoted(topics[topic], maker) for topic in _TOPICS),
                words.say("storage/dated" if year else "storage/undated", document=document, year=year),
            )
            for (country, authority, document, year), topics in ordered
        ),
    )
    said = (words.say("storage/guidance_said"),)
    return [Section("authorities", words.say("storage/guidance"), said=said, tables=(table,))]


def _figure(each: Guidance, maker: FamilyMaker) -> str:
    key = f"storage/unit/{each.unit}"
    if each.figure.isdigit() and maker.words.has(key):
        return maker.words.count(key, int(each.figure))
    return f"{each.figure} {each.unit}"


def _quoted(said: Sequence[Guidance], maker: FamilyMaker) -> str:
    words = maker.words
    told = [
        words.say(
            "storage/said_figure" if each.figure else "storage/said_plain",
            said=statement_words(each, words), figure=_figure(each, maker),
        )
        for each in said
    ]  # fmt: skip
    return Told(words.apart(told), *(each.id for each in said)) if told else words.say("storage/no_word")
