"""whatstays import: the shipped tables, or your own, into the store."""

from __future__ import annotations

import argparse
from pathlib import Path

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of import."""
    parser.add_argument(
        "files", nargs="*", type=Path, metavar="FILE", help="your .csv and .bib files; none: the shipped tables"
    )
    add_store_option(parser)


def add_store_option(parser: argparse.ArgumentParser) -> None:
    """Add --store, the same for every command that reads or writes evidence."""
    parser.add_argument(
        "--store",
        metavar="PATH-or-URL",
        help="a SQLite file or a postgresql:// URL; default: a file in your data folder",
    )


def run(options: argparse.Namespace) -> int:
    """Import and say what the store now holds."""
    from evidence.findings.edition import import_own, import_shipped
    from evidence.store import open_store

    store = open_store(options.store)
    done = import_own(store, options.files) if options.files else import_shipped(store)
    change = "The evidence changed" if done.changed else "Nothing changed"
    print(f"{change}: {done.rows} measurements of {done.studies} studies, edition {done.edition[:12]}.")
    return 0
