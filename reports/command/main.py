"""whatstays: the command line."""

from __future__ import annotations

import argparse
import importlib
import os
import sys
from collections.abc import Sequence

from evidence import __version__
from evidence.model.problems import InputProblems

__all__ = ["DONE", "INPUT", "NO_ANSWER", "OUR_FAULT", "main", "make_parser"]

DONE, INPUT, NO_ANSWER, OUR_FAULT = 0, 2, 3, 4
# subcommand -> (module, what a person gains)
COMMANDS = {
    "build": ("reports.command.build", "write a sheet (HTML and PDF) for every component, and an index"),
    "answer": ("reports.command.answer", "answer a question in words, with figures and sources"),
    "review": ("reports.command.review", "set how sure anyone can be by hand: a named reviewer, a reason, a date"),
    "why": ("reports.command.why", "go from a printed answer to its rule, its rows and the places in the papers"),
    "in-a-day": ("reports.command.in_a_day", "say what an answer means in what a child drinks in a day"),
    "start": ("reports.command.start", "make a folder with the settings of your own service"),
    "claims": (
        "reports.command.claims",
        "hold every sentence of a text against the evidence; exit 5 if one goes too far",
    ),
    "demo": ("reports.command.demo", "write pages of an invented service's invented series, to look around in"),
    "check": ("reports.command.check", "say everything that is wrong with tables, without importing them"),
    "import": ("reports.command.bring", "bring the shipped tables, or your own, into the store"),
    "template": ("reports.command.template", "write a spreadsheet to fill in for a study"),
    "add": ("reports.command.add", "add a study from a spreadsheet, all of it or nothing"),
    "export": ("reports.command.export", "write the evidence as an open package, a spreadsheet and a bibliography"),
    "reading-list": ("reports.command.reading_list", "rank the papers whose full tables would tell most"),
    "path": ("reports.command.path", "follow a milk from fresh through its steps, and say what each rests on"),
    "sheet": ("reports.command.sheet", "write one page for one client's own milk, and how much water makes up a bag"),
    "gaps": ("reports.command.gaps", "say what to measure next, and in how many mothers' milks"),
    "pool": ("reports.command.pool", "pool your own log ratios and variances"),
}


def make_parser(only: str | None = None) -> argparse.ArgumentParser:
    """Return the parser with all subcommands; only: the one whose options are needed (None: all of them)."""
    parser = argparse.ArgumentParser(
        prog="whatstays",
        description="What stays in human milk when it is chilled, frozen, freeze-dried and stored: what studies found.",
        epilog="Exit status: 0 done, 2 the input, 3 no answer, 4 our fault, 5 a sentence of claims goes too far. "
        "General information about nutrients, not medical advice, and not about whether a milk is safe.",
    )
    parser.add_argument("--version", action="version", version=f"whatstays {__version__}")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for name, (module, gain) in COMMANDS.items():
        sub = commands.add_parser(name, help=gain, description=gain[0].upper() + gain[1:] + ".")
        if only in (None, name):  # a command loads its own module, not everyone's
            importlib.import_module(module).add_arguments(sub)
    return parser


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command and return its exit status."""
    words = list(sys.argv[1:] if arguments is None else arguments)
    options = make_parser(words[0] if words and words[0] in COMMANDS else None).parse_args(words)
    module = importlib.import_module(COMMANDS[options.command][0])
    try:
        status: int = module.run(options)
    except InputProblems as found:
        for problem in found.problems:
            print(problem.sentence(), file=sys.stderr)
        count = len(found.problems)
        print(f"{count} problem{'s' if count != 1 else ''}; nothing was saved.", file=sys.stderr)
        return INPUT
    except BrokenPipeError:
        return DONE
    except Exception as error:
        if os.environ.get("WHATSTAYS_TRACEBACK"):
            raise
        reason = (str(error).strip() or "no reason given").splitlines()[0]
        print(f"This is our fault, not yours: {type(error).__name__}: {reason}.", file=sys.stderr)
        print("Please report it with the command you gave; WHATSTAYS_TRACEBACK=1 shows where.", file=sys.stderr)
        return OUR_FAULT
    return status
