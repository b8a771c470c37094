"""The web page of a sheet: complete, self-contained, readable on a small phone, and safe whatever is written in it."""

from __future__ import annotations

import dataclasses
import os
import re
import subprocess
import sys
import unicodedata
from collections import Counter
from itertools import pairwise
from pathlib import Path

import pytest
from pypdf import PdfReader

from reports.sheets.content import SheetContent
from reports.sheets.html import page_style, render_html
from reports.sheets.layout import TEMPLATES
from tests.reports.browser import in_browser, printed_by_browser
from tests.reports.markup import contrast, read_page
from tests.reports.sample import HOSTILE, hostile_sheet, rising_sheet, sample_sheet, silent_sheet

SHEETS = [sample_sheet(), rising_sheet(), silent_sheet(), hostile_sheet()]
EACH = pytest.mark.parametrize("sheet", SHEETS, ids=[sheet.slug for sheet in SHEETS])

# Text is to stand out 4.5:1, lines 3:1: WCAG 2.2, 1.4.3 and 1.4.11.
FOR_WORDS = ("ink", "quiet", "accent")
FOR_LINES = ("rule", "accent")


def _texts(value: object) -> list[str]:
    """Every text of the content that a page prints."""
    if isinstance(value, str):
        return [value] if value else []
    if isinstance(value, tuple):
        return [text for item in value for text in _texts(item)]
    if dataclasses.is_dataclass(value):
        unprinted = {"slug", "language", "component", "paper"}
        names = [field.name for field in dataclasses.fields(value) if field.name not in unprinted]
        return [text for name in names for text in _texts(getattr(value, name))]
    return []


@EACH
def test_every_word_of_the_content_is_on_the_page(sheet: SheetContent) -> None:
    page = read_page(render_html(sheet))
    shown = page.words() + " ".join(attributes.get("aria-label", "") for _, attributes in page.tags)
    missing = [text for text in _texts(sheet) if " ".join(text.split()) not in " ".join(shown.split())]
    assert missing == []


@EACH
def test_the_page_is_well_formed_and_its_names_are_unique(sheet: SheetContent) -> None:
    page = read_page(render_html(sheet))
    counts = Counter(attributes["id"] for _, attributes in page.tags if "id" in attributes)
    named = [attributes["aria-labelledby"] for _, attributes in page.tags if "aria-labelledby" in attributes]
    assert page.unclosed == []
    assert [name for name, count in counts.items() if count > 1] == []
    assert set(named) <= set(counts)


@EACH
def test_the_page_needs_no_script_and_fetches_nothing(sheet: SheetContent) -> None:
    html = render_html(sheet)
    page = read_page(html)
    tags = {tag for tag, _ in page.tags}
    assert tags.isdisjoint({"script", "link", "img", "iframe", "object", "embed", "base"})
    assert not [name for _, attributes in page.tags for name in attributes if name.startswith("on") or name == "src"]
    assert "@import" not in page_style("sheet.css")
    assert "url(" not in page_style("sheet.css")


@EACH
def test_headings_come_in_order_and_landmarks_are_there(sheet: SheetContent) -> None:
    page = read_page(render_html(sheet))
    levels = [int(tag[1]) for tag, _ in page.tags if re.fullmatch(r"h[1-6]", tag)]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))
    assert len(page.named("main")) == len(page.named("header")) == len(page.named("nav")) == 1
    assert page.named("html")[0]["lang"] == "en"
    targets = {attributes.get("id") for _, attributes in page.tags}
    inside = [link["href"][1:] for link in page.named("a") if link["href"].startswith("#")]
    assert inside
    assert set(inside) <= targets


def test_tables_have_captions_and_their_headings_a_scope() -> None:
    page = read_page(render_html(sample_sheet()))
    assert len(page.named("table")) == len(page.named("caption")) == 2
    assert all(heading.get("scope") in ("row", "col") for heading in page.named("th"))


def test_every_picture_is_told_in_words() -> None:
    pictures = read_page(render_html(sample_sheet())).named("svg")
    assert len(pictures) == 3
    assert all(picture["role"] == "img" and picture["aria-label"] for picture in pictures)


def test_markup_in_a_text_stays_text() -> None:
    page = read_page(render_html(hostile_sheet()))
    assert not page.named("script")
    assert page.words().count(HOSTILE) > 60
    known = ("#", "index.html", "hostile.pdf", "https://doi.org/", "https://pubmed.ncbi.nlm.nih.gov/")
    assert [link["href"] for link in page.named("a") if not link["href"].startswith(known)] == []
    assert not [link["href"] for link in page.named("a") if set(link["href"]) & set("<>\"' ")]


def test_control_characters_are_taken_out() -> None:
    html = render_html(dataclasses.replace(sample_sheet(), title="Examplin\x00\x08\ud800\ufffe?"))
    assert "<h1>Examplin?</h1>" in html


def test_a_sheet_without_cautions_is_refused() -> None:
    with pytest.raises(ValueError, match="no cautions"):
        render_html(dataclasses.replace(sample_sheet(), keeping_safe=(" ",)))


def test_a_sheet_that_does_not_say_who_made_it_is_refused() -> None:
    sheet = sample_sheet()
    with pytest.raises(ValueError, match="who made it"):
        render_html(dataclasses.replace(sheet, foot=dataclasses.replace(sheet.foot, interest="")))


@pytest.mark.parametrize("slug", ["../index", "a/b", "", "A", "a b", "a--b"])
def test_a_file_name_cannot_leave_its_folder(slug: str) -> None:
    with pytest.raises(ValueError, match="file name"):
        render_html(dataclasses.replace(sample_sheet(), slug=slug))


def test_a_language_without_words_is_refused_with_those_there_are() -> None:
    with pytest.raises(ValueError, match=r'"xx".*en'):
        render_html(dataclasses.replace(sample_sheet(), language="xx"))


def test_the_unbranded_twin_says_the_same_and_links_to_no_service() -> None:
    twin = render_html(dataclasses.replace(sample_sheet(), unbranded=True))
    links = [link["href"] for link in read_page(twin).named("a")]
    assert "index.html" not in links
    assert "examplin-unbranded.pdf" in links
    assert sample_sheet().foot.interest in read_page(twin).words()


@EACH
def test_a_page_is_under_a_hundred_kilobytes(sheet: SheetContent) -> None:
    assert len(render_html(sheet).encode()) < 100_000


def test_the_same_content_is_the_same_bytes_in_another_process() -> None:
    root = Path(__file__).parents[2]
    code = (
        "from tests.reports.sample import sample_sheet; from reports.sheets.html import render_html; import sys; "
        "sys.stdout.buffer.write(render_html(sample_sheet()).encode())"
    )
    environment = os.environ | {"PYTHONPATH": str(root), "PYTHONHASHSEED": "11"}
    other = subprocess.run([sys.executable, "-c", code], cwd=root, capture_output=True, env=environment, check=True)
    assert other.stdout == render_html(sample_sheet()).encode()


@EACH
def test_nothing_scrolls_sideways_on_a_phone_of_320_pixels(sheet: SheetContent, tmp_path: Path) -> None:
    script = """page.querySelectorAll("details").forEach(part => part.open = true);
    return [view.innerWidth, page.documentElement.scrollWidth, page.body.scrollWidth]"""
    inner, document, body = in_browser(render_html(sheet), script, tmp_path)
    assert inner == 320
    assert (document, body) == (320, 320)


def test_the_first_phone_screen_shows_question_answer_how_sure_and_bar(tmp_path: Path) -> None:
    script = """const bottom = query => page.querySelector(query).getBoundingClientRect().bottom;
    return ["h1", ".answer h2", ".said", ".answer > p", ".bar"].map(bottom)"""
    bottoms = in_browser(render_html(sample_sheet()), script, tmp_path, width=390, height=844)
    assert bottoms == sorted(bottoms)
    assert bottoms[-1] <= 844


@pytest.mark.parametrize("width", [320, 1280])
def test_comparison_interest_and_cautions_are_as_large_as_the_answer(tmp_path: Path, width: int) -> None:
    script = """const size = query => view.getComputedStyle(page.querySelector(query)).fontSize;
    return [".said p", ".compared", ".interest", ".safe li"].map(size)"""
    answer, *others = in_browser(render_html(sample_sheet()), script, tmp_path, width=width)
    assert float(answer.removesuffix("px")) >= 16
    assert others == [answer] * 3


def test_printing_from_the_browser_keeps_cautions_interest_and_comparison(tmp_path: Path) -> None:
    sheet = sample_sheet()
    reader = PdfReader(printed_by_browser(render_html(sheet), tmp_path))
    # NFKC: the browser sets "fi" as one letter.
    text = unicodedata.normalize("NFKC", "".join(page.extract_text() for page in reader.pages))
    printed = re.sub(r"\s+", "", text)
    for said in (*sheet.keeping_safe, sheet.foot.interest, sheet.answers[0].compared_with):
        assert re.sub(r"\s+", "", said) in printed


@pytest.mark.parametrize("mode", ["light", "dark", "print"])
def test_words_and_lines_stand_out_from_the_paper(mode: str) -> None:
    base = (TEMPLATES / "base.css").read_text(encoding="utf-8")
    blocks = [dict(re.findall(r"--([\w-]+):(#\w+)", block)) for block in re.findall(r":root\{([^}]*)\}", base)]
    light, dark, printed = blocks
    colours = {"light": light, "dark": light | dark, "print": light | printed}[mode]
    for ground in ("paper", "pale"):
        assert min(contrast(colours[name], colours[ground]) for name in FOR_WORDS) >= 4.5
    assert min(contrast(colours[name], colours["paper"]) for name in FOR_LINES) >= 3
    assert contrast(colours["on-accent"], colours["accent"]) >= 4.5 or mode == "print"


def test_charts_take_every_colour_from_the_page() -> None:
    html = render_html(sample_sheet())
    drawings = re.findall(r"<svg.*?</svg>", html, flags=re.DOTALL)
    assert len(drawings) == 3
    assert not [drawing for drawing in drawings if re.search(r"#[0-9a-f]{6}\b", drawing)]


def test_motion_and_focus_are_cared_for() -> None:
    style = page_style("sheet.css")
    assert "prefers-reduced-motion" in style
    assert re.search(r":focus-visible\{outline:3px", style)
    assert "outline:none" not in style.replace(" ", "")
    assert "outline:0" not in style.replace(" ", "")
