"""From fresh to some step: estimated, or held between two readings of a study that does not state its milk's past.

Reading A, the milk was fresh: a figure for drying then counts the freezing that drying begins with, so the row stands
alone. Reading B, it had been frozen: freezing comes on top (frozen x row). The upper end comes from A, the lower from
B; neither goes above what the freezing of the path alone left. No prior stands in for a step that nobody measured.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from evidence.findings.path_model import Amount, Part, PathModel
from evidence.findings.path_rows import StepAsked, store_of
from evidence.handling.vocabulary import load_vocabulary

__all__ = ["Reach", "Reached", "Reading", "reach_of"]

_HOME = "frozen:home"


@dataclass(frozen=True)
class Reach:
    """From fresh milk to a step: estimated with all three numbers, bounded with one or both ends, or None of it."""

    status: Literal["estimated", "bounded"] | None
    retained_percent: float | None
    ci_low: float | None
    ci_high: float | None


@dataclass(frozen=True)
class Reading:
    """One reading of the milk's past: which end it gives, and its amount; step: the step whose studies are silent.

    extra_freezing: the key of the freezing that reading B puts on top, where the path has none of its own to count.
    """

    was: Literal["fresh", "frozen"]
    end: Literal["high", "low"]
    amount: Amount | None
    step: int
    extra_freezing: str | None = None


@dataclass(frozen=True)
class Reached:
    """A reach with the readings behind it; none where it is estimated.

    on_top: drying was measured from milk already frozen, and the path has no freezing: the shortest one is counted too.
    """

    reach: Reach
    readings: tuple[Reading, ...] = ()
    on_top: bool = False


def _does(step: StepAsked) -> str:
    return load_vocabulary().steps[step.name].does


def _shortest_freezing(model: PathModel) -> Part | None:
    """Return the shortest freezing with a figure, one from milk of stated past before others."""
    if _HOME in model.fitted:
        days = min(
            time for each in model.strand.timed if each.key and store_of(each.key) == _HOME for time in each.times
        )
        return f"{_HOME}:jump", 1.0, days
    found = []
    for each in model.strand.contrasts:
        if each.key and store_of(each.key) == _HOME and each.figures:
            stated = any(study.baseline != "not stated" for study in each.figures)
            shortest = min(each.times, default=float("inf"))
            found.append((not stated, shortest, each.key))
    return (min(found)[2], 1.0, None) if found else None


def _dried_from_frozen(steps: Sequence[tuple[StepAsked, str]], model: PathModel) -> bool:
    """Return whether a path dries milk it never froze, while every study of that drying began with frozen milk."""
    for step, _ in steps:
        if _does(step) == "freezes":
            return False
        if _does(step) == "dries":
            baselines = {study.baseline for study in model.studies_behind(step)}
            return bool(baselines) and baselines <= {"frozen", "not stated"}
    return False


def reach_of(steps: Sequence[tuple[StepAsked, str]], model: PathModel) -> Reached:
    """Return what is still there from fresh milk to the last of these steps, each with its status."""
    nothing = Reached(Reach(None, None, None, None))
    parts = [model.part(step) for step, _ in steps]
    statuses = [status for _, status in steps]
    if "beyond_data" in statuses:
        return nothing
    silent = [place for place, status in enumerate(statuses) if status == "bounded"]
    if not silent:
        on_top = _dried_from_frozen(steps, model)
        freezing = _shortest_freezing(model) if on_top else None
        if on_top and freezing is None:
            return nothing
        whole = model.amount([*parts, *([freezing] if freezing is not None else [])])
        if whole is None:
            return nothing
        return Reached(Reach("estimated", whole.retained_percent, whole.ci_low, whole.ci_high), on_top=on_top)
    last = silent[-1]
    dries = _does(steps[last][0]) == "dries"
    freezings = [place for place in range(last) if _does(steps[place][0]) == "freezes"] if dries else []
    alone = [part for place, part in enumerate(parts) if place not in freezings]
    was_fresh = model.amount(alone)
    if was_fresh is None:
        return nothing
    high = was_fresh.ci_high
    # drying adds nothing back: never above what the path's own freezing left, where that was measured
    after = parts[last + 1 :]
    for place in freezings:
        if statuses[place] in ("estimated", "bounded"):
            cap = model.amount([parts[place], *after])
            high = min(high, cap.ci_high) if cap is not None else high
    counted = any(statuses[place] == "estimated" for place in range(last) if _does(steps[place][0]) == "freezes")
    extra = None if counted else _shortest_freezing(model)
    was_frozen = None
    if counted or extra is not None:
        was_frozen = model.amount([*parts, *([extra] if extra is not None else [])])
    low = None if was_frozen is None else min(was_frozen.ci_low, high)
    readings = (
        Reading("fresh", "high", was_fresh, last),
        Reading("frozen", "low", was_frozen, last, None if extra is None else extra[0]),
    )
    return Reached(Reach("bounded", None, low, high), readings)
