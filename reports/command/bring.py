"""whatstays import: the shipped tables, or your own, into the store."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from evidence.store import Store

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of import."""
    parser.add_argument(
        "files",
        nargs="*",
        type=Path,
        metavar="FILE",
        help="your .csv and .bib files, or a folder that export wrote; none: the shipped tables",
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
    if len(options.files) == 1 and options.files[0].is_dir():
        return _restore(store, options.files[0])
    done = import_own(store, options.files) if options.files else import_shipped(store)
    change = "The evidence changed" if done.changed else "Nothing changed"
    print(f"{change}: {done.rows} measurements of {done.studies} studies, edition {done.edition[:12]}.")
    return 0


def _restore(store: Store, folder: Path) -> int:
    from evidence.findings.restoring import restore_package

    done = restore_package(store, folder)
    print(f"Your own rows: {done.own_rows}, brought in as they were. The store holds {done.rows_in_store} measurements "
          f"of {done.studies_in_store} studies, edition {done.edition[:12]}.")  # fmt: skip
    if done.edition != done.package_edition:
        print(f"The package was of edition {done.package_edition[:12]}: its shipped rows, or other rows of yours here, "
              "are not the same.")  # fmt: skip
    return 0
