"""What a question asks: components, handling, time; by names and synonyms from the data files, small typos allowed."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

from rapidfuzz import fuzz, process

from evidence.model.shipped import data_folder
from reports.words.handlings import load_handlings

__all__ = ["Redirect", "Understood", "Vocabulary", "find_redirects", "normalised", "understand"]

# a typo is forgiven in words this long, when this like a known one (0 to 100); shorter words must be exact
_TYPO_LENGTH, _TYPO_LIKENESS = 5, 84
_LONGEST_PHRASE = 6
_GENERAL = frozenset(
    "nutrient nutrients nutrition nutritional goodness goodies nourishment anything everything value".split()
)
_TIME = re.compile(r"(\d+(?:\.\d+)?|one|two|three|four|five|six|seven|eight|nine|ten|twelve|a|an) (hour|day|week|month|year)s?\b")
_NUMBERS = dict(zip("one two three four five six seven eight nine ten".split(), range(1, 11), strict=True)) | {
    "twelve": 12,
    "a": 1,
    "an": 1,
}
_DAYS = {"hour": 1 / 24, "day": 1.0, "week": 7.0, "month": 30.4, "year": 365.0}
# everyday words that fuzzy matching must not take for a name
_PLAIN = frozenset(
    "about after again all also and any are baby been before breast can could cost does doing done down drink ever fall feed feeding"
    " for from fresh give good have how into just keep kept know lose loses losing loss lost made make making many milk more most much"
    " need only other over really same should some stay stays still store stored take than that the their them then there these they"
    " thing things this through time total until was water well were what when which while will with without would your".split()
)


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
    """What was understood: components in order (empty: none), the kinds of handling, a time in days, whether all nutrients are meant."""

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
        normalised(name): words.id for words in load_handlings().values() for name in (words.noun, *words.synonyms) if name
    }


@lru_cache(maxsize=1)
def _redirects() -> tuple[Redirect, ...]:
    with (data_folder() / "redirects.csv").open(encoding="utf-8", newline="") as file:
        return tuple(
            Redirect(row["id"], row["urgent"] == "yes", tuple(row["words_en"].split(";")), row["say_en"], row["to_whom_en"])
            for row in csv.DictReader(file)
        )


def find_redirects(text: str) -> list[Redirect]:
    """Return the redirects a question touches, urgent ones first."""
    padded = f" {normalised(text)} "
    hits = [each for each in _redirects() if any(f" {normalised(word)} " in padded for word in each.words)]
    return sorted(hits, key=lambda each: not each.urgent)


def _phrases(tokens: Sequence[str]) -> Iterable[tuple[int, int, str]]:
    for length in range(min(_LONGEST_PHRASE, len(tokens)), 0, -1):
        for start in range(len(tokens) - length + 1):
            yield start, start + length, " ".join(tokens[start : start + length])


def _match(tokens: list[str], known: dict[str, str]) -> list[tuple[int, str]]:
    """Return (place, meaning) of the longest phrases first; each token is used once and struck out of tokens."""
    found: list[tuple[int, str]] = []
    for start, end, phrase in _phrases(tokens):
        if "" not in tokens[start:end] and phrase in known:
            found.append((start, known[phrase]))
            tokens[start:end] = [""] * (end - start)
    for start, end, phrase in _phrases(tokens):
        if end - start > 2 or len(phrase) < _TYPO_LENGTH or "" in tokens[start:end] or set(tokens[start:end]) & _PLAIN:
            continue
        near = process.extractOne(phrase, known.keys(), scorer=fuzz.ratio, score_cutoff=_TYPO_LIKENESS)
        if near is not None and near[0][0] == phrase[0]:
            found.append((start, known[near[0]]))
            tokens[start:end] = [""] * (end - start)
    return found


def _days(text: str) -> float | None:
    found = _TIME.search(text)
    if found is None:
        return None
    number = _NUMBERS.get(found[1])
    return (float(found[1]) if number is None else number) * _DAYS[found[2]]


def understand(text: str, vocabulary: Vocabulary) -> Understood:
    """Return what a question asks."""
    plain = normalised(text)
    tokens = plain.split()
    everything = any(token in _GENERAL for token in tokens)
    tokens = ["" if token in _GENERAL else token for token in tokens]
    handlings = _match(tokens, vocabulary.handlings)
    components = _match(tokens, vocabulary.components)
    return Understood(
        tuple(dict.fromkeys(meaning for _, meaning in sorted(components))),
        tuple(dict.fromkeys(meaning for _, meaning in sorted(handlings))),
        _days(plain),
        everything and not components,
    )
