"""whatstays reading-list: the papers whose full tables would tell most about drying."""

from __future__ import annotations

import argparse
import json
import textwrap
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from reports.command.bring import add_store_option

if TYPE_CHECKING:
    from evidence.findings.reading_list import ReadingListEntry

__all__ = ["add_arguments", "run"]

_SCHEMA = "whatstays-reading-list-1"
_WIDTH = 96


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of reading-list."""
    parser.add_argument("--json", action="store_true", help="print an object with every paper and every gain")
    parser.add_argument("--first", type=int, default=None, metavar="N", help="only the first N papers")
    add_store_option(parser)


def run(options: argparse.Namespace) -> int:
    """Print the list; exit status 3 where no paper is left to read."""
    from evidence.findings import ensure_evidence
    from evidence.findings.reading_sources import reading_list
    from evidence.model.problems import InputProblems, Problem
    from evidence.model.tables import Study
    from evidence.store import open_store
    from evidence.store.reading import all_rows
    from reports.words.references import reference_line

    if options.first is not None and options.first < 1:
        raise InputProblems([Problem("--first", None, None, str(options.first), "1 or more")])
    store = open_store(options.store)
    ensure_evidence(store)
    entries = reading_list(store)[: options.first]
    papers = {study.key: reference_line(study) for study in all_rows(store, Study)}
    references = [papers.get(entry.key, entry.reference) for entry in entries]
    if options.json:
        listed = [_plain(entry, reference) for entry, reference in zip(entries, references, strict=True)]
        print(json.dumps({"schema": _SCHEMA, "papers": listed}, ensure_ascii=False, indent=2))
    else:
        print("\n\n".join(_block(entry, reference) for entry, reference in zip(entries, references, strict=True)))
    return 0 if entries else 3


def _plain(entry: ReadingListEntry, reference: str) -> dict[str, Any]:
    return asdict(entry) | {"reference": reference}


def _block(entry: ReadingListEntry, reference: str) -> str:
    links = [f"https://doi.org/{entry.doi}" if entry.doi else "", f"PMID {entry.pmid}" if entry.pmid else ""]
    head = " ".join(part for part in (reference, *links) if part)
    lines = [f"{entry.rank}. {head} [{entry.status}, gain {entry.gain:.2f}]", f"   Why: {entry.reason}"]
    lines += ["   To copy:", *(f"   - {line}" for line in entry.copy)]
    return "\n".join(
        textwrap.fill(line, _WIDTH, subsequent_indent="     ", break_long_words=False, break_on_hyphens=False)
        for line in lines
    )
