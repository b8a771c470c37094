"""Rows of one question brought together: one estimate or one saying a study, the same milk counted once."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

from evidence.effects import Effect, LeftOut, effect_of
from evidence.effects.recipes import class_sd, t_quantile
from evidence.findings.finding import NO_SOURCE, NotPooled, Said, StudyEstimate
from evidence.model.lists import BaselineClass, PooledClass
from evidence.model.rules import Rules
from evidence.model.tables import Measurement, Overlap
from evidence.synthesis import combine_within_studies

__all__ = ["Gathered", "gather", "with_weights"]


@dataclass(frozen=True)
class Gathered:
    """The studies of one question: with a figure or bound, with words only, and the rows listed beside them."""

    studies: tuple[StudyEstimate, ...]
    said: tuple[Said, ...]
    not_pooled: tuple[NotPooled, ...]

    @property
    def every(self) -> tuple[StudyEstimate | Said, ...]:
        """All studies that speak to the question."""
        return (*self.studies, *self.said)


def _class_of(rows: Sequence[Measurement]) -> BaselineClass:
    # a study whose rows differ counts as what most of them were compared with; ties go to the less reassuring word
    order: tuple[BaselineClass, ...] = (
        "not stated",
        "dried",
        "otherwise treated",
        "heat-treated",
        "frozen",
        "chilled",
        "fresh",
    )
    counts = {word: sum(row.baseline_class == word for row in rows) for word in order}
    return max(order, key=lambda word: (counts[word], -order.index(word)))


def _already_frozen(rows: Sequence[Measurement]) -> bool:
    return any("frozen" in row.baseline or "thawed" in row.baseline for row in rows)


def _study_figure(effects: Sequence[Effect], rows: Sequence[Measurement], rules: Rules) -> StudyEstimate:
    one = combine_within_studies(
        [effect.study for effect in effects],
        [effect.log_ratio if effect.log_ratio is not None else 0.0 for effect in effects],
        [effect.se for effect in effects],
        [effect.u for effect in effects],
        rho=rules.spread.between_row_correlation,
    )
    log_ratio, se, u = float(one.log_ratio[0]), float(one.se[0]), float(one.u[0])
    own = all(effect.own_spread for effect in effects)
    known = [effect.n for effect in effects if effect.n is not None]
    n = min(known) if known else None
    reach = se * t_quantile(0.975, n - 1) if own and n is not None and n >= 2 else None
    return StudyEstimate(
        study=effects[0].study,
        kind="figure",
        retained_percent=100 * math.exp(log_ratio),
        log_ratio=log_ratio,
        se=se,
        u=u,
        ci_low=None if reach is None else 100 * math.exp(log_ratio - reach),
        ci_high=None if reach is None else 100 * math.exp(log_ratio + reach),
        own_spread=own,
        recipe="; ".join(dict.fromkeys(effect.recipe for effect in effects)),
        n=n,
        baseline=_class_of(rows),
        already_frozen=_already_frozen(rows),
        rows=tuple(effect.measurement for effect in effects),
        flags=tuple(dict.fromkeys(flag for effect in effects for flag in effect.flags)),
    )


def _study_bound(effects: Sequence[Effect], rows: Sequence[Measurement]) -> StudyEstimate | None:
    kinds = {effect.kind for effect in effects}
    if len(kinds) > 1:
        return None
    # of several bounds of one milk, the one that says least is kept
    kind = kinds.pop()
    pick = max if kind == "at_most" else min
    effect = pick(effects, key=lambda each: (each.log_ratio or 0.0, each.measurement))
    assert effect.log_ratio is not None
    return StudyEstimate(
        effect.study, kind, 100 * math.exp(effect.log_ratio), effect.log_ratio, effect.se, effect.u, None, None, False,
        effect.recipe, effect.n, _class_of(rows), _already_frozen(rows),
        tuple(each.measurement for each in effects), effect.flags,
    )  # fmt: skip


def _said(effects: Sequence[Effect], rows: Sequence[Measurement], lent: float, rules: Rules) -> Said:
    kinds = {effect.kind for effect in effects}
    kind = kinds.pop() if len(kinds) == 1 else "mixed"
    known = [effect.n for effect in effects if effect.n is not None]
    n = min(known) if known else None
    smallest = None
    if kind == "no_change" and n is not None and n >= 2:
        power = rules.printing.smallest_loss_power_quantile
        reach = (t_quantile(0.975, n - 1) + t_quantile(power, n - 1)) * lent / math.sqrt(n)
        smallest = 100 * (1 - math.exp(-reach))
    # one sentence is one result however many rows repeat it: the widest of their standard errors
    widest = max(effects, key=lambda effect: (effect.se, effect.measurement))
    return Said(
        effects[0].study, kind, widest.se, widest.u, n, _class_of(rows), _already_frozen(rows),
        tuple(effect.measurement for effect in effects), smallest,
    )  # fmt: skip


def _same_milk(studies: set[str], overlaps: Sequence[Overlap]) -> dict[str, str]:
    """Return the studies that step back, each with the study that reports the same milk and stays.

    Of three that report one milk, two step back, whichever pairs name them.
    """
    steps_back: dict[str, str] = {}
    for overlap in sorted(overlaps, key=lambda each: (each.key_a, each.key_b)):
        if overlap.certainty == "possible" or not {overlap.key_a, overlap.key_b} <= studies:
            continue
        gone = overlap.key_b if overlap.keep == overlap.key_a else overlap.key_a
        stays, gone = _who_stays(overlap.keep, steps_back), _who_stays(gone, steps_back)
        if gone != stays:
            steps_back[gone] = stays
    return {gone: _who_stays(gone, steps_back) for gone in steps_back}


def _who_stays(study: str, steps_back: dict[str, str]) -> str:
    while study in steps_back:
        study = steps_back[study]
    return study


def gather(
    rows: Sequence[Measurement],
    group: PooledClass | None,
    overlaps: Sequence[Overlap],
    uncitable: frozenset[str],
    rules: Rules,
) -> Gathered:
    """Bring the rows of one question together; rows must be in a fixed order for the same bytes to come out.

    Rows of uncitable studies are listed only: no figure without its source.
    """
    by_id = {row.id: row for row in rows}
    effects: dict[str, list[Effect]] = defaultdict(list)
    not_pooled: list[NotPooled] = []
    for row in rows:
        found = LeftOut(row.id, row.study, NO_SOURCE) if row.study in uncitable else effect_of(row, group, rules)
        if isinstance(found, LeftOut):
            not_pooled.append(NotPooled(found.measurement, found.study, found.reason))
        else:
            effects[found.study].append(found)
    for gone, kept in sorted(_same_milk(set(effects), overlaps).items()):
        if kept in effects and gone in effects:
            reason = f"may report the same milk as {kept}: counted once"
            not_pooled += [NotPooled(effect.measurement, gone, reason) for effect in effects.pop(gone)]
    lent = class_sd(group, rules.spread)
    studies: list[StudyEstimate] = []
    said: list[Said] = []
    for study in sorted(effects):
        figures = [effect for effect in effects[study] if effect.kind == "figure"]
        bounds = [effect for effect in effects[study] if effect.kind in ("at_most", "at_least")]
        words = [effect for effect in effects[study] if effect not in figures and effect not in bounds]
        used = figures or bounds or words
        mine = [by_id[effect.measurement] for effect in used]
        if figures:
            studies.append(_study_figure(figures, mine, rules))
        elif bounds:
            bound = _study_bound(bounds, mine)
            if bound is None:
                not_pooled += [NotPooled(e.measurement, study, "bounds on both sides: listed") for e in bounds]
            else:
                studies.append(bound)
        else:
            said.append(_said(words, mine, lent, rules))
        beside = [effect for effect in effects[study] if effect not in used]
        not_pooled += [
            NotPooled(e.measurement, study, "the same study printed a figure, which is used") for e in beside
        ]
    return Gathered(tuple(studies), tuple(said), tuple(sorted(not_pooled, key=lambda each: each.measurement)))


def with_weights(studies: Sequence[StudyEstimate], tau: float) -> tuple[StudyEstimate, ...]:
    """Return the studies with their share of the weight, 1 / (se^2 + tau^2), among those with a figure."""
    weights = {study.study: 1 / (study.se**2 + tau**2) for study in studies if study.kind == "figure"}
    total = sum(weights.values())
    return tuple(
        replace(study, weight_share=weights[study.study] / total) if study.study in weights else study
        for study in studies
    )
