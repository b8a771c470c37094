"""The pages beside the sheets, composed for the site, and the links between them and the sheets."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from typing import TypeVar

from evidence.findings.over_time import fitted_stores
from evidence.findings.path_store import path_evidence
from evidence.model.tables import Guidance
from evidence.store.connection import Store
from evidence.store.reading import all_rows
from reports.sheets.brand import dressed
from reports.sheets.content import PageContent, SheetContent
from reports.sheets.family.card import counter_card
from reports.sheets.family.comparison import comparison
from reports.sheets.family.content import FamilyPage
from reports.sheets.family.from_fresh import from_fresh
from reports.sheets.family.maker import FamilyMaker
from reports.sheets.family.overview import overview
from reports.sheets.family.smell import smell_and_taste
from reports.sheets.family.storage import storage_times
from reports.sheets.family.words_to_send import words_to_send
from reports.sheets.layout import file_name
from reports.site.dossier import dossier
from reports.words.catalogue import load_catalogue
from reports.words.path_words import PathWords

__all__ = ["Family", "family_of"]

Link = tuple[str, str]
P = TypeVar("P", bound=PageContent)


@dataclasses.dataclass(frozen=True)
class Family:
    """The sheets with their links to more pages, those pages, plain texts, and links by what they lead to.

    links go to the pages over all components, of_component (briefly worded) to those of one, by the sheet's slug: text
    and file name each. texts are files that are written as they are: name and text.
    """

    sheets: tuple[SheetContent, ...]
    pages: tuple[FamilyPage, ...]
    links: tuple[Link, ...]
    of_component: dict[str, tuple[Link, ...]]
    texts: tuple[tuple[str, str], ...]


def family_of(sheets: Sequence[SheetContent], maker: FamilyMaker, store: Store) -> Family:
    """Return all pages beside the sheets of one edition, and the sheets with links to them."""
    composed = (
        ("overview", overview(maker)),
        ("smell", smell_and_taste(maker)),
        ("storage", storage_times(maker, fitted_stores(store), _road(maker), all_rows(store, Guidance))),
        # an invented series has no dossier: what it says of reading and counting would not be true of it
        ("dossier", None if maker.sheets.banner else dossier(maker, store)),
    )
    about_all = [(kind, page) for kind, page in composed if page is not None]
    links = tuple(_link(kind, page, maker) for kind, page in about_all)
    pages: list[FamilyPage] = [page for _, page in about_all]
    evidence = path_evidence(store)
    linked, texts, of_component = [], [], {}
    for sheet in sheets:
        made = (
            ("from_fresh", from_fresh(sheet.slug, evidence, _road(maker), maker)),
            ("comparison", comparison(sheet.slug, maker)),
            ("card", counter_card(sheet.slug, sheet.answers[0].heading, maker)),
        )
        mine = [(kind, page) for kind, page in made if page is not None]
        back = (maker.words.say("more/sheet", component=sheet.component), f"{file_name(sheet)}.html")
        pages += [_with_more(page, (back, *links)) for _, page in mine]
        files = [(kind, f"{file_name(page)}.html") for kind, page in mine]
        text = words_to_send(sheet, maker)
        if text:
            files.append(("words", f"{file_name(sheet)}-words.txt"))
            texts.append((files[-1][1], text))
        of_component[sheet.slug] = tuple((maker.words.say(f"more_short/{kind}"), file) for kind, file in files)
        own = tuple((maker.words.say(f"more/{kind}"), file) for kind, file in files)
        linked.append(_with_more(sheet, (*own, *links)))
    own_words = load_catalogue(maker.words.language, "settings")
    dressed_pages = tuple(dressed(page, maker.settings, own_words) for page in pages)
    return Family(tuple(linked), dressed_pages, links, of_component, tuple(texts))


def _link(kind: str, page: FamilyPage, maker: FamilyMaker) -> Link:
    return maker.words.say(f"more/{kind}"), f"{file_name(page)}.html"


def _with_more(page: P, links: tuple[Link, ...]) -> P:
    """Return a page with its links to more; an unbranded one carries none."""
    return page if page.unbranded else dataclasses.replace(page, more_pages=links)


def _road(maker: FamilyMaker) -> PathWords:
    """Return the words of storage charts."""
    library, language = maker.sheets.library, maker.words.language
    path = load_catalogue(language, "path")
    return PathWords(library.components, library.studies, path, maker.say, maker.sheets.rules)
