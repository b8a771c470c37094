"""A component's way from fresh milk: the stair with its table, each step on its own, and what would settle it."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from pypdf import PdfReader

from evidence.findings.path_store import PathEvidence, path_evidence
from evidence.handling import parse_chain
from evidence.store import Store
from reports.sheets.family.content import Leaflet
from reports.sheets.family.from_fresh import from_fresh
from reports.sheets.family.maker import FamilyMaker
from reports.sheets.family.render import render_family_html, render_family_pdf
from reports.sheets.pdf import PdfRenderer
from reports.words.catalogue import load_catalogue
from reports.words.path_words import PathWords
from tests.reports.browser import in_browser
from tests.reports.family_pages import every_section, family_maker, site_of, words_of
from tests.reports.markup import read_page


@pytest.fixture(scope="module")
def maker(shipped_store: Store) -> FamilyMaker:
    return family_maker(shipped_store)


@pytest.fixture(scope="module")
def evidence(shipped_store: Store) -> PathEvidence:
    return path_evidence(shipped_store)


@pytest.fixture(scope="module")
def pages(maker: FamilyMaker, evidence: PathEvidence) -> dict[str, Leaflet]:
    library = maker.sheets.library
    road = PathWords(library.components, library.studies, load_catalogue(part="path"), maker.say, maker.sheets.rules)
    asked = ("vitamin-c", "total-fat", "iga", "lactose", "total-bacteria", "vitamin-a")
    made = {component: from_fresh(component, evidence, road, maker) for component in asked}
    return {component: page for component, page in made.items() if page is not None}


def test_a_page_stands_only_where_a_step_has_a_figure(pages: dict[str, Leaflet], evidence: PathEvidence) -> None:
    chain = parse_chain(evidence.rules.path.standard_chain)
    for component in ("vitamin-c", "total-fat", "iga", "lactose", "total-bacteria", "vitamin-a"):
        answer = evidence.answer(component, chain, thorough=False)
        assert (component in pages) == any(step.amount is not None for step in answer.steps)
    assert "vitamin-c" in pages and "total-bacteria" not in pages


def test_the_stair_stands_beside_its_table_and_its_lines_are_drawn(pages: dict[str, Leaflet]) -> None:
    page = pages["vitamin-c"]
    (drawing,) = page.sections[0].drawings
    assert drawing.table is not None and len(drawing.table.rows) == 3
    html = render_family_html(page)
    shapes = re.findall(r'<path d="([^"]*)"', html)
    assert len(shapes) > 10
    assert all(re.fullmatch(r"(?:[MLCZ] ?(?:-?[\d.]+ ?)*)+", shape.strip()) for shape in shapes)


def test_no_drawing_of_the_site_is_broken_by_rules_for_text(shipped_store: Store) -> None:
    # a number and a letter after it are a line in a drawing; in a sentence they would be kept on one line
    drawn = 0
    for page in site_of(shipped_store).family:
        if any(section.drawings for section in every_section(page)):
            for shape in re.findall(r'<path d="([^"]*)"', render_family_html(page)):
                drawn += 1
                assert "\u00a0" not in shape
    assert drawn > 100


def test_every_step_is_told_on_its_own_with_what_it_was_compared_with(pages: dict[str, Leaflet]) -> None:
    for page in pages.values():
        steps = [section for section in every_section(page) if section.slug.startswith("step-")]
        assert len(steps) == 3
        for step in steps:
            for line in step.said:
                if re.search(r"\d+ of every 100 parts still there", line):
                    assert "compared with" in line or "worked out by joining" in line, line


def test_what_would_settle_it_is_said_where_the_whole_way_is_not_known(pages: dict[str, Leaflet]) -> None:
    for page in pages.values():
        (missing,) = (section for section in page.sections if section.slug == "missing")
        assert all("in the same mothers' milk" in point for point in missing.points)


def test_the_page_reads_on_a_phone_and_prints(pages: dict[str, Leaflet], tmp_path: Path) -> None:
    html = render_family_html(pages["total-fat"])
    page = read_page(html)
    assert page.unclosed == []
    script = "return [page.documentElement.scrollWidth, page.documentElement.clientWidth]"
    wide, room = in_browser(html, script, tmp_path, width=320)
    assert wide <= room
    (tmp_path / "page.pdf").write_bytes(render_family_pdf(pages["total-fat"], PdfRenderer()))
    paper = PdfReader(tmp_path / "page.pdf")
    assert len(paper.pages) <= 2
    printed = " ".join(" ".join((each.extract_text() or "").split()) for each in paper.pages)
    assert "Drying does not make milk sterile" in printed


def test_the_sheet_leads_to_the_way_and_back(shipped_store: Store) -> None:
    site = site_of(shipped_store)
    sheets = {sheet.slug: sheet for sheet in site.sheets}
    assert any(link == "vitamin-c-from-fresh.html" for _, link in sheets["vitamin-c"].more_pages)
    (way,) = (page for page in site.family if page.slug == "vitamin-c-from-fresh")
    assert any(link == "vitamin-c.html" for _, link in way.more_pages)
    assert words_of(way)
