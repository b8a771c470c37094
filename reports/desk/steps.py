"""The handlings of a sentence with their times and temperatures, and the order in which they happened."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, replace

from reports.desk.matching import Found
from reports.desk.quantities import Temperature, Time
from reports.desk.vocabulary import Lexicon

__all__ = ["DRIED", "KEPT", "Step", "joined_key", "paths_of", "steps_of"]

HOLDER, SHORT = "pasteurised:holder", "pasteurised:short"
DRIED, KEPT, HOME, DEEP = "freeze-dried", "kept:freeze-dried", "frozen:home", "frozen:deep"
# kinds told apart by time; a time goes to the nearest of them
_TIMED = ("frozen", "chilled", "room", "kept")
# steps that isolate nothing beside these: thawing belongs to freezing
_PART_OF = {
    "thawed": ("frozen:home", "frozen:deep"),
    "heated": ("heated:microwave", "heated:boiled", "pasteurised:holder", "pasteurised:flash", "scalded"),
    "warmed": ("heated:microwave", "heated:boiled"),
}
# freezing before drying is what people mean by "frozen and dried", with no word between that says otherwise
_FAR = 6  # words between "stored" and where
_NIGHT = 0.5  # days
_HEATS = ("warmed", "pasteurised", "scalded", "heated")
_BEFORE_FREEZING = ("pasteurised", "scalded", "heated")
_BEFORE_DRYING = ("frozen", "pasteurised", "scalded")


@dataclass(frozen=True)
class Step:
    """A handling in a message: its kind, where it stands, time in days (low, high) as it was
    said, band of its store, degrees C."""

    kind: str
    position: int
    end: int
    days: tuple[float, float] | None = None
    band: str = ""
    celsius: float | None = None
    said: str = ""


def _takes_time(kind: str) -> bool:
    return kind.startswith(_TIMED)


def _kind_at(celsius: float, lexicon: Lexicon) -> str:
    return [kind for low, kind in lexicon.temperatures if celsius >= low][-1]


def _with_times(steps: list[Step], times: Sequence[Time]) -> list[Step]:
    for time in times:
        span = (time.low_days, time.high_days)
        timed = [at for at, step in enumerate(steps) if _takes_time(step.kind)]
        if not timed:
            continue
        nearest = min(timed, key=lambda at: (steps[at].days is not None, abs(steps[at].position - time.place)))
        if steps[nearest].days is None:
            steps[nearest] = replace(steps[nearest], days=span, said=time.text)
        else:
            steps.append(replace(steps[nearest], days=span, said=time.text))
    return steps


def _with_temperatures(steps: list[Step], heats: Sequence[Temperature], lexicon: Lexicon) -> list[Step]:
    for heat in heats:
        kind = _kind_at(heat.celsius, lexicon)
        near = min(steps, key=lambda step: abs(step.position - heat.place), default=None)
        if near is not None and near.kind == HOLDER and heat.celsius > _hottest(HOLDER, lexicon):
            kind = SHORT  # pasteurised, and hotter than Holder: whatever it is called, it is a short one
        if near is None:
            steps.append(Step(kind, heat.place, heat.place, celsius=heat.celsius))
        elif near.kind == KEPT:
            band = {"chilled": "cold", "frozen:home": "cold", "frozen:deep": "cold", "room": "room"}.get(kind, "warm")
            steps[steps.index(near)] = replace(near, band=band)
        elif _told_closer(near.kind, kind):
            steps[steps.index(near)] = replace(near, kind=kind, celsius=heat.celsius)
        elif not near.kind.startswith(("pasteurised", "heated", "scalded", "warmed", "frozen", "chilled", "room")):
            steps.append(Step(kind, heat.place, heat.place, celsius=heat.celsius))
    return steps


def _hottest(kind: str, lexicon: Lexicon) -> float:
    """Return the temperature from which the next kind begins."""
    edges = [low for low, _ in lexicon.temperatures]
    at = [each for _, each in lexicon.temperatures].index(kind)
    return edges[at + 1]


def _told_closer(named: str, kind: str) -> bool:
    """Return whether a temperature tells a handling that was named more closely: heated to 72 degrees."""
    if named == "heated":
        return kind.startswith(_HEATS)
    beginnings = ("pasteurised", "frozen")
    return any(named.startswith(each) and kind.startswith(each) for each in beginnings)


def _kept(steps: list[Step], times: Sequence[Time], roles: Sequence[Found]) -> list[Step]:
    """Turn drying into keeping the powder, where a powder was kept: told so, and told how long or that it is powder."""
    dried = [step for step in steps if step.kind == DRIED]
    told = {role.id for role in roles}
    if not dried or "kept" not in told or any(step.kind == KEPT for step in steps):
        return [step for step in steps if step.kind != DRIED] if any(step.kind == KEPT for step in steps) else steps
    others = [step for step in steps if _takes_time(step.kind)]
    keeping = [role.place for role in roles if role.id == "kept"]

    def nearest(place: int) -> Step:
        return min(steps, key=lambda step: abs(step.position - place))

    timed = any(nearest(time.place).kind == DRIED for time in times)
    if not ("powder" in told and (timed or not others)) and not (timed and not others and _lies_near(keeping, dried)):
        return steps
    return [
        replace(step, kind=KEPT) if step is dried[-1] else step
        for step in steps
        if step.kind != DRIED or step is dried[-1]
    ]


def _shelved(steps: list[Step], roles: Sequence[Found]) -> list[Step]:
    """Turn standing at room temperature or in the cold into keeping the powder, where that came after drying."""
    dried = [step for step in steps if step.kind == DRIED]
    keeping = [role.place for role in roles if role.id == "kept" and dried and role.place > dried[0].end]
    if not keeping:
        return steps
    bands = {"room": "room", "chilled": "cold"}
    return [
        replace(step, kind=KEPT, band=bands[step.kind])
        if step.kind in bands and step.position > dried[0].end and _lies_near(keeping, [step], _FAR)
        else step
        for step in steps
    ]


def _thawed_there(steps: list[Step], times: Sequence[Time], roles: Sequence[Found]) -> list[Step]:
    """Leave out the fridge where milk is thawed in it, and told for no longer than a night: no step of its own."""
    thaws = [step for step in steps if step.kind == "thawed"]
    if not thaws or any(time.high_days > _NIGHT for time in times):
        return steps
    thaw = thaws[0]
    return [
        step
        for step in steps
        if step.kind != "chilled"
        or not thaw.end < step.position <= thaw.end + _FAR
        or _between(roles, thaw, step) & {"then", "after", "than", "kept"}
    ]


def _lies_near(places: Sequence[int], steps: Sequence[Step], most: int = 3) -> bool:
    return any(abs(place - step.end) <= most for place in places for step in steps)


def steps_of(
    handlings: Sequence[Found], times: Sequence[Time], heats: Sequence[Temperature], roles: Sequence[Found],
    lexicon: Lexicon,
) -> tuple[Step, ...]:  # fmt: skip
    """Return the steps a sentence names, each kind once unless it was told for several times."""
    steps: list[Step] = []
    for found in handlings:
        for kind in ("frozen:home" if each == "frozen" else each for each in found.id.split("+")):
            if all(step.kind != kind for step in steps):
                steps.append(Step(kind, found.place, found.end))
    kinds = {step.kind for step in steps}
    steps = [step for step in steps if not any(whole in kinds for whole in _PART_OF.get(step.kind, ()))]
    steps = _thawed_there(_shelved(_kept(steps, times, roles), roles), times, roles)
    steps = _with_temperatures(steps, heats, lexicon)
    steps = _with_times(steps, times)
    kinds = {step.kind for step in steps}
    if DEEP in kinds and HOME in kinds:
        steps = [step for step in steps if step.kind != HOME]
    return tuple(sorted(dict.fromkeys(steps), key=lambda step: step.position))


def _between(roles: Sequence[Found], one: Step, two: Step) -> set[str]:
    return {role.id for role in roles if one.end < role.place and role.end < two.position}


def _order(one: Step, two: Step, roles: Sequence[Found], names: Sequence[int]) -> int:
    """Return 1 where one happened and then two, -1 the other way round, 0 where they are asked of apart."""
    told = _between(roles, one, two)
    first = [role.place for role in roles if role.id == "first"]
    if "than" in told:
        return 0
    if "then" in told:
        return 1
    if "after" in told:
        return -1
    if any(one.end < place <= one.end + 3 for place in first):
        return 1
    if any(two.end < place <= two.end + 3 for place in first):
        return -1
    apart = any(one.end < place < two.position for place in names)
    follows = two.kind == DRIED and one.kind.startswith(_BEFORE_DRYING)
    follows |= one.kind == DRIED and two.kind == KEPT
    follows |= two.kind.startswith("frozen") and one.kind.startswith(_BEFORE_FREEZING)
    return int(follows and not apart)


def paths_of(steps: Sequence[Step], roles: Sequence[Found], names: Sequence[int] = ()) -> tuple[list[Step], list[Step]]:
    """Return the steps that follow one another, in order, and those asked of apart; no path: ([], all).

    names: where components stand; two steps with one between them are a path only where a word says so.
    """
    if len({step.kind for step in steps}) < 2:
        return [], list(steps)
    ordered = list(steps)
    orders = [_order(one, two, roles, names) for one, two in itertools.pairwise(ordered)]
    if all(order == 1 for order in orders):
        return ordered, []
    if all(order == -1 for order in orders):
        return ordered[::-1], []
    return [], ordered


def joined_key(steps: Sequence[Step]) -> str:
    """Return the key of steps one after the other, as evidence.handling.bands writes it."""
    names = {"frozen": "frozen", "kept": "kept"}
    return "+".join(names.get(step.kind.split(":")[0], step.kind) for step in steps)
