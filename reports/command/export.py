"""whatstays export: the evidence as an open package, a spreadsheet and a bibliography in three formats."""

from __future__ import annotations

import argparse
from pathlib import Path

from reports.command.bring import add_store_option

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of export."""
    parser.add_argument(
        "folder", type=Path, metavar="DIR", help="a new folder, or one that holds nothing but an earlier export"
    )
    add_store_option(parser)


def run(options: argparse.Namespace) -> int:
    """Write the package and say what it holds."""
    from evidence.findings import ensure_evidence
    from evidence.store import open_store
    from evidence.store.exporting import export_package

    store = open_store(options.store)
    ensure_evidence(store)
    done = export_package(store, options.folder)
    tables = ", ".join(f"{count} {name}" for name, count in done.rows.items())
    print(f"Wrote {options.folder}: {tables}; {done.references} references (BibTeX, RIS, CSL-JSON); evidence.xlsx.")
    if done.own_rows:
        print(f"{done.own_rows} rows are your own: data/origins.csv says which.")
    print(f"Edition {done.edition[:12]}; read again, the package gives the same edition.")
    return 0
