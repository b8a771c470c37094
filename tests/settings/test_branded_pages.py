"""Every kind of page in a service's brand: axe finds nothing, and no kind loses a caution, the interest or a number."""

from __future__ import annotations

import dataclasses
import html
import re
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from evidence.model.rules import load_rules
from evidence.store import Store
from reports.settings import Colour, Logo, Settings
from reports.settings.colours import nearest_passing
from reports.sheets.content import PageContent
from reports.sheets.layout import file_name
from reports.site.build import write_site
from reports.site.compose import Site, compose_site
from tests.reports.axe import violations
from tests.reports.real_pages import shortened

LIMITS = load_rules().settings
MARK = b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 160 40"><circle cx="20" cy="20" r="18"/></svg>'
# the rules that a head, a logo and two colours can break; tests/reports/test_accessible.py asks for all of them
DRESS = ("color-contrast", "region", "image-alt", "link-in-text-block", "landmark-no-duplicate-banner")

MARGIN = 8.0  # points of paper that a usual printer leaves white, and a little less


def just_passing(colour: str, ratio: float) -> Colour:
    """The palest a setting may be: whatever stands out less is refused."""
    light = nearest_passing(colour, LIMITS.light_backgrounds, ratio)
    return Colour(light, nearest_passing(light, LIMITS.dark_backgrounds, ratio))


BRANDED = Settings(
    name="Sandhaven </style><script>alert(1)</script> Milk Drying", contact="01632 960123, #hide[x]",
    pages_at="https://example.org/milk", logo=Logo("svg", MARK, 4.0), paper="letter", units="us",
    main_colour=just_passing("#ffd24a", LIMITS.contrast_text),
    second_colour=just_passing("#8fe3ff", LIMITS.contrast_lines),
)  # fmt: skip


def one_of_each(site: Site) -> list[PageContent]:
    """One page of every kind, and the sheet of vitamin C."""
    kinds = {type(page): page for page in site.family}
    leaflets = {re.sub(r"^.*-(?=ways|card)", "", page.slug): page for page in site.family}
    sheet = next(page for page in site.sheets if page.slug == "vitamin-c")
    return list({page.slug: page for page in (*kinds.values(), *leaflets.values(), sheet)}.values())


@pytest.fixture(scope="module")
def pages(shipped_store: Store, tmp_path_factory: pytest.TempPathFactory) -> tuple[list[PageContent], Path]:
    site = compose_site(shipped_store, settings=BRANDED)
    chosen = one_of_each(site)
    names = {file_name(page) for page in chosen}
    entries = tuple(entry for entry in site.index.entries if entry.slug in names)
    folder = tmp_path_factory.mktemp("branded") / "pages"
    write_site(folder, chosen, dataclasses.replace(site.index, entries=entries), site.evidence[-3:], workers=1)
    return chosen, folder


def shown(text: str) -> str:
    body = re.sub(r"<(style|script)\b.*?</\1>", "", text, flags=re.DOTALL)
    return html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", body)))


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_axe_finds_nothing_in_the_palest_colours_that_are_allowed(
    pages: tuple[list[PageContent], Path], tmp_path: Path, dark: bool
) -> None:
    _, folder = pages
    found = shortened(sorted(folder.glob("*.html")), tmp_path)
    assert len(found) >= 6
    wrong = [each for each in violations(found, tmp_path, dark=dark) if each.rule in DRESS or "brand" in each.element]
    assert wrong == []


def test_every_kind_of_page_keeps_its_cautions_and_the_interest_beside_the_brand(
    pages: tuple[list[PageContent], Path],
) -> None:
    chosen, folder = pages
    for page in chosen:
        text = (folder / f"{file_name(page)}.html").read_text(encoding="utf-8")
        assert "<script>alert(1)" not in text
        told = shown(text)
        for words in (*page.keeping_safe, page.foot.interest, page.foot.service):
            assert " ".join(words.split()) in told, (page.slug, words)
        assert page.keeping_safe and "payment" in page.foot.interest


def test_every_kind_of_printed_page_keeps_them_too(pages: tuple[list[PageContent], Path]) -> None:
    chosen, folder = pages
    for page in chosen:
        reader = PdfReader(folder / f"{file_name(page)}.pdf")
        told = re.sub(r"\s+", "", "".join(each.extract_text() for each in reader.pages))
        for words in (*page.keeping_safe, page.foot.interest):
            assert re.sub(r"\s+", "", words) in told, (page.slug, words)


def test_nothing_that_is_printed_runs_off_its_paper(pages: tuple[list[PageContent], Path]) -> None:
    chosen, folder = pages
    astray: list[tuple[str, str]] = []
    for page in chosen:
        for each in PdfReader(folder / f"{file_name(page)}.pdf").pages:
            top = float(each.mediabox.height)

            def visit(
                text: str, place: list[float], within: list[float], _: Any, size: float, top: float = top,
                slug: str = page.slug,
            ) -> None:  # fmt: skip
                y = within[4] * place[1] + within[5] * place[3] + place[5]
                if text.strip() and not MARGIN < y < top - MARGIN:
                    astray.append((slug, text.strip()[:60]))

            each.extract_text(visitor_text=visit)
    assert astray == []


def test_pages_of_studies_and_the_list_carry_them_as_well(pages: tuple[list[PageContent], Path]) -> None:
    chosen, folder = pages
    named = {file_name(page) for page in chosen}
    others = [path for path in folder.glob("*.html") if path.stem not in named]
    assert len(others) >= 3
    for path in others:
        told = shown(path.read_text(encoding="utf-8"))
        for words in (*chosen[-1].keeping_safe, chosen[-1].foot.interest, chosen[-1].foot.service):
            assert " ".join(words.split()) in told, (path.name, words)
