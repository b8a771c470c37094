"""whatstays build: a sheet for every component, as HTML and PDF, and an index."""

from __future__ import annotations

import argparse
import sys
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

from reports.command.bring import add_store_option
from reports.command.with_settings import add_settings_option, chosen_settings
from reports.words.catalogue import LANGUAGES

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
    parser.add_argument(
        "--language",
        choices=(*LANGUAGES, "all"),
        default=None,
        help="language of the pages (default: your settings', or en); of several the first stands in DIR itself, "
        "each other in a folder of its own",
    )
    add_settings_option(parser)
    add_store_option(parser)


def _show(bar: tqdm[NoReturn], done: int, _all: int) -> None:
    bar.update(done - bar.n)


def run(options: argparse.Namespace) -> int:
    """Write the pages and say where they are."""
    from tqdm import tqdm

    from evidence.findings.edition import ensure_evidence, shipped_digest
    from evidence.model.problems import InputProblems, Problem
    from evidence.model.rules import load_rules
    from evidence.store import open_store
    from evidence.store.reading import edition
    from reports.site.build import unchanged_site, write_site
    from reports.site.compose import compose_site
    from reports.site.made import asked_digest
    from reports.site.reading import reading_line, site_level

    if options.workers is not None and options.workers < 1:
        raise InputProblems([Problem("--workers", None, None, str(options.workers), "1 or more")])
    settings = chosen_settings(options)
    store = open_store(options.store)
    ensure_evidence(store)
    there = edition(store)
    assert there is not None, "ensure_evidence came first"
    chosen = settings.languages if options.language is None else (options.language,)
    languages = tuple(LANGUAGES) if chosen == ("all",) else tuple(chosen)
    others: list[str] = []
    levels: list[str] = []
    try:
        for language in languages:
            folder = options.out if language == languages[0] else options.out / language
            asked = asked_digest(there.hash, shipped_digest(), (options.unbranded, language, languages, settings))
            stands = unchanged_site(folder, asked)
            if stands is not None:
                others += stands.others
                print(f"Nothing changed since these {stands.unchanged} pages were made: {folder / 'index.html'}")
                continue
            site = compose_site(
                store, unbranded=options.unbranded, language=language, languages=languages, settings=settings
            )
            with tqdm(total=len(site.pages), unit="page", disable=not sys.stderr.isatty(), desc=language) as bar:
                written = write_site(
                    folder, site.pages, site.index, site.evidence, site.texts, workers=options.workers,
                    progress=partial(_show, bar), asked=asked,
                )  # fmt: skip
            others += written.others
            levels.append(reading_line(site_level(site.sheets, load_rules())))
            count = f"{len(site.sheets)} sheets, {len(site.family)} more pages (HTML and PDF) and an index"
            print(f"{count}: {folder / 'index.html'}")
            if written.unchanged:
                print(f"{written.unchanged} of these pages had not changed and were left as they were.")
    except (ValueError, OSError) as refused:
        raise InputProblems(
            [Problem("--out", None, None, f"{options.out} ({refused})", "a folder that can be written")]
        ) from None
    for line in filter(None, levels):
        print(line)
    if others:
        print(f"Left as they were, not of this edition: {', '.join(others[:5])}")
    return 0
