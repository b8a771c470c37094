"""whatstays start: a few plain questions, and a settings file in a folder of your own."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from reports.words.catalogue import Catalogue

__all__ = ["add_arguments", "run"]

# asked in this order: key -> what the option's help says
_ASKED = {
    "name": "your service's name",
    "country": "two letters or a name, as in GB",
    "languages": "as in en,fr",
    "units": "metric or us",
    "contact": "how people reach you, on one line",
    "pages_at": "where your pages will stand on the web",
    "logo": "an SVG or PNG file; it is copied into the folder",
    "main_colour": "for headings and links, as in #204060",
    "second_colour": "for lines, as in #204060",
    "legal_status": "of your service where you work, on one line",
    "paper": "a4 or letter",
}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of start."""
    parser.add_argument("folder", type=Path, metavar="DIR", help="a folder of your own; made if it is not there")
    for key, words in _ASKED.items():
        parser.add_argument(f"--{key.replace('_', '-')}", default=None, metavar="WORDS", help=words)
    parser.add_argument("--yes", action="store_true", help="ask nothing; what no option says stays blank")


def run(options: argparse.Namespace) -> int:
    """Ask what no option says, check everything, and write the file."""
    from evidence.model.problems import InputProblems, Problem
    from evidence.model.rules import load_rules
    from reports.settings import FILE_NAME
    from reports.settings.reading import checked_settings
    from reports.settings.writing import settings_text
    from reports.words.catalogue import LANGUAGES, load_catalogue

    folder: Path = options.folder
    path, say = folder / FILE_NAME, load_catalogue(part="settings")
    if path.exists() or (folder.exists() and not folder.is_dir()):
        taken = path if path.exists() else folder
        raise InputProblems([Problem("DIR", None, None, str(taken), f"a folder without a {FILE_NAME}")])
    said = {key: value for key in _ASKED if (value := getattr(options, key)) is not None}
    values = {"paper": _usual("paper", said)} | said if options.yes else _ask(said, say, tuple(LANGUAGES))
    languages = tuple(word.strip() for word in values.get("languages", "").split(",") if word.strip())
    # a logo's path counts from where the command is given, and it is copied beside the file
    logo = values.get("logo", "").strip()
    table = _table(values | {"logo": str(Path(logo).expanduser().absolute()) if logo else ""}, languages)
    settings = checked_settings(table, "whatstays start", folder)
    kept: dict[str, str | Sequence[str]] = {
        **{key: value.strip() for key, value in values.items()},
        "country": settings.country,
        "languages": settings.languages,
        "units": settings.units,
        "paper": settings.paper,
    }
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if settings.logo is not None:
            kept["logo"] = f"logo.{settings.logo.kind}"
            (folder / f"logo.{settings.logo.kind}").write_bytes(settings.logo.data)
        limits = load_rules().settings
        text = settings_text(kept, say, known=tuple(LANGUAGES), kilobytes=limits.logo_most_kilobytes)
        path.write_text(text, encoding="utf-8")
    except OSError as refused:
        reason = refused.strerror or str(refused)
        raise InputProblems([Problem("DIR", None, None, f"{folder} ({reason})", "a folder to write into")]) from None
    print(say.say("done/written", file=path))
    print(say.say("done/next", file=path))
    return 0


def _table(values: dict[str, str], languages: Sequence[str]) -> dict[str, dict[str, object]]:
    from reports.settings.reading import KEYS

    return {
        section: {key: list(languages) if key == "languages" else values.get(key, "") for key in keys}
        for section, keys in KEYS.items()
    }


def _ask(said: dict[str, str], say: Catalogue, known: Sequence[str]) -> dict[str, str]:
    """Ask for every key that no option gave; an answer that will not do is asked for once more."""
    print(say.say("ask/start", file="whatstays.toml"))
    values = dict(said)
    for key in _ASKED:
        if key not in said:
            values[key] = _answer(key, values, say, known, input)
    return values


def _answer(key: str, values: dict[str, str], say: Catalogue, known: Sequence[str], read: Callable[[str], str]) -> str:
    from evidence.model.problems import InputProblems, Problem

    usual = _usual(key, values)
    question = say.say(f"ask/{key}", known=", ".join(known)) + (f" [{usual}]" if usual else "") + " "
    while True:
        try:
            typed = read(question).strip() or usual
        except EOFError:
            allowed = "an answer to every question, or --yes and options"
            raise InputProblems([Problem("whatstays start", None, key, "", allowed)]) from None
        problem = _problem(key, typed, values)
        if problem is None:
            return typed
        print(problem, file=sys.stderr)
        print(say.say("ask/again"), file=sys.stderr)


def _usual(key: str, values: dict[str, str]) -> str:
    if key == "paper":
        return "letter" if values.get("units", "").lower() == "us" else "a4"
    return {"languages": "en", "units": "metric"}.get(key, "")


def _problem(key: str, typed: str, values: dict[str, str]) -> str | None:
    """Return what is wrong with one answer, None where nothing is."""
    from evidence.model.problems import InputProblems
    from reports.settings.reading import checked_settings

    trial = {"name": "x"} | {key: str(Path(typed).expanduser().absolute()) if key == "logo" and typed else typed}
    languages = [word.strip() for word in typed.split(",") if word.strip()] if key == "languages" else []
    try:
        checked_settings(_table(trial, languages), "whatstays start", Path())
    except InputProblems as found:
        return found.problems[0].sentence()
    return None
