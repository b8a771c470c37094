"""whatstays path: a chain of steps from fresh milk to what is left, what it rests on and what is missing."""

from __future__ import annotations

import argparse
import gc
import json
import textwrap
from datetime import date
from typing import TYPE_CHECKING, Any

from reports.command.bring import add_store_option
from reports.command.language import add_language_option

if TYPE_CHECKING:
    from evidence.findings.path import PathAnswer
    from evidence.handling import Chain
    from evidence.model.tables import Component, EditionRecord, Study
    from evidence.store.connection import Store
    from reports.words.path_words import PathWords

__all__ = ["SCHEMA", "add_arguments", "component_named", "read_chain", "run"]

SCHEMA = "whatstays-path-1"
_WIDTH = 96


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of path."""
    parser.add_argument(
        "chain", metavar="CHAIN", help='the steps, as in "expressed > frozen -20C 60d > thawed > freeze-dried"'
    )
    parser.add_argument("--component", metavar="NAME", help="one component; none: a table of those worth asking about")
    parser.add_argument("--json", action="store_true", help="print an object (a list without --component)")
    add_language_option(parser)
    add_store_option(parser)


def read_chain(text: str, option: str = "CHAIN") -> Chain:
    """Read a chain that does something to the milk. Raises InputProblems with the handling's own sentence."""
    from evidence.findings.path import asked_steps
    from evidence.handling import HandlingError, parse_chain
    from evidence.model.problems import InputProblems, Problem
    from evidence.model.rules import load_rules

    try:
        chain = parse_chain(text)
        asked_steps(chain, load_rules())
    except HandlingError as refused:
        raise InputProblems([Problem(option, None, None, refused.read, refused.allowed, refused.nearest)]) from None
    return chain


def component_named(store: Store, text: str) -> str:
    """Return the component a name, synonym or id means, small typos allowed. Raises InputProblems."""
    from evidence.model.problems import InputProblems, Problem
    from reports.desk.naming import component_called

    component, nearest = component_called(store, text)
    if component is not None:
        return component
    allowed = "the name of one component, as in vitamin C"
    raise InputProblems([Problem("--component", None, None, text, allowed, nearest)])


def run(options: argparse.Namespace) -> int:
    """Print the path; exit status 3 where nothing can be said of any of it."""
    gc.disable()  # a short life: collecting garbage while libraries load only costs time
    try:
        return _path(options)
    finally:
        gc.enable()


def _path(options: argparse.Namespace) -> int:
    from evidence.findings import ensure_evidence
    from evidence.findings.path_store import path_evidence
    from evidence.model.tables import Caution, Study
    from evidence.store import open_store
    from evidence.store.reading import all_rows, edition
    from reports.words.catalogue import load_catalogue
    from reports.words.named import caution_text
    from reports.words.path_words import PathWords

    chain = read_chain(options.chain)
    store = open_store(options.store)
    ensure_evidence(store)
    chosen = None if options.component is None else component_named(store, options.component)
    evidence = path_evidence(store, chosen)
    words = PathWords(
        dict(evidence.components), {study.key: study for study in all_rows(store, Study)},
        load_catalogue(options.lang, "path"), load_catalogue(options.lang), evidence.rules,
    )  # fmt: skip
    ordered = sorted(all_rows(store, Caution), key=lambda each: each.position)
    cautions = tuple(caution_text(each, words.plain) for each in ordered)
    there = edition(store)
    assert there is not None, "ensure_evidence came first"
    if chosen is not None:
        answer = evidence.answer(chosen, chain)
        abstracts = _abstracts_only(answer, evidence.rows.get(chosen, ()))
        if options.json:
            print(json.dumps(_plain(answer, words, cautions, there, abstracts), ensure_ascii=False, indent=2))
        else:
            print(_as_text(answer, str(chain), words, cautions, there, abstracts))
        return 0 if any(step.amount is not None for step in answer.steps) else 3
    answers = [evidence.answer(each, chain, thorough=False) for each in _worthy(evidence.components)]
    answers = [answer for answer in answers if not answer.unfollowed]
    if options.json:
        plain = [
            _plain(each, words, cautions, there, _abstracts_only(each, evidence.rows.get(each.component, ())))
            for each in answers
        ]
        print(json.dumps(plain, ensure_ascii=False, indent=2))
    else:
        print(_as_table(answers, str(chain), words, cautions, there))
    return 0 if any(step.amount is not None for answer in answers for step in answer.steps) else 3


def _worthy(components: Any) -> list[str]:
    known: dict[str, Component] = dict(components)
    return [key for key, each in sorted(known.items()) if each.question_worthy == "1"]


def _abstracts_only(answer: PathAnswer, rows: Any) -> bool:
    used = {row for step in answer.steps for study in step.studies for row in study.rows}
    mine = [row for row in rows if row.id in used]
    return bool(mine) and not any(row.read_from in ("full text", "thesis") for row in mine)


def _flags(answer: PathAnswer, words: PathWords, abstracts: bool) -> list[str]:
    codes = [*answer.flags, *(["read from abstracts only"] if abstracts else [])]
    return [words.say.say(f"flag/{code}") for code in codes]


def _sources(answer: PathAnswer, words: PathWords) -> list[Study]:
    keys = dict.fromkeys(each.study for step in answer.steps for each in step.spoken_by)
    return [words.studies[key] for key in keys]


def _rounded(number: float | None) -> float | None:
    return None if number is None else round(number, 2)


def _plain(
    answer: PathAnswer, words: PathWords, cautions: tuple[str, ...], there: EditionRecord, abstracts: bool
) -> dict[str, Any]:
    from reports.words.references import reference_line

    return {
        "schema": SCHEMA,
        "status": answer.status,
        "component": answer.component,
        "steps": [
            {
                "step": step.asked.text,
                "status": step.status,
                "retained_percent": _rounded(step.amount.retained_percent) if step.amount else None,
                "ci_low": _rounded(step.amount.ci_low) if step.amount else None,
                "ci_high": _rounded(step.amount.ci_high) if step.amount else None,
                "studies": list(dict.fromkeys(each.study for each in step.spoken_by)),
            }
            for step in answer.steps
        ],
        "retained_percent": _rounded(answer.reach.retained_percent),
        "ci_low": _rounded(answer.reach.ci_low),
        "ci_high": _rounded(answer.reach.ci_high),
        "flags": [*words.headline(answer)[1:], *words.readings(answer), *_flags(answer, words, abstracts)],
        "missing": list(words.missing(answer)),
        "agreement": {
            "says": words.agreement(answer) or None,
            "q": _rounded(answer.agreement.q) if answer.agreement else None,
            "df": answer.agreement.df if answer.agreement else None,
            "p": round(answer.agreement.p, 4) if answer.agreement else None,
            "steps": [
                {
                    "step": step.asked.text,
                    "direct_over_indirect_percent": _rounded(step.consistency.ratio_percent),
                    "ci_low": _rounded(step.consistency.ci_low), "ci_high": _rounded(step.consistency.ci_high),
                }
                for step in answer.steps
                if step.consistency.tested
            ],
        },
        "studies": [
            {
                "key": each.key, "reference": reference_line(each, words.plain), "doi": each.doi or None,
                "pmid": each.pmid or None,
            }
            for each in _sources(answer, words)
        ],
        "cautions": list(cautions),
        "edition": there.hash[:12],
    }  # fmt: skip


def _wrapped(text: str, indent: str = "") -> str:
    return textwrap.fill(
        text, _WIDTH, initial_indent=indent, subsequent_indent=indent + "  ", break_long_words=False,
        break_on_hyphens=False,
    )  # fmt: skip


def _as_text(
    answer: PathAnswer, chain: str, words: PathWords, cautions: tuple[str, ...], there: EditionRecord, abstracts: bool
) -> str:
    from reports.words.references import reference_line

    say = words.say
    name, road = words.name(answer), words.road([step.asked for step in answer.steps])
    blocks = [[_wrapped(say.say("head/title", component=name, steps=road or chain))]]
    blocks.append([_wrapped(" ".join(words.headline(answer)))])
    blocks.append([_wrapped("- " + line) for line in words.readings(answer)])
    steps: list[str] = []
    for place, step in enumerate(answer.steps, start=1):
        told = words.step(step, answer)
        steps.append(_wrapped(say.say("print/step", place=place, name=told.name, mark=told.mark, line=told.lines[0])))
        steps += [_wrapped(line, "   ") for line in told.lines[1:]]
    blocks.append([say.say("print/steps_lead"), *steps] if steps else [])
    agreement = words.agreement(answer)
    blocks.append([_wrapped(agreement)] if agreement else [])
    missing = words.missing(answer)
    blocks.append([say.say("missing/lead"), *(_wrapped(f"- {line}.") for line in missing)] if missing else [])
    assumed = words.assumptions(answer)
    blocks.append([say.say("assumed/lead"), *(_wrapped(f"- {line}") for line in assumed)] if assumed else [])
    flags = _flags(answer, words, abstracts)
    blocks.append([_wrapped(say.say("print/flags", flags=say.apart(flags)))] if flags else [])
    sources = []
    for number, study in enumerate(_sources(answer, words), start=1):
        links = [f"https://doi.org/{study.doi}" if study.doi else "", f"PMID {study.pmid}" if study.pmid else ""]
        line = (f"[{number}]", reference_line(study, words.plain), *links)
        sources.append(_wrapped(" ".join(part for part in line if part)))
    blocks.append(sources)
    blocks.append([evidence_line(there, words)])
    blocks.append(safe_lines(cautions, words))
    return "\n\n".join("\n".join(block) for block in blocks if block)


def evidence_line(there: EditionRecord, words: PathWords) -> str:
    """Return which evidence was asked, and its edition."""
    day = words.say.date(date.fromisoformat(there.evidence_of))
    return words.say.say("print/evidence", date=day, edition=there.hash[:12])


def safe_lines(cautions: tuple[str, ...], words: PathWords) -> list[str]:
    """Return the cautions under their heading."""
    from reports.words.catalogue import load_catalogue

    heading = load_catalogue(words.say.language, "layout").say("keeping_safe")
    return [heading, *(_wrapped(f"* {caution}") for caution in cautions)]


def _as_table(
    answers: list[PathAnswer], chain: str, words: PathWords, cautions: tuple[str, ...], there: EditionRecord
) -> str:
    say = words.say
    road = words.road([step.asked for step in answers[0].steps]) if answers else chain
    lines = [_wrapped(say.say("table/heading", steps=road)), ""]

    def known(answer: PathAnswer) -> tuple[bool, int, str]:
        reached = [place for place, step in enumerate(answer.steps) if step.so_far.status is not None]
        return answer.status not in ("estimated", "bounded"), -max(reached, default=-1), answer.component

    silent: list[str] = []
    for answer in sorted(answers, key=known):
        name, row = words.name(answer), words.row(answer)
        if row:
            lines.append(_wrapped(say.say("print/row", component=name, amount=row)))
        else:
            silent.append(name)
    if silent:
        lines += ["", _wrapped(say.say("table/others", names=say.apart(silent)))]
    lines += ["", _wrapped(say.say("table/foot")), evidence_line(there, words)]
    lines += ["", *safe_lines(cautions, words)]
    return "\n".join(lines)
