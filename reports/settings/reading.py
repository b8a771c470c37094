"""A settings file read and checked: everything that is wrong with it at once, each with the nearest thing allowed."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from pathlib import Path
from typing import Any, TypeVar

from evidence.model.problems import InputProblems, Problem, nearest_word
from evidence.model.rules import SettingsRules, load_rules
from reports.settings.colours import least_contrast, named_colour, nearest_passing
from reports.settings.logo import read_logo
from reports.settings.settings import FILE_NAME, PAPERS, Colour, Logo, PaperSize, Settings
from reports.words.catalogue import LANGUAGES
from reports.words.measures import UNITS, Units

__all__ = ["KEYS", "checked_settings", "country_names", "find_settings", "read_settings"]

Word = TypeVar("Word", Units, PaperSize)

# controls, marks that turn the direction of reading, line ends, private and half letters
_UNSEEN = ("Cc", "Cf", "Co", "Cs", "Cn", "Zl", "Zp")
_STACKED = re.compile(r"[\u0300-\u036f\u1ab0-\u1aff\u1dc0-\u1dff\u20d0-\u20ff\ufe20-\ufe2f]{3}")

# section -> its keys; the order is that of the file
KEYS = {
    "service": ("name", "country", "contact", "pages_at", "legal_status"),
    "pages": ("languages", "units", "paper"),
    "look": ("logo", "main_colour", "second_colour"),
}


def find_settings(folder: Path) -> Path | None:
    """Return the settings file of a folder, None where it has none."""
    path = folder / FILE_NAME
    return path if path.is_file() else None


def read_settings(path: Path) -> Settings:
    """Read and check a settings file; a logo's path counts from the file's folder. Raises InputProblems."""
    try:
        text = path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as refused:
        reason = getattr(refused, "strerror", None) or "not UTF-8 text"
        raise InputProblems([Problem(str(path), None, None, str(reason), "a settings file that can be read")]) from None
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError as refused:
        line = re.search(r"at line (\d+)", str(refused))
        row = int(line[1]) if line else None
        read = text.splitlines()[row - 1] if row and row <= len(text.splitlines()) else str(refused)
        allowed = 'lines of the form key = "value" (TOML)'
        raise InputProblems([Problem(str(path), row, None, read.strip(), allowed)]) from None
    return checked_settings(table, str(path), path.parent, text)


def checked_settings(table: dict[str, Any], file: str, folder: Path, text: str = "") -> Settings:
    """Return the settings of a table of sections and keys; file and text tell where a problem stands.

    Raises InputProblems with everything that is wrong.
    """
    reader = _Reader(file, folder, text, load_rules().settings)
    settings = reader.settings(table)
    if reader.problems:
        raise InputProblems(reader.problems)
    return settings


def country_names() -> dict[str, str]:
    """Return the countries' codes of two letters (ISO 3166-1) with their English names."""
    from babel import Locale

    return {
        code: name
        for code, name in sorted(Locale("en").territories.items())
        if re.fullmatch(r"[A-Z]{2}", code) and code not in ("EU", "EZ", "QO", "UN", "XA", "XB", "ZZ")
    }


class _Reader:
    """Reads key after key and gathers what is wrong."""

    def __init__(self, file: str, folder: Path, text: str, limits: SettingsRules) -> None:
        self.file, self.folder, self.lines, self.limits = file, folder, text.splitlines(), limits
        self.problems: list[Problem] = []

    def settings(self, table: dict[str, Any]) -> Settings:
        """Return what the table says; where something is wrong, a problem more and a value to go on with."""
        self._unknown(table)
        name = self._line(table, "name", self.limits.name_most_letters)
        if not name and not any(problem.column == "name" for problem in self.problems):
            self._wrong("name", "", "the name of your service")
        return Settings(
            name=name,
            country=self._country(table),
            contact=self._line(table, "contact"),
            legal_status=self._line(table, "legal_status"),
            pages_at=self._address(table),
            languages=self._languages(table),
            units=self._one_of(table, "units", UNITS, "metric"),
            paper=self._one_of(table, "paper", PAPERS, "a4"),
            logo=self._logo(table),
            main_colour=self._colour(table, "main_colour", self.limits.contrast_text),
            second_colour=self._colour(table, "second_colour", self.limits.contrast_lines),
        )

    def _wrong(self, key: str, read: object, allowed: str, nearest: str | None = None) -> None:
        row = self._row(key)
        place = f"key {key}" if row is None else f"line {row}, key {key}"
        self.problems.append(Problem(self.file, row, key, str(read), allowed, nearest, place))

    def _row(self, key: str) -> int | None:
        found = re.compile(rf"\s*\[?{re.escape(key)}\b")
        return next((row for row, line in enumerate(self.lines, start=1) if found.match(line)), None)

    def _unknown(self, table: dict[str, Any]) -> None:
        for section, keys in table.items():
            if section not in KEYS:
                self._wrong(section, section, f"the sections {', '.join(KEYS)}", nearest_word(section, KEYS))
            elif not isinstance(keys, dict):
                self._wrong(section, keys, f"a section, [{section}], with its keys below it")
            else:
                for key in keys:
                    if key not in KEYS[section]:
                        self._wrong(key, key, f"the keys {', '.join(KEYS[section])}", nearest_word(key, KEYS[section]))

    def _value(self, table: dict[str, Any], key: str) -> Any:
        section = next(name for name, keys in KEYS.items() if key in keys)
        held = table.get(section)
        return held.get(key, "") if isinstance(held, dict) else ""

    def _text(self, table: dict[str, Any], key: str) -> str:
        value = self._value(table, key)
        if not isinstance(value, str):
            self._wrong(key, value, 'words in quotation marks, as in "Dunlin Drying"')
            return ""
        return value.strip()

    def _line(self, table: dict[str, Any], key: str, most: int | None = None) -> str:
        value, most = self._text(table, key), most or self.limits.line_most_letters
        if len(value) > most:
            self._wrong(key, value, f"at most {most} letters ({len(value)} read)")
        elif any(unicodedata.category(letter) in _UNSEEN for letter in value) or _STACKED.search(value):
            seen = "".join(letter if unicodedata.category(letter) not in _UNSEEN else "?" for letter in value)
            self._wrong(key, seen, "one line of letters that can be seen, without marks that turn or cover others")
        elif value and not any(unicodedata.category(letter)[0] in "LN" for letter in value):
            self._wrong(key, value, "words with letters in them")
        else:
            return value
        return ""

    def _address(self, table: dict[str, Any]) -> str:
        value = self._line(table, "pages_at")
        if value and not re.fullmatch(r"https?://[^\s<>\"'{}|\\^`]+\.[^\s<>\"'{}|\\^`]+", value):
            self._wrong("pages_at", value, "an address as in https://example.org/milk")
            return ""
        return value

    def _country(self, table: dict[str, Any]) -> str:
        value, names = self._text(table, "country"), country_names()
        codes = {name.casefold(): code for code, name in names.items()}
        if not value or value.upper() in names:
            return value.upper()
        if value.casefold() in codes:
            return codes[value.casefold()]
        near = nearest_word(value, names.values())
        nearest = f"{codes[near.casefold()]} ({near})" if near else None
        self._wrong("country", value, "a country's code of two letters (ISO 3166), as in GB", nearest)
        return ""

    def _languages(self, table: dict[str, Any]) -> tuple[str, ...]:
        value, known = self._value(table, "languages"), tuple(LANGUAGES)
        if value in ("", []):
            return ("en",)
        if not isinstance(value, list) or not all(isinstance(each, str) for each in value):
            self._wrong("languages", value, f'a list as in ["en"], of: {", ".join(known)}')
            return ("en",)
        for each in value:
            if each not in known:
                self._wrong("languages", each, ", ".join(known), nearest_word(each, known))
        if len(set(value)) != len(value):
            self._wrong("languages", ", ".join(value), "each language once")
        return tuple(dict.fromkeys(value))

    def _one_of(self, table: dict[str, Any], key: str, words: tuple[Word, ...], usual: Word) -> Word:
        value = self._text(table, key)
        for word in words:
            if value.lower() == word:
                return word
        if value:
            self._wrong(key, value, " or ".join(words), nearest_word(value, words))
        return usual

    def _logo(self, table: dict[str, Any]) -> Logo | None:
        value = self._text(table, "logo")
        if not value:
            return None
        found = read_logo(self.folder / value, self.limits)
        if isinstance(found, Logo):
            return found
        allowed = (
            f"an SVG or PNG picture of at most {self.limits.logo_most_kilobytes:g} kilobytes and "
            f"{self.limits.logo_most_pixels} pixels, at most {self.limits.logo_widest:g} times as wide as high, "
            "that draws and does nothing else"
        )
        self._wrong("logo", f"{value}: {', '.join(found)}", allowed)
        return None

    def _colour(self, table: dict[str, Any], key: str, ratio: float) -> Colour | None:
        value = self._text(table, key).lower()
        if not value:
            return None
        if not re.fullmatch(r"#[0-9a-f]{6}", value):
            self._wrong(key, value, "a colour written as # and six digits, as in #204060", named_colour(value))
            return None
        light, dark = self.limits.light_backgrounds, self.limits.dark_backgrounds
        contrast = least_contrast(value, light)
        if contrast < ratio:
            allowed = (
                f"a colour that stands out {ratio:g} to 1 from the page (WCAG 2.2 AA); this one does {contrast:.1f}"
            )
            self._wrong(key, value, allowed, nearest_passing(value, light, ratio))
            return None
        return Colour(value, nearest_passing(value, dark, ratio))
