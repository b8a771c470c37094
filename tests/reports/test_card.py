"""The counter card: one sentence that loses nothing, the cautions whole, and a square that leads to the page."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path

import pytest
from pypdf import PdfReader

from evidence.store import Store
from reports.settings import PLAIN
from reports.sheets.family.card import counter_card, square_of_dots
from reports.sheets.family.content import Card
from reports.sheets.family.maker import FamilyMaker
from reports.sheets.family.render import render_family_html, render_family_pdf
from reports.sheets.pdf import PdfRenderer
from tests.reports.browser import in_browser
from tests.reports.family_pages import family_maker
from tests.reports.markup import read_page

QUESTION = "Does freeze-drying cost the milk its vitamin C?"
HERE = dataclasses.replace(PLAIN, name="Example service", pages_at="https://example.org/milk/")


@pytest.fixture(scope="module")
def maker(shipped_store: Store) -> FamilyMaker:
    return family_maker(shipped_store)


def _card(maker: FamilyMaker, component: str = "vitamin-c") -> Card:
    card = counter_card(component, QUESTION, maker)
    assert card is not None
    return card


def test_the_card_says_what_the_answer_says_with_its_comparison_and_how_sure(maker: FamilyMaker) -> None:
    # Martysiak-Zurowska and others 2020, abstract: five women, vitamin C fell by 31 % on freeze-drying
    card = _card(maker)
    assert "69 of every 100 parts of vitamin C" in card.intro[0] and "compared with" in card.intro[0]
    assert card.sure.startswith("Hardly known")


def test_nothing_to_say_makes_no_card(maker: FamilyMaker) -> None:
    assert not any("freeze-dried" in finding.handling for finding in maker.findings["folate"])
    assert counter_card("folate", QUESTION, maker) is None


def test_without_an_address_there_is_no_square_and_the_card_says_whom_to_ask(maker: FamilyMaker) -> None:
    card = _card(maker)
    assert card.square == "" and "ask whoever gave you this card" in card.ask
    assert "<svg" not in render_family_html(card)


def test_with_an_address_the_square_leads_to_the_components_page(maker: FamilyMaker) -> None:
    card = _card(dataclasses.replace(maker, settings=HERE))
    assert card.address == "https://example.org/milk/vitamin-c.html"
    assert card.ask == ""
    page = read_page(render_family_html(card))
    assert not page.unclosed
    assert {"href": card.address} in page.named("a")


def test_an_unbranded_card_has_neither_square_nor_address(shipped_store: Store) -> None:
    card = _card(dataclasses.replace(family_maker(shipped_store, unbranded=True), settings=HERE))
    assert card.square == card.address == ""
    assert "example.org" not in render_family_html(card)


def test_the_square_keeps_a_quiet_zone_of_four_and_is_the_same_for_the_same_address() -> None:
    # ISO/IEC 18004: a quiet zone four modules wide on all sides; version 3 (29 modules) holds 42 bytes at level M
    address = "https://example.org/milk/vitamin-c.html"
    square = square_of_dots(address)
    assert square == square_of_dots(address) != square_of_dots(address + "l")
    assert len(address) <= 42
    assert re.search(r'viewBox="0 0 (\d+) \1"', square).group(1) == str(29 + 2 * 4)  # type: ignore[union-attr]


@pytest.mark.parametrize("settings", [PLAIN, HERE])
def test_the_print_is_one_a6_card_with_every_caution(maker: FamilyMaker, settings: object, tmp_path: Path) -> None:
    for component in ("vitamin-c", "lysozyme", "total-fat", "total-antioxidant-capacity"):
        card = _card(dataclasses.replace(maker, settings=settings), component)  # type: ignore[arg-type]
        path = tmp_path / f"{component}.pdf"
        path.write_bytes(render_family_pdf(card, PdfRenderer()))
        reader = PdfReader(path)
        assert len(reader.pages) == 1, component
        # ISO 216: A6 is 105 x 148 mm
        width, height = (float(side) * 25.4 / 72 for side in reader.pages[0].mediabox[2:])
        assert (round(width), round(height)) == (105, 148)
        text = re.sub(r"\s", "", reader.pages[0].extract_text())
        for said in (*card.keeping_safe, card.foot.interest, card.intro[0], card.sure):
            assert re.sub(r"\s", "", said) in text, (component, said)


def test_the_page_is_narrow_and_refused_without_cautions(maker: FamilyMaker, tmp_path: Path) -> None:
    card = _card(dataclasses.replace(maker, settings=HERE))
    html = render_family_html(card)
    assert in_browser(html, "return page.documentElement.scrollWidth;", tmp_path, width=320) <= 320
    with pytest.raises(ValueError, match="no cautions"):
        render_family_html(dataclasses.replace(card, keeping_safe=()))
    with pytest.raises(ValueError, match="no cautions"):
        render_family_pdf(dataclasses.replace(card, keeping_safe=(" ",)), PdfRenderer())
