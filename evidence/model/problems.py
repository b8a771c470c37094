"""What is wrong with an input, as sentences to the person who can mend it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

__all__ = ["InputProblems", "Problem", "nearest_word"]

_LONGEST_SHOWN = 60


def nearest_word(read: str, known: Iterable[str]) -> str | None:
    """Return the known word closest to what was read, or None where nothing is close."""
    from rapidfuzz import fuzz, process, utils

    found = process.extractOne(read, list(known), scorer=fuzz.WRatio, processor=utils.default_process, score_cutoff=60)
    return None if found is None else found[0]


@dataclass(frozen=True)
class Problem:
    """One thing that is wrong: where it stands, what was read there and what is allowed.

    row is the line number in the file (the heading is line 1); None where the whole file is meant. place, where given,
    is told instead of row and column: a sheet and a cell of a spreadsheet.
    """

    file: str
    row: int | None
    column: str | None
    read: str
    allowed: str
    nearest: str | None = None
    place: str | None = None

    def sentence(self) -> str:
        """Return the problem as one sentence."""
        place = self.file if self.place is None else f"{self.file}, {self.place}"
        if self.place is None and self.row is not None:
            place += f", row {self.row}"
        if self.place is None and self.column is not None:
            place += f", column {self.column}"
        shown = self.read if len(self.read) <= _LONGEST_SHOWN else self.read[: _LONGEST_SHOWN - 1] + "…"
        text = f"{place}: read {shown!r}; allowed: {self.allowed}."
        if self.nearest:
            text += f" Nearest known: {self.nearest}."
        return text


class InputProblems(Exception):
    """All problems of an input at once; nothing of it was saved."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(problem.sentence() for problem in self.problems))
