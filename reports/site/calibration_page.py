"""The page that says how well the intervals hold, from data/calibration.csv."""

from __future__ import annotations

import csv
from collections import defaultdict
from dataclasses import dataclass

from evidence.model.shipped import data_folder
from reports.charts.coverage import CoverageLine, draw_coverage
from reports.words.catalogue import Catalogue

__all__ = ["CalibrationPage", "calibration_page"]

_MEASURES = (
    "coverage", "classical coverage", "single study coverage", "new study", "false reassurance", "false sentences",
    "false amounts", "loss claimed",
)  # fmt: skip


@dataclass(frozen=True)
class CalibrationPage:
    """The chart and its table: a row a scenario, cells as printed, with whether the goal was met."""

    chart: str
    worlds: str
    seed: str
    date: str
    measures: tuple[str, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]


def calibration_page(say: Catalogue) -> CalibrationPage:
    """Read the campaign's results and word them."""
    from markupsafe import Markup

    with (data_folder() / "calibration.csv").open(encoding="utf-8", newline="") as file:
        read = list(csv.DictReader(file))
    by: dict[str, dict[str, dict[str, str]]] = defaultdict(dict)
    for row in read:
        by[row["scenario"]][row["measure"]] = row
    lines = [
        CoverageLine(
            say.say(f"calibration/scenario/{scenario}"),
            100 * float(found["coverage"]["value"]),
            100 * float(found["coverage"]["mc_error"]),
            100 * float(found["classical coverage"]["value"]),
            100 * float(found["single study coverage"]["value"]),
        )
        for scenario, found in by.items()
    ]
    low, high = (100 * float(part) for part in by[next(iter(by))]["coverage"]["goal"].split(" to "))
    told = say.apart([_percent_of(line.scenario, line.ours, say) for line in lines])
    chart = draw_coverage(lines, (low, high), told, say.say("calibration/goal"), say.say("calibration/axis"))
    rows = tuple(
        (say.say(f"calibration/scenario/{scenario}"), tuple(_cell(found.get(name), say) for name in _MEASURES))
        for scenario, found in by.items()
    )
    names = tuple(say.say(f"calibration/measure/{name}") for name in _MEASURES)
    return CalibrationPage(Markup(chart), read[0]["worlds"], read[0]["seed"], read[0]["date"], names, rows)


def _cell(found: dict[str, str] | None, say: Catalogue) -> str:
    if found is None or not found["value"]:
        return "–"
    percent = say.number(100 * float(found["value"]), 1)
    return say.say("calibration/cell_missed" if found["met"] == "no" else "calibration/cell", percent=percent)


def _percent_of(scenario: str, percent: float, say: Catalogue) -> str:
    return say.say("calibration/drawn", scenario=scenario, percent=say.number(percent, 1))
