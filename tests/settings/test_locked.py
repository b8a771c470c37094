"""Own brand, locked truths: no setting reaches cautions, comparisons, flags or the maker's interest."""

from __future__ import annotations

import dataclasses
import io
import json
import re
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from reports.settings import Colour, Logo, Settings
from reports.settings.reading import checked_settings
from reports.sheets.brand import dress_style, dressed
from reports.sheets.content import ClinicianBlock, SheetContent
from reports.sheets.html import page_style, render_html
from reports.sheets.pdf import PdfRenderer
from reports.site.index import SITE_TEMPLATES, render_index
from reports.words.catalogue import load_catalogue
from tests.reports.browser import in_browser
from tests.reports.sample import HOSTILE, sample_index, sample_sheet

SAY = load_catalogue(part="settings")
FLAG = "what it was compared with is not stated"
LONG = "Wide Waterside Woollen-Mill Winter Weaning Well-Water Works W"[:60]
STYLE = "</style><style>.safe,.interest,.compared{display:none!important;font-size:1px;color:#fff}</style>"
BREAKING = '");}\n.safe{display:none}/*'
LARGE = Logo(
    "svg", b'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 90000 90000" width="90000" height="90000"/>', 1
)
PINK, SAND = Colour("#7a1f5c", "#d98cc0"), Colour("#8a5a00", "#d9a441")
# what an owner might try; the checks of a settings file would refuse some of these before they came so far
TRIED = {
    "plain": Settings(name="Tern Drying"),
    "colours": Settings(name="Tern Drying", main_colour=PINK, second_colour=SAND),
    "a style in the name": Settings(name=STYLE, contact=STYLE, legal_status=STYLE, pages_at=STYLE, main_colour=PINK),
    "a way out of a style": Settings(name=BREAKING, contact=BREAKING, legal_status=BREAKING),
    "markup of every kind": Settings(name=HOSTILE, contact=HOSTILE, legal_status=HOSTILE),
    "typst in the name": Settings(name='#set text(size: 1pt, fill: white) #pagebreak() ] ) "', contact="#hide["),
    "a denial in the name": Settings(name="None of the following is true", contact="", legal_status=""),
    "a long name": Settings(name=LONG, contact="c" * 160, legal_status="l" * 160, main_colour=PINK),
    "a huge logo": Settings(name="Tern", logo=LARGE, main_colour=PINK, second_colour=SAND),
    "nothing but blanks": Settings(name=" ", contact=" ", legal_status=" "),
}
EACH = pytest.mark.parametrize("settings", TRIED.values(), ids=TRIED)

LOOK = """
const told = {}, wanted = %s;
const walk = page.createTreeWalker(page.body, 4);
while (walk.nextNode()) {
  const text = walk.currentNode.textContent.trim();
  const place = wanted.findIndex(words => text.includes(words));
  if (place < 0) continue;
  const element = walk.currentNode.parentElement, style = view.getComputedStyle(element);
  const box = element.getBoundingClientRect();
  let seen = 1;
  for (let up = element; up; up = up.parentElement) {
    const s = view.getComputedStyle(up);
    seen *= parseFloat(s.opacity) * (s.display !== "none" && s.visibility === "visible" && s.clipPath === "none");
  }
  told[place] = [style.color, style.fontSize, style.fontWeight, style.textDecorationLine, seen,
    box.height > 0, box.left >= 0,
    element.closest(".safe") ? view.getComputedStyle(element.closest(".safe")).borderTopColor : ""];
}
return [told, page.querySelector(".said").getBoundingClientRect().top, page.documentElement.scrollWidth];
"""


def sheet() -> SheetContent:
    """The invented sheet, with a flag on side 2."""
    made = sample_sheet()
    block: ClinicianBlock = dataclasses.replace(made.clinician[0], facts=(*made.clinician[0].facts, ("Flags", FLAG)))
    return dataclasses.replace(made, clinician=(block, *made.clinician[1:]))


def locked(made: SheetContent) -> list[str]:
    """What no setting may touch: cautions, the answers with their comparisons, the interest, the flags."""
    answers = [text for each in made.answers for text in (*each.sentences, each.compared_with, each.how_sure) if text]
    return [*made.keeping_safe, *answers, made.foot.interest, FLAG]


def looks(html: str, folder: Path) -> tuple[dict[str, Any], float, float]:
    """How each locked text looks on a phone, where the answer begins, and how wide the page is."""
    # the first forty letters find a text; a page breaks no sentence into several
    told, top, wide = in_browser(html, LOOK % json.dumps([text[:40] for text in locked(sheet())]), folder, width=320)
    return told, top, wide


@pytest.fixture(scope="module")
def without_a_brand(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    told, _, _ = looks(render_html(sheet()), tmp_path_factory.mktemp("plain"))
    assert len(told) == len(locked(sheet()))
    return told


@EACH
def test_on_a_phone_they_look_as_without_a_brand_and_the_answer_begins_on_the_first_screen(
    settings: Settings, without_a_brand: dict[str, Any], tmp_path: Path
) -> None:
    told, top, wide = looks(render_html(dressed(sheet(), settings, SAY)), tmp_path)
    assert told == without_a_brand
    assert wide <= 320
    if len(settings.name) <= 60:  # longer names are refused before
        assert top < 700


@EACH
def test_in_print_they_stand_on_side_one_in_twelve_points(settings: Settings) -> None:
    made = dressed(sheet(), settings, SAY)
    reader = PdfReader(io.BytesIO(PdfRenderer().render(made)))
    squeezed = [re.sub(r"\s+", "", page.extract_text()) for page in reader.pages]
    (side_two,) = [n for n, text in enumerate(squeezed) if text.startswith("Forclinicians,andforthecurious")]
    side_one = "".join(squeezed[:side_two])
    for text in locked(sheet())[:-1]:
        assert re.sub(r"\s+", "", text) in side_one
    assert re.sub(r"\s+", "", FLAG) in "".join(squeezed[side_two:])
    sizes: set[float] = set()

    def visit(text: str, _: Any, matrix: list[float], __: Any, size: float) -> None:
        if any(text.strip().startswith(words[:12]) for words in (*made.keeping_safe, made.foot.interest)):
            sizes.add(round(abs(size * matrix[0]), 1))

    for page in reader.pages[:side_two]:
        page.extract_text(visitor_text=visit)
    assert sizes == {12.0}


def test_the_interest_is_a_sentence_of_its_own_that_no_name_stands_in() -> None:
    made = dressed(sheet(), TRIED["a denial in the name"], SAY)
    assert made.foot.interest == sheet().foot.interest
    assert "None of the following is true" in made.foot.service
    assert made.foot.service.count("not stated") == 2


def test_dressing_changes_nothing_but_brand_paper_and_the_service_s_own_line() -> None:
    plain = sheet()
    for settings in TRIED.values():
        made = dressed(plain, settings, SAY)
        foot = dataclasses.replace(made.foot, service="", address=plain.foot.address)
        assert dataclasses.replace(made, brand=None, paper=plain.paper, foot=foot) == plain


def test_an_unbranded_page_takes_nothing_of_the_brand() -> None:
    twin = dataclasses.replace(sheet(), unbranded=True)
    made = dressed(twin, dataclasses.replace(TRIED["colours"], paper="letter", pages_at="https://example.org"), SAY)
    assert made == dataclasses.replace(twin, paper="letter")
    assert "Tern" not in render_html(made)


def test_a_brand_s_style_sets_two_colours_and_nothing_else() -> None:
    for settings in TRIED.values():
        style = dress_style(dressed(sheet(), settings, SAY).brand, settings.paper)
        assert re.sub(
            r"--(accent|lines):#[0-9a-f]{6}|@media (print|screen and \(prefers-color-scheme:dark\))", "", style
        ).strip("\n;:rot{}") in ("", "@page{size:letter")


def test_no_style_gives_a_truth_a_colour_that_a_brand_sets() -> None:
    css = page_style("sheet.css") + "".join(path.read_text(encoding="utf-8") for path in SITE_TEMPLATES.glob("*.css"))
    for selectors, body in re.findall(r"([^{}]+)\{([^{}]*)\}", css):
        if re.search(r"\.(safe|interest|compared|said|maker|facts|banner)\b", selectors):
            assert "--accent" not in body and "--lines" not in body, selectors


def test_the_list_is_dressed_and_keeps_its_cautions() -> None:
    from reports.sheets.brand import brand_of, service_line

    settings = TRIED["markup of every kind"]
    made = dataclasses.replace(sample_index(), brand=brand_of(settings, SAY), service=service_line(settings, SAY))
    page = render_index(made)
    assert "<script>alert(1)</script>" not in page
    assert all(caution in page for caution in made.cautions)
    assert made.interest in page


@pytest.mark.parametrize("key", ["interest", "cautions", "keeping_safe", "compared_with", "flags", "css", "template"])
def test_a_settings_file_has_no_key_for_them(tmp_path: Path, key: str) -> None:
    from evidence.model.problems import InputProblems

    for section in ("service", "pages", "look", "hide"):
        with pytest.raises(InputProblems):
            checked_settings({"service": {"name": "Tern"}} | {section: {"name": "Tern", key: "no"}}, "x", tmp_path)
