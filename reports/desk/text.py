"""A message as plain words: lower case, without accents, each with its place and its sentence."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

__all__ = ["Token", "Words", "folded", "normalised", "shown", "words_of"]

_TOKEN = re.compile(r"\d+(?:[.,]\d+)?|[^\W\d_][^\W_]*|[-\u2212\u2013+°%/.;:?!\u00bf\n,()]")
_ENDS = frozenset(".;?!\n\u00bf")
_SHORT = 3  # letters; "vit. C" and "E. coli" are no ends of sentences


@dataclass(frozen=True, slots=True)
class Token:
    """A word, number or mark: as written, lower-cased without accents, where it stands, and in which sentence."""

    raw: str
    word: str
    start: int
    sentence: int
    is_word: bool


@dataclass(frozen=True)
class Words:
    """A message read into tokens; words are the places of those that are words or numbers."""

    tokens: tuple[Token, ...]
    words: tuple[int, ...]
    text: str = ""

    def said(self, first: int, last: int) -> str:
        """Return what was written from one token to another, accents kept; empty where places cannot be told."""
        if not self.text:
            return ""
        end = self.tokens[last]
        return self.text[self.tokens[first].start : end.start + len(end.raw)]


def folded(text: str) -> str:
    """Return text without accents and other marks that combine, its case kept."""
    if text.isascii():
        return text
    return "".join(
        each for each in unicodedata.normalize("NFKD", text.replace("º", "°")) if not unicodedata.combining(each)
    )


def words_of(text: str) -> Words:
    """Return a message as tokens."""
    text = unicodedata.normalize("NFC", text)
    plain = folded(text)
    tokens: list[Token] = []
    places: list[int] = []
    sentence, last = 0, ""
    for found in _TOKEN.finditer(plain):
        raw = found.group()
        if raw[0].isalnum():
            places.append(len(tokens))
            tokens.append(Token(raw, raw.lower(), found.start(), sentence, True))
            last = raw
            continue
        tokens.append(Token(raw, raw, found.start(), sentence, False))
        if raw in _ENDS:
            end = found.end()
            inside = raw == "." and end < len(plain) and not plain[end].isspace()
            if not inside and not (raw == "." and len(last) <= _SHORT and not last.isdigit()):
                sentence += 1
    return Words(tuple(tokens), tuple(places), text if len(plain) == len(text) else "")


def normalised(text: str) -> str:
    """Return text as its words alone, lower case and without accents, one space between them."""
    return " ".join(token.word for token in words_of(text).tokens if token.is_word)


def shown(text: str, most: int = 120) -> str:
    """Return text fit to be shown back: one line, no control or direction-changing characters, not too long."""
    kept = "".join(" " if each.isspace() else each for each in text[: 4 * most])
    kept = "".join(each for each in kept if unicodedata.category(each)[0] != "C")
    line = " ".join(kept.split())
    return line if len(line) <= most else line[: most - 1].rstrip() + "…"
