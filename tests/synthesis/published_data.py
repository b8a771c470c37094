"""The published data sets as effects and variances, for the checks in this folder and beside it."""

import csv
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
FOLDER = Path(__file__).resolve().parents[1] / "published"


def columns(name: str) -> dict[str, list[str]]:
    """Return the columns of one file."""
    with (FOLDER / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return {column: [row[column] for row in rows] for column in rows[0]}


def group_means(name: str, group: str, value: str) -> tuple[Floats, Floats]:
    """Return the mean of each group and the number of values in it."""
    table = columns(name)
    groups = np.array(table[group])
    values = np.array(table[value], dtype=float)
    names = sorted(set(groups))
    means = np.array([values[groups == one].mean() for one in names])
    return means, np.array([float(np.sum(groups == one)) for one in names])


def nicotine_gum() -> tuple[Floats, Floats]:
    """Return the log odds ratio of quitting and its variance 1/a + 1/b + 1/c + 1/d, 26 trials."""
    table = {
        column: np.array(cells, dtype=float) for column, cells in columns("nicotine_gum").items() if column != "trial"
    }
    quit_gum, quit_control = table["quit_gum"], table["quit_control"]
    stay_gum, stay_control = table["n_gum"] - quit_gum, table["n_control"] - quit_control
    log_odds = np.log(quit_gum * stay_control / (stay_gum * quit_control))
    return log_odds, 1 / quit_gum + 1 / stay_gum + 1 / quit_control + 1 / stay_control


def eight_schools() -> tuple[Floats, Floats]:
    """Return effects and variances of the eight schools."""
    table = columns("eight_schools")
    return np.array(table["effect"], dtype=float), np.array(table["standard_error"], dtype=float) ** 2


def gravitation() -> tuple[Floats, Floats]:
    """Return the sixteen values of the gravitational constant and their variances."""
    table = columns("gravitation")
    values = np.array(table["G_1e-11"], dtype=float)
    return values, np.array(table["standard_uncertainty_1e-11"], dtype=float) ** 2


def bulls() -> tuple[Floats, Floats]:
    """Return the mean of each bull and its sampling variance, from the residual variance in P5."""
    means, numbers = group_means("bulls", "bull", "percent_conceptions")
    return means, 248.7043 / numbers
