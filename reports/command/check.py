"""whatstays check: everything that is wrong with tables, without importing them."""

from __future__ import annotations

import argparse
from pathlib import Path

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of check."""
    parser.add_argument(
        "files", nargs="*", type=Path, metavar="FILE", help="your .csv and .bib files; none: the shipped tables"
    )
    parser.add_argument("--notices", action="store_true", help="also print what deserves a look but refuses nothing")


def run(options: argparse.Namespace) -> int:
    """Check the files and print what was found."""
    from evidence.intake.bundle import Known, read_files, read_shipped

    if options.files:
        shipped = read_shipped()
        known = Known(
            frozenset(row["key"] for row in shipped.rows("study")),
            {row["id"]: row["outcome"] for row in shipped.rows("component")},
        )
        bundle = read_files(options.files, known)
    else:
        bundle = read_shipped()
    if options.notices:
        for notice in bundle.notices:
            print("Look at: " + notice.sentence())
    counts = ", ".join(f"{len(rows)} {name}" for name, rows in bundle.tables.items() if rows and name != "handlingstep")
    print(f"No problems. Read: {counts}. {len(bundle.notices)} rows deserve a look (--notices).")
    return 0
