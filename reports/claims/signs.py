"""What stands in a sentence: components, handlings, figures, what it was compared with, and the words of a claim."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

from reports.claims.figures import Figure, figures_in
from reports.claims.vocabulary import ClaimWords, Hit, Phrases, tokens_of

__all__ = ["CLASSES", "Names", "Signs", "read_signs"]

# a "no" reaches so many words on: a thing that is kept or good must be near it, a thing that is bad may be further
NEAR, FAR = 4, 8
_AFTER = 3
_STOPS = frozenset(",;:.()!?–—…/|")
CLASSES = ("fresh", "chilled", "frozen", "heat_treated", "dried", "otherwise_treated", "not_stated")
# whole expressions: the words inside them say nothing by themselves
_WHOLE = (
    "neg/not_only", "neg/unknown", "neg/untrue", "retention/nothing", "retention/no_clear", "retention/same",
    "comparison/like", "safety/shelf", "safety/sterile", "safety/topic", "retention/up_to", "question/open",
    "retention/other", "retention/nearly",
)  # fmt: skip
_INSIDE = (
    "neg/before", "neg/after", "retention/keep", "retention/loss", "retention/all", "retention/few",
    "retention/general",
    "retention/rise", "retention/keep_weak", "safety/free", "safety/good", "safety/bad", "health/good",
    "safety/shelf_verb",
)  # fmt: skip


@dataclass(frozen=True)
class Names:
    """How one language names components (phrase of tokens to id) and kinds of handling.

    acronyms: short names that are only meant where they are written in capitals (LA, LAB).
    """

    components: dict[str, str]
    acronyms: frozenset[str]
    longest: int
    handlings: Phrases


@dataclass(frozen=True)
class Signs:
    """One sentence, read: tokens, hits by category, and what they name."""

    tokens: tuple[str, ...]
    hits: dict[str, tuple[Hit, ...]]
    components: tuple[tuple[Hit, str], ...]
    handlings: tuple[str, ...]
    handled: frozenset[int]  # the places of the words that name them
    figures: tuple[Figure, ...]
    days: float | None
    studies: int | None
    people: frozenset[int]  # how many mothers or samples it names
    asks: bool
    words: ClaimWords

    def of(self, category: str) -> tuple[Hit, ...]:
        """Return the hits of a category."""
        return self.hits.get(category, ())

    def has(self, *categories: str) -> bool:
        """Return whether any of the categories is there."""
        return any(self.hits.get(category) for category in categories)

    def text_of(self, hit: Hit) -> str:
        """Return the words of a hit."""
        return " ".join(self.tokens[hit.start : hit.end])

    def denied(self, hit: Hit, reach: int, after: bool = True) -> bool:
        """Return whether a "no" governs a hit: before it within reach and the same clause, or right behind it."""
        if self.denied_by(hit, reach, "neg/before"):
            return True
        return after and any(
            hit.end <= no.start <= hit.end + _AFTER and not self._barred(hit.end, no.start)
            for no in self.of("neg/after")
        )

    def denied_by(self, hit: Hit, reach: int, category: str) -> bool:
        """Return whether a word of a category governs a hit that stands behind it, within reach and the same clause."""
        return any(
            no.end <= hit.start <= no.end + reach and not self._barred(no.end, hit.start) for no in self.of(category)
        )

    def _barred(self, start: int, end: int) -> bool:
        return any(start <= place < end for place in self._bars)

    @cached_property
    def _bars(self) -> frozenset[int]:
        marks = {place for place, token in enumerate(self.tokens) if token in _STOPS}
        return frozenset(marks | {hit.start for hit in self.of("neg/barrier")})

    @cached_property
    def baselines(self) -> frozenset[str]:
        """The classes that a figure of this sentence is said to be compared with; "mixed" where it says only that."""
        opens = self.of("compared/opens")
        found = {name for name in CLASSES if self.of(f"compared/{name}")}
        if not opens or not found | ({"mixed"} if self.has("compared/mixed") else set()):
            return frozenset()
        if "not_stated" in found:  # "fresh or already frozen: not stated" names no class
            first = min(hit.start for hit in opens)
            told = {
                name for name in found if any(self._stands_alone(hit, first) for hit in self.of(f"compared/{name}"))
            }
            return frozenset(told | {"not_stated"})
        if self.has("compared/mixed"):
            return frozenset({"mixed"})
        first = min(hit.start for hit in opens)
        return frozenset(name for name in found if any(hit.start >= first for hit in self.of(f"compared/{name}")))

    def _stands_alone(self, hit: Hit, first: int) -> bool:
        """Return whether a class is named behind the comparison's opening and in another clause than "not stated"."""
        if hit.start < first:
            return False
        for unsaid in self.of("compared/not_stated"):
            between = range(min(hit.end, unsaid.end), max(hit.start, unsaid.start))
            if not any(self.tokens[place] in ",;" for place in between):
                return False
        return True


def read_signs(sentence: str, words: ClaimWords, names: Names) -> Signs:
    """Return what stands in a sentence."""
    tokens = tokens_of(sentence)
    hits = words.phrases.find(tokens)
    _only_before_numbers(hits, tokens)
    for whole in _WHOLE:
        covered = {place for hit in hits.get(whole, ()) for place in range(hit.start, hit.end)}
        for inside in _INSIDE:
            if covered and inside in hits:
                hits[inside] = [hit for hit in hits[inside] if not covered & set(range(hit.start, hit.end))]
    baseline = {
        place
        for opening in hits.get("compared/opens", ())
        for name in CLASSES
        for hit in hits.get(f"compared/{name}", ())
        if hit.start >= opening.start
        for place in range(hit.start, hit.end)
    }
    figures = figures_in(tokens, words, hits.get("percent/after", ()))
    studies = _studies(tokens, words, hits)
    components = _components(tokens, names, words, _capitals(sentence))
    # "growth factor" promises no growth: the words of a longer name belong to the name
    named = {place for hit, _ in components if hit.end - hit.start > 1 for place in range(hit.start, hit.end)}
    if named:
        hits = {
            category: [hit for hit in found if not set(range(hit.start, hit.end)) <= named]
            for category, found in hits.items()
        }
    return Signs(
        tuple(tokens),
        {category: tuple(found) for category, found in hits.items() if found},
        tuple(components),
        *_handlings(tokens, names, baseline),
        figures,
        _days(tokens, words),
        studies,
        _people(tokens, words),
        "?" in tokens[-2:] or "¿" in tokens[:2],
        words,
    )


def _only_before_numbers(hits: dict[str, list[Hit]], tokens: Sequence[str]) -> None:
    """Keep "up to" and "less than" only where a number follows: "18 % less of the protein" is no bound."""
    bounds = hits.get("retention/up_to", [])
    told = [hit for hit in bounds if any(token[:1].isdigit() for token in tokens[hit.end : hit.end + 2])]
    hits["retention/up_to"] = told


def _capitals(sentence: str) -> frozenset[str]:
    """Return the words written in capitals; none where everything is."""
    if sentence.isupper():
        return frozenset()
    return frozenset(word.casefold() for word in re.findall(r"\w+", sentence) if word.isupper() and len(word) > 1)


def _components(
    tokens: Sequence[str], names: Names, words: ClaimWords, capitals: frozenset[str]
) -> list[tuple[Hit, str]]:
    found: list[tuple[Hit, str]] = []
    place = 0
    while place < len(tokens):
        for length in range(min(names.longest, len(tokens) - place), 0, -1):
            phrase = " ".join(tokens[place : place + length])
            identity = names.components.get(phrase)
            if identity is not None and phrase in names.acronyms and phrase not in capitals:
                identity = None
            if identity is not None and phrase not in words.no_components:
                found.append((Hit(place, place + length), identity))
                place += length - 1
                break
        place += 1
    return found


def _handlings(tokens: Sequence[str], names: Names, baseline: set[int]) -> tuple[tuple[str, ...], frozenset[int]]:
    """Return the kinds of handling named outside the comparison, the longest name at each place, and the places."""
    found = [
        (hit.start, -hit.end, kind)
        for kind, hits in names.handlings.find(tokens).items()
        for hit in hits
        if not baseline & set(range(hit.start, hit.end))
    ]
    taken: set[int] = set()
    kinds: list[str] = []
    for start, end, kind in sorted(found, key=lambda each: (each[1] + each[0], each[0])):
        if not taken & set(range(start, -end)):
            taken |= set(range(start, -end))
            kinds.append(kind)
    return tuple(dict.fromkeys(kinds)), frozenset(taken)


def _number(token: str, words: ClaimWords) -> float | None:
    if token in words.numbers:
        return float(words.numbers[token])
    return float(token) if token.isascii() and token.isdigit() and len(token) < 6 else None


def _days(tokens: Sequence[str], words: ClaimWords) -> float | None:
    """Return the longest time told, in days."""
    times = [
        number * words.days[unit]
        for first, unit in pairwise(tokens)
        if unit in words.days and (number := _number(first, words)) is not None
    ]
    return max(times, default=None)


def _people(tokens: Sequence[str], words: ClaimWords) -> frozenset[int]:
    """Return how many mothers, milks or samples a sentence says were measured."""
    return frozenset(
        int(number)
        for first, unit in pairwise(tokens)
        if unit in words.people and (number := _number(first, words)) is not None
    )


def _studies(tokens: Sequence[str], words: ClaimWords, found: dict[str, list[Hit]]) -> int | None:
    """Return how many studies a sentence says stand behind it; None where it names no number of them."""
    if found.get("studies/only"):
        return 1
    for hit in found.get("studies/words", ()):
        for before in reversed(tokens[max(0, hit.start - 2) : hit.start]):
            number = _number(before, words)
            if number is not None:
                return int(number)
    return None
