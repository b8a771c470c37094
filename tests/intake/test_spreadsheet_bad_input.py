"""What is wrong in a spreadsheet is told in a sentence with its cell, all of it at once, and never as a traceback."""

from __future__ import annotations

import struct
import zipfile
from collections.abc import Callable
from datetime import datetime, time
from pathlib import Path

import openpyxl
import pytest
from openpyxl import Workbook
from openpyxl.worksheet.formula import ArrayFormula

from evidence.intake.spreadsheet import read_spreadsheet
from evidence.intake.study_sheet import Holdings, holdings
from evidence.intake.template import MEASUREMENTS, STUDY
from evidence.model.problems import InputProblems
from evidence.model.rules import load_rules
from evidence.model.tables import Component, Study
from evidence.store import Store
from evidence.store.reading import all_rows
from tests.spreadsheets import KEY, column_of, filled, put


@pytest.fixture(scope="session")
def held(shipped_store: Store) -> Holdings:
    studies = (study.model_dump() for study in all_rows(shipped_store, Study))
    return holdings(studies, {each.id: each.outcome for each in all_rows(shipped_store, Component)})


def sentences(path: Path, held: Holdings) -> list[str]:
    with pytest.raises(InputProblems) as caught:
        read_spreadsheet(path, held)
    return [problem.sentence() for problem in caught.value.problems]


def told(
    tmp_path: Path, held: Holdings, name: str, value: object, sheet: str = MEASUREMENTS, row: int = 2
) -> tuple[str, str]:
    """Put one bad value into one cell; return the only sentence and the cell's name."""
    places: list[str] = []
    path = filled(tmp_path / "own.xlsx", lambda book: places.append(put(book, name, row, value, sheet)))
    (sentence,) = sentences(path, held)
    assert f"own.xlsx, sheet {sheet}, cell {places[0]} ({name}): read " in sentence
    return sentence, places[0]


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("treated_mean", "3,4", ["decimal point, not a decimal comma", "Nearest known: 3.4."]),
        ("treated_mean", "1,234", ["may be 1.234 or 1234"]),
        ("treated_mean", "1,234.5", ["no thousands separators", "Nearest known: 1234.5."]),
        ("treated_mean", "1.234,5", ["no thousands separators", "Nearest known: 1234.5."]),
        ("treated_mean", "12 345", ["no thousands separators", "Nearest known: 12345."]),
        ("treated_mean", "1’234’567", ["no thousands separators", "Nearest known: 1234567."]),
        ("treated_mean", "1\u00a0234", ["a non-breaking space stands in it", "Nearest known: 1234."]),
        ("treated_mean", "3\u202f400,5", ["a narrow non-breaking space", "Nearest known: 3400.5."]),
        ("treated_mean", "3.4\u200b1", ["a zero-width space", "Nearest known: 3.41."]),
        ("treated_mean", "\u22123.4", ["a minus typed as -", "Nearest known: -3.4."]),
        ("treated_mean", "66 %", ["without a percent sign", "Nearest known: 66."]),
        ("treated_mean", "\u0663", ["the digits 0 to 9"]),
        ("treated_mean", "about three", ["a plain number with a decimal point"]),
        ("treated_spread", "3-7", ["two dots between", "Nearest known: 3..7."]),
        ("n", "12.5", ["a whole number of 1 or more"]),
        ("n", "0", ["a whole number of 1 or more"]),
        ("p", "0,05", ["decimal point", "Nearest known: 0.05."]),
        ("basis", "same milk", ["milk, powder, solids"]),
        ("design", "same\u00a0milk", ["same milk, separate milk", "Nearest known: same milk."]),
        ("component", "totalfat", ["sheet Lists", "Nearest known: total-fat."]),
        ("handling", "expressed > frozzen -20C 30d", ["Nearest known: frozen."]),
        ("study", "nobody1999nothing", ["a key of the bibliography"]),
        ("locator", "", ["may not be empty"]),
        ("notes", "a bell \x07 rings", ["the control character U+0007", "printable text"]),
    ],
)  # fmt: skip
def test_what_stands_wrong_in_a_cell_is_told_with_the_cell_and_what_is_allowed(
    tmp_path: Path, held: Holdings, name: str, value: str, words: list[str]
) -> None:
    sentence, _ = told(tmp_path, held, name, value)
    for word in words:
        assert word in sentence, sentence


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ("=3.5*2", ["'=3.5*2'", "not a formula", "paste it as a value"]),
        (ArrayFormula("W2:W2", "=SUM(A1:A3)"), ["SUM(A1:A3)", "not a formula"]),
        (datetime(2026, 7, 3), ["a date or time (2026-07-03", "3-7", "format the cell as text"]),
        (time(3, 7), ["a date or time (03:07", "format the cell as text"]),
        (True, ["'TRUE'", "not a cell of yes or no"]),
        ("#N/A", ["a spreadsheet's sign of an error"]),
    ],
    ids=["formula", "array formula", "date", "time", "yes or no", "error"],
)
def test_a_cell_that_is_no_text_and_no_number_is_refused(
    tmp_path: Path, held: Holdings, value: object, words: list[str]
) -> None:
    def change(book: Workbook) -> None:
        place = put(book, "treated_mean", 2, value)
        if value == "#N/A":
            book[MEASUREMENTS][place].data_type = "e"

    (sentence,) = sentences(filled(tmp_path / "own.xlsx", change), held)
    assert "sheet Measurements, cell " in sentence and "2 (treated_mean)" in sentence
    for word in words:
        assert word in sentence, sentence


def test_a_number_shown_as_a_percentage_is_refused_with_what_to_type(tmp_path: Path, held: Holdings) -> None:
    def change(book: Workbook) -> None:
        place = put(book, "change_percent", 3, -0.31)
        book[MEASUREMENTS][place].number_format = "0%"

    (sentence,) = sentences(filled(tmp_path / "own.xlsx", change), held)
    assert "shown as a percentage" in sentence and "(-31" in sentence


def test_a_date_is_a_date_where_a_date_belongs(tmp_path: Path, held: Holdings) -> None:
    path = filled(tmp_path / "own.xlsx", lambda book: put(book, "second_read", 2, datetime(2026, 7, 3)))
    assert read_spreadsheet(path, held).bundle.rows("measurement")[0]["second_read"] == "2026-07-03"


def test_merged_cells_are_refused_with_their_range(tmp_path: Path, held: Holdings) -> None:
    ranges: list[str] = []

    def change(book: Workbook) -> None:
        letter = column_of(book, MEASUREMENTS, "assay")
        ranges.append(f"{letter}2:{letter}4")
        book[MEASUREMENTS].merge_cells(ranges[0])

    (sentence,) = sentences(filled(tmp_path / "own.xlsx", change), held)
    assert f"sheet Measurements, cells {ranges[0]}: read 'merged cells'" in sentence
    assert "part them" in sentence


def test_an_id_that_stands_twice_is_told_with_both_rows(tmp_path: Path, held: Holdings) -> None:
    sentence, _ = told(tmp_path, held, "id", f"{KEY}-1", row=4)
    assert "each id once; row 2 has it too" in sentence


def test_two_studies_with_one_key_are_refused(tmp_path: Path, held: Holdings) -> None:
    def change(book: Workbook) -> None:
        for name, text in (("key", KEY), ("authors", "Other, Bo"), ("title", "Another"), ("year", "2031")):
            put(book, name, 3, text, STUDY)

    (sentence,) = sentences(filled(tmp_path / "own.xlsx", change), held)
    assert "sheet Study, cell A3 (key)" in sentence and "each key once; row 2 has it too" in sentence


@pytest.mark.parametrize("column", ["doi", "pmid"])
def test_an_identifier_of_another_paper_is_refused_and_that_paper_named(
    tmp_path: Path, held: Holdings, column: str
) -> None:
    number, owner = sorted((held.dois if column == "doi" else held.pmids).items())[0]
    sentence, _ = told(tmp_path, held, column, number.upper(), STUDY)
    assert f"belongs to {owner}" in sentence and "take its row out of sheet Study" in sentence


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("key", "Miller 2031", "small letters a to z and digits"),
        ("year", "31", "a year of four digits"),
        ("doi", "doi 10.5", "a DOI such as 10.1234/abc.567"),
        ("pmid", "PMC123", "one to eight digits"),
        ("title", "a {brace", "braces only in pairs"),
        ("title", "two\nlines", "one line of text"),
        ("authors", "", "may not be empty"),
        ("kind", "primary", "primary study"),
    ],
)
def test_what_is_wrong_with_the_paper_itself_is_told(
    tmp_path: Path, held: Holdings, name: str, value: str, words: str
) -> None:
    path = filled(tmp_path / "own.xlsx", lambda book: put(book, name, 2, value, STUDY))
    assert any(f"cell {column_of(openpyxl.load_workbook(path), STUDY, name)}2 ({name})" in each and words in each
               for each in sentences(path, held))  # fmt: skip


def test_all_problems_of_both_sheets_are_told_at_once(tmp_path: Path, held: Holdings) -> None:
    wrong = [("year", "31", STUDY, 2), ("n", "12,5", MEASUREMENTS, 2), ("basis", "cream", MEASUREMENTS, 3),
             ("component", "gold", MEASUREMENTS, 4), ("treated_mean", "=1", MEASUREMENTS, 2)]  # fmt: skip
    places: list[tuple[str, str]] = []

    def change(book: Workbook) -> None:
        for name, value, sheet, row in wrong:
            places.append((sheet, put(book, name, row, value, sheet)))

    found = sentences(filled(tmp_path / "own.xlsx", change), held)
    assert len(found) == len(wrong)
    for sheet, cell in places:
        assert sum(f"sheet {sheet}, cell {cell} " in each for each in found) == 1


def _drop(sheet: str, name: str) -> Callable[[Workbook], None]:
    def change(book: Workbook) -> None:
        book[sheet].delete_cols(openpyxl.utils.column_index_from_string(column_of(book, sheet, name)))

    return change


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda book: book.remove(book[MEASUREMENTS]), ["a sheet named Measurements"]),
        (lambda book: book.remove(book[STUDY]), ["a sheet named Study"]),
        (lambda book: setattr(book[MEASUREMENTS], "title", "Messungen"), ["a sheet named Measurements"]),
        (_drop(MEASUREMENTS, "component"), ["sheet Measurements", "a column headed component in row 1"]),
        (_drop(STUDY, "title"), ["sheet Study", "a column headed title in row 1"]),
        (lambda book: book[MEASUREMENTS].delete_rows(2, 3), ["sheet Measurements", "a heading alone"]),
        (lambda book: put(book, "assay", 1, "asay"), ["sheet Measurements, cell F1", "Nearest known: assay."]),
        (lambda book: put(book, "assay", 1, "form"), ["sheet Measurements, cell F1", "each column once"]),
        (lambda book: book[MEASUREMENTS].cell(3, 60, "stray"), ["cell BH3", "nothing, or the name of a column"]),
    ],
    ids=["no Measurements", "no Study", "renamed", "no component", "no title", "no rows", "unknown column",
         "column twice", "beside the table"],
)  # fmt: skip
def test_sheets_and_columns_that_are_missing_or_unknown_are_told(
    tmp_path: Path, held: Holdings, change: Callable[[Workbook], object], words: list[str]
) -> None:
    found = sentences(filled(tmp_path / "own.xlsx", lambda book: (change(book), None)[1]), held)
    assert any(all(word in sentence for word in words) for sentence in found), found


def _zip(path: Path, parts: dict[str, bytes]) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return path


def _with_part(path: Path, name: str, content: bytes) -> Path:
    with zipfile.ZipFile(path, "a", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(name, content)
    return path


def _forged(path: Path) -> Path:
    """Say in the directory of an archive that a large part is small."""
    raw = bytearray(_with_part(filled(path), "xl/big.xml", b" " * 30_000_000).read_bytes())
    at = raw.rfind(b"PK\x01\x02")
    assert raw[at + 46 :].startswith(b"xl/big.xml")
    raw[at + 24 : at + 28] = struct.pack("<I", 10)
    path.write_bytes(raw)
    return path


MEGABYTE = 1_000_000
BOMB = (b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY b "bbbbbbbb">'
        b'<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;">]><a>&c;</a>')  # fmt: skip


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda path: path.write_bytes(b"study,component\na,b\n"), "an .xlsx file that opens"),
        (lambda path: path.write_bytes(b""), "an empty file"),
        (lambda path: path.mkdir(), "a folder"),
        (lambda path: None, "a file that exists"),
        (lambda path: path.write_bytes(bytes.fromhex("d0cf11e0a1b11ae1") + bytes(600)), "with no password"),
        (lambda path: _zip(path, {"word/document.xml": b"<a/>"}), "holds no workbook"),
        (lambda path: _zip(path, {"xl/workbook.xml": b"<a/>"}), "cannot be opened"),
        (lambda path: path.write_bytes(filled(path).read_bytes()[:-400]), "an .xlsx file that opens"),
        (lambda path: _with_part(filled(path), "xl/big.xml", bytes(30 * MEGABYTE)), "unpacks to"),
        (lambda path: _with_part(filled(path), "xl/big.bin", bytes(450 * MEGABYTE)), "when unpacked"),
        (_forged, "an .xlsx file that opens"),
        (lambda path: _with_part(filled(path), "xl/other.xml", BOMB), "definitions of its own in xl/other.xml"),
    ],
    ids=["text", "empty", "folder", "missing", "locked", "another archive", "broken workbook", "cut off",
         "packed tight", "too large", "forged size", "entities"],
)  # fmt: skip
def test_a_file_that_is_no_safe_spreadsheet_is_refused_before_it_is_read(
    tmp_path: Path, held: Holdings, make: Callable[[Path], object], words: str
) -> None:
    path = tmp_path / "own.xlsx"
    make(path)
    (sentence,) = sentences(path, held)
    assert "own.xlsx" in sentence and words in sentence, sentence


def test_more_rows_than_allowed_are_refused(tmp_path: Path, held: Holdings) -> None:
    most = load_rules().spreadsheet.most_rows
    path = filled(tmp_path / "own.xlsx", lambda book: put(book, "notes", most + 2, "one too far"))
    assert any(f"at most {most:,} rows" in sentence for sentence in sentences(path, held))


def test_a_long_list_of_problems_is_counted_after_the_first(tmp_path: Path, held: Holdings) -> None:
    most = load_rules().spreadsheet.most_problems

    def change(book: Workbook) -> None:
        page = book[MEASUREMENTS]
        row = [cell.value for cell in page[2]]
        for number in range(10, 10 + most + 50):
            page.append([f"{KEY}-{number}", *row[1:]])
            put(book, "n", page.max_row, "x")

    found = sentences(filled(tmp_path / "own.xlsx", change), held)
    assert len(found) == most + 1 and "50 more problems" in found[-1]


def test_a_row_that_contradicts_itself_is_told_at_its_cell(tmp_path: Path, held: Holdings) -> None:
    places: list[str] = []
    path = filled(tmp_path / "own.xlsx", lambda book: places.append(put(book, "spread_kind", 2, "")))
    first, second = sentences(path, held)
    assert f"cell {places[0]} (spread_kind)" in first and "since baseline_spread is 0.80" in first
    assert f"cell {places[0]} (spread_kind)" in second and "since treated_spread is 0.90" in second


def test_what_deserves_a_look_is_a_notice_with_its_cell(tmp_path: Path, held: Holdings) -> None:
    path = filled(tmp_path / "own.xlsx", lambda book: put(book, "in_words", 3, "increase"))
    (notice,) = read_spreadsheet(path, held).bundle.notices
    assert "sheet Measurements, cell " in notice.sentence() and "3 (in_words)" in notice.sentence()
