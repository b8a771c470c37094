"""Checks of certainty set by hand: whose answer, when, and who has to sign."""

from __future__ import annotations

from collections.abc import Set
from datetime import date

from evidence.intake.reading import Table
from evidence.model.lists import CERTAINTY_LEVELS
from evidence.model.problems import Problem, nearest_word

__all__ = ["override_problems"]


def override_problems(table: Table, numbers: Set[str]) -> list[Problem]:
    """Return what is wrong in a table of overrides beyond single cells; numbers are those of known answers."""
    problems: list[Problem] = []
    for line, row in zip(table.lines, table.rows, strict=True):
        problems += _row(table.file, line, row, numbers)
    return problems


def _row(file: str, line: int | None, row: dict[str, str], numbers: Set[str]) -> list[Problem]:
    problems: list[Problem] = []

    def wrong(column: str, allowed: str, nearest: str | None = None) -> None:
        problems.append(Problem(file, line, column, row[column] or "nothing", allowed, nearest))

    if row["number"] not in numbers:
        wrong("number", "the number of an answer", nearest_word(row["number"], numbers))
    if not row["id"].startswith(f"{row['number']}-r"):
        wrong("id", f"the answer's number and a serial, as in {row['number']}-r1")
    try:
        day = date.fromisoformat(row["date"])
    except ValueError:
        wrong("date", "a day of the calendar, such as 2026-11-24")
    else:
        if day > date.today():
            wrong("date", "today or a day before it: it is the day of signing")
    for column in ("by", "reason"):
        if not row[column].strip():
            wrong(column, "something that says who signs, and why")
    levels = CERTAINTY_LEVELS
    if {row["certainty"], row["computed"]} <= set(levels) and levels.index(row["certainty"]) < levels.index(
        row["computed"]
    ):
        second = " ".join(row["second"].split()).casefold()
        raised = f"since it raises {row['computed']} to {row['certainty']}"
        if not second or second == " ".join(row["by"].split()).casefold():
            wrong("second", f"the name of a second reviewer, {raised}")
        if row["second_no_interest"] != "yes":
            wrong("second_no_interest", f"yes: the second reviewer gains nothing from sales; needed {raised}")
    return problems
