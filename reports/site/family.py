"""The pages beside the sheets, composed for the site, and the links between them and the sheets."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

from evidence.findings.over_time import fitted_stores
from evidence.findings.path_store import path_evidence
from evidence.model.tables import Guidance
from evidence.store.connection import Store
from evidence.store.reading import all_rows
from reports.sheets.brand import dressed
from reports.sheets.content import SheetContent
from reports.sheets.family.card import counter_card
from reports.sheets.family.comparison import comparison
from reports.sheets.family.content import FamilyPage
from reports.sheets.family.from_fresh import from_fresh
from reports.sheets.family.maker import FamilyMaker
from reports.sheets.family.overview import overview
from reports.sheets.family.smell import smell_and_taste
from reports.sheets.family.storage import storage_times
from reports.sheets.layout import file_name
from reports.site.dossier import dossier
from reports.words.catalogue import load_catalogue
from reports.words.path_words import PathWords

__all__ = ["Family", "family_of"]

_WAYS = "-ways"


@dataclasses.dataclass(frozen=True)
class Family:
    """The sheets with their links to more pages, those pages, and the links for the list: their text and file name."""

    sheets: tuple[SheetContent, ...]
    pages: tuple[FamilyPage, ...]
    links: tuple[tuple[str, str], ...]


def family_of(sheets: Sequence[SheetContent], maker: FamilyMaker, store: Store) -> Family:
    """Return all pages beside the sheets of one edition, and the sheets with links to them."""
    ways = {sheet.slug: page for sheet in sheets if (page := comparison(sheet.slug, maker)) is not None}
    composed = (
        ("overview", overview(maker)),
        ("smell", smell_and_taste(maker)),
        ("storage", storage_times(maker, fitted_stores(store), _road(maker), all_rows(store, Guidance))),
        ("dossier", dossier(maker, store)),
    )
    about_all = [(kind, page) for kind, page in composed if page is not None]
    links = tuple((maker.words.say(f"more/{kind}"), file_name(page)) for kind, page in about_all)
    pages: list[FamilyPage] = [page for _, page in about_all]
    evidence = path_evidence(store)
    linked = []
    for sheet in sheets:
        card = counter_card(sheet.slug, sheet.answers[0].heading, maker)
        whole_way = from_fresh(sheet.slug, evidence, _road(maker), maker)
        made = (("from_fresh", whole_way), ("comparison", ways.get(sheet.slug)), ("card", card))
        mine = {kind: page for kind, page in made if page is not None}
        back = (maker.words.say("more/sheet", component=sheet.component), file_name(sheet))
        pages += [
            page if maker.unbranded else dataclasses.replace(page, more_pages=(back, *links)) for page in mine.values()
        ]
        own = tuple((maker.words.say(f"more/{kind}"), file_name(page)) for kind, page in mine.items())
        linked.append(sheet if maker.unbranded else dataclasses.replace(sheet, more_pages=(*own, *links)))
    dress = load_catalogue(maker.words.language, "settings")
    return Family(tuple(linked), tuple(dressed(page, maker.settings, dress) for page in pages), links)


def _road(maker: FamilyMaker) -> PathWords:
    """Return the words of storage charts."""
    library, language = maker.sheets.library, maker.words.language
    path = load_catalogue(language, "path")
    return PathWords(library.components, library.studies, path, maker.say, maker.sheets.rules)
