"""The settings a command works with: its file's or the current folder's, and its options above both."""

from __future__ import annotations

import argparse
import dataclasses
from pathlib import Path
from typing import TYPE_CHECKING

from evidence.model.problems import InputProblems, Problem

if TYPE_CHECKING:
    from reports.settings import Settings

__all__ = ["add_settings_option", "chosen_settings"]


def add_settings_option(parser: argparse.ArgumentParser) -> None:
    """Add --settings, the same for every command that dresses pages or speaks of a country."""
    parser.add_argument(
        "--settings",
        type=Path,
        metavar="FILE",
        help="your settings file; default: whatstays.toml in this folder, if there is one",
    )


def chosen_settings(options: argparse.Namespace) -> Settings:
    """Return the settings of --settings, else of this folder's file, else the plain ones. Raises InputProblems."""
    from reports.settings import PLAIN, find_settings, read_settings

    given: Path | None = options.settings
    if given is not None and not given.is_file():
        raise InputProblems([Problem("--settings", None, None, str(given), "a settings file that exists")])
    path = given or find_settings(Path.cwd())
    settings = PLAIN if path is None else read_settings(path)
    above = {name: value for name in ("paper", "units") if (value := getattr(options, name, None)) is not None}
    return dataclasses.replace(settings, **above)
