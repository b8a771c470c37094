"""Gives new questions of the shipped table their numbers: python -m evidence.intake.numbering, from a checkout.

Numbers in use are never changed or given again; run it after adding measurements and commit data/questions.csv.
"""

from __future__ import annotations

import csv
from pathlib import Path

from evidence.handling import contrast, handling_key, parse_chain
from evidence.model.rules import load_rules
from evidence.model.shipped import data_folder

__all__ = ["number_questions"]

_COLUMNS = ("component", "form", "measured_as", "handling")


def number_questions(folder: Path) -> int:
    """Append the questions that measurements.csv asks and questions.csv lacks; return how many."""
    bands = load_rules().bands
    path = folder / "questions.csv"
    rows: list[dict[str, str]] = []
    if path.exists():
        with path.open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
    have = {tuple(row[column] for column in _COLUMNS) for row in rows}
    asked = set()
    with (folder / "measurements.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            key = handling_key(contrast(parse_chain(row["handling"]), parse_chain(row["baseline"])), bands)
            if key is not None:
                asked.add((row["component"], row["form"], row["measured_as"], key))
    highest = max((int(row["number"].removeprefix("A-")) for row in rows), default=0)
    new = sorted(asked - have)
    for number, question in enumerate(new, start=highest + 1):
        rows.append({"number": f"A-{number:04d}", **dict(zip(_COLUMNS, question, strict=True))})
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, ["number", *_COLUMNS], lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    return len(new)


if __name__ == "__main__":
    print(f"{number_questions(data_folder())} new questions numbered")
