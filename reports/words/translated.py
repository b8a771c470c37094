"""Translations through Babel: a language's .po file read into memory, and its dates. English never comes here."""

from __future__ import annotations

import gettext
from datetime import date
from functools import lru_cache
from importlib.resources import files
from io import BytesIO

from babel.dates import format_date
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po

__all__ = ["load_translations", "long_date"]


@lru_cache(maxsize=4)
def load_translations(language: str) -> gettext.GNUTranslations:
    """Read LANGUAGE.po; a message that is empty or marked fuzzy is left out, so that English stands there instead."""
    text = (files("reports.words") / f"{language}.po").read_bytes()
    compiled = BytesIO()
    write_mo(compiled, read_po(BytesIO(text), locale=language))
    compiled.seek(0)
    return gettext.GNUTranslations(compiled)


def long_date(day: date, language: str) -> str:
    """Return a date in words, the same on every machine: 3 mai 2027, 3 de mayo de 2027."""
    told = format_date(day, format="long", locale=language)
    if language == "fr" and day.day == 1:
        told = "1er" + told.removeprefix("1")
    return told
