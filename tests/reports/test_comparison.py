"""A component's handlings side by side: what was compared with what, and no ranking that nobody measured."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path

import pytest
from pypdf import PdfReader

from evidence.store import Store
from reports.sheets.family.comparison import KINDS, comparison, kind_of_handling
from reports.sheets.family.content import Leaflet
from reports.sheets.family.maker import FamilyMaker
from reports.sheets.family.render import render_family_html, render_family_pdf
from reports.sheets.pdf import PdfRenderer
from tests.reports.browser import in_browser
from tests.reports.family_pages import every_line, family_maker
from tests.reports.markup import read_page

NUMBER = re.compile(r"\d+ (of 100|for every 100|to \d+ of 100)")


@pytest.fixture(scope="module")
def maker(shipped_store: Store) -> FamilyMaker:
    return family_maker(shipped_store)


@pytest.fixture(scope="module")
def pages(maker: FamilyMaker) -> dict[str, Leaflet]:
    made = {component: comparison(component, maker) for component in sorted(maker.findings)}
    return {component: page for component, page in made.items() if page is not None}


@pytest.fixture(scope="module")
def vitamin_c(pages: dict[str, Leaflet]) -> Leaflet:
    return pages["vitamin-c"]


def test_a_component_has_a_page_exactly_where_two_ways_of_keeping_it_have_an_answer(
    maker: FamilyMaker, pages: dict[str, Leaflet]
) -> None:
    for component, found in maker.findings.items():
        ways = {kind_of_handling(finding.handling) for finding in found if finding.state != "listed_only"} - {None}
        assert (component in pages) == (len(ways) >= 2), component


def test_every_number_stands_with_what_it_was_compared_with(pages: dict[str, Leaflet]) -> None:
    numbers = 0
    for component, page in pages.items():
        for text in [line.answer for line in every_line(page)] + [p for s in page.sections for p in s.points]:
            if NUMBER.search(text):
                numbers += 1
                assert "against" in text, (component, text)
    assert numbers > 100


def test_answers_stand_by_way_of_keeping_and_time_never_by_size(pages: dict[str, Leaflet]) -> None:
    for page in pages.values():
        ways = [section.slug for section in page.sections if section.slug in KINDS]
        assert ways == sorted(ways, key=KINDS.index)
    freezer = next(section for section in pages["total-fat"].sections if section.slug == "freezer")
    home = [line.lead for line in freezer.lines if "household-type" in line.lead]
    order = ["up to 8", "9 to 45", "46 to 120", "more than 120"]
    assert [next(place for place, time in enumerate(order) if time in lead) for lead in home] == sorted(
        range(len(home))
    )


def test_bars_show_ranges_only_so_that_no_middle_can_be_ranked(pages: dict[str, Leaflet]) -> None:
    bars = [line.bar for page in pages.values() for line in every_line(page) if line.bar is not None]
    assert bars
    assert all(bar.still_there is None and bar.low is not None and bar.high is not None for bar in bars)


def test_every_two_ways_are_told_as_compared_directly_or_not(maker: FamilyMaker, pages: dict[str, Leaflet]) -> None:
    for component, page in pages.items():
        slugs = [section.slug for section in page.sections]
        assert "direct" in slugs, component
        direct = next(section for section in page.sections if section.slug == "direct")
        if not direct.points:
            assert "No study we read" in direct.said[0], component
            assert "indirect" in slugs or set(slugs) & set(KINDS) <= {"powder", slugs[0]}, component


def test_a_page_without_cautions_or_interest_is_refused_on_both_media(vitamin_c: Leaflet) -> None:
    for bad in (
        dataclasses.replace(vitamin_c, keeping_safe=()),
        dataclasses.replace(vitamin_c, foot=dataclasses.replace(vitamin_c.foot, interest=" ")),
    ):
        with pytest.raises(ValueError, match=r"no cautions|who made it"):
            render_family_html(bad)
        with pytest.raises(ValueError, match=r"no cautions|who made it"):
            render_family_pdf(bad, PdfRenderer())


def test_the_unbranded_twin_says_the_same_without_the_service(shipped_store: Store, vitamin_c: Leaflet) -> None:
    twin = comparison("vitamin-c", family_maker(shipped_store, unbranded=True))
    assert twin is not None
    assert twin.sections == vitamin_c.sections
    assert "index.html" not in render_family_html(twin)
    assert vitamin_c.foot.interest not in render_family_html(twin)


def test_the_page_is_sound_and_narrow(vitamin_c: Leaflet, tmp_path: Path) -> None:
    html = render_family_html(vitamin_c)
    page = read_page(html)
    assert not page.unclosed
    headings = [tag for tag, _ in page.tags if re.fullmatch("h[1-6]", tag)]
    assert headings[0] == "h1" and headings.count("h1") == 1
    assert len(html.encode()) < 100_000
    for caution in vitamin_c.keeping_safe:
        assert caution in page.words()
    assert in_browser(html, "return page.documentElement.scrollWidth;", tmp_path, width=320) <= 320


def test_the_print_carries_every_answer_caution_and_source(pages: dict[str, Leaflet], tmp_path: Path) -> None:
    page = pages["lactoferrin"]
    path = tmp_path / "page.pdf"
    path.write_bytes(render_family_pdf(page, PdfRenderer()))
    reader = PdfReader(path)
    text = re.sub(r"\s", "", "".join(each.extract_text() for each in reader.pages))
    for said in [line.answer for line in every_line(page)] + list(page.keeping_safe) + [page.foot.interest]:
        assert re.sub(r"\s", "", said) in text, said
    assert reader.trailer["/Root"]["/MarkInfo"]["/Marked"]
    assert reader.outline
    assert reader.trailer["/Root"]["/Lang"] == "en"
