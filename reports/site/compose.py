"""The whole site of one edition: every component's sheet, and the list of them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from evidence.findings import ensure_evidence, findings, other_choices
from evidence.findings.finding import Finding
from evidence.findings.reading_sources import reading_list
from evidence.model.rules import load_rules
from evidence.model.tables import Appraisal, Component, ComponentName, Measurement
from evidence.store.connection import Store
from evidence.store.reading import all_rows
from reports.settings import PLAIN, Settings
from reports.sheets.brand import brand_of, dressed, service_line
from reports.sheets.compose import SheetMaker
from reports.sheets.content import SheetContent
from reports.sheets.family.content import FamilyPage
from reports.sheets.family.maker import FamilyMaker
from reports.sheets.in_a_day import day_part
from reports.sheets.layout import file_name
from reports.site.evidence_pages import EvidencePage, evidence_pages
from reports.site.family import family_of
from reports.site.index import AnswerKind, IndexContent, IndexEntry
from reports.words.brief import short_answer
from reports.words.catalogue import LANGUAGES, Catalogue, load_catalogue
from reports.words.choose import DRYING, FREEZING, by_component, has_sheet, leading
from reports.words.in_a_day import DayWords
from reports.words.library import Library, load_library
from reports.words.named import caution_text, group_name, page_name
from reports.words.told import EDITION, Told
from reports.words.typography import sort_key

__all__ = ["Site", "compose_site"]


@dataclass(frozen=True)
class Site:
    """All sheets and the list, ready for layout; the pages of studies and measurements, and the rest of the family.

    texts are plain files written as they are: name and text.
    """

    sheets: tuple[SheetContent, ...]
    index: IndexContent
    evidence: tuple[EvidencePage, ...]
    family: tuple[FamilyPage, ...]
    texts: tuple[tuple[str, str], ...] = ()

    @property
    def pages(self) -> tuple[SheetContent | FamilyPage, ...]:
        """Every page that is laid out as HTML and PDF."""
        return (*self.sheets, *self.family)


def compose_site(
    store: Store,
    *,
    unbranded: bool = False,
    language: str = "en",
    languages: Sequence[str] = (),
    banner: str = "",
    settings: Settings = PLAIN,
) -> Site:
    """Word every component with at least one row on drying or freezing; banner stands on every page.

    languages are all that are built together, the one of the folder itself first; each page links to its twins.
    settings dress the pages; an unbranded twin takes of them what is not the brand.
    """
    ensure_evidence(store)
    rules, say = load_rules(), load_catalogue(language)
    found, library = by_component(findings(store)), load_library(store)
    rows: dict[str, list[Measurement]] = defaultdict(list)
    for row in library.measurements.values():
        rows[row.component].append(row)
    synonyms: dict[str, list[str]] = defaultdict(list)
    for name in all_rows(store, ComponentName):
        if name.language == language:
            synonyms[name.component].append(name.name)
    day = day_part(store, rules.in_a_day, settings, DayWords(library, say, settings.units))
    maker = SheetMaker(library, rules, say, banner, other_choices(store), day)
    together = () if unbranded else languages  # an unbranded page goes out alone
    chosen = [component for key, component in sorted(library.components.items()) if has_sheet(rows[key])]
    own = load_catalogue(language, "settings")
    sheets = tuple(
        dressed(
            maker.sheet(component, found.get(component.id, []), rows[component.id], unbranded=unbranded), settings, own
        )
        for component in chosen
    )
    names = {sheet.slug: file_name(sheet) for sheet in sheets}
    folder = f"{language}/" if languages and language != languages[0] else ""
    beside = FamilyMaker(maker, load_catalogue(language, "family"), found, names, unbranded, settings, folder)
    family = family_of(sheets, beside, store)
    entries = tuple(
        _entry(
            component,
            found.get(component.id, []),
            synonyms[component.id],
            names[component.id],
            library,
            say,
            family.of_component[component.id],
        )
        for component in sorted(chosen, key=lambda each: (group_name(each, say), sort_key(page_name(each, say))))
    )
    index = IndexContent(
        title=say.say("index/title"),
        intro=(
            Told(
                say.say(
                    "index/intro", components=len(chosen), studies=library.edition.studies, rows=library.edition.rows
                ),
                EDITION,
            ),
            say.say("index/how_to_read"),
        ),
        entries=entries,
        cautions=tuple(caution_text(caution, say) for caution in library.cautions),
        interest=say.say("foot/unbranded" if unbranded else "foot/interest"),
        evidence_of=say.say("foot/evidence_of", date=say.date(date.fromisoformat(library.edition.evidence_of))),
        edition=say.say("foot/edition", edition=library.edition.hash[:12]),
        language=language,
        languages=_twins("index", language, together),
        banner=banner,
        brand=None if unbranded else brand_of(settings, own),
        service="" if unbranded else service_line(settings, own),
        paper=settings.paper,
        links=(
            *family.links,
            (say.say("evidence/table_title"), "measurements.html"),
            (say.say("evidence/all_studies"), "measurements.html#studies"),
            (say.say("evidence/reading_title"), "reading-list.html"),
            (say.say("calibration/title"), "calibration.html"),
        ),
        sure_order=tuple(say.say(f"sure_word/{level}") for level in ("high", "moderate", "low", "very low")),
    )
    numbers = {
        row: finding.number
        for mine in found.values()
        for finding in mine
        for each in finding.every_study
        for row in each.rows
    }
    pages = evidence_pages(
        library,
        all_rows(store, Appraisal),
        numbers,
        names,
        [] if banner else reading_list(store),  # an invented series sends nobody to the library
        say,
        index,
    )
    return Site(
        tuple(replace(each, languages=_twins(file_name(each), language, together)) for each in family.sheets),
        index,
        pages,
        tuple(replace(each, languages=_twins(file_name(each), language, together)) for each in family.pages),
        family.texts,
    )


def _twins(page: str, language: str, languages: Sequence[str]) -> tuple[tuple[str, str, str], ...]:
    """Return the same page in the other languages: code, the language's own name, address from this page."""
    first = languages[0] if languages else language
    up = "" if language == first else "../"
    return tuple(
        (each, LANGUAGES[each], f"{up}{'' if each == first else each + '/'}{page}.html")
        for each in languages
        if each != language
    )


def _entry(
    component: Component,
    found: Sequence[Finding],
    synonyms: Sequence[str],
    page: str,
    library: Library,
    say: Catalogue,
    more: tuple[tuple[str, str], ...],
) -> IndexEntry:
    dried, frozen = leading(found, DRYING), leading(found, FREEZING)
    answers = tuple(
        _answer(say.say(f"index/{label}"), first, library, say)
        for label, first in (("dried", _first(dried)), ("frozen", _first(frozen)))
    )
    told = [finding for finding in (_first(dried), _first(frozen)) if finding is not None]
    kind: AnswerKind = "none"
    if any(finding.pooled is not None for finding in told):
        kind = "figures"
    elif any(finding.said or finding.studies for finding in told):
        kind = "words"
    sure = next((finding.certainty.level for finding in told if finding.state != "listed_only"), None)
    word = "" if sure is None else say.say(f"sure_word/{sure}")
    others = tuple(name for name in synonyms if name != page_name(component, say))
    return IndexEntry(page, page_name(component, say), group_name(component, say), others, answers, word, kind, more)


def _answer(label: str, first: Finding | None, library: Library, say: Catalogue) -> tuple[str, str, str]:
    number = first.number if first is not None else ""
    return label, Told(short_answer(first, library, say), number), number


def _first(found: Sequence[Finding]) -> Finding | None:
    return found[0] if found else None
