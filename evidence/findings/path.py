"""From fresh milk along a chain of steps: what is still there, what each step rests on, and what is missing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from evidence.findings.finding import Said, StudyEstimate
from evidence.findings.path_assumption import Assumption, group_shows
from evidence.findings.path_model import Amount, Consistency, PathModel
from evidence.findings.path_reading import Reach, Reading, reach_of
from evidence.findings.path_rows import HELD, Measured, StepAsked, Strand, kind_of, measured_in_any, steps_of, store_of
from evidence.findings.storage import StoreAnswer, store_answer
from evidence.handling import Chain, HandlingError
from evidence.model.lists import PooledClass
from evidence.model.rules import Rules
from evidence.synthesis import TauPrior
from evidence.synthesis.consistency import GlobalConsistency

__all__ = ["Missing", "PathAnswer", "PathStatus", "StepAnswer", "answer_path", "asked_steps", "lead_strand"]

PathStatus = Literal["estimated", "bounded", "not_identified", "beyond_data"]
Beyond = Literal["time", "temperature"]
_MEASURES = ("amount", "capacity", "activity")


@dataclass(frozen=True)
class StepAnswer:
    """One step of the path.

    status: estimated; bounded (all its figures start from milk whose past is not stated); not_identified (no figure);
    beyond_data (asked longer or at other temperatures than anybody looked). amount: what the step alone leaves, against
    the milk just before it. direct: studies of just this step; else worked out by joining studies. so_far: from fresh
    to the end of this step. beyond: what lies beyond. storage: loss over time in this step's store, where it is one.
    """

    asked: StepAsked
    status: PathStatus
    amount: Amount | None
    direct: bool
    studies: tuple[StudyEstimate, ...]
    said: tuple[Said, ...]
    measured: Measured | None
    beyond: Beyond | None
    flags: tuple[str, ...]
    so_far: Reach
    consistency: Consistency
    storage: StoreAnswer | None

    @property
    def spoken_by(self) -> tuple[StudyEstimate | Said, ...]:
        """The studies that speak of this step, by figure or in words."""
        return (*self.studies, *self.said)


@dataclass(frozen=True)
class Missing:
    """A measurement nobody has made that the answer needs: the same mothers' milk before step first and after last."""

    first: int
    last: int


@dataclass(frozen=True)
class PathAnswer:
    """The answer for one component and one chain.

    reach: parts still there from fresh milk to the end, as far as it can be said. unfollowed: the component does not
    shrink by parts of 100 (germs, shares, markers whose rise is the harm), so that no path is worked out. agreement:
    whether all figures that touch the path agree with one another; None where nothing can tell.
    """

    component: str
    form: str
    measured_as: str
    group: PooledClass | None
    status: PathStatus
    steps: tuple[StepAnswer, ...]
    reach: Reach
    readings: tuple[Reading, ...]
    flags: tuple[str, ...]
    missing: tuple[Missing, ...]
    assumptions: tuple[Assumption, ...]
    unfollowed: bool = False
    agreement: GlobalConsistency | None = None


def asked_steps(chain: Chain, rules: Rules) -> tuple[StepAsked, ...]:
    """Return the steps of a chain that do something of their own. Raises HandlingError where there is none."""
    steps = steps_of(chain, rules)
    if not steps:
        allowed = "a chain with at least one step that does something to the milk, as in expressed > frozen -20C 30d"
        raise HandlingError(str(chain), allowed)
    return steps


def lead_strand(strands: Sequence[Strand], steps: Sequence[StepAsked]) -> Strand | None:
    """Return the form and kind of measure to follow: most steps with a figure, then most studies, amounts first."""

    def rank(strand: Strand) -> tuple[int, int, int, int, str]:
        # by store, not window: a time nobody measured must not send the answer to another form
        figures = [
            {study.study for each in strand.contrasts if each.key and store_of(each.key) == store_of(step.key)
             for study in each.figures}
            for step in steps
        ]  # fmt: skip
        covered, studies = sum(bool(each) for each in figures), sum(len(each) for each in figures)
        measure = _MEASURES.index(strand.measured_as) if strand.measured_as in _MEASURES else len(_MEASURES)
        return -covered, -studies, measure, strand.form != "", strand.form

    return min(strands, key=rank, default=None)


def _measured_window(step: StepAsked, strand: Strand) -> StepAsked:
    """Return a step asked without its time as the window of its store that most studies measured."""
    if not step.key.endswith(":not-stated") or step.name not in HELD or strand.direct(step.key):
        return step
    keys = {each.key for each in strand.contrasts if each.key and store_of(each.key) == store_of(step.key)}
    best = max(sorted(keys), key=lambda key: len(strand.direct(key)), default=step.key)
    return StepAsked(step.name, step.text, best, None, step.temperature_low_c, step.temperature_high_c)


def _beyond(step: StepAsked, measured: Measured | None, model: PathModel, rules: Rules) -> Beyond | None:
    if measured is None or step.name not in HELD:
        return None
    longest = measured.longest_days
    if store_of(step.key) in model.fitted:
        longest = model.longest_fitted(store_of(step.key))
    if step.days is not None and longest is not None and step.days > longest:
        return "time"
    slack = rules.storage.beyond_temperature_c
    cold, warm = measured.coldest_c, measured.warmest_c
    low, high = step.temperature_low_c, step.temperature_high_c
    if low is not None and cold is not None and low < cold - slack:
        return "temperature"
    return "temperature" if high is not None and warm is not None and high > warm + slack else None


def _flags(step: StepAsked, written: StepAsked, strand: Strand, studies: Sequence[StudyEstimate]) -> tuple[str, ...]:
    flags = []
    if studies and all(study.baseline == "not stated" for study in studies):
        flags.append("past not stated")
    elif any(study.baseline == "not stated" for study in studies):
        flags.append("past partly not stated")
    if any(study.baseline in ("heat-treated", "otherwise treated") for study in studies):
        flags.append("already treated")
    if step.key != written.key:
        flags.append("time not given")
    rows = {row for study in studies for row in study.rows}
    if any(rows & each.temperature_assumed for each in strand.contrasts):
        flags.append("freezer not stated")
    return tuple(flags)


def _step(
    written: StepAsked, model: PathModel, looked_at: Mapping[str, Measured], rules: Rules, *, thorough: bool
) -> StepAnswer:
    strand = model.strand
    step = _measured_window(written, strand)
    measured = looked_at.get(kind_of(step.key))
    studies = model.studies_behind(step)
    beyond = _beyond(written, measured, model, rules)
    amount = None if beyond else model.amount([model.part(step)])
    if beyond:
        status: PathStatus = "beyond_data"
    elif amount is None:
        status = "not_identified"
    else:
        # worked out by joining only: the past of the milk stands with the studies joined, which are not of this step
        unstated = bool(studies) and all(study.baseline == "not stated" for study in studies)
        status = "bounded" if unstated else "estimated"
    storage = None
    if thorough and step.name in HELD:
        storage = store_answer(strand, store_of(step.key), model.prior, rules)
    nothing = Consistency(None, None, None)
    return StepAnswer(
        asked=step,
        status=status,
        amount=amount,
        direct=amount is not None and bool(studies),
        studies=studies,
        said=strand.said(step.key),
        measured=measured,
        beyond=beyond,
        flags=_flags(step, written, strand, studies),
        so_far=Reach(None, None, None, None),
        consistency=model.consistency(step) if thorough and amount is not None else nothing,
        storage=storage,
    )


def _missing(steps: Sequence[StepAnswer], model: PathModel) -> tuple[Missing, ...]:
    """Return the smallest measurements that would identify the path, the one from fresh milk first."""
    found: list[Missing] = []
    bounded = [place for place, step in enumerate(steps) if step.status == "bounded"]
    start = 0
    if bounded:
        found.append(Missing(0, bounded[-1]))
        start = bounded[-1] + 1
    rest = [step.asked for step in steps[start:]]
    if rest and any(step.status in ("not_identified", "beyond_data") for step in steps[start:]):
        unknown = [place for place, step in enumerate(steps[start:]) if step.amount is None]
        run = model.smallest(rest) or (unknown[0], unknown[-1])
        found.append(Missing(start + run[0], start + run[1]))
    # every step has a figure and the path has none: drying from frozen milk, and no figure for freezing
    return tuple(found) or (Missing(0, len(steps) - 1),)


def _status(steps: Sequence[StepAnswer], reach: Reach) -> PathStatus:
    if any(step.status == "beyond_data" for step in steps):
        return "beyond_data"
    return reach.status or "not_identified"


def answer_path(
    component: str,
    chain: Chain,
    strands: Sequence[Strand],
    priors: Mapping[PooledClass, TauPrior],
    rules: Rules,
    *,
    peers: Sequence[Strand] = (),
    thorough: bool = True,
) -> PathAnswer:
    """Answer one component along one chain.

    strands: those of the component; peers: those of the other components of its group, for the labelled assumption
    that rules.path.group_fallback switches on. Without thorough, storage curves and consistency are left out. Raises
    HandlingError where the chain does nothing to the milk.
    """
    asked = asked_steps(chain, rules)
    strand = lead_strand(strands, asked)
    if strand is None:
        nothing = Reach(None, None, None, None)
        return PathAnswer(component, "", "amount", None, "not_identified", (), nothing, (), (), (), (), unfollowed=True)
    model = PathModel(strand, priors[strand.group], rules)
    looked_at = measured_in_any(strands)
    alone = [_step(step, model, looked_at, rules, thorough=thorough) for step in asked]
    known = [(each.asked, each.status) for each in alone]
    reaches = [reach_of(known[: place + 1], model) for place in range(len(alone))]
    steps = tuple(
        StepAnswer(**{**vars(each), "so_far": found.reach}) for each, found in zip(alone, reaches, strict=True)
    )
    last = reaches[-1]
    # the readings of the furthest step that can be said something of
    told = next((found for found in reversed(reaches) if found.reach.status is not None), last)
    assumptions: tuple[Assumption, ...] = ()
    if rules.path.group_fallback:
        lacking = [each.asked for each in steps if each.amount is None]
        assumptions = tuple(group_shows(lacking, peers, priors, rules))
    on_top = ["freezing on top"] if any(found.on_top for found in reaches) else []
    flags = tuple(dict.fromkeys([*(flag for step in steps for flag in step.flags), *on_top]))
    status = _status(steps, last.reach)
    return PathAnswer(
        component, strand.form, strand.measured_as, strand.group, status, steps,
        last.reach if status in ("estimated", "bounded") else Reach(None, None, None, None),
        told.readings, flags, () if status == "estimated" else _missing(steps, model), assumptions,
        agreement=model.agreement(asked) if thorough else None,
    )  # fmt: skip
