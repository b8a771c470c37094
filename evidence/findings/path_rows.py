"""Rows of one component as contrasts of step counts: what the path model stands on.

A strand is one chemical form and one kind of measure, which are never pooled with another. In it every row is the count
of steps of the treated milk less that of the baseline milk, steps told apart by the same bands as questions are.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from evidence.effects import pooled_class
from evidence.findings.finding import Said, StudyEstimate
from evidence.findings.gather import Gathered, gather
from evidence.handling import Chain, Contrast, extent, handling_key, parse_chain
from evidence.handling.vocabulary import load_vocabulary
from evidence.model.lists import PooledClass
from evidence.model.rules import Rules
from evidence.model.tables import Component, Measurement, Overlap

__all__ = [
    "HELD",
    "Contrasted",
    "Measured",
    "StepAsked",
    "Strand",
    "kind_of",
    "make_strands",
    "measured_in_any",
    "steps_of",
    "store_of",
]

# steps that hold milk for a time: their key ends in a window
HELD = ("frozen", "chilled", "room", "kept")


@dataclass(frozen=True)
class StepAsked:
    """One step of a chain that does something of its own.

    key: its handling key, bands included; days, temperature_c: how long (the longer end) and how warm, None where not
    stated; text: as written.
    """

    name: str
    text: str
    key: str
    days: float | None
    temperature_low_c: float | None
    temperature_high_c: float | None


@dataclass(frozen=True)
class Contrasted:
    """Rows that set the same steps apart: net count of each step, in order of their keys, and the studies behind it.

    days: of a timed contrast the net time in its one store (treated less baseline), None where a time is not exact;
    times: the times behind it. temperature_assumed: rows whose freezer is not stated and counts as a household one.
    """

    counts: tuple[tuple[str, int], ...]
    days: float | None
    times: tuple[float, ...]
    gathered: Gathered
    temperature_assumed: frozenset[str]

    @property
    def key(self) -> str | None:
        """The one step this contrast isolates, or None where it is a sum or difference of several."""
        return self.counts[0][0] if len(self.counts) == 1 and self.counts[0][1] == 1 else None

    @property
    def figures(self) -> tuple[StudyEstimate, ...]:
        """The studies with a figure."""
        return tuple(study for study in self.gathered.studies if study.kind == "figure")


@dataclass(frozen=True)
class Measured:
    """How long and how warm a kind of step was looked at, in figures or in words; None where no row states it."""

    longest_days: float | None
    longest_is_figure: bool
    coldest_c: float | None
    warmest_c: float | None
    days: tuple[float, ...]


@dataclass(frozen=True)
class Strand:
    """One form and kind of measure of a component: its contrasts, and what was looked at at all."""

    component: str
    form: str
    measured_as: str
    group: PooledClass
    contrasts: tuple[Contrasted, ...]
    timed: tuple[Contrasted, ...]
    measured: dict[str, Measured]

    def direct(self, key: str) -> tuple[StudyEstimate, ...]:
        """Return the studies with a figure that isolate just this step."""
        return tuple(study for each in self.contrasts if each.key == key for study in each.figures)

    def said(self, key: str) -> tuple[Said, ...]:
        """Return the studies that speak of just this step in words only."""
        return tuple(said for each in self.contrasts if each.key == key for said in each.gathered.said)


def store_of(key: str) -> str:
    """Return a key without its window of time: the store (frozen:home, kept:freeze-dried:room); others unchanged."""
    return key.rsplit(":", 1)[0] if key.split(":")[0] in HELD else key


def steps_of(chain: Chain, rules: Rules) -> tuple[StepAsked, ...]:
    """Return the steps that do something of their own; thawing, mixing with water and mixing milks go with them."""
    words = load_vocabulary().steps
    found = []
    for place, step in enumerate(chain.steps):
        if words[step.name].isolates:
            key = handling_key(Contrast((step,), Chain(chain.steps[:place]), False), rules.bands)
            assert key is not None
            # a freezer whose temperature is not stated counts as a household one, as everywhere; the row is flagged
            key = key.replace("frozen:not-stated:", "frozen:home:").replace(":not-statedd", ":not-stated")
            key = key.replace(":not-statedh", ":not-stated")
            days = extent(step.measure("duration"), "day")
            held = extent(step.measure("temperature"), "degree_Celsius")
            found.append(StepAsked(step.name, str(step), key, days.high or days.low, held.low, held.high))
    return tuple(found)


def _exact(step: StepAsked, chain: Chain) -> float | None:
    """Return the days of a step where they are one number, not a range or a bound."""
    told = next(each for each in chain.steps if str(each) == step.text).measure("duration")
    days = extent(told, "day")
    return days.high if told is not None and days.low == days.high else None


def _net_days(
    counts: tuple[tuple[str, int], ...], treated: Sequence[StepAsked], baseline: Sequence[StepAsked], chains: Chain
) -> tuple[float | None, tuple[float, ...]]:
    """Return net days in the one store a contrast is about, and the times behind them; None where not exact."""
    stores = {store_of(key) for key, _ in counts if key.split(":")[0] in HELD}
    if len(stores) != 1:
        return None, ()
    store = stores.pop()
    # what both milks went through cancels, whether its time is stated or not
    both = Counter(step.text for step in treated) & Counter(step.text for step in baseline)
    after = [_exact(step, chains) for step in _without(treated, both) if store_of(step.key) == store]
    before = [_exact(step, chains) for step in _without(baseline, both) if store_of(step.key) == store]
    if any(days is None for days in (*after, *before)):
        return None, ()
    known_after, known_before = [days or 0.0 for days in after], [days or 0.0 for days in before]
    return sum(known_after) - sum(known_before), tuple(sorted({*known_after, *known_before}))


def _without(steps: Sequence[StepAsked], shared: Counter[str]) -> list[StepAsked]:
    left, kept = Counter(shared), []
    for step in steps:
        if left[step.text] > 0:
            left[step.text] -= 1
        else:
            kept.append(step)
    return kept


def _counts(treated: Sequence[StepAsked], baseline: Sequence[StepAsked]) -> tuple[tuple[str, int], ...]:
    net = Counter(step.key for step in treated)
    net.subtract(step.key for step in baseline)
    return tuple(sorted((key, count) for key, count in net.items() if count))


@dataclass(frozen=True)
class _Row:
    row: Measurement
    counts: tuple[tuple[str, int], ...]
    beyond: tuple[StepAsked, ...]
    days: float | None
    times: tuple[float, ...]
    assumed: bool


def _read(row: Measurement, rules: Rules) -> _Row | None:
    treated, baseline = parse_chain(row.handling), parse_chain(row.baseline)
    after, before = steps_of(treated, rules), steps_of(baseline, rules)
    counts = _counts(after, before)
    if not counts:
        return None
    more = Counter(step.text for step in after)
    more.subtract(step.text for step in before)
    beyond = tuple(step for step in after if more[step.text] > 0)
    days, times = _net_days(counts, after, before, Chain((*treated.steps, *baseline.steps)))
    assumed = any(step.name == "frozen" and step.temperature_low_c is None for step in beyond)
    return _Row(row, counts, beyond, days, times, assumed)


def _measured(rows: Sequence[_Row]) -> dict[str, Measured]:
    """Return what was looked at by kind of step: its name, for powder with how it was dried (kept:freeze-dried)."""
    steps: dict[str, list[tuple[StepAsked, bool]]] = defaultdict(list)
    for each in rows:
        row = each.row
        figure = bool(row.retained_percent or row.change_percent or row.treated_mean)
        for step in each.beyond:
            steps[kind_of(step.key)].append((step, figure))
    found = {}
    for kind, those in steps.items():
        timed = sorted((step.days, figure) for step, figure in those if step.days is not None)
        cold = [step.temperature_low_c for step, _ in those if step.temperature_low_c is not None]
        warm = [step.temperature_high_c for step, _ in those if step.temperature_high_c is not None]
        found[kind] = Measured(
            timed[-1][0] if timed else None, bool(timed) and timed[-1][1], min(cold, default=None),
            max(warm, default=None), tuple(sorted({days for days, _ in timed})),
        )  # fmt: skip
    return found


def measured_in_any(strands: Iterable[Strand]) -> dict[str, Measured]:
    """Return what was looked at by kind of step, whatever the form: a time nobody watched is beyond all of them."""
    together: dict[str, list[Measured]] = defaultdict(list)
    for strand in strands:
        for kind, each in strand.measured.items():
            together[kind].append(each)
    found = {}
    for kind, those in together.items():
        timed = sorted((each.longest_days, each.longest_is_figure) for each in those if each.longest_days is not None)
        cold = [each.coldest_c for each in those if each.coldest_c is not None]
        warm = [each.warmest_c for each in those if each.warmest_c is not None]
        days = tuple(sorted({day for each in those for day in each.days}))
        longest, figure = timed[-1] if timed else (None, False)
        found[kind] = Measured(longest, figure, min(cold, default=None), max(warm, default=None), days)
    return found


def kind_of(key: str) -> str:
    """Return the kind of a step for asking what was measured at all: frozen, chilled, kept:freeze-dried, ..."""
    parts = key.split(":")
    return ":".join(parts[:2]) if parts[0] == "kept" else parts[0]


def _gathered(
    rows: Iterable[_Row],
    by_days: bool,
    group: PooledClass,
    overlaps: Sequence[Overlap],
    uncitable: frozenset[str],
    rules: Rules,
) -> tuple[Contrasted, ...]:
    together: dict[tuple[tuple[tuple[str, int], ...], float | None], list[_Row]] = defaultdict(list)
    for each in rows:
        together[each.counts, each.days if by_days else None].append(each)
    ordered = sorted(together.items(), key=lambda item: (item[0][0], item[0][1] is not None, item[0][1] or 0.0))
    return tuple(
        Contrasted(
            counts,
            days,
            tuple(sorted({time for each in mine for time in each.times})),
            gather(sorted((each.row for each in mine), key=lambda row: row.id), group, overlaps, uncitable, rules),
            frozenset(each.row.id for each in mine if each.assumed),
        )
        for (counts, days), mine in ordered
    )


def make_strands(
    component: Component,
    rows: Iterable[Measurement],
    overlaps: Sequence[Overlap],
    uncitable: frozenset[str],
    rules: Rules,
) -> tuple[Strand, ...]:
    """Return the strands of a component that can be followed along a path: amounts and activities of nutrients.

    Counts, shares, markers whose rise is the harm and physical properties do not shrink by parts of 100: no strand.
    """
    apart: dict[tuple[str, str], list[_Row]] = defaultdict(list)
    for row in rows:
        read = _read(row, rules)
        if read is not None:
            apart[row.form, row.measured_as].append(read)
    strands = []
    for (form, measured_as), mine in sorted(apart.items()):
        group = pooled_class(measured_as, component.outcome, component.wanted)
        if group in ("bulk", "fragile"):
            strands.append(
                Strand(
                    component.id, form, measured_as, group,
                    _gathered(mine, False, group, overlaps, uncitable, rules),
                    _gathered(mine, True, group, overlaps, uncitable, rules), _measured(mine),
                )
            )  # fmt: skip
    return tuple(strands)
