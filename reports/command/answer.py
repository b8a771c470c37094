"""whatstays answer: a question in words to the sentence, the figures, the sources and the cautions."""

from __future__ import annotations

import argparse
import gc
import json
import textwrap
from typing import TYPE_CHECKING

from reports.command.bring import add_store_option

if TYPE_CHECKING:
    from reports.desk.reply import Reply

__all__ = ["add_arguments", "run"]

_WIDTH = 96


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of answer."""
    parser.add_argument("question", nargs="+", help='in ordinary words, as in "does freeze-drying cost vitamin C?"')
    parser.add_argument(
        "--json", action="store_true", help="print an object, or a list where several things were asked"
    )
    add_store_option(parser)


def run(options: argparse.Namespace) -> int:
    """Print the answer; exit status 3 where there is none to give."""
    gc.disable()  # a short life: collecting garbage while libraries load only costs time
    try:
        return _answer(options)
    finally:
        gc.enable()


def _answer(options: argparse.Namespace) -> int:
    from evidence.findings import ensure_evidence, findings
    from evidence.store import open_store
    from evidence.store.reading import findings_kept
    from reports.desk.reply import reply_to

    store = open_store(options.store)
    ensure_evidence(store)
    if not findings_kept(store):
        findings(store)  # once an edition
    replies = reply_to(" ".join(options.question), store)
    if options.json:
        plain = [reply.as_json() for reply in replies]
        print(json.dumps(plain[0] if len(plain) == 1 else plain, ensure_ascii=False, indent=2))
    else:
        print(_as_text(replies))
    return 3 if all(reply.status in ("no_evidence", "not_understood") for reply in replies) else 0


def _as_text(replies: list[Reply]) -> str:
    blocks: list[str] = []
    for reply in replies:
        lines = [_wrapped(reply.sentence)]
        if reply.redirect_to:
            lines.append(_wrapped(f"Ask: {reply.redirect_to}."))
        if reply.how_sure:
            lines.append(_wrapped(f"How sure? {reply.how_sure}"))
        if reply.retained_percent is not None:
            lines.append(_wrapped(_figures(reply)))
        if reply.flags:
            lines.append(_wrapped("Flags: " + "; ".join(reply.flags) + "."))
        lines += [_wrapped(f"- {line}") for line in (*reply.others, *reply.alternatives)]
        lines += [_wrapped(f"[{n}] {_source(study)}") for n, study in enumerate(reply.studies, start=1)]
        if reply.number:
            lines.append(f"Answer {reply.number}, evidence of {reply.evidence_of}, edition {reply.edition}.")
        blocks.append("\n".join(lines))
    cautions = "\n".join(_wrapped(f"* {caution}") for caution in replies[0].cautions)
    return "\n\n".join([*blocks, "Keeping it safe\n" + cautions])


def _figures(reply: Reply) -> str:
    baselines = ", ".join(f"{count} {word}" for word, count in reply.baselines.items())
    studies = "study" if reply.k_studies == 1 else "studies"
    rows = "row" if reply.k_rows == 1 else "rows"
    return (
        f"Figures: {reply.retained_percent:.0f} for every 100 before. With what similar questions lend, anything from "
        f"{reply.ci_low:.0f} to {reply.ci_high:.0f} fits. {reply.k_studies} {studies}, {reply.k_rows} {rows}; "
        f"compared with: {baselines}."
    )


def _source(study: object) -> str:
    reference, doi, pmid = (getattr(study, name) for name in ("reference", "doi", "pmid"))
    links = [f"https://doi.org/{doi}" if doi else "", f"PMID {pmid}" if pmid else ""]
    return " ".join(part for part in (reference, *links) if part)


def _wrapped(text: str) -> str:
    return textwrap.fill(text, _WIDTH, subsequent_indent="  ", break_long_words=False, break_on_hyphens=False)
