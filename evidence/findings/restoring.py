"""Rows of one's own out of an exported package into a store: all of them in one transaction, or none."""

from __future__ import annotations

import csv
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from evidence.findings.edition import ensure_evidence, shipped_digest
from evidence.model.problems import InputProblems, Problem
from evidence.store.connection import Store
from evidence.store.reading import edition

__all__ = ["Restored", "restore_package"]

Row = dict[str, Any]
_KEYS = {
    "study": ("key",), "component": ("id",), "componentname": ("component", "language", "name"),
    "measurement": ("id",), "overlap": ("key_a", "key_b"), "override": ("id",),
    "appraisal": ("study", "question"), "question": ("number",),
}  # fmt: skip


@dataclass(frozen=True)
class Restored:
    """What a package brought: own rows, the store's edition (hash) afterwards, and the edition it was exported from."""

    own_rows: int
    edition: str
    package_edition: str
    rows_in_store: int
    studies_in_store: int


def _package_edition(folder: Path) -> str:
    path = folder / "data" / "datapackage.json"
    allowed = "a folder that whatstays export wrote"
    try:
        raw = json.loads(path.read_text(encoding="utf-8"))
        return str(raw["edition"]["hash"])
    except (OSError, ValueError, KeyError, TypeError):
        raise InputProblems([Problem(str(folder), None, None, folder.name, allowed)]) from None


def _origins(folder: Path) -> dict[tuple[str, tuple[str, ...]], str]:
    path = folder / "data" / "origins.csv"
    if not path.is_file():
        return {}
    problems: list[Problem] = []
    found: dict[tuple[str, tuple[str, ...]], str] = {}
    with path.open(encoding="utf-8-sig", newline="") as file:
        for line, row in enumerate(csv.DictReader(file), start=2):
            origin = row.get("origin") or ""
            if row.get("table") not in _KEYS:
                table = row.get("table") or ""
                problems.append(Problem(path.name, line, "table", table, ", ".join(sorted(_KEYS))))
            elif not origin.startswith("own "):
                problems.append(Problem(path.name, line, "origin", origin, "own, who and when"))
            else:
                found[str(row["table"]), tuple((row.get("key") or "").split(";"))] = origin
    if problems:
        raise InputProblems(problems)
    return found


def _own(
    tables: Mapping[str, Sequence[Row]], origins: Mapping[tuple[str, tuple[str, ...]], str]
) -> dict[str, list[Row]]:
    own: dict[str, list[Row]] = {}
    for name, columns in _KEYS.items():
        for row in tables.get(name, ()):
            origin = origins.get((name, tuple(str(row[column]) for column in columns)))
            if origin is not None:
                own.setdefault(name, []).append(row | {"origin": origin})
    mine = {row["id"] for row in own.get("measurement", ())}
    own["handlingstep"] = [row for row in tables.get("handlingstep", ()) if row["measurement"] in mine]
    return own


def restore_package(store: Store, folder: Path) -> Restored:
    """Bring the own rows of an exported package into a store beside the shipped edition; whose they are stays.

    Raises InputProblems where the folder is no export, anything in it is wrong, or a key is in use by the shipped
    edition; the store then stays as it was.
    """
    from evidence.intake.bundle import read_shipped
    from evidence.model.rules import load_rules
    from evidence.store.importing import import_rows

    before = _package_edition(folder)
    origins = _origins(folder)
    tables = read_shipped(folder / "data", folder / "bibliography").tables
    ensure_evidence(store)
    there = edition(store)
    assert there is not None, "ensure_evidence came first"
    own = _own(tables, origins)
    done = import_rows(
        store, own, load_rules(), origin="own restored", shipped_digest=shipped_digest(),
        edition_name=there.name, evidence_of=there.evidence_of,
    )  # fmt: skip
    brought = sum(len(rows) for name, rows in own.items() if name != "handlingstep")
    return Restored(brought, done.edition, before, done.rows, done.studies)
