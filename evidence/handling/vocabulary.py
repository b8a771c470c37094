"""The controlled words of handling chains, read from data/vocabulary."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from evidence.model.problems import nearest_word
from evidence.model.shipped import data_folder

__all__ = ["StepWord", "Vocabulary", "load_vocabulary"]


@dataclass(frozen=True)
class StepWord:
    """A step of the vocabulary: what it does to the milk and whether it can be what a comparison isolates."""

    name: str
    does: str
    isolates: bool
    also_written: tuple[str, ...]


@dataclass(frozen=True)
class Vocabulary:
    """Steps by name, methods by step, conditions with what each takes ('' for nothing)."""

    steps: dict[str, StepWord]
    methods: dict[str, tuple[str, ...]]
    conditions: dict[str, str]

    def nearest_step(self, text: str) -> str | None:
        """Return the step nearest to what was written, by its name or by another way of writing it."""
        written = {name: name for name in self.steps}
        for word in self.steps.values():
            written.update(dict.fromkeys(word.also_written, word.name))
        found = nearest_word(text, written)
        return None if found is None else written[found]


def _rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@lru_cache(maxsize=2)
def load_vocabulary(folder: Path | None = None) -> Vocabulary:
    """Read steps.csv, methods.csv and conditions.csv (the shipped ones by default)."""
    base = folder or data_folder() / "vocabulary"
    steps = {
        row["step"]: StepWord(
            row["step"],
            row["does"],
            row["isolates"] == "yes",
            tuple(part for part in row["also_written"].split(";") if part),
        )
        for row in _rows(base / "steps.csv")
    }
    methods: dict[str, tuple[str, ...]] = {}
    for row in _rows(base / "methods.csv"):
        methods[row["step"]] = (*methods.get(row["step"], ()), row["method"])
    conditions = {row["condition"]: row["takes"] for row in _rows(base / "conditions.csv")}
    return Vocabulary(steps, methods, conditions)
