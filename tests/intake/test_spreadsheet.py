"""A study in a spreadsheet: what is read from it is what stands in its cells."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from openpyxl import Workbook
from openpyxl.worksheet.datavalidation import DataValidation

from evidence.intake.bundle import Known
from evidence.intake.schema import load_schemas
from evidence.intake.spreadsheet import Spreadsheet, read_spreadsheet
from evidence.intake.study_sheet import STUDY_COLUMNS, Holdings, entry_of, holdings, study_problems
from evidence.intake.template import EXAMPLE_ROWS, LISTS, MEASUREMENTS, READ_ME, STUDY, write_template
from evidence.model.entries import study_entry, study_row
from evidence.model.problems import InputProblems
from evidence.model.tables import Component, Study
from evidence.model.workbook import put_text
from evidence.store import Store
from evidence.store.reading import all_rows
from evidence.store.references import as_bibtex, entries_of
from tests.spreadsheets import KEY, column_of, filled, put


@pytest.fixture(scope="session")
def held(shipped_store: Store) -> Holdings:
    studies = (study.model_dump() for study in all_rows(shipped_store, Study))
    return holdings(studies, {each.id: each.outcome for each in all_rows(shipped_store, Component)})


def rows_of(sheet: Spreadsheet) -> list[dict[str, Any]]:
    return sheet.bundle.rows("measurement")


def test_the_template_has_its_four_sheets_in_order(tmp_path: Path) -> None:
    write_template(tmp_path / "new.xlsx")
    assert openpyxl.load_workbook(tmp_path / "new.xlsx").sheetnames == [READ_ME, STUDY, MEASUREMENTS, LISTS]


def _validations(book: Workbook, name: str) -> dict[str, DataValidation]:
    page = book[name]
    found = {}
    for each in page.data_validations.dataValidation:
        letter = str(each.sqref).split(":")[0].rstrip("0123456789")
        found[str(page[f"{letter}1"].value)] = each
    return found


def test_every_closed_list_and_the_components_are_drop_down_lists_of_their_words(
    tmp_path: Path, held: Holdings
) -> None:
    write_template(tmp_path / "new.xlsx")
    book = openpyxl.load_workbook(tmp_path / "new.xlsx")
    validations = _validations(book, MEASUREMENTS)
    lists = {field.name: set(field.enum) for field in load_schemas()["measurements"].fields if field.enum}
    lists["component"] = set(held.known.outcomes)
    for column, words in lists.items():
        formula = validations[column].formula1
        cells = book[LISTS][formula.removeprefix(f"{LISTS}!").replace("$", "")]
        assert {cell[0].value for cell in cells} == words, column
        assert validations[column].type == "list"


def test_every_column_of_both_forms_has_a_note(tmp_path: Path) -> None:
    write_template(tmp_path / "new.xlsx")
    book = openpyxl.load_workbook(tmp_path / "new.xlsx")
    for name, columns in (
        (STUDY, [column.name for column in STUDY_COLUMNS]),
        (MEASUREMENTS, list(load_schemas()["measurements"].names())),
    ):
        validations = _validations(book, name)
        assert [cell.value for cell in book[name][1]] == columns
        assert all(validations[column].prompt and validations[column].showInputMessage for column in columns)


def test_the_example_is_marked_invented_wherever_it_stands(tmp_path: Path) -> None:
    write_template(tmp_path / "new.xlsx")
    book = openpyxl.load_workbook(tmp_path / "new.xlsx")
    rows = [*book[STUDY].iter_rows(min_row=2), *book[MEASUREMENTS].iter_rows(min_row=2)]
    texts = [" ".join(str(cell.value) for cell in row if cell.value) for row in rows]
    assert len(texts) == 1 + len(EXAMPLE_ROWS)
    assert all("INVENTED EXAMPLE" in text for text in texts)


def test_a_template_as_it_comes_is_refused_at_every_row_of_its_example(tmp_path: Path, held: Holdings) -> None:
    write_template(tmp_path / "new.xlsx")
    with pytest.raises(InputProblems) as caught:
        read_spreadsheet(tmp_path / "new.xlsx", held)
    sentences = [problem.sentence() for problem in caught.value.problems]
    places = ["sheet Study, cell A2 (key)", *(f"sheet Measurements, cell A{row} (id)" for row in (2, 3, 4))]
    assert len(sentences) == len(places)
    for sentence, place in zip(sentences, places, strict=True):
        assert place in sentence and "INVENTED EXAMPLE" in sentence and "delete its rows" in sentence


def test_the_example_under_a_name_of_its_own_is_a_good_study(tmp_path: Path, held: Holdings) -> None:
    sheet = read_spreadsheet(filled(tmp_path / "own.xlsx"), held)
    assert [row["key"] for row in sheet.bundle.rows("study")] == [KEY]
    for row, example in zip(rows_of(sheet), EXAMPLE_ROWS, strict=True):
        same = {name: text for name, text in example.items() if name not in ("id", "study", "notes", "statement")}
        assert {name: "" if row[name] is None else str(row[name]) for name in same} == same
    assert not sheet.bundle.notices


def test_columns_may_stand_in_any_order_and_unneeded_ones_be_missing(tmp_path: Path, held: Holdings) -> None:
    def change(book: Workbook) -> None:
        page = book[MEASUREMENTS]
        page.delete_cols(openpyxl.utils.column_index_from_string(column_of(book, MEASUREMENTS, "assay")))
        page.move_range(f"A1:A{page.max_row}", cols=60)
        page.delete_cols(1)

    sheet = read_spreadsheet(filled(tmp_path / "own.xlsx", change), held)
    assert [row["id"] for row in rows_of(sheet)] == [f"{KEY}-{n}" for n in (1, 2, 3)]


@pytest.mark.parametrize(
    ("value", "number_format", "text"),
    [(4, "General", "4"), (4.5, "General", "4.5"), (4.1, "0.00", "4.10"), (0.00001, "General", "0.00001"),
     (-3.0, "General", "-3"), (1e-12, "General", "0.000000000001")],
)  # fmt: skip
def test_a_number_in_a_cell_is_read_as_the_cell_shows_it(
    tmp_path: Path, held: Holdings, value: float, number_format: str, text: str
) -> None:
    def change(book: Workbook) -> None:
        place = put(book, "treated_mean", 2, value)
        book[MEASUREMENTS][place].number_format = number_format

    assert rows_of(read_spreadsheet(filled(tmp_path / "own.xlsx", change), held))[0]["treated_mean"] == text


def test_an_address_before_a_doi_is_taken_off(tmp_path: Path, held: Holdings) -> None:
    path = filled(tmp_path / "own.xlsx", lambda book: put(book, "doi", 2, "https://doi.org/10.1234/Abc.5", STUDY))
    (study,) = read_spreadsheet(path, held).bundle.rows("study")
    assert (study["doi"], study["completeness"]) == ("10.1234/Abc.5", "full")


def test_rows_of_a_paper_in_the_bibliography_need_no_row_on_the_study_sheet(tmp_path: Path, held: Holdings) -> None:
    key = sorted(held.known.studies)[0]

    def change(book: Workbook) -> None:
        book[STUDY].delete_rows(2)
        for row in (2, 3, 4):
            put(book, "study", row, key)

    sheet = read_spreadsheet(filled(tmp_path / "own.xlsx", change), held)
    assert not sheet.bundle.rows("study") and {row["study"] for row in rows_of(sheet)} == {key}


def _one_note(path: Path, text: str) -> Path:
    book = openpyxl.Workbook(write_only=True)
    study, page = book.create_sheet(STUDY), book.create_sheet(MEASUREMENTS)
    study.append([column.name for column in STUDY_COLUMNS])
    study.append([KEY, "Test, Ann", "2031", "Test paper"])
    names = load_schemas()["measurements"].names()
    page.append(list(names))
    row = dict(EXAMPLE_ROWS[0]) | {"id": f"{KEY}-1", "study": KEY, "notes": text}
    page.append([put_text(openpyxl.cell.WriteOnlyCell(page), row.get(name, "")) for name in names])
    book.save(path)
    return path


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(text=st.text(st.characters(exclude_categories=["Cs"])) | st.from_regex(r"\A[=+\-@].{1,8}_x00[0-9A-F]{2}_\Z"))
def test_any_text_is_read_back_or_its_cell_is_named(tmp_path: Path, held: Holdings, text: str) -> None:
    path = _one_note(tmp_path / "note.xlsx", text)
    read, refused = _read_or_refused(path, held)
    place = f"cell {openpyxl.utils.get_column_letter(len(load_schemas()['measurements'].names()))}2 (notes)"
    if refused:
        assert place in refused[0] and any(not letter.isprintable() for letter in text)
    else:
        assert read == text.strip()


def _read_or_refused(path: Path, held: Holdings) -> tuple[str, list[str]]:
    """Return the note that was read, or the sentences that refuse it."""
    try:
        (row,) = rows_of(read_spreadsheet(path, held))
    except InputProblems as refused:
        return "", [problem.sentence() for problem in refused.problems]
    return str(row["notes"]), []


@settings(max_examples=200, deadline=None)
@given(title=st.text(min_size=1, max_size=40))
def test_any_title_that_is_accepted_comes_back_from_bibtex_the_same(title: str) -> None:
    row = {column.name: "" for column in STUDY_COLUMNS} | {
        "key": KEY, "authors": "Test, Ann", "year": "2031", "title": title.strip(),
    }  # fmt: skip
    if not study_problems("a.xlsx", [2], [row], Holdings(Known())):
        entry = study_entry(study_row(entry_of(row)))
        assert entries_of(as_bibtex([entry])) == [entry]
