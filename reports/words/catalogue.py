"""The message catalogue of a language: one TOML file, filled in with values."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from functools import lru_cache
from importlib.resources import files
from typing import Any

__all__ = ["Catalogue", "joined", "load_catalogue", "number_word"]

_SMALL = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


class Catalogue:
    """Sentences by section and key; say() fills one in and raises KeyError where a sentence or value is missing."""

    def __init__(self, messages: dict[str, Any]) -> None:
        self._messages = messages

    def say(self, key: str, /, **values: object) -> str:
        """Return the message "section/key" filled in; a capitalised value name capitalises the value."""
        found: Any = self._messages
        for part in key.split("/"):
            found = found[part]
        capitals = {name.capitalize(): _capital(str(value)) for name, value in values.items() if name.islower()}
        text: str = found.format_map(capitals | values)
        return text

    def has(self, key: str) -> bool:
        """Return whether a message exists."""
        found: Any = self._messages
        for part in key.split("/"):
            if not isinstance(found, dict) or part not in found:
                return False
            found = found[part]
        return isinstance(found, str)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


@lru_cache(maxsize=4)
def load_catalogue(language: str = "en") -> Catalogue:
    """Read a language's messages."""
    text = (files("reports.words") / f"{language}.toml").read_text(encoding="utf-8")
    return Catalogue(tomllib.loads(text))


def number_word(n: int) -> str:
    """Return a small whole number as a word, a larger one in digits."""
    return _SMALL[n] if 0 <= n < len(_SMALL) else str(n)


def joined(parts: Sequence[str]) -> str:
    """Return parts as a list in words: a, b and c."""
    if len(parts) <= 1:
        return "".join(parts)
    return ", ".join(parts[:-1]) + " and " + parts[-1]
