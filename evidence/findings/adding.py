"""A study from a spreadsheet into the store: all of it in one transaction, or nothing."""

from __future__ import annotations

import getpass
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from evidence.findings.edition import ensure_evidence, shipped_digest
from evidence.model.problems import InputProblems, Problem
from evidence.store.connection import Store
from evidence.store.reading import all_rows, edition

if TYPE_CHECKING:
    from evidence.intake.spreadsheet import Spreadsheet
    from evidence.model.tables import Measurement, Study

__all__ = ["Added", "add_spreadsheet", "who_adds"]


@dataclass(frozen=True)
class Added:
    """What was added, as whose, and what the store holds now."""

    measurements: int
    studies: int
    replaced: int
    origin: str
    notices: tuple[Problem, ...]
    edition: str
    rows_in_store: int
    studies_in_store: int


def who_adds(name: str | None = None) -> str:
    """Return who brings the rows: the name given, or the account's.

    Raises InputProblems where the name is empty or longer than a line.
    """
    if name is None:
        try:
            name = getpass.getuser()
        except (KeyError, OSError):  # an account without a name, as in some containers
            name = "unnamed"
    name = " ".join(name.split())
    if not name or not name.isprintable():
        raise InputProblems([Problem("--by", None, None, name, "a name of printable letters")])
    return name


def _clashes(
    file: str, sheet: Spreadsheet, studies: Iterable[Study], measurements: Iterable[Measurement], replace: bool
) -> tuple[list[Problem], int]:
    """Return what may not be overwritten, each with its cell, and how many own rows will be replaced."""
    problems: list[Problem] = []
    replaced = 0

    def clash(kind: str, key: str, origin: str) -> None:
        nonlocal replaced
        if replace and origin.startswith("own"):
            replaced += 1
            return
        words = {
            ("study", True): "a key that is not in use; for more rows of that paper take it out of sheet Study",
            ("measurement", True): "an id that is not in use",
            ("study", False): "a new key, or whatstays add --replace to put this row in place of yours",
            ("measurement", False): "a new id, or whatstays add --replace to put this row in place of yours",
        }
        allowed = words[kind, origin.startswith("shipped")]
        read = f"{key}, in the store already ({origin})"
        problems.append(Problem(file, None, None, read, allowed, place=sheet.places[kind, key]))

    new: dict[str, dict[str, Any]] = {row["key"]: row for row in sheet.bundle.rows("study")}
    for study in studies:
        mine = new.get(study.key)
        # the same paper again, word for word, brings nothing to overwrite
        if mine is not None and any(getattr(study, column) != text for column, text in mine.items()):
            clash("study", study.key, study.origin)
    ids = {row["id"] for row in sheet.bundle.rows("measurement")}
    for row in measurements:
        if row.id in ids:
            clash("measurement", row.id, row.origin)
    return problems, replaced


def add_spreadsheet(store: Store, path: Path, *, by: str | None = None, replace: bool = False) -> Added:
    """Add a study from a spreadsheet as own rows.

    replace lets rows take the place of own rows with the same id or key; shipped rows are never replaced. Raises
    InputProblems with everything that is wrong; the store then stays as it was.
    """
    from evidence.intake.spreadsheet import read_spreadsheet
    from evidence.intake.study_sheet import holdings
    from evidence.model.rules import load_rules
    from evidence.model.tables import Component, Measurement, Study
    from evidence.store.importing import import_rows

    origin = f"own {who_adds(by)} {date.today().isoformat()}"
    ensure_evidence(store)
    studies = all_rows(store, Study)
    outcomes = {component.id: component.outcome for component in all_rows(store, Component)}
    sheet = read_spreadsheet(path, holdings((study.model_dump() for study in studies), outcomes))
    problems, replaced = _clashes(path.name, sheet, studies, all_rows(store, Measurement), replace)
    if problems:
        raise InputProblems(problems)
    there = edition(store)
    assert there is not None, "ensure_evidence came first"
    done = import_rows(
        store, sheet.bundle.tables, load_rules(), origin=origin, shipped_digest=shipped_digest(),
        edition_name=there.name, evidence_of=there.evidence_of,
    )  # fmt: skip
    brought = sheet.bundle
    return Added(
        len(brought.rows("measurement")), len(brought.rows("study")), replaced, origin, brought.notices,
        done.edition, done.rows, done.studies,
    )  # fmt: skip
