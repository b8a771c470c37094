"""The handling a measurement answers for: isolated steps in order, with bands of temperature and time (rules.toml)."""

from __future__ import annotations

from evidence.handling.grammar import Step
from evidence.handling.meaning import Contrast, extent
from evidence.model.rules import BandRules
from evidence.model.windows import NOT_STATED, window

__all__ = ["handling_key", "window"]


def _freezer(step: Step, bands: BandRules) -> str:
    held = extent(step.measure("temperature"), "degree_Celsius")
    if any(condition.name == "liquid-nitrogen" for condition in step.conditions):
        return "deep"
    if held.high is None and held.low is None:
        return "home" if any(condition.name == "home" for condition in step.conditions) else NOT_STATED
    warmest = held.high if held.high is not None else held.low
    coldest = held.low if held.low is not None else held.high
    assert warmest is not None and coldest is not None
    if warmest <= bands.deep_freezer_at_or_below_c:
        return "deep"
    return (
        "home" if coldest > bands.deep_freezer_at_or_below_c and warmest <= bands.freezer_at_or_below_c else NOT_STATED
    )


def _powder(step: Step, bands: BandRules) -> str:
    held = extent(step.measure("temperature"), "degree_Celsius")
    if any(condition.name == "room" for condition in step.conditions):
        return "room"
    if held.low is None or held.high is None:
        return NOT_STATED
    if held.low > bands.powder_warm_above_c:
        return "warm"
    if held.high < bands.powder_cold_below_c:
        return "cold"
    inside = held.low >= bands.powder_cold_below_c and held.high <= bands.powder_warm_above_c
    return "room" if inside else NOT_STATED


def _one_step(step: Step, before: Contrast, bands: BandRules) -> str:
    days = extent(step.measure("duration"), "day")
    hours = extent(step.measure("duration"), "hour")
    if step.name == "frozen":
        return f"frozen:{_freezer(step, bands)}:{window(days.low, days.high, bands.freezer_days)}d"
    if step.name == "chilled":
        return f"chilled:{window(hours.low, hours.high, bands.fridge_hours)}h"
    if step.name == "room":
        return f"room:{window(hours.low, hours.high, bands.room_hours)}h"
    if step.name == "kept":
        dried = next((name for name in reversed(before.before.names()) if name.endswith("-dried")), "dried")
        return f"kept:{dried}:{_powder(step, bands)}:{window(days.low, days.high, bands.powder_days)}d"
    name = step.name + (f":{step.method}" if step.method else "")
    return f"{name}:{_heat(step, bands)}" if name in bands.heat_banded else name


def _heat(step: Step, bands: BandRules) -> str:
    held = extent(step.measure("temperature"), "degree_Celsius")
    if held.low is None or held.high is None:
        return NOT_STATED
    under, upto = bands.heat_c
    if held.high <= under:
        return "under-70c"
    if held.low > upto:
        return "over-76c"
    return "70-76c" if held.low > under and held.high <= upto else NOT_STATED


def handling_key(found: Contrast, bands: BandRules) -> str | None:
    """Return the id of the handling a contrast answers for, or None where nothing is isolated.

    One step: its name with method or bands (frozen:home:9-45d). Several: their names in order (frozen+freeze-dried).
    """
    if found.refused is not None or not found.steps:
        return None
    if len(found.steps) == 1:
        return _one_step(found.steps[0], found, bands)
    return "+".join(step.name + (f":{step.method}" if step.method else "") for step in found.steps)
