"""The storage-time sheet tells what was still there after a time, and never for how long milk may be kept."""

from __future__ import annotations

import csv
import dataclasses
import re
from pathlib import Path

import pytest
from pypdf import PdfReader

from evidence.model.shipped import data_folder
from evidence.store import Store
from reports.sheets.family.content import FamilyPage
from reports.sheets.family.render import render_family_html, render_family_pdf
from reports.sheets.pdf import PdfRenderer
from reports.words.told import trail_of
from tests.reports.browser import in_browser
from tests.reports.family_pages import every_section, site_of, words_of
from tests.reports.markup import read_page

NUMBER = re.compile(r"\d+ (of 100|for every 100|to \d+ of 100)")
# what no page may say: a time as a limit, as use-by, as safe
LIMIT = re.compile(r"(use|keep|store|good|safe|lasts?) (it |milk |powder )?(within|by|for up to|up to)", re.IGNORECASE)


@pytest.fixture(scope="module")
def page(shipped_store: Store) -> FamilyPage:
    return next(page for page in site_of(shipped_store).family if page.slug == "storage-times")


def test_every_number_stands_with_what_it_was_compared_with(page: FamilyPage) -> None:
    cells = [cell for section in every_section(page) for table in section.tables for row in table.rows for cell in row]
    told = [cell for cell in cells if NUMBER.search(cell)]
    assert len(told) > 20
    assert all("against" in cell for cell in told)


def test_no_sentence_of_ours_sets_a_time_limit(page: FamilyPage) -> None:
    ours = [section for section in every_section(page) if section.slug != "authorities"]
    said = [*page.intro, *(text for section in ours for text in (*section.said, *section.points))]
    assert said
    assert not [text for text in said if LIMIT.search(text)]
    assert any("sets no time limit" in text for text in page.intro)


def test_authorities_stand_side_by_side_as_the_table_of_guidance_has_them(page: FamilyPage) -> None:
    with (data_folder() / "guidance.csv").open(encoding="utf-8", newline="") as file:
        kept = {
            row["id"]: row
            for row in csv.DictReader(file)
            if row["topic"] in ("storage refrigerator", "storage freezer")
            and not row["statement_in_own_words"].startswith("Superseded")
        }
    section = next(section for section in page.sections if section.slug == "authorities")  # type: ignore[attr-defined]
    cells = [cell for table in section.tables for row in table.rows for cell in row]
    shown = {each for cell in cells for each in trail_of(cell)}
    assert shown == set(kept)
    for cell in cells:
        for each in trail_of(cell):
            assert kept[each]["figure"] in cell
    assert len({row[0] for table in section.tables for row in table.rows}) > 5  # they differ, so never one alone


def test_a_curve_is_drawn_only_with_its_table_and_in_words(page: FamilyPage) -> None:
    drawings = [drawing for section in every_section(page) for drawing in section.drawings]
    assert drawings
    for drawing in drawings:
        assert drawing.table is not None and len(drawing.table.rows) > 1
        assert drawing.words != drawing.title
        assert trail_of(drawing.words)


def test_times_stand_in_order(page: FamilyPage) -> None:
    order = ["For up to 8 days", "For 9 to 45 days", "For 46 to 120 days", "For more than 120 days"]
    freezer = next(section for section in every_section(page) if section.slug == "freezer")
    columns = list(freezer.tables[0].columns[1:])
    assert columns == sorted(columns, key=order.index)


def test_the_page_is_narrow_sound_and_prints_its_cautions_before_the_details(page: FamilyPage, tmp_path: Path) -> None:
    html = render_family_html(page)
    assert not read_page(html).unclosed
    assert in_browser(html, "return page.documentElement.scrollWidth;", tmp_path, width=320) <= 320
    path = tmp_path / "page.pdf"
    path.write_bytes(render_family_pdf(page, PdfRenderer()))
    text = re.sub(r"\s", "", "".join(each.extract_text() for each in PdfReader(path).pages))
    places = [text.index(re.sub(r"\s", "", said)) for said in page.keeping_safe]
    assert max(places) < text.index("Forclinicians,andforthecurious")
    assert len(words_of(page)) > 100


def test_without_cautions_nothing_goes_out(page: FamilyPage) -> None:
    with pytest.raises(ValueError, match="no cautions"):
        render_family_html(dataclasses.replace(page, keeping_safe=()))
