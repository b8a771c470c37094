"""whatstays review: how sure anyone can be, set by hand by a named reviewer, kept and printed."""

from __future__ import annotations

import argparse
from datetime import date

from reports.command.bring import add_store_option

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of review."""
    parser.add_argument("number", metavar="NUMBER", help="the number under an answer, as in A-0412")
    parser.add_argument("--certainty", metavar="LEVEL", required=True, help='high, moderate, low or "very low"')
    parser.add_argument("--by", metavar="NAME", required=True, help="who signs; printed on the pages")
    parser.add_argument("--reason", metavar="TEXT", required=True, help="why, in a sentence; printed on the pages")
    parser.add_argument("--date", metavar="YYYY-MM-DD", help="the day of signing (default: today)")
    parser.add_argument("--second", metavar="NAME", default="", help="a second reviewer; needed to raise certainty")
    parser.add_argument(
        "--no-interest", action="store_true", help="the second reviewer gains nothing from sales; needed to raise"
    )
    add_store_option(parser)


def run(options: argparse.Namespace) -> int:
    """Sign the review and say what is printed now."""
    from evidence.findings.reviewing import sign_review
    from evidence.model.lists import CERTAINTY_LEVELS
    from evidence.model.problems import InputProblems, Problem, nearest_word
    from evidence.store import open_store
    from reports.words.answers import how_sure
    from reports.words.catalogue import load_catalogue

    problems: list[Problem] = []
    level = " ".join(options.certainty.lower().replace("-", " ").split())
    if level not in CERTAINTY_LEVELS:
        nearest = nearest_word(level, CERTAINTY_LEVELS)
        problems.append(Problem("--certainty", None, None, options.certainty, ", ".join(CERTAINTY_LEVELS), nearest))
    day = date.today()
    if options.date is not None:
        try:
            day = date.fromisoformat(options.date)
        except ValueError:
            problems.append(Problem("--date", None, None, options.date, "a date such as 2026-11-24"))
    if problems:
        raise InputProblems(problems)
    store = open_store(options.store)
    signed = sign_review(
        store, options.number.strip().upper(), level, options.by, options.reason, day=day, second=options.second,
        no_interest=options.no_interest,
    )  # fmt: skip
    say = load_catalogue("en", "why")
    print(say.say("review/signed", id=signed.id, edition=signed.edition[:12]))
    print(how_sure(signed.finding, load_catalogue()))
    if len(signed.finding.certainty.reviews) > 1:
        print(say.say("review/earlier"))
    return 0
