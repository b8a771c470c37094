"""A sentence that carries its trail: the answers, rows or tables that its numbers come from."""

from __future__ import annotations

from collections.abc import Iterable

__all__ = ["CAMPAIGN", "EDITION", "GIVEN", "Told", "trail_of"]

# trails that are neither an answer's number, a row's id, a study's key nor a document's
EDITION = "edition"  # counts over the whole table of this edition
CAMPAIGN = "calibration"  # data/calibration.csv
GIVEN = "given"  # what the person who made the page gave: weighings of a milk


class Told(str):
    """A sentence with the places its numbers come from; everywhere else it is the text alone.

    trail holds answers' numbers (A-0412), ids of rows (smith2014-3), keys of studies or documents, or one of the words
    above. A page prints it as data-from beside the sentence.
    """

    __slots__ = ("trail",)
    trail: tuple[str, ...]

    def __new__(cls, text: str, *trail: str) -> Told:
        """Return the text with its trail; without one that says anything it is a plain sentence."""
        told = super().__new__(cls, text)
        told.trail = tuple(dict.fromkeys(each for each in trail if each))
        return told

    def __repr__(self) -> str:
        return f"Told({', '.join(map(repr, (str(self), *self.trail)))})"

    def __reduce__(self) -> tuple[type[Told], tuple[str, ...]]:
        return Told, (str(self), *self.trail)


def trail_of(value: str | Iterable[str]) -> tuple[str, ...]:
    """Return the trail of a sentence, or of several together; empty where there is none."""
    if isinstance(value, Told):
        return value.trail
    if isinstance(value, str):
        return ()
    return tuple(dict.fromkeys(each for part in value for each in trail_of(part)))
