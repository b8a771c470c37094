"""whatstays claims: a text's sentences held against the evidence, before a page or a label is printed."""

from __future__ import annotations

import argparse
import json
import re
import sys
import textwrap
from collections import Counter
from collections.abc import Sequence
from typing import TYPE_CHECKING

from reports.command.bring import add_store_option

if TYPE_CHECKING:
    from reports.claims.check import Checker, Claim
    from reports.words.catalogue import Catalogue

__all__ = ["GOES_TOO_FAR", "add_arguments", "run"]

GOES_TOO_FAR = 5
_WIDTH = 96
# signs that a terminal would obey instead of showing, and those that turn the direction of what follows
_UNSHOWN = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u200e\u200f\u202a-\u202e\u2066-\u2069\ufeff]")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of claims."""
    parser.add_argument("file", metavar="FILE", help="a text (txt, md, html, docx); - reads text from standard input")
    parser.add_argument(
        "--lang", choices=("en", "fr", "es"), help="the text's language (default: told by the words of each sentence)"
    )
    parser.add_argument("--json", action="store_true", help="print a list with every sentence, in order")
    parser.add_argument("--all", action="store_true", help="show the sentences that may stand as well")
    add_store_option(parser)


def run(options: argparse.Namespace) -> int:
    """Print what is to change; exit status 5 where a sentence goes further than the evidence."""
    from evidence.store import open_store
    from reports.claims.check import open_checker
    from reports.claims.document import read_blocks

    blocks = read_blocks(options.file, sys.stdin.buffer.read() if options.file == "-" else None)
    store = open_store(options.store)
    checker = open_checker(store)
    claims = checker.check(blocks, options.lang)
    _refuse_unread(options.file, claims)
    if options.json:
        print(json.dumps([claim.as_json() for claim in claims], ensure_ascii=False, indent=2))
    else:
        print(_as_text(claims, checker, everything=options.all))
    return GOES_TOO_FAR if any(claim.to_change for claim in claims) else 0


def _refuse_unread(name: str, claims: Sequence[Claim]) -> None:
    """Refuse a text most of whose longer sentences are in no language that is read: it would pass unchecked."""
    from evidence.model.problems import InputProblems, Problem
    from reports.claims.check import claims_catalogue
    from reports.claims.language import UNREAD

    unread = [claim.sentence for claim in claims if claim.lang == UNREAD]
    if unread and 2 * len(unread) >= len(claims):
        allowed = claims_catalogue("en").say("report/language")
        raise InputProblems([Problem(name, None, None, _shown(unread[0]), allowed)])


def _shown(text: str) -> str:
    """Return a text as a terminal may show it: control signs and turns of direction as their code."""
    return _UNSHOWN.sub(lambda sign: f"\\u{ord(sign[0]):04x}", " ".join(text.split()))


def _as_text(claims: Sequence[Claim], checker: Checker, everything: bool) -> str:
    from reports.claims.check import claims_catalogue
    from reports.words.catalogue import load_catalogue
    from reports.words.named import caution_text

    language = _mostly(claims)
    plain = load_catalogue(language)
    say = claims_catalogue(language)
    library = checker.holdings.library
    blocks: list[str] = []
    count = sum(claim.to_change for claim in claims)
    if not claims:
        blocks.append(say.say("report/no_sentences"))
    elif count:
        blocks.append(say.say("report/heading", count=count, sentences=say.count("report/sentences", len(claims))))
    else:
        blocks.append(say.count("report/all_well", len(claims)))
    blocks += [
        _block(place, claim, say)
        for place, claim in enumerate(claims, start=1)
        if everything or claim.to_change or claim.verdict == "vague"
    ]
    keys = {"supported": "report/may_stand", "none": "report/claim_nothing"}
    told = {verdict: say.count(key, sum(claim.verdict == verdict for claim in claims)) for verdict, key in keys.items()}
    blocks.append(_wrapped(say.say("report/others", **told)))
    edition = library.edition
    blocks.append(
        say.say("report/edition", date=edition.evidence_of, edition=edition.hash[:12])
        + "\n" + _wrapped(say.say("report/limits"))
    )  # fmt: skip
    blocks.append("\n".join(_wrapped(f"* {caution_text(caution, plain)}") for caution in library.cautions))
    return "\n\n".join(blocks)


def _mostly(claims: Sequence[Claim]) -> str:
    """Return the language that most sentences are in, in which the report is told."""
    told = Counter(claim.lang for claim in claims if claim.lang != "und")
    return told.most_common(1)[0][0] if told else "en"


def _block(place: int, claim: Claim, say: Catalogue) -> str:
    verdict, kind = say.say(f"verdict/{claim.verdict}"), say.say(f"kind/{claim.kind}")
    lines = [_wrapped(f"{place}. {_shown(claim.sentence)}", "   ")]
    lines.append("   " + say.say("report/line", verdict=verdict, kind=kind))
    lines.append(_wrapped("   " + say.say("report/why", why=claim.why), "   "))
    if claim.wording != claim.sentence:
        lines.append(_wrapped("   " + say.say("report/wording", wording=_shown(claim.wording)), "   "))
    for each in claim.findings:
        if each.sentence != claim.wording:
            found = say.say("report/found", number=each.number, sentence=each.sentence)
            lines.append(_wrapped("   " + found, "   "))
    return "\n".join(lines)


def _wrapped(text: str, indent: str = "  ") -> str:
    return textwrap.fill(text, _WIDTH, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False)
