"""The pages of the family, composed once from the shipped evidence, for tests that read them."""

from __future__ import annotations

from functools import lru_cache

from evidence.findings import findings
from evidence.model.rules import load_rules
from evidence.store import Store
from reports.sheets.compose import SheetMaker
from reports.sheets.family.content import FamilyPage, Line, Section
from reports.sheets.family.maker import FamilyMaker
from reports.site.compose import Site, compose_site
from reports.words.catalogue import load_catalogue
from reports.words.choose import by_component
from reports.words.library import load_library

__all__ = ["every_line", "every_section", "family_maker", "site_of", "words_of"]


@lru_cache(maxsize=4)
def site_of(store: Store, unbranded: bool = False) -> Site:
    """The site of a store, composed once."""
    return compose_site(store, unbranded=unbranded)


def family_maker(store: Store, *, unbranded: bool = False, language: str = "en") -> FamilyMaker:
    """A maker as the site uses it."""
    library = load_library(store)
    sheets = SheetMaker(library, load_rules(), load_catalogue(language))
    pages = {component: component for component in library.components}
    found = by_component(findings(store))
    return FamilyMaker(sheets, load_catalogue(language, "family"), found, pages, unbranded)


def every_section(page: FamilyPage) -> list[Section]:
    """All sections of a page, inner ones after the one they stand in."""
    found: list[Section] = []
    waiting = [*getattr(page, "chapters", getattr(page, "sections", ())), *getattr(page, "details", ())]
    while waiting:
        section = waiting.pop(0)
        found.append(section)
        waiting = [*section.sections, *waiting]
    return found


def every_line(page: FamilyPage) -> list[Line]:
    """All answers of a page."""
    return [line for section in every_section(page) for line in section.lines]


def words_of(page: FamilyPage) -> list[str]:
    """Every sentence of a page's own, cautions and foot left out."""
    said = [page.title, *page.intro, *page.what_to_do]
    for section in every_section(page):
        said += [section.heading, *section.said, *section.points]
        said += [f"{line.lead} {line.answer}" for line in section.lines]
        said += [cell for table in section.tables for row in table.rows for cell in row]
    return said
