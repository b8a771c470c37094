"""Two papers, two sets of units: side 1 fits one page on each, in a brand or not, and the bytes are the same twice."""

from __future__ import annotations

import dataclasses
import io
import re

import pytest
from pypdf import PdfReader

from evidence.store import Store
from reports.settings import Colour, Settings
from reports.sheets.html import render_html
from reports.sheets.pdf import PdfRenderer
from reports.site.compose import compose_site
from tests.reports.sample import sample_sheet

BRANDED = Settings(
    name="Sandhaven Milk Drying and Delivery", country="US", units="us", paper="letter",
    contact="Dunlin Quay 7, Sandhaven, 01632 960123, milk@example.org", legal_status="registered as a food business",
    main_colour=Colour("#7a1f5c", "#d98cc0"),
)  # fmt: skip
# points, from ISO 216 (A4: 210 by 297 mm) and ANSI Y14.1 (letter: 8.5 by 11 inches)
SIZES = {"a4": (595.3, 841.9), "letter": (612.0, 792.0)}


@pytest.mark.parametrize(
    ("settings", "language"),
    [(Settings(), "en"), (Settings(), "fr"), (Settings(), "es"), (BRANDED, "en"), (BRANDED, "fr"), (BRANDED, "es")],
    ids=lambda value: value if isinstance(value, str) else f"{value.paper} {value.name}",
)
def test_side_one_of_every_sheet_with_a_day_fits_one_page(
    shipped_store: Store, settings: Settings, language: str
) -> None:
    renderer = PdfRenderer()
    sheets = compose_site(shipped_store, settings=settings, language=language).sheets
    longest = [sheet for sheet in sheets if sheet.in_a_day or sheet.answers[0].bar or sheet.answers[1].bar]
    assert len(longest) > 20
    astray = []
    for sheet in longest:
        made = renderer.render(dataclasses.replace(sheet, clinician=(), sources=()))
        if len(PdfReader(io.BytesIO(made)).pages) != 2:  # side 1, and the head of an empty side 2
            astray.append(sheet.slug)
    assert astray == []


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_page_has_the_size_of_its_paper_and_the_same_bytes_twice(paper: str) -> None:
    sheet = dataclasses.replace(sample_sheet(), paper=paper)
    made = PdfRenderer().render(sheet)
    box = PdfReader(io.BytesIO(made)).pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx(SIZES[paper], abs=0.5)
    assert PdfRenderer().render(sheet) == made
    assert ("size:letter" in render_html(sheet)) == (paper == "letter")


def test_temperatures_and_volumes_come_in_the_units_asked_for(shipped_store: Store) -> None:
    metric, us = (compose_site(shipped_store, settings=Settings(units=units)) for units in ("metric", "us"))
    before = {sheet.slug: sheet for sheet in metric.sheets}
    seen = 0
    for sheet in us.sheets:
        told = " ".join([*sheet.in_a_day, *sheet.more_or_less, *(text for a in sheet.answers for text in a.sentences)])
        assert "°C" not in told and not re.search(r"\d ml\b", told), sheet.slug
        seen += "fl oz" in told or "°F" in told
        for block, same in zip(sheet.clinician, before[sheet.slug].clinician, strict=True):
            assert block.rows == same.rows  # as printed stays as printed
        assert sheet.sources == before[sheet.slug].sources
    assert seen > 10
