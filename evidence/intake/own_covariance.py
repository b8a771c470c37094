"""Reads the covariance matrix of a reader's own effects: a square of plain numbers in a CSV file.

One line for each row of the effects, in the same order, as many numbers in each. A first line that holds the studies'
names, in that order, is allowed and checked. The diagonal must be the column variance, to the digits given.
"""

from decimal import Decimal
from pathlib import Path

from evidence.intake.own_effects import OwnEffects, csv_records, file_text, plain_number
from evidence.model.problems import InputProblems, Problem

__all__ = ["read_own_covariance"]

_KIND_OF_FILE = "a CSV file in utf-8 that holds a square of numbers, a line for each row of effects"
_SYMMETRIC = "a symmetric matrix: the same number in row i, column j as in row j, column i"
_ROUNDING = 1e-9  # of a standard error squared: two readings of one number
_MOST_TOLD = 20  # problems of one kind; a matrix has many cells

Matrix = tuple[tuple[float, ...], ...]


def read_own_covariance(path: str | Path, effects: OwnEffects) -> Matrix:
    """Return the covariance matrix of the effects, n rows of n numbers.

    Raises InputProblems: file, row, column (by number), what was read and what is allowed. Whether the matrix is
    positive definite is for the statistics to say.
    """
    file, size = str(path), len(effects.study)
    problems: list[Problem] = []
    lines = list(csv_records(file_text(Path(path), file, _KIND_OF_FILE), file, problems))
    if not lines and not problems:
        problems.append(Problem(file, None, None, "an empty file", _KIND_OF_FILE))
    # Names that are numbers are told from a line of the matrix by the number of lines.
    if lines and (len(lines) == size + 1 or not any(_is_number(cell) for cell in lines[0][1])):
        problems += _heading_problems(file, lines[0], effects.study)
        lines = lines[1:]
    if not problems and len(lines) != size:
        read = f"{len(lines)} line{'s' if len(lines) != 1 else ''} of numbers"
        problems.append(Problem(file, None, None, read, f"{size}, one for each row of effects"))
    rows: list[tuple[int, tuple[float, ...]]] = []
    for line, cells in lines:
        numbers = _numbers(file, line, cells, size, problems)
        rows.append((line, numbers))
    if not problems:
        problems += _symmetry_problems(file, rows)
        problems += _diagonal_problems(file, rows, effects)
    if problems:
        raise InputProblems(problems)
    return tuple(numbers for _, numbers in rows)


def _is_number(cell: str) -> bool:
    return plain_number(cell) is not None


def _heading_problems(file: str, line: tuple[int, list[str]], study: tuple[str, ...]) -> list[Problem]:
    """Return what is wrong with a first line of names."""
    names = [name.strip() for name in line[1]]
    if len(names) != len(study):
        allowed = f"{len(study)} names, one for each row of effects, or no heading"
        return [Problem(file, line[0], None, f"{len(names)} names", allowed)]
    problems = []
    for place, (read, meant) in enumerate(zip(names, study, strict=True), start=1):
        if read != meant:
            problems.append(Problem(file, line[0], str(place), read, f"{meant}, the study of row {place} of effects"))
    return problems[:_MOST_TOLD]


def _numbers(file: str, line: int, cells: list[str], size: int, problems: list[Problem]) -> tuple[float, ...]:
    """Return the numbers of a line; what is wrong is added to problems."""
    if len(cells) != size:
        problems.append(Problem(file, line, None, f"{len(cells)} cells", f"{size}, one for each row of effects"))
        return ()
    numbers = []
    for place, cell in enumerate(cells, start=1):
        number = plain_number(cell)
        if number is not None:
            numbers.append(number)
        elif len(problems) < _MOST_TOLD:
            problems.append(Problem(file, line, str(place), cell.strip(), "a number with a decimal point"))
    return tuple(numbers)


def _symmetry_problems(file: str, rows: list[tuple[int, tuple[float, ...]]]) -> list[Problem]:
    problems: list[Problem] = []
    for i, (line, numbers) in enumerate(rows):
        for j in range(i):
            here, there = numbers[j], rows[j][1][i]
            scale = abs(numbers[i] * rows[j][1][j]) ** 0.5
            if abs(here - there) > _ROUNDING * scale and len(problems) < _MOST_TOLD:
                read = f"{here!r}, and {there!r} in row {rows[j][0]}, column {i + 1}"
                problems.append(Problem(file, line, str(j + 1), read, _SYMMETRIC))
    return problems


def _diagonal_problems(file: str, rows: list[tuple[int, tuple[float, ...]]], effects: OwnEffects) -> list[Problem]:
    problems: list[Problem] = []
    for place, (line, numbers) in enumerate(rows):
        here, meant = numbers[place], effects.variance[place]
        if here <= 0.0:
            problems.append(Problem(file, line, str(place + 1), repr(here), "a variance above 0 on the diagonal"))
        elif abs(here - meant) > _half_a_digit(here) + _half_a_digit(meant):
            allowed = f"the variance of row {place + 1} of effects, {meant!r}, to the digits given"
            problems.append(Problem(file, line, str(place + 1), repr(here), allowed))
    return problems[:_MOST_TOLD]


def _half_a_digit(value: float) -> float:
    """Return half a unit of the last digit with which a number is written, a little more for its binary form."""
    exponent = Decimal(repr(value)).normalize().as_tuple().exponent
    return 0.5000001 * 10.0 ** int(exponent)
