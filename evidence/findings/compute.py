"""Findings from rows: questions formed, heterogeneity shared, each question answered. Pure: rows in, findings out."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from evidence.effects import class_sd, pooled_class
from evidence.findings.finding import Classical, Finding, Pooled, State, StudyEstimate
from evidence.findings.gather import Gathered, gather, with_weights
from evidence.findings.lent_spread import LentSpread, lent_spread, with_spreads
from evidence.findings.reviewed import reviewed
from evidence.findings.shares import shares
from evidence.findings.state import certainty, inside_margin, more_cautious, state_of
from evidence.handling import contrast, handling_key, parse_chain
from evidence.model.lists import BaselineClass, PooledClass
from evidence.model.rules import Rules, TauRules
from evidence.model.tables import Appraisal, Component, Measurement, Overlap, Override, Question
from evidence.synthesis import GridSettings, TauPrior, fit_tau_median, pool, posterior

__all__ = ["Answer", "Asked", "Evidence", "SharedTau", "answer", "ask", "compute_findings", "share", "shared_tau"]


@dataclass(frozen=True)
class Evidence:
    """What findings are computed from; uncitable: studies whose paper has not been identified.

    appraisals are read by the sensitivity analysis only; overrides set how sure anyone can be, by hand.
    """

    components: Sequence[Component]
    measurements: Sequence[Measurement]
    overlaps: Sequence[Overlap]
    questions: Sequence[Question]
    uncitable: frozenset[str] = frozenset()
    appraisals: Sequence[Appraisal] = ()
    overrides: Sequence[Override] = ()


@dataclass(frozen=True)
class SharedTau:
    """What one class shares: the prior of its heterogeneity, and the SD between milks that it lends.

    fitted_on: the questions behind the prior, spread_fitted_on: the studies behind the SD; empty: from rules.toml.
    """

    group: PooledClass
    median: float
    log_sd: float
    shift: float
    fitted_on: tuple[str, ...]
    spread: float
    spread_fitted_on: tuple[str, ...] = ()

    def prior(self) -> TauPrior:
        """Return it as a prior of ln tau."""
        return TauPrior(median=self.median, log_sd=self.log_sd, shift=self.shift)


@dataclass(frozen=True)
class Asked:
    """One question with its rows, in the order of their ids, and what they come to."""

    question: Question
    group: PooledClass | None
    rows: tuple[Measurement, ...]
    gathered: Gathered


@dataclass(frozen=True)
class Answer:
    """What gathered studies say: from figures alone, with words, and the more cautious of the two, which leads."""

    figures: Pooled | None
    with_words: Pooled | None
    state: State
    headline: Literal["figures", "with_words"] | None

    @property
    def pooled(self) -> Pooled | None:
        """The pooled figure behind the headline, or None without one."""
        return self.with_words if self.headline == "with_words" else self.figures


def _grid(rules: Rules) -> GridSettings:
    return GridSettings(**rules.likelihood.model_dump())


def ask(evidence: Evidence, rules: Rules) -> list[Asked]:
    """Return the questions that have rows, in the order of their numbers."""
    components = {component.id: component for component in evidence.components}
    rows: dict[tuple[str, str, str, str], list[Measurement]] = defaultdict(list)
    for row in evidence.measurements:
        key = handling_key(contrast(parse_chain(row.handling), parse_chain(row.baseline)), rules.bands)
        if key is not None:
            rows[row.component, row.form, row.measured_as, key].append(row)
    asked = []
    for question in sorted(evidence.questions, key=lambda each: each.number):
        mine = rows.get((question.component, question.form, question.measured_as, question.handling), [])
        if mine:
            component = components[question.component]
            group = pooled_class(question.measured_as, component.outcome, component.wanted)
            ordered = tuple(sorted(mine, key=lambda row: row.id))
            asked.append(
                Asked(question, group, ordered, gather(ordered, group, evidence.overlaps, evidence.uncitable, rules))
            )
    return asked


def shared_tau(
    asked: Iterable[Asked], rules: Rules, lent: Mapping[PooledClass, LentSpread] | None = None
) -> dict[PooledClass, SharedTau]:
    """Fit the heterogeneity each class shares, once an edition; classes with few questions keep that of rules.toml.

    asked, rules: with the spreads that are lent; lent: where those were fitted.
    """
    figures: dict[PooledClass, list[tuple[str, list[StudyEstimate]]]] = defaultdict(list)
    for each in asked:
        studies = [study for study in each.gathered.studies if study.kind == "figure"]
        if each.group is not None and len(studies) >= 2:
            figures[each.group].append((each.question.number, studies))
    shared: dict[PooledClass, SharedTau] = {}
    limits = rules.heterogeneity
    settings: dict[PooledClass, TauRules] = {
        "bulk": limits.bulk, "fragile": limits.fragile, "count": limits.count, "marker": limits.marker
    }  # fmt: skip
    for group, given in settings.items():
        median, log_sd = given.median, given.log_sd
        on: tuple[str, ...] = ()
        fitted = figures.get(group, [])
        if len(fitted) >= limits.refit_from_questions and given.median_low < given.median_high:
            data = [
                ([s.log_ratio for s in studies], [s.se for s in studies], [s.u for s in studies])
                for _, studies in fitted
            ]
            found = fit_tau_median(
                data,
                log_sd=given.log_sd,
                shift=limits.shift,
                low=given.median_low,
                high=given.median_high,
                grid=_grid(rules),
                factors=limits.log_sd_factors,
            )
            # four digits: enough for any sentence, and the same on every machine
            median, log_sd = round(found.median, 4), round(found.log_sd, 4)
            on = tuple(number for number, _ in fitted)
        behind = lent[group].fitted_on if lent is not None and group in lent else ()
        shared[group] = SharedTau(group, median, log_sd, limits.shift, on, class_sd(group, rules.spread), behind)
    return shared


def _percent(log_ratio: float) -> float:
    return 100 * math.exp(log_ratio)


def _pool(
    studies: Sequence[StudyEstimate], words: Sequence[tuple[str, float, float]], shared: SharedTau, rules: Rules
) -> Pooled:
    kinds = [study.kind for study in studies] + [kind for kind, _, _ in words]
    several = sum(study.kind == "figure" for study in studies) >= 2
    level = rules.printing.range_level if several else rules.printing.one_study_level
    found = posterior(
        kinds,
        [study.log_ratio for study in studies] + [0.0] * len(words),
        [study.se for study in studies] + [se for _, se, _ in words],
        [study.u for study in studies] + [u for _, _, u in words],
        prior=shared.prior(),
        grid=_grid(rules),
        level=level,
        new_level=rules.printing.new_study_level,
    )
    weighted = with_weights(studies, found.tau_median)
    figures = [study for study in weighted if study.kind == "figure"]
    return Pooled(
        retained_percent=_percent(found.estimate),
        ci_low=_percent(found.ci_low),
        ci_high=_percent(found.ci_high),
        new_low=_percent(found.new_low),
        new_high=_percent(found.new_high),
        tau=found.tau_median,
        k_studies=len(figures),
        k_rows=sum(len(study.rows) for study in figures),
        own_weight=sum(study.weight_share or 0.0 for study in figures if study.own_spread),
        level=level,
        new_level=rules.printing.new_study_level,
    )


def _stretched(studies: Sequence[StudyEstimate], rules: Rules) -> list[StudyEstimate]:
    factor = rules.printing.same_borrowed_stretch
    return [study if study.own_spread else replace(study, se=study.se * factor) for study in studies]


def _classical(studies: Sequence[StudyEstimate]) -> Classical | None:
    if len(studies) < 2:
        return None
    found = pool([study.log_ratio for study in studies], [study.se**2 for study in studies])

    def percent(value: float | None) -> float | None:
        return None if value is None else _percent(value)

    return Classical(
        _percent(found.estimate), _percent(found.ci_low), _percent(found.ci_high), found.tau2, found.tau2_low,
        found.tau2_high, found.i2, found.q, found.q_p, percent(found.prediction_low), percent(found.prediction_high),
    )  # fmt: skip


def _baselines(gathered: Gathered) -> tuple[tuple[BaselineClass, int], ...]:
    counts: Counter[BaselineClass] = Counter(study.baseline for study in gathered.every)
    return tuple(sorted(counts.items(), key=lambda item: (-item[1], item[0])))


def _flags(gathered: Gathered, rows: Sequence[Measurement]) -> tuple[str, ...]:
    every = gathered.every
    flags: list[str] = []
    if every and not any(study.baseline == "fresh" for study in every):
        flags.append("none compared with fresh milk")
    if any(study.already_frozen for study in every):
        flags.append("compared with milk already frozen")
    if any(study.baseline == "not stated" for study in every):
        flags.append("what it was compared with is not stated")
    if any(study.baseline in ("heat-treated", "dried", "otherwise treated") for study in every):
        flags.append("compared with milk already treated")
    if any("counted once" in each.reason for each in gathered.not_pooled):
        flags.append("the same milk was reported twice")
    used = {row for study in every for row in study.rows}
    if used and not any(row.read_from in ("full text", "thesis") for row in rows if row.id in used):
        flags.append("read from abstracts only")
    if any(study.kind == "fall" for study in gathered.said) and any(
        study.kind == "no_change" for study in gathered.said
    ):
        flags.append("studies in words disagree")
    return tuple(flags)


def _infrared_only(asked: Asked, rules: Rules) -> bool:
    if asked.question.component not in rules.certainty.infrared_only_components:
        return False
    used = {row for study in asked.gathered.studies for row in study.rows}
    assays = [row.assay.lower() for row in asked.rows if row.id in used]
    return bool(assays) and all("infrared" in assay or "mid-ir" in assay for assay in assays)


def _pooled_state(
    studies: Sequence[StudyEstimate], words: Sequence[tuple[str, float, float]], tau: SharedTau, rules: Rules
) -> tuple[Pooled, State]:
    figures = [study for study in studies if study.kind == "figure"]
    pooled = _pool(studies, words, tau, rules)
    # the pool with wider spreads is asked only where the sentence would be "about the same"
    asked = pooled.k_studies >= 3 and inside_margin(pooled, rules)
    stretched = _pool(_stretched(studies, rules), words, tau, rules) if asked else None
    return pooled, state_of(pooled, figures, stretched, rules)


def answer(gathered: Gathered, tau: SharedTau | None, rules: Rules) -> Answer:
    """Pool gathered studies and decide which sentence they carry; tau is None where the class is not pooled."""
    figures = [study for study in gathered.studies if study.kind == "figure"]
    words = [(said.kind, said.se, said.u) for said in gathered.said if said.kind != "mixed"]
    if not figures or tau is None:
        return Answer(None, None, "words_only" if gathered.every else "listed_only", None)
    pooled, state = _pooled_state(figures, (), tau, rules)
    if not words and len(gathered.studies) == len(figures):
        return Answer(pooled, None, state, "figures")
    with_words, other = _pooled_state(gathered.studies, words, tau, rules)
    if more_cautious((state, pooled), (other, with_words)):
        return Answer(pooled, with_words, state, "figures")
    return Answer(pooled, with_words, other, "with_words")


def _find(
    asked: Asked,
    shared: dict[PooledClass, SharedTau],
    rules: Rules,
    overrides: Sequence[Override] = (),
    uncitable: frozenset[str] = frozenset(),
) -> Finding:
    gathered, group, question = asked.gathered, asked.group, asked.question
    figures = [study for study in gathered.studies if study.kind == "figure"]
    tau = None if group is None else shared[group]
    found = answer(gathered, tau, rules)
    fresh: Pooled | None = None
    fresh_state: State | None = None
    studies = gathered.studies
    if found.pooled is not None and tau is not None:
        from_fresh = [study for study in figures if study.baseline == "fresh"]
        if from_fresh and len(from_fresh) < len(figures):
            fresh, fresh_state = _pooled_state(from_fresh, (), tau, rules)
        studies = with_weights(studies, found.pooled.tau)
    baselines = _baselines(gathered)
    told = shares(asked.rows, uncitable, rules) if question.measured_as == "share" else None
    infrared = _infrared_only(asked, rules)
    return Finding(
        number=question.number,
        component=question.component,
        form=question.form,
        measured_as=question.measured_as,
        handling=question.handling,
        group=group,
        state=found.state,
        headline=found.headline,
        figures=found.figures,
        with_words=found.with_words,
        fresh=fresh,
        fresh_state=fresh_state,
        classical=_classical(figures) if group is not None else None,
        studies=studies,
        said=gathered.said,
        not_pooled=gathered.not_pooled,
        baselines=baselines,
        flags=_flags(gathered, asked.rows),
        certainty=reviewed(
            certainty(found.pooled, group, baselines, gathered.said, infrared, rules, told is not None),
            [each for each in overrides if each.number == question.number],
        ),
        shares=told,
    )


def share(evidence: Evidence, rules: Rules) -> tuple[list[Asked], dict[PooledClass, SharedTau], Rules]:
    """Return the questions that have rows, what their classes share, and the rules with the spreads lent."""
    lent = lent_spread(evidence.components, evidence.measurements, evidence.uncitable, rules)
    rules = with_spreads(rules, {group: each.sd for group, each in lent.items()})
    asked = ask(evidence, rules)
    return asked, shared_tau(asked, rules, lent), rules


def compute_findings(evidence: Evidence, rules: Rules) -> tuple[list[Finding], dict[PooledClass, SharedTau]]:
    """Answer every question that has rows; also return what the classes share."""
    asked, shared, rules = share(evidence, rules)
    return [_find(each, shared, rules, evidence.overrides, evidence.uncitable) for each in asked], shared
