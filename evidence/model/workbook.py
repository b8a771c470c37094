"""Text into spreadsheet cells so that no spreadsheet program runs it, and no digit of it is lost."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from openpyxl.cell.cell import Cell

__all__ = ["LONGEST_CELL", "escaped", "put_text", "put_whole_number", "unescaped"]

# the format's own limit (ECMA-376 as written by spreadsheet programs); a longer text stands whole in the CSV table
LONGEST_CELL = 32_767
_CUT = " … (cut: a cell holds no more; whole in the CSV table)"
# signs with which a spreadsheet program begins a formula
_BEGINS_FORMULA = ("=", "+", "-", "@", "\t", "\r")
# XML 1.0 cannot carry these, and would turn CR into LF; the format writes them _xHHHH_ (ECMA-376-1, ST_Xstring)
_ESCAPED = re.compile("[\x00-\x08\x0b-\x1f\ufffe\uffff]")
_LOOKS_ESCAPED = re.compile("_(?=x[0-9A-Fa-f]{4}_)")
_HALF_AN_ESCAPE = re.compile("_(x[0-9A-Fa-f]{0,4})?$")
_ESCAPE = re.compile("_x([0-9A-Fa-f]{4})_")


def escaped(text: str) -> str:
    """Return text as the format writes it, every character kept."""
    return _ESCAPED.sub(lambda found: f"_x{ord(found[0]):04X}_", _LOOKS_ESCAPED.sub("_x005F_", text))


def unescaped(text: str) -> str:
    """Return the text behind what the format wrote."""
    return _ESCAPE.sub(lambda found: chr(int(found[1], 16)), text) if "_x" in text else text


def put_text(cell: Cell, text: str) -> Cell:
    """Put text into a cell as text, whatever it begins with; return the cell.

    A text longer than a cell holds is cut and says so.
    """
    shown = escaped(text)
    if len(shown) > LONGEST_CELL:
        shown = _HALF_AN_ESCAPE.sub("", shown[: LONGEST_CELL - len(_CUT)]) + _CUT
    cell.value = shown or None
    if shown:
        cell.data_type = "s"
        cell.number_format = "@"
    if text.startswith(_BEGINS_FORMULA):
        cell.quotePrefix = True
    return cell


def put_whole_number(cell: Cell, text: str) -> Cell:
    """Put a whole number into a cell as a number, an empty text as nothing; return the cell."""
    cell.value = int(text) if text else None
    return cell
