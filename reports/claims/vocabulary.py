"""The words of claims in one language, and where they stand in a sentence."""

from __future__ import annotations

import re
import tomllib
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from evidence.model.shipped import data_folder

__all__ = ["LANGUAGES", "ClaimWords", "Hit", "Phrases", "load_claim_words", "tokens_of", "unread_words"]

LANGUAGES = ("en", "fr", "es")
_LONGEST_GAP = 3  # words that ~ stands for
_PREFIX = 3  # letters by which phrases with an open ending are looked up
# numbers, then words, then every other sign; soft hyphens and what has no width are taken out first
_TOKEN = re.compile(r"\d+(?:[.,]\d+)*(?![^\W\d_])|[^\W_]+|[^\w\s]")
_INVISIBLE = {ord(sign): None for sign in "\u00ad\u200b\u200c\u200d\u2060\ufeff"}
_DROPPED = set("'’‘`´\"“”„«»-‐‑*_^~™®©")
_CUT = str.maketrans({"’": "'", "‘": "'", "`": "'", "´": "'", "ʼ": "'", "–": " – ", "—": " — "})
_SHORT_NOT = re.compile(r"\b(is|are|was|were|do|does|did|has|have|had|would|could|should)n'?t\b")


def tokens_of(text: str) -> list[str]:
    """Return a text's words, numbers and signs in lower case; hyphens, quotation marks and apostrophes are left out."""
    plain = unicodedata.normalize("NFKC", text.translate(_INVISIBLE)).translate(_CUT).casefold()
    plain = (
        _SHORT_NOT.sub(r"\1 not", plain)
        .replace("cannot", "can not")
        .replace("can't", "can not")
        .replace("won't", "will not")
    )
    return [token for token in _TOKEN.findall(plain) if token not in _DROPPED]


@dataclass(frozen=True)
class Hit:
    """A phrase found: its first token and the one after its last."""

    start: int
    end: int


@dataclass(frozen=True)
class _Phrase:
    category: str
    parts: tuple[str, ...]

    def end(self, tokens: Sequence[str], place: int, part: int = 0) -> int | None:
        """Return where the phrase ends when it begins at a place, or None."""
        for index in range(part, len(self.parts)):
            wanted = self.parts[index]
            if wanted == "~":
                ends = (self.end(tokens, place + gap, index + 1) for gap in range(_LONGEST_GAP + 1))
                return next((end for end in ends if end is not None), None)
            if place >= len(tokens):
                return None
            token = tokens[place]
            if not (token.startswith(wanted[:-1]) if wanted.endswith("*") else token == wanted):
                return None
            place += 1
        return place


class Phrases:
    """Phrases of several categories, found in one pass over a sentence's tokens."""

    def __init__(self, phrases: Mapping[str, Iterable[str]]) -> None:
        self._exact: dict[str, list[_Phrase]] = {}
        self._open: dict[str, list[_Phrase]] = {}
        for category, texts in phrases.items():
            for text in texts:
                parts = tuple(_parts(text))
                if not parts:
                    continue
                where, key = (
                    (self._open, parts[0][:-1][:_PREFIX]) if parts[0].endswith("*") else (self._exact, parts[0])
                )
                where.setdefault(key, []).append(_Phrase(category, parts))

    def find(self, tokens: Sequence[str]) -> dict[str, list[Hit]]:
        """Return the hits by category; of those that begin at one place the longest."""
        found: dict[str, list[Hit]] = {}
        for place, token in enumerate(tokens):
            longest: dict[str, int] = {}
            candidates = self._exact.get(token, ())
            for phrase in (*candidates, *(p for n in range(1, _PREFIX + 1) for p in self._open.get(token[:n], ()))):
                end = phrase.end(tokens, place)
                if end is not None and end > longest.get(phrase.category, place):
                    longest[phrase.category] = end
            for category, end in longest.items():
                hits = found.setdefault(category, [])
                if not hits or hits[-1].end < end:
                    hits.append(Hit(place, end))
        return found


def _parts(text: str) -> list[str]:
    parts: list[str] = []
    for word in text.split():
        if word == "~":
            parts.append(word)
        elif word == "*":
            parts += ["~"]
        else:
            tokens = tokens_of(word.removesuffix("*"))
            if word.endswith("*") and tokens:
                tokens[-1] += "*"
            parts += tokens
    return parts


@dataclass(frozen=True)
class ClaimWords:
    """A language's words: phrases by category, numbers and times, and what it calls kinds of handling."""

    language: str
    phrases: Phrases
    stop: frozenset[str]
    numbers: dict[str, int]
    days: dict[str, float]
    units: frozenset[str]
    people: frozenset[str]
    fractions: tuple[tuple[tuple[str, ...], float], ...]
    handlings: dict[str, tuple[str, ...]]
    no_components: frozenset[str]


def _flat(raw: dict[str, Any]) -> dict[str, Iterable[str]]:
    skipped = ("numbers", "fractions", "days", "units", "handlings", "components")
    return {
        f"{section}/{name}": phrases
        for section, table in raw.items()
        if isinstance(table, dict) and section not in skipped
        for name, phrases in table.items()
    }


@lru_cache(maxsize=1)
def unread_words() -> tuple[frozenset[str], ...]:
    """Return the common words of languages that are not read, one set a language."""
    path = data_folder() / "vocabulary" / "claims.unread.toml"
    return tuple(frozenset(words) for words in tomllib.loads(path.read_text(encoding="utf-8")).values())


@lru_cache(maxsize=8)
def load_claim_words(language: str) -> ClaimWords:
    """Read data/vocabulary/claims.LANG.toml."""
    path = data_folder() / "vocabulary" / f"claims.{language}.toml"
    raw = tomllib.loads(path.read_text(encoding="utf-8"))
    return ClaimWords(
        language,
        Phrases(_flat(raw)),
        frozenset(raw["stop"]),
        dict(raw["numbers"]),
        dict(raw["days"]),
        frozenset(raw["units"]["other"]) | frozenset(raw["units"]["people"]),
        frozenset(raw["units"]["people"]),
        tuple((tuple(tokens_of(name)), float(value)) for name, value in raw["fractions"].items()),
        {kind: tuple(phrases) for kind, phrases in raw["handlings"].items()},
        frozenset(" ".join(tokens_of(name)) for name in raw["components"]["never"]),
    )
