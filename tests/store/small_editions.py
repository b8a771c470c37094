"""Small invented editions, and what a store holds of them."""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from sqlalchemy import text
from sqlmodel import SQLModel

from evidence.intake.bundle import Bundle, read_shipped
from evidence.model.rules import load_rules
from evidence.store import Imported, Store, import_rows
from tests.invented import cells, write_tables

__all__ = ["OWN", "ROWS", "bring", "everything", "numbers", "own_file", "small"]

Row = Mapping[str, object]


def bring(store: Store, bundle: Bundle, name: str = "1", digest: str = "") -> Imported:
    return import_rows(
        store, bundle.tables, load_rules(), origin=f"shipped {name}", edition_name=name, evidence_of="2031-05-03",
        shipped_digest=digest,
    )  # fmt: skip


def small(tmp_path: Path, name: str = "a", **rows: Sequence[Row]) -> Bundle:
    return read_shipped(*write_tables(tmp_path / name, **rows))


def everything(store: Store) -> dict[str, list[tuple[Any, ...]]]:
    """Return every row of every table, sorted as text."""
    found = {}
    with store.engine.connect() as connection:
        for name, table in SQLModel.metadata.tables.items():
            found[name] = sorted((tuple(row) for row in connection.execute(table.select())), key=repr)
    return found


ROWS = [
    cells(id=f"{study}-{number}", study=study, component=name, retained_percent=percent, n=5, n_kind="donors")
    for study, number, name, percent in (
        ("alpha2031milk", 1, "vitamin-c", 70),
        ("alpha2031milk", 2, "lactoferrin", 80),
        ("beta2032milk", 1, "vitamin-c", 75),
        ("gamma2033milk", 1, "total-fat", 97),
    )
]


def own_file(path: Path, *rows: Row) -> Path:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    return path


OWN = cells(
    id="beta2032milk-700", study="beta2032milk", component="vitamin-c", retained_percent=66, n=8, n_kind="donors"
)


def numbers(store: Store) -> dict[tuple[str, str], str]:
    with store.engine.connect() as connection:
        return {(row.component, row.handling): row.number for row in connection.execute(text("SELECT * FROM question"))}
