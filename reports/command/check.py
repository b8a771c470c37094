"""whatstays check: everything that is wrong with tables, without importing them."""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from evidence.intake.bundle import Bundle

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of check."""
    parser.add_argument(
        "files", nargs="*", type=Path, metavar="FILE", help="your .xlsx, .csv and .bib files; none: the shipped tables"
    )
    parser.add_argument("--notices", action="store_true", help="also print what deserves a look but refuses nothing")


def run(options: argparse.Namespace) -> int:
    """Check the files and print what was found."""
    from evidence.intake.counts import measurement_counts

    bundles = _own(options.files) if options.files else [_shipped()]
    notices = [notice for bundle in bundles for notice in bundle.notices]
    if options.notices:
        for notice in notices:
            print("Look at: " + notice.sentence())
    rows = Counter({name: len(rows) for name, rows in bundles[0].tables.items()})
    for bundle in bundles[1:]:
        rows.update({name: len(rows) for name, rows in bundle.tables.items()})
    counts = ", ".join(f"{count} {name}" for name, count in rows.items() if count and name != "handlingstep")
    print(f"No problems. Read: {counts}. {len(notices)} rows deserve a look (--notices).")
    measurements = [row for bundle in bundles for row in bundle.rows("measurement")]
    if measurements:
        studies = [
            row for bundle in [*bundles, *([_shipped()] if options.files else [])] for row in bundle.rows("study")
        ]
        for label, count in measurement_counts(measurements, studies):
            print(f"  {label}: {count}")
    return 0


def _shipped() -> Bundle:
    from evidence.intake.bundle import read_shipped

    return read_shipped()


def _own(files: Sequence[Path]) -> list[Bundle]:
    from evidence.intake.bundle import read_files
    from evidence.intake.spreadsheet import read_spreadsheet
    from evidence.intake.study_sheet import holdings
    from evidence.model.problems import InputProblems, Problem

    shipped = _shipped()
    held = holdings(shipped.rows("study"), {row["id"]: row["outcome"] for row in shipped.rows("component")})
    sheets = [path for path in files if path.suffix.lower() == ".xlsx"]
    others = [path for path in files if path not in sheets]
    bundles: list[Bundle] = []
    problems: list[Problem] = []
    for path in sheets:
        try:
            bundles.append(read_spreadsheet(path, held).bundle)
        except InputProblems as found:
            problems += found.problems
    if others:
        try:
            taken = {
                "study": frozenset(row["key"] for row in shipped.rows("study")),
                "measurement": frozenset(row["id"] for row in shipped.rows("measurement")),
                "component": frozenset(row["id"] for row in shipped.rows("component")),
            }
            numbers = frozenset(row["number"] for row in shipped.rows("question"))
            bundles.append(read_files(others, replace(held.known, taken=taken, numbers=numbers)))
        except InputProblems as found:
            problems += found.problems
    if problems:
        raise InputProblems(problems)
    return bundles
