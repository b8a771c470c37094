"""The trail of an answer: the rule behind its sentence, the steps of its certainty, its rows and their places.

Nothing is decided here: state.py decides. What it weighed is laid out in the order in which it looked, with each
threshold and where that comes from.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from evidence.findings.finding import CertaintyStep, Finding, Pooled
from evidence.model.rule_sources import Threshold, threshold
from evidence.model.rules import Rules
from evidence.model.tables import Measurement, Study

__all__ = ["Place", "RowTrail", "RuleCheck", "StepTrail", "Trail", "figures_of", "state_checks", "trail_of"]

Use = Literal["figure", "bound", "words", "not pooled"]

# what each step of certainty looked at, by the reason that state.py gives it
_STEP_RULES: dict[str, tuple[str, ...]] = {
    "one study": ("one_study_steps",),
    "two studies": ("two_studies_steps",),
    "interval on both sides": (
        "wide_low_percent", "wide_high_percent", "both_sides_steps", "amount_and_interval_steps",
    ),
    "wide interval": ("wide_factor", "amount_and_interval_steps"),
    "studies disagree": ("disagreement_factor",),
    "few compared with fresh": ("fresh_share",),
    "reported without spread": ("own_spread_share",),
    "infrared only": ("infrared_only_components", "infrared_only_steps"),
}  # fmt: skip


@dataclass(frozen=True)
class RuleCheck:
    """One thing the rule looked at: its code (worded in reports), what it saw, the thresholds, and whether it held.

    observed are numbers in the unit of the thresholds: percent still there, a ratio of limits, or a count of studies.
    """

    code: str
    observed: tuple[float, ...]
    thresholds: tuple[Threshold, ...]
    holds: bool


@dataclass(frozen=True)
class StepTrail:
    """One step down in certainty, what was seen, and the thresholds behind it."""

    step: CertaintyStep
    observed: tuple[float, ...]
    thresholds: tuple[Threshold, ...]


@dataclass(frozen=True)
class RowTrail:
    """A row and what became of it; log_ratio and se are those of its study, whose rows are taken together.

    together counts those rows; recipe says how the spread was got; reason is empty where the row is used.
    """

    id: str
    study: str
    use: Use
    log_ratio: float | None
    se: float | None
    recipe: str
    flags: tuple[str, ...]
    weight_share: float | None
    together: int
    reason: str


@dataclass(frozen=True)
class Place:
    """Where a row stands in the literature: the study's key, DOI and PMID, the place in it, and how it was read."""

    row: str
    study: str
    doi: str
    pmid: str
    locator: str
    read_from: str
    second_read: str


@dataclass(frozen=True)
class Trail:
    """From an answer to the papers: rule, certainty, rows, places."""

    finding: Finding
    checks: tuple[RuleCheck, ...]
    steps: tuple[StepTrail, ...]
    rows: tuple[RowTrail, ...]
    places: tuple[Place, ...]


def trail_of(
    finding: Finding, measurements: Mapping[str, Measurement], studies: Mapping[str, Study], rules: Rules
) -> Trail:
    """Return the whole trail of a finding; measurements and studies hold at least those it rests on, by id and key."""
    rows = _rows(finding)
    return Trail(
        finding=finding,
        checks=state_checks(finding, rules),
        steps=tuple(_step(step, finding, rules) for step in finding.certainty.steps),
        rows=rows,
        places=tuple(_place(measurements[row.id], studies[row.study]) for row in rows),
    )


def _printing(*keys: str) -> tuple[Threshold, ...]:
    return tuple(threshold(f"printing.{key}") for key in keys)


def state_checks(finding: Finding, rules: Rules) -> tuple[RuleCheck, ...]:
    """Return what decided the state, in order, up to and with the check that settled it (see state.state_of)."""
    pooled = finding.pooled
    if pooled is None:
        spoke = len(finding.every_study)
        return (RuleCheck("no_pooled_figure", (0.0,), (), True), RuleCheck("spoken", (float(spoke),), (), spoke > 0))
    few = RuleCheck("few_studies", (float(pooled.k_studies),), (), pooled.k_studies <= 2)
    checks = [few]
    if few.holds:
        return tuple(checks)
    printing = rules.printing
    reach = pooled.new_high / pooled.new_low
    checks.append(
        RuleCheck("spread", (reach,), _printing("spread_headline_factor"), reach > printing.spread_headline_factor)
    )
    if checks[-1].holds:
        return tuple(checks)
    checks += _same_checks(finding, pooled, rules)
    if finding.state in ("about_the_same", "little_less"):
        return tuple(checks)
    includes = pooled.ci_low <= 100 <= pooled.ci_high
    limits = (pooled.ci_low, pooled.ci_high)
    checks.append(
        RuleCheck(
            "loss_and_none_fit", limits, _printing("cant_tell_below_percent"),
            includes and pooled.ci_low < printing.cant_tell_below_percent,
        )
    )  # fmt: skip
    if checks[-1].holds:
        return tuple(checks)
    above = includes and pooled.ci_high > 100 * (1 + printing.same_margin)
    return (*checks, RuleCheck("no_loss_seen", limits, _printing("same_margin"), above))


def _same_checks(finding: Finding, pooled: Pooled, rules: Rules) -> list[RuleCheck]:
    printing = rules.printing
    margin = 100 * printing.same_margin
    inside = pooled.ci_low >= 100 - margin and pooled.ci_high <= 100 + margin
    own = sum(study.own_spread for study in finding.figure_studies)
    checks = [
        RuleCheck("inside_margin", (pooled.ci_low, pooled.ci_high), _printing("same_margin"), inside),
        RuleCheck(
            "new_study_near", (pooled.new_low,), _printing("same_new_study_low_percent"),
            pooled.new_low >= printing.same_new_study_low_percent,
        ),
        RuleCheck(
            "enough_studies", (float(pooled.k_studies),), _printing("same_studies"),
            pooled.k_studies >= printing.same_studies,
        ),
        RuleCheck("own_spread", (float(own),), (), own > 0),
    ]  # fmt: skip
    if all(check.holds for check in checks):  # the wider pool is not kept; what came of it is
        same = finding.state in ("about_the_same", "little_less")
        checks.append(RuleCheck("holds_stretched", (), _printing("same_borrowed_stretch"), same))
    return checks


def _step(step: CertaintyStep, finding: Finding, rules: Rules) -> StepTrail:
    sources = tuple(threshold(f"certainty.{key}") for key in _STEP_RULES.get(step.reason, ()))
    return StepTrail(step, _seen(step.reason, finding), sources)


def _seen(reason: str, finding: Finding) -> tuple[float, ...]:
    pooled = finding.pooled
    if pooled is None:
        return ()
    if reason in ("one study", "two studies"):
        return (float(pooled.k_studies),)
    if reason == "interval on both sides":
        return (pooled.ci_low, pooled.ci_high)
    if reason == "wide interval":
        return (pooled.ci_high / pooled.ci_low,)
    if reason == "studies disagree":
        return (pooled.new_high / pooled.new_low,)
    if reason == "few compared with fresh":
        fresh = sum(count for word, count in finding.baselines if word in ("fresh", "chilled"))
        return (float(fresh), float(sum(count for _, count in finding.baselines)))
    if reason == "reported without spread":
        return (float(len(finding.said)), float(pooled.k_studies), 100 * pooled.own_weight)
    return ()


def _rows(finding: Finding) -> tuple[RowTrail, ...]:
    rows: list[RowTrail] = []
    for study in finding.studies:
        use: Use = "figure" if study.kind == "figure" else "bound"
        rows += [
            RowTrail(
                row, study.study, use, study.log_ratio, study.se, study.recipe, study.flags, study.weight_share,
                len(study.rows), "",
            )
            for row in study.rows
        ]  # fmt: skip
    for said in finding.said:
        rows += [RowTrail(row, said.study, "words", None, None, "", (), None, len(said.rows), "") for row in said.rows]
    for left in finding.not_pooled:
        rows.append(RowTrail(left.measurement, left.study, "not pooled", None, None, "", (), None, 1, left.reason))
    return tuple(sorted(rows, key=lambda row: (row.use == "not pooled", row.study, row.id)))


def _place(row: Measurement, study: Study) -> Place:
    return Place(row.id, row.study, study.doi, study.pmid, row.locator, row.read_from, row.second_read)


def figures_of(finding: Finding) -> tuple[float, ...]:
    """Return every number of the finding that a page may print of it: percents, their complements, and counts."""
    percents: list[float] = []
    for pooled in (finding.figures, finding.with_words, finding.fresh):
        if pooled is not None:
            percents += [pooled.retained_percent, pooled.ci_low, pooled.ci_high, pooled.new_low, pooled.new_high]
    for study in finding.studies:
        percents += [each for each in (study.retained_percent, study.ci_low, study.ci_high) if each is not None]
    percents += [each.smallest_loss_percent for each in finding.said if each.smallest_loss_percent is not None]
    if finding.shares is not None:
        percents += [each for study in finding.shares.studies for each in (study.before, study.after)]
        points = [each for part in finding.shares.together for each in (part.points, part.low, part.high)]
        percents += [*points, *(abs(each) for each in points)]
    counts: Sequence[float] = [
        *(float(each.k_studies) for each in (finding.figures, finding.with_words, finding.fresh) if each is not None),
        *(float(count) for _, count in finding.baselines),
    ]
    return (*percents, *(100 - each for each in percents), *counts)
