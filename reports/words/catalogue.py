"""The message catalogue of a language: English from TOML, other languages from a .po file, numbers and lists with it.

English is the source and stands in en.toml (part "main") and PART.en.toml; translations of all parts stand in one file
a language, fr.po and es.po (gettext). English loads neither Babel nor gettext.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from datetime import date
from functools import lru_cache, reduce
from importlib.resources import files
from typing import Any, Protocol

from reports.words.names import Name, made_name
from reports.words.typography import say_number, starts_with_i, typeset

__all__ = ["LANGUAGES", "MAIN", "Catalogue", "english_messages", "is_plural", "joined", "load_catalogue", "number_word"]

# each language by its own name, in the order in which pages offer them
LANGUAGES = {"en": "English", "fr": "français", "es": "español"}
MAIN = "main"

# English dates without Babel, whose first import is slow
_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip

Table = Mapping[str, Any]


class _Translations(Protocol):
    """What gettext gives: a message in its context, and one chosen by number; both fall back to English."""

    def pgettext(self, context: str, message: str) -> str: ...

    def npgettext(self, context: str, msgid1: str, msgid2: str, n: int) -> str: ...


class Catalogue:
    """Sentences by section and key; say() fills one in and raises KeyError where a sentence or value is missing."""

    def __init__(
        self,
        messages: Table,
        language: str = "en",
        part: str = MAIN,
        *,
        translations: _Translations | None = None,
        main: Catalogue | None = None,
    ) -> None:
        self.language = language
        self.part = part
        self._messages = messages
        self._translations = translations
        self._main = main or self

    def say(self, key: str, /, **values: object) -> str:
        """Return the message "section/key" filled in; a capitalised value name capitalises the value.

        Of a Name the sentence may use every form: {component}, {of_component}, {the_component}, {of_the_component}.
        """
        found = self._find(key)
        if not isinstance(found, str):
            raise KeyError(f"{key} is not one sentence; a plural is asked for with count()")
        if self._translations is not None:
            found = self._translations.pgettext(f"{self.part}/{key}", found)
        return self._filled(found, values)

    def count(self, key: str, n: int, /, **values: object) -> str:
        """Return the plural "section/key" for n, filled in.

        The message may use {n} (a small number in words), {n_f} (the same for a feminine noun) and {digits}.
        """
        found = self._find(key)
        if not is_plural(found):
            raise KeyError(f"{key} is not a plural: it needs one = and other =")
        if self._translations is None:
            text = found["one"] if n == 1 else found["other"]
        else:
            text = self._translations.npgettext(f"{self.part}/{key}", found["one"], found["other"], n)
        numbers = {"n": self.word(n), "n_f": self.word(n, feminine=True), "digits": self.number(n)}
        return self._filled(text, numbers | values)

    def has(self, key: str) -> bool:
        """Return whether a message exists."""
        try:
            found = self._find(key)
        except KeyError:
            return False
        return isinstance(found, str) or is_plural(found)

    def table(self, section: str = "") -> dict[str, str]:
        """Return the messages of one section that are one sentence each, not filled in; "" is the part's top."""
        found = self._find(section) if section else self._messages
        said = {key: text for key, text in found.items() if isinstance(text, str)}
        if self._translations is None:
            return said
        place = f"{self.part}/{section}/" if section else f"{self.part}/"
        translated = {key: self._translations.pgettext(place + key, text) for key, text in said.items()}
        return {key: typeset(text, self.language) for key, text in translated.items()}

    def plain(self) -> dict[str, Any]:
        """Return all messages in this language as plain values, to be kept and read without gettext."""
        return self._plain(self._messages, f"{self.part}/")

    def _plain(self, found: Table, place: str) -> dict[str, Any]:
        said: dict[str, Any] = {}
        for key, value in found.items():
            if is_plural(value) and self._translations is not None:
                one, other = (
                    self._translations.npgettext(place + key, value["one"], value["other"], n) for n in (1, 2)
                )
                said[key] = {"one": one, "other": other}
            elif isinstance(value, str):
                translated = self._translations is not None and value
                said[key] = self._translations.pgettext(place + key, value) if translated else value  # type: ignore[union-attr]
            else:
                said[key] = self._plain(value, f"{place}{key}/") if isinstance(value, Mapping) else value
        return said

    def word(self, n: int, *, feminine: bool = False) -> str:
        """Return a small whole number as a word, a larger one in digits; feminine where a noun after it asks for it."""
        main = self._main
        if feminine and main.has(f"number/{n}f"):
            return main.say(f"number/{n}f")
        return main.say(f"number/{n}") if main.has(f"number/{n}") else self.number(n)

    def number(self, value: float, digits: int = 0) -> str:
        """Return a number with so many decimals, as the language writes it: its decimal sign, a true minus sign."""
        return say_number(value, digits, self.language)

    def joined(self, parts: Sequence[str]) -> str:
        """Return parts as a list in words: a, b and c."""
        if len(parts) <= 1:
            return "".join(parts)
        key = "list/and_before_i" if starts_with_i(parts[-1]) else "list/and"
        return self._main.say(key, first=", ".join(parts[:-1]), last=parts[-1])

    def apart(self, parts: Sequence[str]) -> str:
        """Return parts that hold commas of their own as one line: a; b; c."""
        if not parts:
            return ""
        return reduce(lambda first, last: self._main.say("list/of_two", first=first, second=last), parts)

    def date(self, day: date) -> str:
        """Return a date in its long form: 3 May 2027."""
        if self.language == "en":
            return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"
        from reports.words.translated import long_date

        return typeset(long_date(day, self.language), self.language)

    def _find(self, key: str) -> Any:
        found: Any = self._messages
        for part in key.split("/"):
            if not isinstance(found, Mapping):
                raise KeyError(key)
            found = found[part]
        return found

    def _filled(self, text: str, values: Mapping[str, object]) -> str:
        forms = dict(values)
        for name, value in values.items():
            if isinstance(value, Name):
                forms |= value.fields(name)
        capitals = {name.capitalize(): _capital(str(value)) for name, value in forms.items() if name.islower()}
        filled = text.format_map(_Forms(capitals | forms, self.language))
        return filled if self.language == "en" else typeset(filled, self.language)


class _Forms(dict[str, object]):
    """Values by field; a form of a name that came as plain text is made as of a name without an article."""

    def __init__(self, values: Mapping[str, object], language: str) -> None:
        super().__init__(values)
        self._language = language

    def __missing__(self, field: str) -> object:
        for beginning in ("of_the_", "of_", "the_"):
            if field.lower().startswith(beginning) and field[len(beginning) :] in self:
                name = field[len(beginning) :]
                told = made_name(str(self[name]), "", self._language).fields(name)[field.lower()]
                return _capital(told) if field[:1].isupper() else told
        raise KeyError(field)


def is_plural(found: object) -> bool:
    """Return whether an entry of a catalogue is a plural: a table of one and other."""
    return isinstance(found, Mapping) and set(found) == {"one", "other"}


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


@lru_cache(maxsize=32)
def load_catalogue(language: str = "en", part: str = MAIN) -> Catalogue:
    """Read a part's messages in a language; raises ValueError, with the languages there are, for another."""
    if language not in LANGUAGES:
        known = ", ".join(LANGUAGES)
        raise ValueError(f'A page asks for the language "{language}"; there are words in: {known}.')
    translations = None
    if language != "en":
        from reports.words.translated import load_translations

        translations = load_translations(language)
    main = None if part == MAIN else load_catalogue(language)
    return Catalogue(english_messages(part), language, part, translations=translations, main=main)


@lru_cache(maxsize=16)
def english_messages(part: str = MAIN) -> Table:
    """Read the English messages of a part."""
    name = "en.toml" if part == MAIN else f"{part}.en.toml"
    return tomllib.loads((files("reports.words") / name).read_text(encoding="utf-8"))


def number_word(n: int) -> str:
    """Return a small whole number as an English word; callers with a catalogue use its word()."""
    return load_catalogue().word(n)


def joined(parts: Sequence[str]) -> str:
    """Return parts as an English list in words; callers with a catalogue use its joined()."""
    return load_catalogue().joined(parts)
