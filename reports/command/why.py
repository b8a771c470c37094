"""whatstays why: from a printed answer to its rule, its rows and the places in the papers."""

from __future__ import annotations

import argparse
import json
import textwrap
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from reports.command.bring import add_store_option
from reports.command.language import add_language_option

if TYPE_CHECKING:
    from evidence.findings.trail import Trail
    from reports.words.catalogue import Catalogue
    from reports.words.library import Library
    from reports.words.why_words import WhyPart

__all__ = ["SCHEMA", "add_arguments", "run"]

SCHEMA = "whatstays-why-1"
_WIDTH = 96


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of why."""
    parser.add_argument("number", metavar="NUMBER", help="the number under an answer, as in A-0412")
    parser.add_argument("--json", action="store_true", help="print an object")
    add_language_option(parser)
    add_store_option(parser)


def run(options: argparse.Namespace) -> int:
    """Print the trail; exit status 3 where the question has no row."""
    from evidence.findings import ensure_evidence, findings
    from evidence.findings.trail import trail_of
    from evidence.model.problems import InputProblems, Problem, nearest_word
    from evidence.model.rules import load_rules
    from evidence.model.tables import Question
    from evidence.store import open_store
    from evidence.store.reading import all_rows
    from reports.words.catalogue import load_catalogue
    from reports.words.library import load_library
    from reports.words.why_words import why_parts, why_title

    store = open_store(options.store)
    ensure_evidence(store)
    say, plain = load_catalogue(options.lang, "why"), load_catalogue(options.lang)
    number = options.number.strip().upper()
    found = {finding.number: finding for finding in findings(store)}
    if number not in found:
        asked = {question.number for question in all_rows(store, Question)}
        if number in asked:
            print(say.say("refused/no_rows", number=number))
            return 3
        nearest = nearest_word(number, sorted(asked))
        raise InputProblems([Problem("NUMBER", None, None, options.number, say.say("refused/unknown"), nearest)])
    finding = found[number]
    library = load_library(store, [finding])
    trail = trail_of(finding, library.measurements, library.studies, load_rules())
    parts = why_parts(trail, library, say, plain)
    if options.json:
        print(json.dumps(_plain(trail, parts, library), ensure_ascii=False, indent=2))
    else:
        print(_as_text(why_title(trail, library, say, plain), parts, library, plain))
    return 0


def _plain(trail: Trail, parts: tuple[WhyPart, ...], library: Library) -> dict[str, Any]:
    values = asdict(trail)
    values["rows"] = [row | {"printed": _printed(row["id"], library)} for row in values["rows"]]
    values["places"] = [
        place | {"reference": parts[-1].lines[_place_of(trail, place["study"])].text} for place in values["places"]
    ]
    return {
        "schema": SCHEMA,
        "number": trail.finding.number,
        "sentences": [line.text for line in parts[0].lines],
        "rule": {"state": trail.finding.state, "told": parts[1].lines[0].text, "checks": values["checks"]},
        "certainty": {"level": trail.finding.certainty.level, "steps": values["steps"]},
        "rows": values["rows"],
        "places": values["places"],
        "finding": values["finding"],
        "edition": library.edition.hash[:12],
        "evidence_of": library.edition.evidence_of,
        "cautions": [caution.text_en for caution in library.cautions],
    }


def _place_of(trail: Trail, study: str) -> int:
    return list(dict.fromkeys(row.study for row in trail.rows)).index(study)


def _printed(row: str, library: Library) -> str:
    from reports.words.printed import as_printed

    return as_printed(library.measurements[row])


def _as_text(title: str, parts: tuple[WhyPart, ...], library: Library, say: Catalogue) -> str:
    blocks = [title]
    for part in parts:
        lines = [part.heading]
        for line in part.lines:
            lines.append(_wrapped(line.text, "  ", "    "))
            lines += [_wrapped(text, "      ", "        ") for text in line.under]
        blocks.append("\n".join(lines))
    from datetime import date

    from reports.words.named import caution_text

    cautions = [_wrapped(f"* {caution_text(caution, say)}", "", "  ") for caution in library.cautions]
    day = date.fromisoformat(library.edition.evidence_of)
    edition = say.say("evidence/edition", date=say.date(day), edition=library.edition.hash[:12])
    return "\n\n".join([*blocks, edition, "\n".join([say.say("evidence/safe"), *cautions])])


def _wrapped(text: str, first: str, then: str) -> str:
    return textwrap.fill(
        text, _WIDTH, initial_indent=first, subsequent_indent=then, break_long_words=False, break_on_hyphens=False
    )
