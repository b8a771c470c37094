"""What a spreadsheet's cell says, as text; and what is wrong with it where it says it in a way that loses meaning."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any

from evidence.model.workbook import unescaped

__all__ = ["Fault", "hint_of_number", "text_of"]

_CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x84\x86-\x9f\ud800-\udfff\ufffe\uffff]")
_DECIMALS = re.compile(r"^0\.(0+)$")
_NUMBER = r"[-+]?\d+(?:\.\d+)?"
_COMMA = re.compile(r"^[-+]?\d+,\d+$")
_AMBIGUOUS_COMMA = re.compile(r"^[-+]?[1-9]\d{0,2},\d{3}$")
_THOUSANDS = re.compile(r"^[-+]?\d{1,3}(?:([,.' ’])\d{3})(?:\1\d{3})*(?:[.,]\d+)?$")
_PAIR = re.compile(rf"^({_NUMBER})\s*(?:-|–|—|to|;)\s*({_NUMBER})$")
_SPACES = {
    "\u00a0": "a non-breaking space",
    "\u202f": "a narrow non-breaking space",
    "\u2007": "a figure space",
    "\u2009": "a thin space",
    "\u200b": "a zero-width space",
    "\u2060": "a word joiner",
    "\ufeff": "a byte order mark",
}
_MINUS = "\u2212\u2010\u2011\u2012\u2013"
_A_NUMBER = "a plain number with a decimal point, no thousands separator and no spaces"


@dataclass(frozen=True)
class Fault:
    """What was read in a cell, what is allowed there, and the nearest thing that would do."""

    read: str
    allowed: str
    nearest: str | None = None


def _number(value: float, number_format: str) -> str:
    text = repr(value)
    if "e" in text:  # 1e-05 is a way of writing, not what the cell shows
        text = format(Decimal(text), "f")
    shown = _DECIMALS.match(number_format)
    if shown:
        padded = f"{value:.{len(shown[1])}f}"
        return padded if float(padded) == value else text
    return text


def text_of(value: Any, data_type: str, number_format: str, *, date_allowed: bool) -> str | Fault:
    """Return a cell's text, spaces at its ends taken away, or what is wrong with it.

    value, data_type and number_format are as openpyxl reads them. A number is written with the decimals its cell shows,
    where it shows a fixed number of them.
    """
    if data_type == "f":
        formula = str(getattr(value, "text", value))
        return Fault(formula, "the figure itself, not a formula: copy it and paste it as a value")
    if data_type == "e":
        return Fault(str(value), "what the paper prints; this is a spreadsheet's sign of an error")
    if isinstance(value, bool):
        return Fault("TRUE" if value else "FALSE", "text or a number, not a cell of yes or no")
    if isinstance(value, datetime | date | time | timedelta):
        if date_allowed and isinstance(value, date):
            return value.isoformat()[:10]
        return Fault(
            f"a date or time ({value})",
            "what the paper prints; spreadsheets turn 3-7 into a date: format the cell as text and type it again",
        )
    if isinstance(value, int | float):
        if "%" in number_format:
            allowed = f"the number without a percent sign, formatted as text ({_number(round(value * 100, 10), '')})"
            return Fault(f"{value} shown as a percentage", allowed)
        return _number(value, number_format)
    text = unescaped(str(value)).strip()
    control = _CONTROL.search(text)
    if control is not None:
        return Fault(f"the control character U+{ord(control[0]):04X}", "printable text")
    return text


def hint_of_number(text: str) -> Fault | None:
    """Return what is wrong with text where a number belongs, if it looks like a number written another way."""
    for sign, name in _SPACES.items():
        if sign in text:
            bare = "".join(text.split()).replace(sign, "")
            return Fault(text.replace(sign, " "), f"{_A_NUMBER}; {name} stands in it", _plain(bare.replace(",", ".")))
    if any(sign in text for sign in _MINUS) and not _PAIR.match(text):
        return Fault(text, "a minus typed as - (another dash stands there)", _plain(re.sub(f"[{_MINUS}]", "-", text)))
    pair = _PAIR.match(text)
    if pair is not None:
        return Fault(text, "one number; where a spread is a pair, with two dots between", f"{pair[1]}..{pair[2]}")
    if text.endswith("%"):
        return Fault(text, "the number without a percent sign", _plain(text[:-1].strip()))
    if _AMBIGUOUS_COMMA.match(text):
        allowed = f"{_A_NUMBER}; this may be {text.replace(',', '.')} or {text.replace(',', '')}"
        return Fault(text, allowed)
    if _COMMA.match(text):
        return Fault(text, "a decimal point, not a decimal comma", text.replace(",", "."))
    thousands = _THOUSANDS.match(text)
    if thousands is not None:
        return Fault(text, "no thousands separators", _plain(text.replace(thousands[1], "").replace(",", ".")))
    if not text.isascii():
        return Fault(text, "the digits 0 to 9")
    return None


def _plain(text: str) -> str | None:
    return text if re.match(rf"^{_NUMBER}$", text, re.ASCII) else None
