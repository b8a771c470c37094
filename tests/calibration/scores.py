"""From answers to the table: coverage, sentences and widths by class and number of studies, with Monte Carlo error.

A share p is a ratio sum(a_w) / sum(b_w) over W worlds w, whose questions share a fitted prior; its Monte Carlo error
(morris2019) is that of a ratio of sums over independent worlds (cochran1977):

    sqrt(W / (W - 1) sum((a_w - p b_w)^2)) / sum(b_w)
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.calibration.answers import COLUMNS, STATES
from tests.calibration.worlds import Process

__all__ = ["Score", "scores"]

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]

_CLASSES = (("all", None), ("bulk", 0), ("fragile", 1))
_STUDIES = (
    ("all", 1, math.inf),
    ("2+", 2, math.inf),
    ("1", 1, 1),
    ("2", 2, 2),
    ("3", 3, 3),
    ("4", 4, 4),
    ("5+", 5, math.inf),
)


@dataclass(frozen=True)
class Score:
    """One measure of one cell: class and k (studies with a figure) of the questions, all or some.

    value: a share, or of a width the factor between its ends; mc_error: its Monte Carlo error (of a median from the
    order statistics half a root n on either side); count: questions (or studies) judged; goal in words and whether it
    is met, both empty where none was set.
    """

    group: str
    k: str
    measure: str
    value: float
    mc_error: float
    count: int
    goal: str
    met: str


def _ratio(above: Floats, below: Floats, world: NDArray[np.int64], worlds: int) -> tuple[float, float, int]:
    a = np.bincount(world, weights=above, minlength=worlds)
    b = np.bincount(world, weights=below, minlength=worlds)
    total = float(b.sum())
    if total == 0:
        return math.nan, math.nan, 0
    share = float(a.sum()) / total
    error = math.sqrt(worlds / max(worlds - 1, 1) * float(np.sum((a - share * b) ** 2))) / total
    return share, error, round(total)


def _factor(log_widths: Floats) -> tuple[float, float, int]:
    ordered = np.sort(log_widths[np.isfinite(log_widths)])
    n = ordered.size
    if n == 0:
        return math.nan, math.nan, 0
    half = math.sqrt(n) / 2
    low, high = ordered[max(0, math.floor(n / 2 - half))], ordered[min(n - 1, math.ceil(n / 2 + half))]
    middle = math.exp(float(np.median(ordered)))
    return middle, middle * float(high - low) / 2, n


def _state(column: Floats, *names: str) -> Flags:
    return np.isin(column, [STATES.index(name) for name in names])


def _goal(measure: str, whole: bool, count: int, value: float, process: Process) -> tuple[str, str]:
    goals = process["goals"]
    if count == 0 or (not whole and count < goals["cell_questions"]):
        return "", ""
    if measure in ("coverage", "new study"):
        low, high = (
            (goals["coverage_low"], goals["coverage_high"]) if whole else (goals["cell_low"], goals["cell_high"])
        )
        return f"{low} to {high}", "yes" if low <= value <= high else "no"
    most = {
        "false reassurance": goals["false_reassurance" if whole else "false_reassurance_cell"],
        "false sentences": goals["false_sentences"],
        "loss claimed": goals["loss_claimed"],
    }.get(measure)
    return ("", "") if most is None else (f"at most {most}", "yes" if value <= most else "no")


def _measures(
    c: dict[str, Floats], world: NDArray[np.int64], worlds: int, below_percent: float
) -> Iterator[tuple[str, tuple[float, float, int]]]:
    def share(of: Floats | Flags, among: Flags) -> tuple[float, float, int]:
        return _ratio(
            np.where(among, np.nan_to_num(of.astype(np.float64)), 0.0), among.astype(np.float64), world, worlds
        )

    def known(name: str) -> tuple[float, float, int]:
        return share(c[name], np.isfinite(c[name]))

    every = np.isfinite(c["covered"])
    state = c["state"]
    yield "coverage", known("covered")
    yield "new study", known("new_covered")
    yield "coverage, figures only", known("figures_covered")
    yield "coverage, with words", known("words_covered")
    yield "median width", _factor(c["width"])
    yield (
        "false reassurance",
        share(_state(state, "about_the_same", "little_less"), every & (c["truth"] < below_percent)),
    )
    yield "no loss seen, yet lost", share(_state(state, "no_loss_seen"), every & (c["truth"] < below_percent))
    yield "false sentences", share(c["false"], c["sentence"] == 1)
    # of the sentences that name an amount only: where the interval leaves out 100 it exaggerates most often
    yield "false amounts", share(c["false"], _state(state, "amount"))
    yield "false directions", known("direction")
    yield "loss claimed", share(c["says_loss"], every & (c["truth"] >= 100))
    yield "amounts", share(_state(state, "amount"), every)
    yield "about the same or a little less", share(_state(state, "about_the_same", "little_less"), every)
    yield "can't tell", share(_state(state, "cant_tell"), every)
    yield "spread is the headline", share(_state(state, "spread"), every)
    yield "classical coverage", known("classical_covered")
    yield "classical new study", known("classical_new_covered")
    yield "classical median width", _factor(c["classical_width"])
    yield "single study coverage", _ratio(c["single_covered"], c["single"], world, worlds)
    mean, error, count = _ratio(c["single_width"], c["single"], world, worlds)
    yield "single study mean width", (math.exp(mean), math.exp(mean) * error, count)


def scores(answers: Sequence[Floats], process: Process) -> list[Score]:
    """Return the table of one scenario; answers: one array a world, as run_world returns them."""
    worlds = len(answers)
    table = np.concatenate(answers)
    of_world = np.repeat(np.arange(worlds), [len(each) for each in answers])
    group, k = table[:, COLUMNS.index("group")], table[:, COLUMNS.index("k")]
    found = [
        Score(
            "all",
            "all",
            "questions without a figure",
            *_ratio((k == 0) * 1.0, np.ones(len(k)), of_world, worlds),
            "",
            "",
        )
    ]
    for name, number in _CLASSES:
        for label, fewest, most in _STUDIES:
            chosen = (k >= fewest) & (k <= most) & (True if number is None else group == number)
            columns = {column: table[chosen, at] for at, column in enumerate(COLUMNS)}
            whole = name == "all" and label == "all"
            for measure, (value, error, count) in _measures(
                columns, of_world[chosen], worlds, process["goals"]["reassurance_below_percent"]
            ):
                if count:
                    goal, met = _goal(measure, whole, count, value, process)
                    found.append(Score(name, label, measure, value, error, count, goal, met))
    return found
