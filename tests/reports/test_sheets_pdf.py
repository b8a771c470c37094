"""The print page of a sheet: side 1 on one page, side 2 on the next, tagged, the same bytes everywhere."""

from __future__ import annotations

import dataclasses
import io
import os
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from reports.sheets.content import SheetContent
from reports.sheets.pdf import PdfRenderer
from tests.reports.sample import HOSTILE, hostile_sheet, rising_sheet, sample_sheet, silent_sheet

SHEETS = [sample_sheet(), rising_sheet(), silent_sheet(), hostile_sheet()]
EACH = pytest.mark.parametrize("sheet", SHEETS, ids=[sheet.slug for sheet in SHEETS])
SIDE_TWO = "For clinicians, and for the curious"


@pytest.fixture(scope="module")
def renderer() -> PdfRenderer:
    return PdfRenderer()


def _read(made: bytes) -> PdfReader:
    return PdfReader(io.BytesIO(made))


def _squeezed(text: str) -> str:
    return re.sub(r"\s+", "", text)


def _pages(made: bytes) -> list[str]:
    return [_squeezed(page.extract_text()) for page in _read(made).pages]


def _side_two(pages: list[str]) -> int:
    (place,) = [place for place, text in enumerate(pages) if text.startswith(_squeezed(SIDE_TWO))]
    return place


@pytest.mark.parametrize("sheet", SHEETS[:3], ids=[sheet.slug for sheet in SHEETS[:3]])
def test_side_one_fits_one_page_and_side_two_begins_on_the_next(sheet: SheetContent, renderer: PdfRenderer) -> None:
    assert _side_two(_pages(renderer.render(sheet))) == 1


def test_a_long_side_one_flows_on_and_loses_nothing(renderer: PdfRenderer) -> None:
    long = tuple(f"Open question {place}: {'what nobody has measured yet ' * 6}" for place in range(30))
    sheet = dataclasses.replace(sample_sheet(), nobody_knows=long)
    pages = _pages(renderer.render(sheet))
    side_one = "".join(pages[: _side_two(pages)])
    assert _side_two(pages) >= 2
    assert _squeezed(long[-1]) in re.sub(r"Examplin·Evidence[^.]*\.Lookforanewerpageafter3May2038\.\d", "", side_one)
    assert all(_squeezed(caution) in side_one for caution in sheet.keeping_safe)


@pytest.mark.parametrize("sheet", SHEETS[:3], ids=[sheet.slug for sheet in SHEETS[:3]])
def test_side_one_prints_cautions_comparison_and_interest(sheet: SheetContent, renderer: PdfRenderer) -> None:
    side_one = _pages(renderer.render(sheet))[0]
    said = [*sheet.keeping_safe, sheet.foot.interest, sheet.foot.evidence_of]
    said += [text for answer in sheet.answers for text in (*answer.sentences, answer.compared_with)]
    assert [text for text in said if _squeezed(text) not in side_one] == []


def test_comparison_interest_and_cautions_are_printed_in_twelve_points(renderer: PdfRenderer) -> None:
    sizes: dict[str, set[float]] = {}

    def visit(text: str, _: Any, matrix: list[float], __: Any, size: float) -> None:
        for word in ("About 71", "Compared with", "This page was made", "This is general"):
            if word in text:
                sizes.setdefault(word, set()).add(round(abs(size * matrix[0]), 1))

    _read(renderer.render(sample_sheet())).pages[0].extract_text(visitor_text=visit)
    assert sizes == {word: {12.0} for word in ("About 71", "Compared with", "This page was made", "This is general")}


def test_side_two_prints_every_row_and_source(renderer: PdfRenderer) -> None:
    sheet = sample_sheet()
    pages = _pages(renderer.render(sheet))
    side_two = "".join(pages[1:])
    for row in sheet.clinician[0].rows:
        assert _squeezed(f"{row.study} [{row.source_number}]") in side_two
    for source in sheet.sources:
        assert _squeezed(source.text) in side_two
    assert "Leftout".lower() in side_two.lower()


def test_a_doi_is_a_link_to_its_resolver(renderer: PdfRenderer) -> None:
    pages = _read(renderer.render(sample_sheet())).pages
    links = [note.get_object()["/A"]["/URI"] for page in pages for note in page.get("/Annots") or []]
    assert "https://doi.org/10.0000/x(1)" in links


def test_the_file_is_tagged_titled_and_says_its_language(renderer: PdfRenderer) -> None:
    reader = _read(renderer.render(sample_sheet()))
    catalogue: Any = reader.root_object
    assert catalogue["/MarkInfo"]["/Marked"].value is True
    assert "/StructTreeRoot" in catalogue
    assert str(catalogue["/Lang"]).startswith("en")
    assert reader.metadata is not None
    assert reader.metadata.title == sample_sheet().title


def test_the_file_carries_no_date(renderer: PdfRenderer) -> None:
    made = renderer.render(sample_sheet())
    assert b"CreationDate" not in made
    assert b"ModDate" not in made
    assert b"CreateDate" not in made


def test_only_letters_that_come_with_python_packages_are_used(renderer: PdfRenderer) -> None:
    fonts = set()
    for page in _read(renderer.render(sample_sheet())).pages:
        resources: Any = page["/Resources"]
        for font in resources.get("/Font", {}).values():
            fonts.add(re.sub(r"^/[A-Z]{6}\+", "", str(font.get_object()["/BaseFont"])))
    assert fonts
    assert all(name.startswith(("LibertinusSerif", "DejaVuSans")) for name in fonts), fonts


def test_markup_in_a_text_stays_text(renderer: PdfRenderer) -> None:
    printed = "".join(_pages(renderer.render(hostile_sheet())))
    assert printed.count(_squeezed("#set page(width: 1cm) *bold* _it_ $x^2$ @ref")) > 40
    assert printed.count(_squeezed(HOSTILE)) > 20


@EACH
def test_a_file_is_small(sheet: SheetContent, renderer: PdfRenderer) -> None:
    assert len(renderer.render(sheet)) < 120_000


def test_letters_the_fonts_lack_do_not_stop_the_sheet(renderer: PdfRenderer) -> None:
    sheet = sample_sheet()
    source = dataclasses.replace(sheet.sources[0], text="母乳 ﷽ 🍼 Łódź γ-linolenic ≤ 5 °C")
    made = renderer.render(dataclasses.replace(sheet, sources=(source, *sheet.sources[1:])))
    assert _squeezed("Łódź γ-linolenic ≤ 5 °C") in "".join(_pages(made))


def test_the_same_content_is_the_same_bytes_whatever_was_set_before(renderer: PdfRenderer) -> None:
    first = renderer.render(sample_sheet())
    renderer.render(hostile_sheet())
    assert renderer.render(sample_sheet()) == first


def test_the_same_content_is_the_same_bytes_in_another_process(renderer: PdfRenderer) -> None:
    root = Path(__file__).parents[2]
    code = (
        "from tests.reports.sample import sample_sheet; from reports.sheets.pdf import PdfRenderer; import sys; "
        "sys.stdout.buffer.write(PdfRenderer().render(sample_sheet()))"
    )
    environment = os.environ | {"PYTHONPATH": str(root), "PYTHONHASHSEED": "3", "TZ": "Asia/Tokyo"}
    other = subprocess.run([sys.executable, "-c", code], cwd=root, capture_output=True, env=environment, check=True)
    assert other.stdout == renderer.render(sample_sheet())


def test_a_sheet_without_cautions_is_refused(renderer: PdfRenderer) -> None:
    with pytest.raises(ValueError, match="no cautions"):
        renderer.render(dataclasses.replace(sample_sheet(), keeping_safe=()))
