"""The spreadsheet to fill in for a study: drop-down lists, a note on every column, an example in an invented study."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from evidence.handling.grammar import UNITS
from evidence.handling.vocabulary import load_vocabulary
from evidence.intake.reading import read_table
from evidence.intake.schema import load_schemas
from evidence.intake.study_sheet import KINDS, STUDY_COLUMNS
from evidence.model.problems import InputProblems, Problem
from evidence.model.shipped import data_folder
from evidence.model.workbook import put_text

if TYPE_CHECKING:
    from openpyxl import Workbook
    from openpyxl.cell.cell import Cell
    from openpyxl.worksheet.worksheet import Worksheet

__all__ = ["EXAMPLE_KEY", "EXAMPLE_ROWS", "LISTS", "MEASUREMENTS", "READ_ME", "STUDY", "write_template"]

READ_ME, STUDY, MEASUREMENTS, LISTS = "Read me", "Study", "Measurements", "Lists"
EXAMPLE_KEY = "inventedexample"
_KEY = next(column.example for column in STUDY_COLUMNS if column.name == "key")
# rows a form offers; a longer table keeps its lists by copying a row down
_FORM_ROWS = 500
_LONGEST_PROMPT = 255
_COMMON = {
    "study": _KEY, "basis": "milk", "design": "same milk", "n_kind": "donors", "stage": "mature",
    "read_from": "full text", "handling": "expressed > frozen -20C 30d [bag] > thawed [fridge] > freeze-dried",
    "baseline": "expressed > frozen -20C 30d [bag] > thawed [fridge]", "baseline_said": "thawed milk before drying",
    "notes": "INVENTED EXAMPLE: nobody measured this",
}  # fmt: skip
# nothing here was measured: figures chosen to show each way in which papers print
EXAMPLE_ROWS: tuple[Mapping[str, str], ...] = (
    {
        **_COMMON, "id": f"{_KEY}-1", "component": "total-fat", "measured_as": "amount", "n": "12", "n_mothers": "12",
        "unit": "g/100 mL", "baseline_mean": "3.50", "baseline_spread": "0.80", "treated_mean": "3.40",
        "treated_spread": "0.90", "spread_kind": "SD", "spread_of": "milks", "number_is": "value", "p": "0.20",
        "p_of": "this contrast", "locator": "Table 2, row 1",
    },
    {
        **_COMMON, "id": f"{_KEY}-2", "component": "lysozyme", "measured_as": "activity", "n": "12",
        "change_percent": "-10", "number_is": "value", "percent_of": "mean of percents", "percent_spread": "5",
        "percent_spread_kind": "SD", "p": "<0.05", "p_of": "this contrast", "in_words": "decrease",
        "words_scope": "this component", "locator": "Figure 1",
    },
    {
        **_COMMON, "id": f"{_KEY}-3", "component": "lactoferrin", "measured_as": "amount", "n": "12",
        "in_words": "no change", "words_scope": "a list", "locator": "page 4, last paragraph",
        "statement": f"{_KEY}-s1",
    },
)  # fmt: skip

_HOW = (
    "What this is for: bringing the results of one or more papers into your own store.",
    "1. Sheet Study: one row a paper. A paper that is already in the bibliography needs no row; use its key.",
    "2. Sheet Measurements: one row for each printed result, of one component under one condition.",
    "3. Copy what the paper prints, digit by digit. The tool does the arithmetic. Empty means: not printed.",
    "4. Write numbers with a decimal point, without thousands separators and without a percent sign.",
    "5. handling and baseline are chains of steps with ' > ' between; sheet Lists has the words and units.",
    "6. baseline_said: the paper's own word for the milk it compared with. Without the word fresh it is not fresh.",
    "7. Where the paper does not say, choose not stated or leave the cell empty. A guess is worse than a gap.",
    "8. Delete the rows of the INVENTED EXAMPLE on both sheets: a file that still holds them is refused.",
    "9. whatstays check FILE.xlsx names every problem with its cell; whatstays add FILE.xlsx adds all or nothing.",
)


@dataclass(frozen=True)
class _Column:
    """A column of a form: its name, what it means, whether it must be filled, the words allowed (none: any text)."""

    name: str
    meaning: str
    required: bool
    words: tuple[str, ...]


def _measurement_columns() -> list[_Column]:
    package = json.loads((data_folder() / "datapackage.json").read_text(encoding="utf-8"))
    raw = next(each for each in package["resources"] if each["name"] == "measurements")
    meanings = {str(column["name"]): str(column.get("description", "")) for column in raw["schema"]["fields"]}
    schema = load_schemas()["measurements"]
    return [_Column(each.name, meanings[each.name], each.required, each.enum) for each in schema.fields]


def _study_columns() -> list[_Column]:
    return [
        _Column(each.name, each.meaning, each.required, KINDS if each.name == "kind" else ()) for each in STUDY_COLUMNS
    ]


def _components() -> list[tuple[str, str]]:
    schema = load_schemas()["components"]
    table, problems = read_table(data_folder() / schema.path, schema)
    if problems:
        raise InputProblems(problems)
    return sorted((row["id"], row["name_en"]) for row in table.rows)


def _lists(columns: Sequence[_Column]) -> list[tuple[str, list[str]]]:
    """Return every list of the Lists sheet, heading and words."""
    vocabulary, components = load_vocabulary(), _components()
    closed = [(column.name, list(column.words)) for column in columns if column.words]
    methods = [f"{step} {method}" for step, names in vocabulary.methods.items() for method in names]
    conditions = [name if not takes else f"{name} ({takes})" for name, takes in vocabulary.conditions.items()]
    return [
        ("component", [each for each, _ in components]),
        ("name of the component", [name for _, name in components]),
        *closed,
        ("steps of a chain", list(vocabulary.steps)),
        ("steps with a method", methods),
        ("conditions, in [ ]", conditions),
        ("units, after a number", [f"{unit} ({quantity})" for unit, (quantity, _) in UNITS.items()]),
    ]


def _write(page: Worksheet, row: int, column: int, text: str) -> Cell:
    from openpyxl.cell.cell import Cell

    cell = page.cell(row, column)
    assert isinstance(cell, Cell), "a form has no merged cells"
    return put_text(cell, text)


def _put_column(page: Worksheet, at: int, heading: str, texts: Sequence[str]) -> None:
    from openpyxl.styles import Font

    _write(page, 1, at, heading).font = Font(bold=True)
    for row, text in enumerate(texts, start=2):
        _write(page, row, at, text)


def _fill_lists(page: Worksheet, lists: Sequence[tuple[str, list[str]]]) -> dict[str, str]:
    """Write the lists side by side; return heading -> range, as a validation formula names it."""
    from openpyxl.utils import get_column_letter

    ranges: dict[str, str] = {}
    for at, (heading, words) in enumerate(lists, start=1):
        _put_column(page, at, heading, words)
        letter = get_column_letter(at)
        page.column_dimensions[letter].width = 4 + max(map(len, (heading, *words)))
        ranges[heading] = f"{LISTS}!${letter}$2:${letter}${len(words) + 1}"
    page.freeze_panes = "A2"
    return ranges


def _prompt(column: _Column) -> str:
    must = "Must be filled. " if column.required else ""
    return (must + column.meaning)[:_LONGEST_PROMPT]


def _fill_form(
    page: Worksheet, columns: Sequence[_Column], rows: Sequence[Mapping[str, str]], ranges: Mapping[str, str]
) -> None:
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter
    from openpyxl.worksheet.datavalidation import DataValidation

    for at, column in enumerate(columns, start=1):
        letter = get_column_letter(at)
        _put_column(page, at, column.name, [row.get(column.name, "") for row in rows])
        if not column.required:
            page.cell(1, at).font = Font(italic=True)
        dimension = page.column_dimensions[letter]
        # text from the start, so that 3-7 does not become a date nor 4.10 a 4.1
        dimension.number_format = "@"
        dimension.width = max(12, len(column.name) + 4, *(min(50, len(row.get(column.name, "")) + 2) for row in rows))
        listed = ranges.get(column.name)
        note: Any = DataValidation(
            type="list" if listed else None, formula1=listed, allow_blank=True, showInputMessage=True,
            showErrorMessage=bool(listed), promptTitle=column.name, prompt=_prompt(column),
            errorTitle=column.name, error=f"Choose from the list (sheet {LISTS}).",
        )  # fmt: skip
        note.add(f"{letter}2:{letter}{_FORM_ROWS + 1}")
        page.add_data_validation(note)
    page.freeze_panes = "B2"


def _fill_read_me(page: Worksheet, study: Sequence[_Column], measurements: Sequence[_Column]) -> None:
    from openpyxl.styles import Alignment, Font

    for letter, width in zip("ABCD", (16, 22, 12, 90), strict=True):
        page.column_dimensions[letter].width = width
    _write(page, 1, 1, "A study for whatstays").font = Font(bold=True, size=14)
    for row, text in enumerate(_HOW, start=3):
        _write(page, row, 1, text)
    row = len(_HOW) + 4
    for at, text in enumerate(("sheet", "column", "to fill", "what stands in it"), start=1):
        _write(page, row, at, text).font = Font(bold=True)
    for sheet, columns in ((STUDY, study), (MEASUREMENTS, measurements)):
        for column in columns:
            row += 1
            choice = f" ({'; '.join(column.words)})" if column.words else ""
            texts = (sheet, column.name, "always" if column.required else "if printed", column.meaning + choice)
            for at, text in enumerate(texts, start=1):
                _write(page, row, at, text).alignment = Alignment(wrap_text=at == 4, vertical="top")


def _book() -> Workbook:
    from openpyxl import Workbook

    study, measurements = _study_columns(), _measurement_columns()
    book = Workbook()
    pages = {READ_ME: book.active} | {name: book.create_sheet(name) for name in (STUDY, MEASUREMENTS, LISTS)}
    pages[READ_ME].title = READ_ME
    ranges = _fill_lists(pages[LISTS], _lists([*study, *measurements]))
    _fill_read_me(pages[READ_ME], study, measurements)
    _fill_form(pages[STUDY], study, [{column.name: column.example for column in STUDY_COLUMNS}], ranges)
    _fill_form(pages[MEASUREMENTS], measurements, EXAMPLE_ROWS, ranges)
    return book


def write_template(path: Path) -> None:
    """Write the spreadsheet to fill in.

    Raises InputProblems where the name does not end in .xlsx, the file exists already, or it cannot be written.
    """
    if path.suffix.lower() != ".xlsx":
        raise InputProblems([Problem(path.name, None, None, str(path), "a name that ends in .xlsx")])
    if path.exists():
        raise InputProblems([Problem(path.name, None, None, "a file that is there already", "a new name")])
    try:
        _book().save(path)
    except OSError as error:
        read = f"{path} ({error.strerror or error})"
        raise InputProblems([Problem(path.name, None, None, read, "a file that can be written")]) from None
