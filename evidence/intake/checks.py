"""Checks across the cells of a measurement and across measurements; problems refuse, notices ask for a look."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from evidence.handling import HandlingError, parse_chain
from evidence.intake.reading import Table
from evidence.model.problems import Problem, nearest_word

__all__ = ["measurement_notices", "measurement_problems"]

_FIGURES = ("retained_percent", "change_percent", "treated_mean", "diff_mean", "interval_low", "interval_high")
_NEEDS = (
    ("interval_low", "interval_kind", "what the interval is"),
    ("interval_high", "interval_kind", "what the interval is"),
    ("baseline_spread", "spread_kind", "the kind of spread (not stated is one)"),
    ("treated_spread", "spread_kind", "the kind of spread (not stated is one)"),
    ("percent_spread", "percent_spread_kind", "the kind of spread (not stated is one)"),
    ("diff_spread", "diff_kind", "the kind of spread (not stated is one)"),
)


def _cells(file: str, line: int, row: dict[str, str]) -> Iterable[Problem]:
    for given, needed, words in _NEEDS:
        if row[given] and not row[needed]:
            yield Problem(file, line, needed, "nothing", f"{words}, since {given} is {row[given]}")
    for column in ("handling", "baseline"):
        if row[column]:
            try:
                chain = parse_chain(row[column])
            except HandlingError as error:
                yield Problem(file, line, column, error.read, error.allowed, error.nearest)
            else:
                if str(chain) != row[column]:
                    yield Problem(file, line, column, row[column], f"the chain written as {chain}")
    if _number(row["retained_percent"]) is not None and (_number(row["retained_percent"]) or 0) < 0:
        yield Problem(
            file, line, "retained_percent", row["retained_percent"], "0 or more: nothing less than nothing is left"
        )
    change = _number(row["change_percent"])
    if change is not None and change < -100 and row["measured_as"] != "marker":
        yield Problem(file, line, "change_percent", row["change_percent"], "-100 or more: no more than all can be lost")
    if row["retained_percent"] and row["change_percent"]:
        yield Problem(
            file,
            line,
            "change_percent",
            row["change_percent"],
            "empty where retained_percent is given: copy the one printed",
        )
    has_figure = any(row[column] for column in _FIGURES)
    if not has_figure and not row["in_words"]:
        yield Problem(file, line, "in_words", "nothing", "a figure, or what the paper says in words")
    if has_figure and not row["number_is"]:
        yield Problem(
            file,
            line,
            "number_is",
            "nothing",
            "what the figure is: value, about, at least, at most, up to, range, unclear",
        )


def _number(text: str) -> float | None:
    try:
        return float(text) if text else None
    except ValueError:
        return None


def _known(file: str, line: int, row: dict[str, str], column: str, known: set[str], where: str) -> Problem | None:
    if row[column] and row[column] not in known:
        return Problem(file, line, column, row[column], where, nearest_word(row[column], known))
    return None


def measurement_problems(table: Table, studies: set[str], components: set[str]) -> list[Problem]:
    """Return what is wrong in a table of measurements beyond single cells, with rows and columns."""
    problems: list[Problem] = []
    for line, row in zip(table.lines, table.rows, strict=True):
        problems += _cells(table.file, line, row)
        for found in (
            _known(table.file, line, row, "study", studies, "a key of the bibliography"),
            _known(table.file, line, row, "component", components, "an id of components.csv"),
        ):
            if found is not None:
                problems.append(found)
    return problems


def measurement_notices(table: Table) -> list[Problem]:
    """Return what deserves a look but refuses nothing: direction against figure, twice the same, n that differs."""
    notices: list[Problem] = []
    twice: dict[tuple[str, ...], int] = {}
    counts: dict[str, set[str]] = defaultdict(set)
    for line, row in zip(table.lines, table.rows, strict=True):
        retained, change = _number(row["retained_percent"]), _number(row["change_percent"])
        fell = change if change is not None else (None if retained is None else retained - 100)
        against = fell is not None and (
            (fell > 0 and row["in_words"] == "decrease") or (fell < 0 and row["in_words"] == "increase")
        )
        if against:
            notices.append(
                Problem(table.file, line, "in_words", row["in_words"], f"a direction that fits the figure ({fell:g} %)")
            )
        figure = row["retained_percent"] or row["change_percent"] or row["treated_mean"]
        if figure:
            same = (row["study"], row["component"], row["form"], row["handling"], row["baseline"], row["stage"], figure)
            first = twice.setdefault(same, line)
            if first != line:
                read = f"{row['study']}, {row['component']}, {figure}"
                notices.append(Problem(table.file, line, None, read, f"each figure once; row {first} looks the same"))
        if row["treated_mean"] and not row["unit"]:
            notices.append(
                Problem(table.file, line, "unit", "nothing", f"the unit of {row['treated_mean']}, if printed")
            )
        if row["n"]:
            counts[row["study"]].add(row["n"])
    for study, seen in sorted(counts.items()):
        if len(seen) > 1:
            notices.append(
                Problem(
                    table.file,
                    None,
                    "n",
                    f"{study}: {', '.join(sorted(seen, key=lambda n: (len(n), n)))}",
                    "one n, or a reason",
                )
            )
    return notices
