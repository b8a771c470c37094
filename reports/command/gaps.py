"""whatstays gaps: what to measure next, and how many mothers' milks that takes."""

from __future__ import annotations

import argparse
import json
import math
import textwrap
from typing import TYPE_CHECKING

from reports.command.bring import add_store_option
from reports.command.language import add_language_option

if TYPE_CHECKING:
    from evidence.findings.gaps import Gap
    from evidence.findings.path_store import PathEvidence
    from reports.words.path_words import PathWords

__all__ = ["SCHEMA", "add_arguments", "run"]

SCHEMA = "whatstays-gaps-1"
_WIDTH = 96
_SHOWN = 30


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of gaps."""
    parser.add_argument("--component", metavar="NAME", help="one component only")
    parser.add_argument(
        "--half-width", metavar="PARTS", help="with --component: how many mothers it takes to know it this closely"
    )
    parser.add_argument("--all", action="store_true", help=f"every component and step, not the first {_SHOWN}")
    parser.add_argument("--json", action="store_true", help="print an object")
    add_language_option(parser)
    add_store_option(parser)


def _half_width(text: str) -> float:
    from evidence.model.problems import InputProblems, Problem

    try:
        half = float(text)
    except ValueError:
        half = math.nan
    if not 0 < half < 100:
        raise InputProblems(
            [Problem("--half-width", None, None, text, "parts of 100, above 0 and below 100, as in 10")]
        )
    return half


def run(options: argparse.Namespace) -> int:
    """Print the gaps, or how many mothers a wanted closeness takes."""
    from evidence.findings import ensure_evidence
    from evidence.findings.gaps import gaps
    from evidence.findings.path_store import path_evidence
    from evidence.model.problems import InputProblems, Problem
    from evidence.model.tables import Study
    from evidence.store import open_store
    from evidence.store.reading import all_rows, edition
    from reports.command.path import component_named, evidence_line
    from reports.words.catalogue import load_catalogue
    from reports.words.path_words import PathWords

    half = None if options.half_width is None else _half_width(options.half_width)
    if half is not None and options.component is None:
        allowed = "together with --component, as the spread between milks differs from one to the next"
        raise InputProblems([Problem("--half-width", None, None, options.half_width, allowed)])
    store = open_store(options.store)
    ensure_evidence(store)
    chosen = None if options.component is None else component_named(store, options.component)
    evidence = path_evidence(store)
    words = PathWords(
        dict(evidence.components), {study.key: study for study in all_rows(store, Study)},
        load_catalogue(options.lang, "path"), load_catalogue(options.lang), evidence.rules,
    )  # fmt: skip
    there = edition(store)
    assert there is not None, "ensure_evidence came first"
    if half is not None and chosen is not None:
        return _mothers(evidence, chosen, half, words, there.hash[:12], as_json=options.json)
    found = gaps(evidence, only_worthy=chosen is None)
    if chosen is not None:
        found = tuple(gap for gap in found if gap.component == chosen)
    if options.json:
        print(json.dumps({"schema": SCHEMA, "edition": there.hash[:12], "gaps": [_plain(g) for g in found]}, indent=2))
        return 0 if found else 3
    shown = found if options.all or chosen is not None else found[:_SHOWN]
    mothers = round(evidence.rules.path.usual_study_mothers)
    lines = [_wrapped(words.say.say("gaps/heading", n=mothers) + ":"), *(_wrapped(_row(g, words)) for g in shown)]
    lines += [_wrapped(words.say.say("gaps/width")), evidence_line(there, words)]
    print("\n".join(lines))
    return 0 if found else 3


def _plain(gap: Gap) -> dict[str, object]:
    return {
        "component": gap.component, "step": gap.step, "studies_with_figures": gap.k_figures,
        "studies_in_words": gap.k_words, "width_now": round(gap.width_now, 2), "width_after": round(gap.width_after, 2),
        "gain": round(gap.gain, 2), "most_asked": gap.most_asked,
    }  # fmt: skip


def _row(gap: Gap, words: PathWords) -> str:
    from evidence.findings.path import asked_steps
    from evidence.handling import parse_chain
    from evidence.model.rules import load_rules
    from reports.words.named import component_name

    asked = asked_steps(parse_chain(load_rules().path.standard_chain), load_rules())
    noun = next(words.noun(step) for step in asked if step.text == gap.step)
    say = words.say
    if gap.k_figures:
        what = say.count("gaps/figures", gap.k_figures)
    elif gap.k_words:
        what = say.count("gaps/in_words", gap.k_words)
    else:
        what = say.say("gaps/unmeasured")
    name = component_name(words.components[gap.component], words.plain)
    return "- " + say.say(
        "gaps/row", component=name, step=noun, now=round(gap.width_now), after=round(gap.width_after),
        gain=round(gap.width_now) - round(gap.width_after), what=what,
    )  # fmt: skip


def _mothers(
    evidence: PathEvidence, component: str, half: float, words: PathWords, edition: str, *, as_json: bool
) -> int:
    from dataclasses import asdict

    from evidence.findings.gaps import mothers_needed
    from reports.words.named import component_name

    found = mothers_needed(evidence, component, half)
    name = component_name(words.components[component], words.plain)
    if found is None:
        if as_json:
            print(json.dumps({"schema": SCHEMA, "edition": edition, "component": component, "mothers": None}, indent=2))
        else:
            print(_wrapped(words.say.say("gaps/none", component=name)))
        return 3
    if as_json:
        print(json.dumps({"schema": SCHEMA, "edition": edition, **asdict(found)}, indent=2))
        return 0
    sd = words.say.number(100 * found.sd_between_milks)
    print(_wrapped(words.say.say("gaps/mothers", component=name, half=f"{half:g}", n=found.mothers)))
    key = "own" if found.own_sd else "class"
    print(_wrapped(words.say.say(f"gaps/{key}", component=name, k=found.k_rows, sd=sd)))
    print(_wrapped(words.say.say("gaps/formula", half=f"{half:g}")))
    return 0


def _wrapped(text: str) -> str:
    return textwrap.fill(text, _WIDTH, subsequent_indent="  ", break_long_words=False, break_on_hyphens=False)
