"""Every kind of page that build writes, in a real browser: for eyes, keyboards, small screens, the dark and no script.

Rules: WCAG 2.2, level AA. Pages are chosen so that every kind of element on any page stands on one that is looked at.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from tests.reports.axe import violations
from tests.reports.markup import contrast
from tests.reports.real_pages import chosen_pages, on_pages, shortened

# what a page weighs before its first screen can be shown, and whole; the project's own goals, for a slow line at night
MOST_FIRST_BYTES, MOST_SHEET_BYTES = 100_000, 200_000


@pytest.fixture(scope="module")
def kinds(built_pages: Path, tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    chosen = chosen_pages(built_pages)
    assert {"index.html", "measurements.html"} <= {path.name for path in chosen}
    return shortened(chosen, tmp_path_factory.mktemp("kinds"))


@pytest.fixture(scope="module")
def sheets(built_pages: Path) -> list[Path]:
    """Component sheets with a bar: those whose first screen is promised to hold it."""
    side_one = re.compile(r'<section class="answer"(?:(?!</section>).)*<svg class="bar"', re.DOTALL)
    found = [path for path in sorted(built_pages.rglob("*.html")) if side_one.search(path.read_text(encoding="utf-8"))]
    assert len(found) >= 10
    return found


@pytest.mark.parametrize(("width", "dark"), [(390, False), (1280, True)], ids=["phone in light", "desk in dark"])
def test_axe_finds_nothing_on_any_kind_of_page(kinds: list[Path], tmp_path: Path, width: int, dark: bool) -> None:
    assert violations(kinds, tmp_path, width=width, dark=dark) == []


def test_axe_would_find_what_is_wrong(built_pages: Path, tmp_path: Path) -> None:
    page = (built_pages / "vitamin-c.html").read_text(encoding="utf-8")
    page = page.replace('<html lang="en">', "<html>").replace("--quiet:#565068", "--quiet:#c9c4d8")
    page = re.sub(r'(<svg class="bar"[^>]*) aria-label="[^"]*"', r"\1", page)
    broken = tmp_path / "broken.html"
    broken.write_text(page, encoding="utf-8")
    found = {each.rule for each in violations([broken], tmp_path)}
    assert {"html-has-lang", "color-contrast", "svg-img-alt"} <= found


@pytest.mark.parametrize("width", [320, 640], ids=["320 px", "twice as large on 1280 px"])
def test_nothing_scrolls_sideways(kinds: list[Path], tmp_path: Path, width: int) -> None:
    # WCAG 2.2, 1.4.10 (320 CSS pixels) and 1.4.4 (text at 200 %: a window half as wide)
    script = """page.querySelectorAll("details").forEach(part => part.open = true);
    return [view.innerWidth, page.documentElement.scrollWidth]"""
    for page, (inner, reach) in on_pages(kinds, script, tmp_path, width=width).items():
        assert (inner, reach) == (width, width), page.name


def test_everything_that_acts_is_reached_by_the_keyboard_and_shows_it(kinds: list[Path], tmp_path: Path) -> None:
    # WCAG 2.2, 2.1.1, 2.4.1, 2.4.3 and 2.4.7
    script = """const acts = [...page.querySelectorAll("a[href],button,input,select,summary,[tabindex='0']")]
      .filter(one => one.checkVisibility());
    const lost = [];
    for (const one of acts) {
      one.focus();
      const style = view.getComputedStyle(one);
      if (page.activeElement !== one) { lost.push("not reached: " + one.outerHTML.slice(0, 90)); }
      else if (one.matches(":focus-visible") && style.outlineStyle === "none") {
        lost.push("not shown: " + one.outerHTML.slice(0, 90));
      }
    }
    const wide = [...page.querySelectorAll("*")]
      .filter(one => /auto|scroll/.test(view.getComputedStyle(one).overflowX))
      .filter(one => one.scrollWidth > one.clientWidth + 1 && one.tabIndex < 0)
      .map(one => "scrolls: " + one.outerHTML.slice(0, 90));
    const first = acts[0], target = first && page.querySelector(first.getAttribute("href"));
    return { lost: [...lost, ...wide],
      ordered: !page.querySelector("[tabindex]:not([tabindex='0']):not([tabindex='-1'])"),
      skip: !!target && first.classList.contains("skip") };"""
    for page, found in on_pages(kinds, script, tmp_path, width=390).items():
        assert found == {"lost": [], "ordered": True, "skip": True}, page.name


def test_every_page_says_its_language_and_its_title(built_pages: Path) -> None:
    for path in built_pages.rglob("*.html"):
        text = path.read_text(encoding="utf-8")
        assert re.search(r'<html lang="(en|fr|es)"', text), path.name
        assert re.search(r"<title>[^<]+</title>", text), path.name


def test_every_chart_stands_beside_its_numbers_in_text(kinds: list[Path], tmp_path: Path) -> None:
    script = """return [...page.querySelectorAll("svg[role=img]")].map(function (drawing) {
      const figure = drawing.closest("figure"), around = drawing.closest("section,main") || page.body;
      const told = [...around.querySelectorAll("table,dl,.said,ul,ol")].map(part => part.textContent).join(" ");
      const plain = text => (text.match(/\\d+/g) || []).filter(number => number !== "100" && number !== "0");
      const shown = plain([...drawing.querySelectorAll("text")].map(text => text.textContent).join(" "));
      return [!!figure, drawing.getAttribute("aria-label"), told.trim().length > 0, shown.length];
    });"""
    for page, drawings in on_pages(kinds, script, tmp_path).items():
        for figure, label, told, _ in drawings:
            assert figure and label and told, (page.name, label)


def test_the_first_phone_screen_shows_question_answer_how_sure_and_bar(sheets: list[Path], tmp_path: Path) -> None:
    script = """const answer = page.querySelector(".answer .bar").closest(".answer");
    if (page.querySelector(".answer") !== answer) { return null; }
    const parts = [page.querySelector("h1"), answer.querySelector("h2"), answer.querySelector(".said"),
      answer.querySelector(".said ~ p"), answer.querySelector(".bar")];
    return parts.map(part => part.getBoundingClientRect().bottom);"""
    found = {page: bottoms for page, bottoms in on_pages(sheets, script, tmp_path).items() if bottoms is not None}
    assert len(found) >= 5
    late = {page.name: bottoms for page, bottoms in found.items() if bottoms[-1] > 844 or bottoms != sorted(bottoms)}
    assert late == {}


def test_the_first_screen_and_the_whole_sheet_are_light(sheets: list[Path]) -> None:
    for path in sheets:
        page = path.read_bytes()
        assert not re.search(rb'<(script|link|img|iframe)\b[^>]*(src|href)="(?!data:)', page), path.name
        first = page.index(b"</section>", page.index(b'class="bar"'))
        assert first < MOST_FIRST_BYTES, (path.name, first)
        assert len(page) < MOST_SHEET_BYTES, (path.name, len(page))


def test_everything_is_there_without_javascript(kinds: list[Path], tmp_path: Path) -> None:
    script = """const rows = [...page.querySelectorAll("tbody tr")];
    return { hidden: rows.filter(row => !row.checkVisibility()).length,
      forms: [...page.querySelectorAll("form,button,input,select")].filter(one => one.checkVisibility()).length,
      words: page.querySelector("main").innerText.length > 200, ran: !!page.querySelector("table.ready") };"""
    closed = "page.querySelectorAll('details').forEach(part => part.open = true);"
    for page, found in on_pages(kinds, closed + script, tmp_path, javascript=False).items():
        assert found == {"hidden": 0, "forms": 0, "words": True, "ran": False}, page.name


def _colour(text: str) -> str | None:
    found = re.fullmatch(r"rgba?\((\d+), (\d+), (\d+)(?:, ([\d.]+))?\)", text)
    if found is None or found[4] == "0":
        return None
    return "#" + "".join(f"{int(found[place]):02x}" for place in (1, 2, 3))


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
def test_charts_stand_out_from_the_page_in_light_and_dark(kinds: list[Path], tmp_path: Path, dark: bool) -> None:
    # WCAG 2.2, 1.4.3 for words and 1.4.11 for lines that carry meaning
    script = """const ground = view.getComputedStyle(page.body).backgroundColor;
    return [...page.querySelectorAll("svg[role=img]")]
      .flatMap(drawing => [...drawing.querySelectorAll("text,path,rect,circle,line")])
      .map(function (part) { const style = view.getComputedStyle(part);
        return [part.tagName, ground, style.fill, style.stroke]; });"""
    seen = 0
    for page, parts in on_pages(kinds, script, tmp_path, dark=dark).items():
        for tag, ground, fill, stroke in parts:
            paper = _colour(ground)
            assert paper is not None
            ink: Any = _colour(fill if tag == "text" else stroke if _colour(stroke) else fill)
            assert ink is not None, (page.name, tag, fill, stroke)
            assert contrast(ink, paper) >= (4.5 if tag == "text" else 3), (page.name, tag, ink, paper)
            seen += 1
    assert seen > 20


def test_nothing_moves_where_less_motion_is_asked_for(kinds: list[Path], tmp_path: Path) -> None:
    script = """const style = view.getComputedStyle(page.documentElement);
    const moving = [...page.querySelectorAll("*")].filter(function (one) { const own = view.getComputedStyle(one);
      return own.animationName !== "none" || parseFloat(own.transitionDuration) > 0; });
    return [view.matchMedia("(prefers-reduced-motion:reduce)").matches, style.scrollBehavior, moving.length];"""
    for page, found in on_pages(kinds, script, tmp_path, reduced_motion=True).items():
        assert found == [True, "auto", 0], page.name
