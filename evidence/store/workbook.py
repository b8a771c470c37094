"""Tables as one spreadsheet (Office Open XML, ECMA-376): a sheet a table, headings frozen, filters on, no formulas."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from evidence.model.workbook import put_text, put_whole_number

if TYPE_CHECKING:
    from openpyxl import Workbook

__all__ = ["Sheet", "write_workbook"]

_WIDE, _NARROW = 60, 9


@dataclass(frozen=True)
class Sheet:
    """One table: its name and title, its columns with what they mean, its rows as text, which columns are numbers."""

    name: str
    title: str
    columns: tuple[tuple[str, str], ...]
    rows: tuple[Mapping[str, str], ...]
    whole_numbers: frozenset[str]


def _width(column: str, rows: Sequence[Mapping[str, str]]) -> int:
    longest = max((len(row.get(column, "")) for row in rows[:500]), default=0)
    return max(_NARROW, min(_WIDE, 2 + max(len(column), longest)))


def _about(book: Workbook, about: Sequence[tuple[str, str]], sheets: Sequence[Sheet]) -> None:
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Font

    page: Any = book.create_sheet("Read me")
    for letter, width in zip("ABCD", (22, 24, 60, 60), strict=True):
        page.column_dimensions[letter].width = width

    def line(*texts: str, bold: bool = False) -> None:
        cells = [put_text(WriteOnlyCell(page), text) for text in texts]
        for cell in cells if bold else cells[:1]:
            cell.font = Font(bold=True)
        page.append(cells)

    for name, text in about:
        line(name, text)
    line("")
    line("Sheet", "Column", "What stands in it", bold=True)
    for sheet in sheets:
        for column, meaning in sheet.columns:
            line(sheet.name, column, meaning)


def write_workbook(path: Path, about: Sequence[tuple[str, str]], sheets: Sequence[Sheet]) -> None:
    """Write a "Read me" sheet (name and text in pairs, then every column's meaning) and a sheet for each table."""
    from openpyxl import Workbook
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    book = Workbook(write_only=True)
    _about(book, about, sheets)
    for sheet in sheets:
        page: Any = book.create_sheet(sheet.name)
        page.freeze_panes = "B2"
        page.auto_filter.ref = f"A1:{get_column_letter(len(sheet.columns))}{len(sheet.rows) + 1}"
        for at, (column, _) in enumerate(sheet.columns, start=1):
            page.column_dimensions[get_column_letter(at)].width = _width(column, sheet.rows)
        heading = [put_text(WriteOnlyCell(page), column) for column, _ in sheet.columns]
        for cell in heading:
            cell.font = Font(bold=True)
        page.append(heading)
        puts = [(name, put_whole_number if name in sheet.whole_numbers else put_text) for name, _ in sheet.columns]
        for row in sheet.rows:
            page.append([put(WriteOnlyCell(page), row[name]) if row.get(name) else None for name, put in puts])
    book.save(path)
