"""The figures of a sentence: shares of a hundred, with what they were said to be."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reports.claims.vocabulary import ClaimWords, Hit

__all__ = ["Figure", "figures_in"]

_YEARS = (1900, 2100)
_RANGE = ("to", "and", "à", "a", "et", "y", "–", "—", "-", "entre")


@dataclass(frozen=True)
class Figure:
    """A number that stands for a share: percent, where it stands, and whether it was told as a fraction.

    share: a sign of a share stands beside it ("%", "of every 100"); else it is a bare number that may belong to one.
    """

    percent: float
    place: Hit
    fraction: bool
    share: bool


def _value(token: str) -> float | None:
    if not token or not token[0].isdigit() or not token.isascii():
        return None
    plain = token.replace(",", ".")
    if plain.count(".") > 1 or not plain.replace(".", "").isdigit() or len(plain) > 12:
        return None
    return float(plain)


def figures_in(tokens: Sequence[str], words: ClaimWords, signs_of_share: Sequence[Hit]) -> tuple[Figure, ...]:
    """Return the figures of a sentence in order; times, temperatures, amounts, years and counts of studies are none."""
    signs = {hit.start: hit for hit in signs_of_share}
    hundreds = {place for hit in signs.values() for place in range(hit.start, hit.end)}
    figures: list[Figure] = []
    for place, token in enumerate(tokens):
        value = _value(token)
        if value is None or place in hundreds:
            fraction = _fraction(tokens, place, words)
            if fraction is not None:
                figures.append(fraction)
            continue
        following = tokens[place + 1] if place + 1 < len(tokens) else ""
        sign = signs.get(place + 1)
        if sign is not None:
            figures.append(Figure(value, Hit(place, sign.end), False, True))
        elif following in words.units or _is_year(value, token):
            continue
        else:
            figures.append(Figure(value, Hit(place, place + 1), False, False))
    return tuple(_ranges(figures, tokens))


def _is_year(value: float, token: str) -> bool:
    return len(token) == 4 and _YEARS[0] <= value <= _YEARS[1]


def _fraction(tokens: Sequence[str], place: int, words: ClaimWords) -> Figure | None:
    for name, percent in words.fractions:
        if tuple(tokens[place : place + len(name)]) == name:
            return Figure(percent, Hit(place, place + len(name)), True, True)
    return None


def _ranges(figures: list[Figure], tokens: Sequence[str]) -> list[Figure]:
    """Return the figures, a bare one joined to the share behind it by "to" or "and" being a share too."""
    done = list(figures)
    for index in range(len(done) - 2, -1, -1):
        first, second = done[index], done[index + 1]
        between = tokens[first.place.end : second.place.start]
        if second.share and not first.share and len(between) <= 2 and set(between) & set(_RANGE):
            done[index] = Figure(first.percent, first.place, first.fraction, True)
    return done
