"""Reading a CSV table against its schema: every cell that is wrong is told, and where it stands."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass
from pathlib import Path

from evidence.intake.schema import TableSchema
from evidence.model.problems import InputProblems, Problem, nearest_word

__all__ = ["LONGEST_LINE", "Table", "read_csv_lines", "read_table", "read_text"]

_CONTROL = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
# a table that most editions have nothing to put into
_MAY_BE_EMPTY = {"overrides"}
LONGEST_LINE = 1_000_000  # characters; a longer line is no table, and guards the memory of a small machine


@dataclass(frozen=True)
class Table:
    """A table as read: rows as column -> text, each with its line number in the file."""

    file: str
    rows: tuple[dict[str, str], ...]
    lines: tuple[int, ...]


def read_text(path: Path) -> str:
    """Return a file's text (UTF-8, with or without a byte order mark).

    Raises InputProblems where it cannot be read, is no UTF-8, or is empty.
    """
    name = path.name
    if path.is_dir():
        raise InputProblems([Problem(name, None, None, "a folder", "a file")])
    if path.exists() and not path.is_file():  # a pipe or a device may never end
        raise InputProblems([Problem(name, None, None, "a device or a pipe", "a file")])
    try:
        raw = path.read_bytes()
    except FileNotFoundError:
        raise InputProblems([Problem(name, None, None, str(path), "a file that exists")]) from None
    except OSError as error:
        raise InputProblems(
            [Problem(name, None, None, error.strerror or "no access", "a file that can be read")]
        ) from None
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        read = repr(raw[error.start : error.start + 1])[2:-1]
        raise InputProblems([Problem(name, line, None, f"the byte {read}", "text saved as UTF-8")]) from None
    if not text.strip():
        raise InputProblems([Problem(name, None, None, "an empty file", "a heading and at least one row")])
    control = _CONTROL.search(text)
    if control is not None:  # a spreadsheet writes none, and not every database keeps one
        line = text.count("\n", 0, control.start()) + 1
        raise InputProblems([Problem(name, line, None, f"the control character {control[0]!r}", "printable text")])
    return text


def read_csv_lines(path: Path) -> list[tuple[int, list[str]]]:
    """Return the records of a CSV file with the line number at which each begins; blank lines are passed over."""
    text = read_text(path)
    for number, line in enumerate(text.split("\n"), start=1):
        if len(line) > LONGEST_LINE:
            allowed = f"lines of at most {LONGEST_LINE:,} characters"
            raise InputProblems([Problem(path.name, number, None, f"a line of {len(line):,} characters", allowed)])
    csv.field_size_limit(LONGEST_LINE)
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    records: list[tuple[int, list[str]]] = []
    begins = 1
    try:
        for record in reader:
            if any(cell.strip() for cell in record):
                records.append((begins, record))
            begins = reader.line_num + 1
    except csv.Error as error:
        raise InputProblems(
            [Problem(path.name, begins, None, str(error), "comma-separated values with quotes closed in pairs")]
        ) from None
    if not records:
        raise InputProblems([Problem(path.name, None, None, "nothing but commas", "a heading and at least one row")])
    return records


def _heading(path: Path, heading: list[str], schema: TableSchema) -> list[Problem]:
    problems: list[Problem] = []
    known = schema.names()
    required = {field.name for field in schema.fields if field.required}
    for name in heading:
        if name not in known:
            problems.append(Problem(path.name, 1, name, name, "a column of the table", nearest_word(name, known)))
        elif heading.count(name) > 1:
            problems.append(Problem(path.name, 1, name, name, "each column once"))
    for name in known:
        if name in required and name not in heading:
            problems.append(Problem(path.name, 1, name, "no such column", f"a column named {name}"))
    return list(dict.fromkeys(problems))


def read_table(path: Path, schema: TableSchema) -> tuple[Table, list[Problem]]:
    """Read a table and return it with everything that is wrong in its cells.

    Raises InputProblems where the file or its heading cannot be read at all.
    """
    records = read_csv_lines(path)
    heading = [cell.strip() for cell in records[0][1]]
    problems = _heading(path, heading, schema)
    if problems:
        raise InputProblems(problems)
    if len(records) == 1 and schema.name not in _MAY_BE_EMPTY:
        raise InputProblems([Problem(path.name, None, None, "a heading alone", "at least one row")])
    rows: list[dict[str, str]] = []
    lines: list[int] = []
    seen: dict[tuple[str, str], int] = {}
    for line, record in records[1:]:
        if len(record) != len(heading):
            read = f"{len(record)} cells"
            problems.append(Problem(path.name, line, None, read, f"{len(heading)} cells, as in the heading"))
            continue
        row = dict.fromkeys(schema.names(), "") | dict(zip(heading, (cell.strip() for cell in record), strict=True))
        for field in schema.fields:
            problem = field.refuse(path.name, line, row[field.name])
            if problem is not None:
                problems.append(problem)
            if field.unique and row[field.name]:
                first = seen.setdefault((field.name, row[field.name]), line)
                if first != line:
                    allowed = f"each {field.name} once; row {first} has it too"
                    problems.append(Problem(path.name, line, field.name, row[field.name], allowed))
        rows.append(row)
        lines.append(line)
    return Table(path.name, tuple(rows), tuple(lines)), problems
