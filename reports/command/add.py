"""whatstays add: a study from a spreadsheet into the store, all of it or nothing."""

from __future__ import annotations

import argparse
from pathlib import Path

from reports.command.bring import add_store_option

__all__ = ["add_arguments", "run"]

_SHOWN = 10


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of add."""
    parser.add_argument(
        "file", type=Path, metavar="FILE.xlsx", help="a spreadsheet of the form whatstays template writes"
    )
    parser.add_argument("--by", metavar="NAME", help="whose rows these are (default: your account's name)")
    parser.add_argument(
        "--replace",
        action="store_true",
        help="put rows in place of your own rows with the same id; never of shipped ones",
    )
    add_store_option(parser)


def run(options: argparse.Namespace) -> int:
    """Add the study and say what the store now holds."""
    from evidence.findings.adding import add_spreadsheet
    from evidence.store import open_store

    store = open_store(options.store)
    done = add_spreadsheet(store, options.file, by=options.by, replace=options.replace)
    for notice in done.notices[:_SHOWN]:
        print("Look at: " + notice.sentence())
    if len(done.notices) > _SHOWN:
        print(f"{len(done.notices) - _SHOWN:,} more rows deserve a look: whatstays check FILE.xlsx --notices.")
    rows = f"{done.measurements} measurement{'' if done.measurements == 1 else 's'}"
    studies = f"{done.studies} new stud{'y' if done.studies == 1 else 'ies'}"
    print(f"Added {rows} and {studies}, marked {done.origin}.")
    if done.replaced:
        print(f"{done.replaced} of your rows were replaced.")
    print(f"The store holds {done.rows_in_store} measurements of {done.studies_in_store} studies, "
          f"edition {done.edition[:12]}.")  # fmt: skip
    return 0
