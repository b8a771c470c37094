"""Text into spreadsheet cells so that no spreadsheet program runs it, and no digit of it is lost."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from openpyxl.cell.cell import Cell

__all__ = ["LONGEST_CELL", "put_text", "put_whole_number"]

# the format's own limit (ECMA-376 as written by spreadsheet programs); a longer text stands whole in the CSV table
LONGEST_CELL = 32_767
_CUT = " … (cut: a cell holds no more; whole in the CSV table)"
# signs with which a spreadsheet program begins a formula
_BEGINS_FORMULA = ("=", "+", "-", "@", "\t", "\r")
# characters that XML 1.0 cannot carry
_NOT_IN_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")


def put_text(cell: Cell, text: str) -> Cell:
    """Put text into a cell as text, whatever it begins with; return the cell.

    Characters that the format cannot carry become U+FFFD; a text longer than a cell holds is cut and says so.
    """
    shown = _NOT_IN_XML.sub("\ufffd", text)
    if len(shown) > LONGEST_CELL:
        shown = shown[: LONGEST_CELL - len(_CUT)] + _CUT
    cell.value = shown or None
    if shown:
        cell.data_type = "s"
        cell.number_format = "@"
    if shown.startswith(_BEGINS_FORMULA):
        cell.quotePrefix = True
    return cell


def put_whole_number(cell: Cell, text: str) -> Cell:
    """Put a whole number into a cell as a number, an empty text as nothing; return the cell."""
    cell.value = int(text) if text else None
    return cell
