"""References that are known and were not found (data/wanted.csv): what they measured, as far as known, and why."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path

from evidence.intake.reading import read_table
from evidence.intake.schema import load_schemas
from evidence.model.problems import InputProblems, Problem, nearest_word
from evidence.model.shipped import data_folder

__all__ = ["Wanted", "read_wanted"]


@dataclass(frozen=True)
class Wanted:
    """A reference not found: its key, what is known of it, the handlings and components it is about, and why."""

    key: str
    reference: str
    doi: str
    handlings: tuple[str, ...]
    components: tuple[str, ...]
    why: str


def _list(text: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in text.split(";") if part.strip())


def read_wanted(components: Collection[str], folder: Path | None = None) -> tuple[Wanted, ...]:
    """Read data/wanted.csv; components are the ids it may name. Raises InputProblems."""
    schema = load_schemas()["wanted"]
    table, problems = read_table((folder or data_folder()) / schema.path, schema)
    for line, row in zip(table.lines, table.rows, strict=True):
        for component in _list(row["components"]):
            if component not in components:
                nearest = nearest_word(component, components)
                problems.append(
                    Problem(table.file, line, "components", component, "ids of components.csv, parted by ;", nearest)
                )
    if problems:
        raise InputProblems(problems)
    return tuple(
        Wanted(row["key"], row["reference"], row["doi"], _list(row["handlings"]), _list(row["components"]), row["why"])
        for row in table.rows
    )
