"""What a question asks: components, handling, time; by names and synonyms from the data files, small typos allowed."""

from __future__ import annotations

import csv
import re
import tomllib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from rapidfuzz import fuzz, process

from evidence.model.shipped import data_folder
from reports.words.handlings import load_handlings

__all__ = ["Redirect", "Understood", "Vocabulary", "find_redirects", "normalised", "understand"]

_LONGEST_PHRASE, _LONGEST_SLIP, _SHORT_WORD = 6, 2, 2  # words, words, letters


@lru_cache(maxsize=1)
def _words() -> dict[str, Any]:
    return tomllib.loads((data_folder() / "vocabulary" / "questions.toml").read_text(encoding="utf-8"))


@lru_cache(maxsize=1)
def _time_pattern() -> re.Pattern[str]:
    words = _words()
    return re.compile(rf"(\d+(?:\.\d+)?|{'|'.join(words['numbers'])}) ({'|'.join(words['days'])})s?\b")


@dataclass(frozen=True)
class Redirect:
    """A question for someone else: what to say and to whom to send it; urgent ones come before everything."""

    id: str
    urgent: bool
    words: tuple[str, ...]
    say: str
    to_whom: str


@dataclass(frozen=True)
class Vocabulary:
    """Names as people write them: normalised phrase -> component id, and phrase -> handling kind."""

    components: dict[str, str]
    handlings: dict[str, str]


@dataclass(frozen=True)
class Understood:
    """What was understood: components in order (empty: none), kinds of handling, a time in days.

    everything: the question is about the milk's nutrients as a whole.
    """

    components: tuple[str, ...]
    handlings: tuple[str, ...]
    days: float | None
    everything: bool


def normalised(text: str) -> str:
    """Return text in lower case, hyphens and punctuation as single spaces."""
    return re.sub(r"[^\w%°.]+", " ", text.lower().replace("’", "'").replace("-", " ")).replace(". ", " ").strip(" .")


def handling_phrases() -> dict[str, str]:
    """Return how handlings are written in questions."""
    return {
        normalised(name): words.id
        for words in load_handlings().values()
        for name in (words.noun, *words.synonyms)
        if name
    }


@lru_cache(maxsize=1)
def _redirects() -> tuple[Redirect, ...]:
    with (data_folder() / "redirects.csv").open(encoding="utf-8", newline="") as file:
        return tuple(
            Redirect(
                row["id"], row["urgent"] == "yes", tuple(row["words_en"].split(";")), row["say_en"], row["to_whom_en"]
            )
            for row in csv.DictReader(file)
        )


def find_redirects(text: str) -> list[Redirect]:
    """Return the redirects a question touches, urgent ones first."""
    padded = f" {normalised(text)} "
    hits = [each for each in _redirects() if any(f" {normalised(word)} " in padded for word in each.words)]
    return sorted(hits, key=lambda each: not each.urgent)


def _phrases(tokens: Sequence[str], length: int) -> Iterable[tuple[int, int, str]]:
    for start in range(len(tokens) - length + 1):
        if "" not in tokens[start : start + length]:
            yield start, start + length, " ".join(tokens[start : start + length])


def _telling(phrase: str) -> list[str]:
    # vitamin C and vitamin K, omega-3 and omega-6 differ in one letter and are no slips of each other
    return [word for word in phrase.split() if len(word) <= _SHORT_WORD or any(letter.isdigit() for letter in word)]


def _slip_of(phrase: str, known: dict[str, str]) -> str | None:
    """Return the known phrase that this one misspells, or None."""
    typos = _words()["typos"]
    if len(phrase) < typos["shortest"]:
        return None
    found = process.extractOne(phrase, known.keys(), scorer=fuzz.ratio, score_cutoff=typos["likeness"])
    if found is None or found[0][0] != phrase[0]:
        return None
    near: str = found[0]
    same_count = near.count(" ") == phrase.count(" ")
    return None if same_count and _telling(near) != _telling(phrase) else near


def _match(tokens: list[str], known: dict[str, str]) -> list[tuple[int, str]]:
    """Return (place, meaning) of the longest phrases first; each token is used once and struck out of tokens.

    A slip in two words comes before one word that is exact: "freze drying" is not freezing and drying.
    """
    found: list[tuple[int, str]] = []
    plain = set(_words()["plain"])
    for length in range(min(_LONGEST_PHRASE, len(tokens)), 0, -1):
        for forgiving in (False, True)[: 2 if length <= _LONGEST_SLIP else 1]:
            for start, end, phrase in _phrases(tokens, length):
                if forgiving and set(tokens[start:end]) & plain:
                    continue
                name = _slip_of(phrase, known) if forgiving else phrase if phrase in known else None
                if name is not None:
                    found.append((start, known[name]))
                    tokens[start:end] = [""] * (end - start)
    return found


def _days(text: str) -> float | None:
    found = _time_pattern().search(text)
    if found is None:
        return None
    words = _words()
    number = words["numbers"].get(found[1])
    return (float(found[1]) if number is None else number) * float(words["days"][found[2]])


def understand(text: str, vocabulary: Vocabulary) -> Understood:
    """Return what a question asks."""
    plain = normalised(text)
    tokens = plain.split()
    general = set(_words()["general"])
    everything = any(token in general for token in tokens)
    tokens = ["" if token in general else token for token in tokens]
    handlings = _match(tokens, vocabulary.handlings)
    components = _match(tokens, vocabulary.components)
    return Understood(
        tuple(dict.fromkeys(meaning for _, meaning in sorted(components))),
        tuple(dict.fromkeys(meaning for _, meaning in sorted(handlings))),
        _days(plain),
        everything and not components,
    )
