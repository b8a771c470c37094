"""The language a command answers in."""

from __future__ import annotations

import argparse

__all__ = ["add_language_option"]


def add_language_option(parser: argparse.ArgumentParser) -> None:
    """Add --lang, the same for every command that speaks."""
    from reports.words.catalogue import LANGUAGES

    named = ", ".join(f"{code} {name}" for code, name in LANGUAGES.items())
    parser.add_argument("--lang", choices=tuple(LANGUAGES), default="en", help=f"language: {named} (default: en)")
