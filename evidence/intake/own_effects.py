"""Reads a reader's own effects: a CSV file with the columns study, log_ratio and variance."""

import csv
import io
import math
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from evidence.model.problems import InputProblems, Problem, nearest_word

__all__ = ["COLUMNS", "OwnEffects", "csv_records", "file_text", "plain_number", "read_own_effects"]

COLUMNS = ("study", "log_ratio", "variance")
_KIND_OF_FILE = "a CSV file in utf-8 with the columns study, log_ratio, variance"
_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
# What exp() and the sums of squares carry; limits of the machine, not of the evidence.
_LARGEST_LOG_RATIO = 700.0
_SMALLEST_VARIANCE, _LARGEST_VARIANCE = 1e-30, 1e30


@dataclass(frozen=True)
class OwnEffects:
    """The rows of the file, in its order.

    Attributes:
        study: name of the study of each row; rows of one name are one study.
        log_ratio: natural logarithm of treated over baseline.
        variance: its variance, above 0.
    """

    study: tuple[str, ...]
    log_ratio: tuple[float, ...]
    variance: tuple[float, ...]


def read_own_effects(path: str | Path) -> OwnEffects:
    """Return the effects in a CSV file (utf-8, a byte-order mark allowed; other columns are passed over).

    Raises InputProblems with every problem found: file, row, column, what was read and what is allowed.
    """
    file = str(path)
    text = file_text(Path(path), file, _KIND_OF_FILE)
    problems: list[Problem] = []
    records = csv_records(text, file, problems)
    heading = next(records, None)
    if heading is None:
        raise InputProblems(problems or [Problem(file, None, None, "an empty file", _KIND_OF_FILE)])
    names = [name.strip() for name in heading[1]]
    problems += _heading_problems(file, heading[0], names)
    if problems:
        raise InputProblems(problems)
    place = {column: names.index(column) for column in COLUMNS}
    rows: list[tuple[str, float, float]] = []
    for line, cells in records:
        found = _row(file, line, cells, len(names), place)
        if isinstance(found, list):
            problems += found
        else:
            rows.append(found)
    if not rows and not problems:
        problems.append(Problem(file, None, None, "a heading and no rows", "at least one row under the heading"))
    if problems:
        raise InputProblems(problems)
    return OwnEffects(tuple(row[0] for row in rows), tuple(row[1] for row in rows), tuple(row[2] for row in rows))


def file_text(path: Path, file: str, kind: str) -> str:
    """Return the text of the file, or raise InputProblems; kind: what file is meant."""
    try:
        # A pipe or a device may never end, so only a regular file is opened.
        if path.is_dir():
            raise InputProblems([Problem(file, None, None, "a folder", kind)])
        if not path.exists():
            raise InputProblems([Problem(file, None, None, "nothing, there is no such file", kind)])
        if not path.is_file():
            raise InputProblems([Problem(file, None, None, "a device or a pipe", kind)])
        content = path.read_bytes()
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise InputProblems([Problem(file, None, None, f"nothing ({reason})", kind)]) from None
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        row = content.count(b"\n", 0, error.start) + 1
        read = f"the byte 0x{content[error.start]:02x}"
        raise InputProblems([Problem(file, row, None, read, "text in utf-8 (save the file as CSV utf-8)")]) from None


def csv_records(text: str, file: str, problems: list[Problem]) -> Iterator[tuple[int, list[str]]]:
    """Yield line number and cells of every line that is not empty; a break in the CSV itself is added to problems."""
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    line = 1
    while True:
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            allowed = f"cells of at most {csv.field_size_limit()} characters, quotes that are closed"
            problems.append(Problem(file, line, None, f"something that is not CSV ({error})", allowed))
            return
        if any(cell.strip() for cell in cells):
            yield line, cells
        line = reader.line_num + 1


def _heading_problems(file: str, line: int, names: list[str]) -> list[Problem]:
    problems = []
    allowed = "the columns study, log_ratio, variance, with commas between them"
    for column in dict.fromkeys(names):
        if column in COLUMNS and names.count(column) > 1:
            read = f"the column {column} {names.count(column)} times"
            problems.append(Problem(file, line, column, read, "each column once"))
    unknown = [name for name in dict.fromkeys(names) if name and name not in COLUMNS]
    for column in (column for column in COLUMNS if column not in names):
        like_it = next((name for name in unknown if nearest_word(name, COLUMNS) == column), None)
        if like_it is None:
            problems.append(Problem(file, line, column, ",".join(names), allowed))
        else:
            problems.append(Problem(file, line, column, like_it, allowed, column))
    return problems


def _row(
    file: str, line: int, cells: list[str], width: int, place: dict[str, int]
) -> tuple[str, float, float] | list[Problem]:
    """Return study, log ratio and variance of one row, or what is wrong with it."""
    if len(cells) != width:
        return [Problem(file, line, None, f"{len(cells)} cells", f"{width} cells, as in the heading")]
    study = cells[place["study"]].strip()
    log_ratio = plain_number(cells[place["log_ratio"]])
    variance = plain_number(cells[place["variance"]])
    problems = []
    if not study or not study.isprintable():
        problems.append(Problem(file, line, "study", study, "the name of a study, in printable characters"))
    if log_ratio is None or not abs(log_ratio) <= _LARGEST_LOG_RATIO:
        allowed = f"a number from {-_LARGEST_LOG_RATIO:g} to {_LARGEST_LOG_RATIO:g}, with a decimal point"
        problems.append(Problem(file, line, "log_ratio", cells[place["log_ratio"]].strip(), allowed))
    if variance is None or not _SMALLEST_VARIANCE <= variance <= _LARGEST_VARIANCE:
        allowed = f"a number above 0 ({_SMALLEST_VARIANCE:g} to {_LARGEST_VARIANCE:g}), with a decimal point"
        problems.append(Problem(file, line, "variance", cells[place["variance"]].strip(), allowed))
    if problems or log_ratio is None or variance is None:
        return problems
    return study, log_ratio, variance


def plain_number(cell: str) -> float | None:
    """Return the number in a cell, or None where there is none that is finite."""
    # float() alone would also take 1_000, nan, infinity and digits of other scripts.
    if not _NUMBER.fullmatch(cell.strip()):
        return None
    value = float(cell)
    return value if math.isfinite(value) else None
