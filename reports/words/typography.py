"""How a language sets numbers and spaces: decimal signs, spaces that never break, the sound a list's last word has."""

from __future__ import annotations

import re
import unicodedata

__all__ = ["NO_BREAK", "THIN", "say_number", "sort_key", "starts_with_i", "typeset", "unbroken"]

NO_BREAK, THIN = "\u00a0", "\u202f"

# a number and its unit never part; units as our sentences write them
_UNIT = re.compile(r"(?<=\d) (?=(?:°C|°F|mL|ml|dL|L|oz|mg|µg|g|kg|kcal|kJ|h|min|%|fl oz)(?![\w/]))")
# French, all no-break: a thin space before ; ! ? and inside guillemets, a full one before a colon and a percent sign
_THIN_BEFORE = re.compile(r"(?<=[^\s]) (?=[;!?](?:\s|$|[)»\u202f\u00a0\"]))")
_FULL_BEFORE = re.compile(r"(?<=[^\s]) (?=[:%](?:\s|$|[).,;»\u202f\u00a0]))")
_GUILLEMETS = re.compile(r"(?<=«) | (?=»)")
# Spanish: y becomes e before the sound i, but not before a diphthong (hie-, hia-)
_SOUND_I = re.compile(r"(?:i|í|hi(?![aeo])|hí)", re.IGNORECASE)


def typeset(text: str, language: str) -> str:
    """Return the text with the spaces that must not break made so; doing it twice changes nothing."""
    if language == "fr":
        text = _THIN_BEFORE.sub(THIN, text)
        text = _FULL_BEFORE.sub(NO_BREAK, text)
        text = _GUILLEMETS.sub(THIN, text)
    return unbroken(text)


def unbroken(text: str) -> str:
    """Return the text with no break between a number and its unit."""
    return _UNIT.sub(NO_BREAK, text)


def say_number(value: float, digits: int, language: str) -> str:
    """Return a number with so many decimals; thousands are grouped from 10 000 on; minus is a true minus sign."""
    grouped = abs(value) >= 10_000
    if language == "en" or not (grouped or digits):
        text = f"{value:,.{digits}f}" if grouped else f"{value:.{digits}f}"
    else:
        from babel.numbers import format_decimal

        pattern = ("#,##0" if grouped else "0") + ("." + "0" * digits if digits else "")
        text = format_decimal(value, format=pattern, locale=language)
        if language == "es":
            text = text.replace(".", THIN)  # a point could be taken for a decimal one
    return text.replace("-", "−")


def starts_with_i(word: str) -> bool:
    """Return whether a word begins with the sound i, before which Spanish changes its "and"."""
    return _SOUND_I.match(word) is not None


def sort_key(text: str) -> str:
    """Return what a name is sorted by: small letters without their accents, the same on every machine."""
    plain = unicodedata.normalize("NFD", text.lower())
    return "".join(letter for letter in plain if not unicodedata.combining(letter))
