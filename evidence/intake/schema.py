"""The columns of the evidence tables, from data/datapackage.json (Frictionless Table Schema), and their checks."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from evidence.model.problems import Problem, nearest_word
from evidence.model.shipped import data_folder

__all__ = ["FieldSchema", "TableSchema", "load_schemas"]

_INTEGER = re.compile(r"^-?\d+$")
# what a pattern means, in words, for the sentence that refuses a value
_PATTERN_WORDS = (
    (r"\.\.", "one spread or a pair such as 3..7, digits as printed"),
    ("ns|", "a P such as 0.041, <0.05 or >=0.1, or ns or sig where only words say so"),
    ("eE", "a plain number with a decimal point, such as -12.5"),
    (r"\d{4}-\d{2}", "a date such as 2026-11-24"),
    ("full text", "full text, abstract, thesis, memory or review KEY"),
    ("A-", "a number such as A-0412"),
)

# what arithmetic carries; limits of the machine, not of the evidence
_SMALLEST, _LARGEST = 1e-30, 1e30


def _measurable(text: str) -> bool:
    mantissa = text.lower().partition("e")[0]
    return not mantissa.strip("-0.") or _SMALLEST <= abs(float(text)) <= _LARGEST


@dataclass(frozen=True)
class FieldSchema:
    """One column: its name, type and what may stand in it."""

    name: str
    type: str
    required: bool
    unique: bool
    pattern: str | None
    enum: tuple[str, ...]
    minimum: int | None

    def refuse(self, file: str, row: int, text: str) -> Problem | None:
        """Return what is wrong with a cell, or None."""
        if text == "":
            return (
                Problem(file, row, self.name, text, "something; this column may not be empty")
                if self.required
                else None
            )
        if self.enum and text not in self.enum:
            return Problem(file, row, self.name, text, ", ".join(self.enum), nearest_word(text, self.enum))
        if self.type == "integer":
            lowest = self.minimum if self.minimum is not None else -(10**9)
            if not _INTEGER.match(text) or not lowest <= int(text) < 10**9:
                return Problem(file, row, self.name, text, f"a whole number of {lowest} or more")
        if self.pattern and not re.match(self.pattern, text):
            words = next((words for part, words in _PATTERN_WORDS if part in self.pattern), None)
            return Problem(file, row, self.name, text, words or f"text that fits {self.pattern}")
        if self.pattern and "eE" in self.pattern and not all(_measurable(part) for part in text.split("..")):
            allowed = f"0, or a number of a size from {_SMALLEST:g} to {_LARGEST:g}"
            return Problem(file, row, self.name, text, allowed)
        return None


@dataclass(frozen=True)
class TableSchema:
    """One table: its name, its file name and its columns in order."""

    name: str
    path: str
    fields: tuple[FieldSchema, ...]

    def names(self) -> tuple[str, ...]:
        """Return the column names in order."""
        return tuple(field.name for field in self.fields)


def _field(raw: dict[str, object]) -> FieldSchema:
    constraints = raw.get("constraints", {})
    assert isinstance(constraints, dict)
    return FieldSchema(
        name=str(raw["name"]),
        type=str(raw["type"]),
        required=bool(constraints.get("required", False)),
        unique=bool(constraints.get("unique", False)),
        pattern=constraints.get("pattern"),
        enum=tuple(constraints.get("enum", ())),
        minimum=constraints.get("minimum"),
    )


@lru_cache(maxsize=2)
def load_schemas(folder: Path | None = None) -> dict[str, TableSchema]:
    """Read the schemas of all tables, by table name."""
    package = json.loads(((folder or data_folder()) / "datapackage.json").read_text(encoding="utf-8"))
    return {
        resource["name"]: TableSchema(
            resource["name"], resource["path"], tuple(_field(field) for field in resource["schema"]["fields"])
        )
        for resource in package["resources"]
    }
