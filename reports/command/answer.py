"""whatstays answer: a message in words to the sentences, the figures, the sources and the cautions.

Loads neither tables nor statistics where the store is a file that is up to date; tests/desk/test_imports.py says what.
"""

from __future__ import annotations

import argparse
import gc
import json
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from reports.command.bring import add_store_option
from reports.command.with_settings import add_settings_option

if TYPE_CHECKING:
    from reports.desk.notes import Notes

__all__ = ["add_arguments", "run"]

_LENGTHS, _LANGUAGES = ("phone", "email", "page"), ("en", "fr", "es")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of answer."""
    parser.add_argument(
        "question",
        nargs="+",
        help='in ordinary words, in English, French or Spanish, as in "does freeze-drying cost vitamin C?"; '
        "- reads it from standard input",
    )
    parser.add_argument(
        "--for", dest="length", choices=_LENGTHS, default="page",
        help="how long: a sentence for the phone, a few for an e-mail, or all of it (default)",
    )  # fmt: skip
    parser.add_argument(
        "--lang", choices=_LANGUAGES, default=None, help="the reply's language; default: the question's own"
    )
    parser.add_argument("--json", action="store_true", help="print a list, one object a question")
    add_store_option(parser)
    add_settings_option(parser)


def run(options: argparse.Namespace) -> int:
    """Print the answers; exit status 3 where there is none to give."""
    gc.disable()  # a short life: collecting garbage while libraries load only costs time
    try:
        return _answer(options)
    finally:
        gc.enable()


def _notes(target: str | None) -> Notes:
    """Return the notes of a store: kept ones where they are up to date, else made and kept now."""
    from evidence.model.shipped import default_store_path
    from reports.desk.notes import kept_notes

    if target is None or "://" not in target:
        kept = kept_notes(default_store_path() if target is None else Path(target))
        if kept is not None:
            return kept
    from evidence.store import open_store
    from reports.desk.notes import notes_for

    return notes_for(open_store(target))


def _message(words: list[str]) -> str:
    if words != ["-"]:
        return " ".join(words)
    import sys

    return sys.stdin.buffer.read().decode("utf-8", "replace")


def _pages_at(options: argparse.Namespace) -> str:
    """Return where the service's pages stand, for an e-mail; other lengths do not read the settings."""
    if options.length != "email":
        return ""
    from reports.command.with_settings import chosen_settings

    return chosen_settings(options).pages_at


def _answer(options: argparse.Namespace) -> int:
    from reports.desk.desk import Desk

    desk = Desk(_notes(options.store))
    replies = desk.replies(_message(options.question), options.lang, date.today())
    if options.json:
        print(json.dumps([reply.as_json() for reply in replies], ensure_ascii=False, indent=2))
    else:
        from reports.desk.printing import printed

        clerk = desk.clerk(replies[0].lang if replies[0].lang in _LANGUAGES else options.lang or "en")
        address = _pages_at(options)
        newest = clerk.main.say("email/newest", address=address) if address else ""
        print(printed(replies, options.length, clerk.say, clerk.notes["date"], newest))
    return 3 if all(reply.status in ("no_evidence", "not_understood") for reply in replies) else 0
