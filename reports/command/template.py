"""whatstays template: a spreadsheet to fill in for a study."""

from __future__ import annotations

import argparse
from pathlib import Path

__all__ = ["add_arguments", "run"]

_NAME = "whatstays-study.xlsx"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of template."""
    parser.add_argument(
        "file", nargs="?", type=Path, default=Path(_NAME), metavar="FILE.xlsx", help=f"a new file (default: {_NAME})"
    )


def run(options: argparse.Namespace) -> int:
    """Write the spreadsheet and say what to do with it."""
    from evidence.intake.template import write_template

    write_template(options.file)
    print(
        f"Wrote {options.file}. Fill in the sheets Study and Measurements, and delete the rows of the INVENTED EXAMPLE:"
    )
    print("a file that still holds them is refused. Then: whatstays check FILE.xlsx, and whatstays add FILE.xlsx.")
    return 0
