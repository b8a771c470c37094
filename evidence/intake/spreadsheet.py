"""A study from a spreadsheet (.xlsx): read whole, every problem told with its sheet and cell, nothing written."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from evidence.intake.archive import merged_cells, refuse_unsafe
from evidence.intake.bundle import Bundle, assemble
from evidence.intake.cells import Fault, hint_of_number, text_of
from evidence.intake.reading import Table
from evidence.intake.schema import FieldSchema, load_schemas
from evidence.intake.study_sheet import STUDY_COLUMNS, Holdings, entry_of, study_problems
from evidence.intake.template import EXAMPLE_KEY, MEASUREMENTS, STUDY
from evidence.model.problems import InputProblems, Problem, nearest_word
from evidence.model.rules import SpreadsheetRules, load_rules

if TYPE_CHECKING:
    from openpyxl import Workbook

__all__ = ["Spreadsheet", "read_spreadsheet"]

_DATES = frozenset({"second_read"})


@dataclass(frozen=True)
class Spreadsheet:
    """What a spreadsheet brings: rows of the store and their notices, and where each key and id stands in it."""

    bundle: Bundle
    places: dict[tuple[str, str], str]


@dataclass
class _Sheet:
    """A sheet while it is read: its columns with their letters, its rows with their numbers, the cells refused."""

    file: str
    name: str
    letters: dict[str, str]
    rows: list[dict[str, str]]
    lines: list[int]
    problems: list[Problem]
    refused: set[tuple[int, str]] = field(default_factory=set)

    def place(self, problem: Problem) -> Problem:
        """Return the problem with its row and column as a cell of the sheet."""
        where = f"sheet {self.name}"
        if problem.column == "component" and problem.allowed == "an id of components.csv":
            problem = replace(problem, allowed="a component of sheet Lists")
        if problem.row is not None and problem.column in self.letters:
            where += f", cell {self.letters[problem.column]}{problem.row} ({problem.column})"
        elif problem.row is not None:
            where += f", row {problem.row}" + (f", no column {problem.column}" if problem.column else "")
        elif problem.column is not None:
            where += f", column {problem.column}"
        return replace(problem, place=where)

    def say(self, row: int | None, column: str | None, fault: Fault) -> None:
        """Keep a problem of a cell."""
        self.problems.append(self.place(Problem(self.file, row, column, fault.read, fault.allowed, fault.nearest)))

    def say_cell(self, cell: str, fault: Fault) -> None:
        """Keep a problem of a cell or range that has no column of the table."""
        cells = "cells" if ":" in cell else "cell"
        place = f"sheet {self.name}, {cells} {cell}"
        self.problems.append(Problem(self.file, None, None, fault.read, fault.allowed, fault.nearest, place))


def _open(path: Path) -> Workbook:
    import warnings

    from openpyxl import load_workbook

    try:
        with warnings.catch_warnings():  # what openpyxl does not know of a sheet is of no matter to its cells
            warnings.simplefilter("ignore")
            return load_workbook(path, read_only=True)
    except Exception as error:  # openpyxl lets whatever a broken part raises through
        read = f"a spreadsheet that cannot be opened ({type(error).__name__})"
        raise InputProblems(
            [Problem(path.name, None, None, read, "an .xlsx file that a spreadsheet program opens and saves")]
        ) from None


def _heading(sheet: _Sheet, cells: Sequence[Any], known: Sequence[str], required: Iterable[str]) -> dict[int, str]:
    """Return column number -> name from the first row, and keep what is wrong with it."""
    from openpyxl.utils import get_column_letter

    at: dict[int, str] = {}
    for number, cell in enumerate(cells, start=1):
        name = "" if cell.value is None else str(cell.value).strip()
        letter = get_column_letter(number)
        if name in known and name not in sheet.letters:
            at[number] = name
            sheet.letters[name] = letter
        elif name in sheet.letters:
            sheet.say_cell(f"{letter}1", Fault(name, f"each column once; {sheet.letters[name]}1 has it too"))
        elif name:
            sheet.say_cell(f"{letter}1", Fault(name, "the name of a column", nearest_word(name, known)))
    for name in required:
        if name not in sheet.letters:
            sheet.say(None, name, Fault("no such column", f"a column headed {name} in row 1"))
    return at


def _read_sheet(
    file: str, book: Workbook, name: str, known: Sequence[str], required: Iterable[str], limits: SpreadsheetRules
) -> _Sheet:
    sheet = _Sheet(file, name, {}, [], [], [])
    title = next(title for title in book.sheetnames if title.strip().casefold() == name.casefold())
    page: Any = book[title]
    if not hasattr(page, "reset_dimensions"):
        sheet.problems.append(Problem(file, None, None, "a chart", "a sheet of cells", place=f"sheet {name}"))
        return sheet
    page.reset_dimensions()
    at: dict[int, str] = {}
    # one column more than is allowed, so that a wider sheet is seen
    for line, cells in enumerate(page.iter_rows(max_col=limits.most_columns + 1), start=1):
        if line == 1:
            at = _heading(sheet, cells, known, required)
            if sheet.problems:
                return sheet
        elif line > limits.most_rows + 1:
            allowed = f"at most {limits.most_rows:,} rows; part the table"
            sheet.problems.append(Problem(file, None, None, "more rows", allowed, place=f"sheet {name}"))
            return sheet
        else:
            _read_row(sheet, line, cells, at, known)
    return sheet


def _read_row(sheet: _Sheet, line: int, cells: Sequence[Any], at: dict[int, str], known: Sequence[str]) -> None:
    from openpyxl.utils import get_column_letter

    row: dict[str, str] = {}
    for number, cell in enumerate(cells, start=1):
        value = cell.value
        if value is None:
            continue
        name = at.get(number)
        shown = str(cell.number_format) if isinstance(value, int | float) else ""
        found = text_of(value, cell.data_type, shown, date_allowed=name in _DATES)
        if name is None:
            if isinstance(found, Fault) or found:
                read = found.read if isinstance(found, Fault) else found
                allowed = "nothing, or the name of a column in row 1 above it"
                sheet.say_cell(f"{get_column_letter(number)}{line}", Fault(read, allowed))
        elif isinstance(found, Fault):
            sheet.say(line, name, found)
            sheet.refused.add((line, name))
            row[name] = ""
        elif found:
            row[name] = found
    if row:
        sheet.rows.append(dict.fromkeys(known, "") | row)
        sheet.lines.append(line)


def _is_number(column: FieldSchema) -> bool:
    return column.type == "integer" or column.name == "p" or bool(column.pattern and "eE" in column.pattern)


def _check_measurements(sheet: _Sheet, columns: Sequence[FieldSchema]) -> None:
    numbers = {column.name for column in columns if _is_number(column)}
    seen: dict[tuple[str, str], int] = {}
    for line, row in zip(sheet.lines, sheet.rows, strict=True):
        for column in columns:
            name, text = column.name, row[column.name]
            if (line, name) in sheet.refused or (not text and not column.required):
                continue
            problem = column.refuse(sheet.file, line, text)
            if name in numbers and text and (problem is not None or not text.isascii()):
                fault = hint_of_number(text)
                if fault is not None:
                    sheet.say(line, name, fault)
                    continue
            if problem is not None:
                sheet.problems.append(sheet.place(replace(problem, read=text or "nothing")))
            elif column.unique:
                first = seen.setdefault((name, text), line)
                if first != line:
                    sheet.say(line, name, Fault(text, f"each {name} once; row {first} has it too"))


def _no_example(sheet: _Sheet, column: str) -> None:
    allowed = "your own study: the INVENTED EXAMPLE of the template may not stay in; delete its rows"
    for line, row in zip(sheet.lines, sheet.rows, strict=True):
        if row[column].startswith(EXAMPLE_KEY) or row.get("title", "").startswith("INVENTED EXAMPLE"):
            sheet.say(line, column, Fault(row[column], allowed))


def _no_merged(path: Path, sheet: _Sheet, book: Workbook) -> None:
    title = next(title for title in book.sheetnames if title.strip().casefold() == sheet.name.casefold())
    for cells in merged_cells(path, title):
        sheet.say_cell(cells, Fault("merged cells", "each value in a cell of its own: part them and repeat the value"))


def _limited(problems: Sequence[Problem], limits: SpreadsheetRules) -> list[Problem]:
    if len(problems) <= limits.most_problems:
        return list(problems)
    rest = len(problems) - limits.most_problems
    summary = Problem(
        problems[0].file, None, None, f"{rest:,} more problems", "none; mend these and check again to see the others"
    )
    return [*problems[: limits.most_problems], summary]


def _required_sheets(file: str, book: Workbook) -> list[Problem]:
    there = {title.strip().casefold() for title in book.sheetnames}
    read = "the sheets " + ", ".join(book.sheetnames)
    return [
        Problem(
            file, None, None, read, f"a sheet named {name}, as in the template", nearest_word(name, book.sheetnames)
        )
        for name in (STUDY, MEASUREMENTS)
        if name.casefold() not in there
    ]


def read_spreadsheet(path: Path, held: Holdings) -> Spreadsheet:
    """Read a study from a spreadsheet of the template's form; rows may refer to the papers and components held.

    Raises InputProblems with everything that is wrong, each problem with its sheet and cell.
    """
    limits = load_rules().spreadsheet
    refuse_unsafe(path, limits)
    book = _open(path)
    try:
        missing = _required_sheets(path.name, book)
        if missing:
            raise InputProblems(missing)
        studies, measurements = _guarded(path, lambda: _read_both(path, book, limits))
    finally:
        book.close()
    return _assembled(path.name, studies, measurements, held, limits)


def _guarded(path: Path, read: Callable[[], tuple[_Sheet, _Sheet]]) -> tuple[_Sheet, _Sheet]:
    try:
        return read()
    except InputProblems:
        raise
    except Exception as error:  # openpyxl reads rows as they are asked for, and lets a broken part's errors through
        what = f"a sheet that cannot be read ({type(error).__name__}: {str(error)[:80]})"
        raise InputProblems(
            [Problem(path.name, None, None, what, "an .xlsx file that a spreadsheet program opens and saves")]
        ) from None


def _read_both(path: Path, book: Workbook, limits: SpreadsheetRules) -> tuple[_Sheet, _Sheet]:
    schema = load_schemas()["measurements"]
    columns = [column.name for column in STUDY_COLUMNS]
    required = [column.name for column in STUDY_COLUMNS if column.required]
    studies = _read_sheet(path.name, book, STUDY, columns, required, limits)
    needed = [column.name for column in schema.fields if column.required]
    measurements = _read_sheet(path.name, book, MEASUREMENTS, schema.names(), needed, limits)
    for sheet in (studies, measurements):
        _no_merged(path, sheet, book)
    return studies, measurements


def _assembled(
    file: str, studies: _Sheet, measurements: _Sheet, held: Holdings, limits: SpreadsheetRules
) -> Spreadsheet:
    if studies.letters:
        problems = study_problems(file, studies.lines, studies.rows, held)
        studies.problems += [studies.place(p) for p in problems if (p.row, p.column) not in studies.refused]
        _no_example(studies, "key")
    if measurements.letters and not measurements.rows and not measurements.problems:
        measurements.problems.append(
            measurements.place(Problem(file, None, None, "a heading alone", "at least one row below it"))
        )
    _check_measurements(measurements, load_schemas()["measurements"].fields)
    _no_example(measurements, "id")
    found = [*studies.problems, *measurements.problems]
    table = Table(file, tuple(measurements.rows), tuple(measurements.lines))
    try:
        bundle = assemble([entry_of(row) for row in studies.rows], {"measurements": [table]}, held.known, found)
    except InputProblems as wrong:
        told = {problem.place for problem in found}
        emptied = {line for line, _ in measurements.refused}
        # a cell told already is not told again, nor what its refusal leaves empty, nor a paper on a sheet not read
        more = [
            measurements.place(each)
            for each in wrong.problems[len(found) :]
            if not (each.row in emptied and (each.read == "nothing" or (each.row, each.column) in measurements.refused))
            and not (each.column == "study" and not studies.letters)
        ]
        found += [problem for problem in more if problem.place not in told]
        raise InputProblems(_limited(found, limits)) from None
    places = {
        ("measurement", row["id"]): f"sheet {MEASUREMENTS}, cell {measurements.letters['id']}{line}"
        for line, row in zip(measurements.lines, measurements.rows, strict=True)
    } | {
        ("study", row["key"]): f"sheet {STUDY}, cell {studies.letters['key']}{line}"
        for line, row in zip(studies.lines, studies.rows, strict=True)
    }
    notices = tuple(measurements.place(notice) for notice in bundle.notices)
    return Spreadsheet(Bundle(bundle.tables, notices), places)
