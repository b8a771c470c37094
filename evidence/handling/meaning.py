"""What a chain means: the class of a baseline, and the steps a measurement isolates."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from evidence.handling.grammar import UNITS, Chain, Measure, Step
from evidence.handling.vocabulary import load_vocabulary
from evidence.model.lists import BaselineClass
from evidence.model.rules import FreshRules

__all__ = ["Contrast", "Extent", "baseline_class", "contrast", "extent", "fresh_limit_hours", "said_fresh"]


@dataclass(frozen=True)
class Extent:
    """A measure in one unit: from low to high; None on a side that was left open, both None if not stated."""

    low: float | None
    high: float | None


@lru_cache(maxsize=1)
def _unit_registry() -> Any:
    import pint

    return pint.UnitRegistry()


# Seconds of a unit of time, the year of 365.25 days as in pint (a test holds them to it): chains are read at every
# start, and loading the unit library would cost more than all the rest of it.
_SECONDS = {
    "second": 1.0, "minute": 60.0, "hour": 3600.0, "day": 86400.0, "week": 604800.0, "month": 2629800.0,
    "year": 31557600.0,
}  # fmt: skip


@lru_cache(maxsize=512)
def _converted(number: float, unit: str, target: str) -> float:
    if unit == target:
        return number
    if unit in _SECONDS and target in _SECONDS:
        return number * (_SECONDS[unit] / _SECONDS[target])
    return float(_unit_registry().Quantity(number, unit).to(target).magnitude)


def extent(measure: Measure | None, target: str) -> Extent:
    """Return a measure as an extent in a unit that pint knows (hour, day, degree_Celsius, ...)."""
    if measure is None:
        return Extent(None, None)
    unit = UNITS[measure.unit][1]
    low = _converted(float(measure.low), unit, target)
    high = low if measure.high is None else _converted(float(measure.high), unit, target)
    if measure.bound in ("<", "<="):
        return Extent(None, high)
    if measure.bound in (">", ">="):
        return Extent(low, None)
    return Extent(min(low, high), max(low, high))


def fresh_limit_hours(component: str, outcome: str, rules: FreshRules) -> float:
    """Return how many hours this component's milk may stay chilled and still be called fresh."""
    if component in rules.quick_components:
        return rules.quick_hours
    return rules.bulk_hours if outcome == "bulk" else rules.fragile_hours


def said_fresh(said: str, rules: FreshRules) -> bool:
    """Return whether the page's own words call its baseline fresh."""
    text = " " + "".join(letter if letter.isalnum() else " " for letter in said.lower()) + " "
    denied = text.replace(" not fresh ", " ").replace(" non fresh ", " ").replace(" not freshly ", " ")
    return any(f" {word} " in denied for word in rules.words)


def _within(steps: Sequence[Step], limit_hours: float) -> bool:
    """Return whether the steps together took no longer; a time that is not stated may be any."""
    held = [extent(step.measure("duration"), "hour").high for step in steps]
    return all(hours is not None for hours in held) and sum(hours or 0.0 for hours in held) <= limit_hours


def baseline_class(chain: Chain, said: str, limit_hours: float, rules: FreshRules) -> BaselineClass:
    """Return the class of a baseline, computed from its steps and the page's own word.

    Fresh needs all three: no step that freezes, heats, dries or otherwise treats; chilled or kept out no longer than
    limit_hours; and the page's own word for it (Words, DESIGN). Without the word the class is not stated.
    """
    words = load_vocabulary().steps
    does = [words[step.name].does for step in chain.steps]
    if "dries" in does or "stores" in does:
        return "dried"
    if "heats" in does:
        return "heat-treated"
    if "treats" in does:
        return "otherwise treated"
    if "freezes" in does or "thawed" in chain.names():
        return "frozen"
    held = [step for step in chain.steps if words[step.name].does in ("chills", "warms")]
    if not _within([step for step in held if words[step.name].does == "warms"], limit_hours):
        return "otherwise treated"
    if not _within(held, limit_hours):
        return "chilled"
    if "unknown" in does or not said_fresh(said, rules):
        return "not stated"
    return "fresh"


@dataclass(frozen=True)
class Contrast:
    """What a measurement isolates: the steps beyond the baseline; or why nothing can be isolated.

    before is the baseline's chain; already_frozen says whether that milk had been frozen before.
    """

    steps: tuple[Step, ...]
    before: Chain
    already_frozen: bool
    refused: str | None = None


def _telling(chain: Chain) -> list[Step]:
    # what only accompanies a step (thawing, mixing with water) or mixes milks says nothing of its own
    words = load_vocabulary().steps
    return [step for step in chain.steps if words[step.name].isolates]


def _same(one: Step, other: Step) -> bool:
    return (one.name, one.method, one.measures) == (other.name, other.method, other.measures)


def contrast(treated: Chain, baseline: Chain) -> Contrast:
    """Return the steps of the treated chain beyond the baseline chain (property: baseline + steps = treated)."""
    after, before = _telling(treated), _telling(baseline)
    frozen = "frozen" in baseline.names() or "thawed" in baseline.names()
    continues = len(after) >= len(before) and all(_same(a, b) for a, b in zip(after, before, strict=False))
    if not continues:
        return Contrast((), baseline, frozen, "the treated milk is not the baseline milk plus further steps")
    extra = tuple(after[len(before) :])
    if not extra:
        if "thawed" in treated.names() and "thawed" not in baseline.names():
            return Contrast(tuple(s for s in treated.steps if s.name == "thawed"), baseline, frozen)
        return Contrast((), baseline, frozen, "no step sets the two milks apart")
    return Contrast(extra, baseline, frozen)
