"""whatstays reading-list: the papers whose full tables would tell most about drying."""

from __future__ import annotations

import argparse
import json
import textwrap
from collections.abc import Mapping
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from reports.command.bring import add_store_option
from reports.command.language import add_language_option
from reports.words.catalogue import Catalogue, load_catalogue
from reports.words.reading_words import reading_reason, what_to_copy

if TYPE_CHECKING:
    from evidence.findings.reading_list import ReadingListEntry
    from evidence.model.tables import Component

__all__ = ["add_arguments", "run"]

_SCHEMA = "whatstays-reading-list-1"
_WIDTH = 96


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of reading-list."""
    parser.add_argument("--json", action="store_true", help="print an object with every paper and every gain")
    parser.add_argument("--first", type=int, default=None, metavar="N", help="only the first N papers")
    add_language_option(parser)
    add_store_option(parser)


def run(options: argparse.Namespace) -> int:
    """Print the list; exit status 3 where no paper is left to read."""
    from evidence.findings import ensure_evidence
    from evidence.findings.reading_sources import reading_list
    from evidence.model.problems import InputProblems, Problem
    from evidence.model.tables import Component, Study
    from evidence.store import open_store
    from evidence.store.reading import all_rows
    from reports.words.references import reference_line

    if options.first is not None and options.first < 1:
        raise InputProblems([Problem("--first", None, None, str(options.first), "1 or more")])
    store = open_store(options.store)
    ensure_evidence(store)
    entries = reading_list(store)[: options.first]
    say = load_catalogue(options.lang)
    papers = {study.key: reference_line(study, say) for study in all_rows(store, Study)}
    components = {component.id: component for component in all_rows(store, Component)}
    references = [papers.get(entry.key, entry.reference) for entry in entries]
    if options.json:
        listed = [
            _plain(entry, reference, components, say) for entry, reference in zip(entries, references, strict=True)
        ]
        print(json.dumps({"schema": _SCHEMA, "papers": listed}, ensure_ascii=False, indent=2))
    else:
        blocks = [
            _block(entry, reference, components, say) for entry, reference in zip(entries, references, strict=True)
        ]
        print("\n\n".join(blocks))
    return 0 if entries else 3


def _plain(
    entry: ReadingListEntry, reference: str, components: Mapping[str, Component], say: Catalogue
) -> dict[str, Any]:
    told = {"reason": reading_reason(entry, components, say), "copy": what_to_copy(entry, components, say)}
    return asdict(entry) | {"reference": reference} | told


def _block(entry: ReadingListEntry, reference: str, components: Mapping[str, Component], say: Catalogue) -> str:
    links = [f"https://doi.org/{entry.doi}" if entry.doi else "", f"PMID {entry.pmid}" if entry.pmid else ""]
    head = " ".join(part for part in (reference, *links) if part)
    lines = [
        f"{entry.rank}. {head} [{entry.status}, gain {entry.gain:.2f}]",
        f"   Why: {reading_reason(entry, components, say)}",
    ]
    lines += ["   To copy:", *(f"   - {line}" for line in what_to_copy(entry, components, say))]
    return "\n".join(
        textwrap.fill(line, _WIDTH, subsequent_indent="     ", break_long_words=False, break_on_hyphens=False)
        for line in lines
    )
