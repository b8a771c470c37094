"""whatstays build: a sheet for every component, as HTML and PDF, and an index."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from reports.command.bring import add_store_option
from reports.command.with_settings import add_settings_option, chosen_settings

if TYPE_CHECKING:
    from tqdm import tqdm

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of build."""
    parser.add_argument(
        "--out", type=Path, default=Path("sheets"), metavar="DIR", help="folder to write into (default: sheets)"
    )
    parser.add_argument(
        "--unbranded", action="store_true", help="the twin that a clinic may hand out, with no service's name"
    )
    parser.add_argument(
        "--workers", type=int, default=None, metavar="N", help="processes to use (default: one a processor)"
    )
    parser.add_argument(
        "--paper",
        choices=("a4", "letter"),
        default=None,
        help="size of the printed pages (default: your settings', or a4)",
    )
    parser.add_argument(
        "--units",
        choices=("metric", "us"),
        default=None,
        help="ml and °C, or fl oz and °F (default: your settings', or metric)",
    )
    add_settings_option(parser)
    add_store_option(parser)


def _show(bar: tqdm[NoReturn], done: int) -> None:
    bar.update(done - bar.n)


def run(options: argparse.Namespace) -> int:
    """Write the pages and say where they are."""
    from tqdm import tqdm

    from evidence.model.problems import InputProblems, Problem
    from evidence.store import open_store
    from reports.site.build import write_site
    from reports.site.compose import compose_site

    if options.workers is not None and options.workers < 1:
        raise InputProblems([Problem("--workers", None, None, str(options.workers), "1 or more")])
    settings = chosen_settings(options)
    store = open_store(options.store)
    site = compose_site(store, unbranded=options.unbranded, settings=settings)
    try:
        with tqdm(total=len(site.pages), unit="page", disable=not sys.stderr.isatty()) as bar:
            written = write_site(
                options.out, site.pages, site.index, site.evidence, workers=options.workers,
                progress=lambda done, _all: _show(bar, done),
            )  # fmt: skip
    except (ValueError, OSError) as refused:
        raise InputProblems(
            [Problem("--out", None, None, f"{options.out} ({refused})", "a folder that can be written")]
        ) from None
    count = f"{len(site.sheets)} sheets, {len(site.family)} more pages (HTML and PDF) and an index"
    print(f"{count}: {options.out / 'index.html'}")
    if written.others:
        print(f"Left as they were, not of this edition: {', '.join(written.others[:5])}")
    return 0
