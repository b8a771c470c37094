"""Spreadsheets for tests: the template filled in for a paper that does not exist, then changed as a test asks."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import openpyxl
from openpyxl import Workbook

from evidence.intake.template import MEASUREMENTS, STUDY, write_template
from evidence.model.workbook import put_text

__all__ = ["KEY", "column_of", "filled", "nothing", "put"]

KEY = "testpaper2031freeze"


def nothing(book: Workbook) -> None:
    """Change nothing."""


def filled(path: Path, change: Callable[[Workbook], None] = nothing) -> Path:
    """Write the template with its example made a paper of ours (three rows), changed, and return its path."""
    write_template(path)
    book = openpyxl.load_workbook(path)
    for name in (STUDY, MEASUREMENTS):
        for row in book[name].iter_rows(min_row=2):
            for cell in row:
                if isinstance(cell.value, str):
                    text = cell.value.replace("inventedexample2027freeze", KEY)
                    put_text(cell, text.replace("INVENTED EXAMPLE", "Test paper"))
    change(book)
    book.save(path)
    return path


def column_of(book: Workbook, sheet: str, name: str) -> str:
    """Return the letter of a column by its heading."""
    return next(cell.column_letter for cell in book[sheet][1] if cell.value == name)


def put(book: Workbook, name: str, row: int, value: object, sheet: str = MEASUREMENTS, *, as_text: bool = False) -> str:
    """Put a value into a column of a row as a person would type it, or as text; return the cell's name."""
    place = f"{column_of(book, sheet, name)}{row}"
    cell = book[sheet][place]
    if isinstance(value, str) and (as_text or not value.startswith("=")):
        put_text(cell, value)
    else:
        cell.number_format = "General"
        cell.value = value
    return place
