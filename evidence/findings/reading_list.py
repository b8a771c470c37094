"""Which papers to get hold of first: those whose full tables would narrow or change most of what is said on drying.

Gain of one paper for one finding, as a share from 0 to 1: by how much the standard error of the average would shrink,
1 - sqrt(V after / V before), with 1/V = 1/V0 + sum 1/(se^2 exp(2 u^2) + tau^2). exp(2 u^2) is the mean of se^2 when
ln se is normal with SD u; V0 = (a few tau)^2 stands for what is known without any figure. To it comes the share of the
finding's studies for which it would settle what the milk was compared with. Then weights: how close the handling is to
drying, whether a parent would ask, and how likely the paper prints it (rules.toml, reading_list).
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from evidence.effects import pooled_class
from evidence.findings.finding import Finding, Said, StudyEstimate
from evidence.findings.gain import Gain, Status, Turns
from evidence.findings.wanted import Wanted
from evidence.model.lists import PooledClass
from evidence.model.rules import Rules, TauRules
from evidence.model.tables import Component, Measurement, Overlap, Study

__all__ = ["ReadingListEntry", "ReadingSources", "rank_papers"]


@dataclass(frozen=True)
class ReadingListEntry:
    """A paper to get hold of: its place and what it would bring; where rows of it were read so far.

    reference is what is known of a reference that was not found; that of a paper in the bibliography stands there. why
    is what wanted.csv says of it.
    """

    rank: int
    key: str
    status: Status
    gain: float
    gains: tuple[Gain, ...]
    reference: str
    doi: str
    pmid: str
    in_bibliography: bool
    why: str
    where: tuple[str, ...]


@dataclass(frozen=True)
class ReadingSources:
    """What the ranking is made from."""

    findings: Sequence[Finding]
    measurements: Sequence[Measurement]
    studies: Sequence[Study]
    components: Sequence[Component]
    overlaps: Sequence[Overlap]
    wanted: Sequence[Wanted]


def _handling_weight(handling: str, rules: Rules) -> float:
    weights = rules.reading_list.handling_weight

    def of(key: str) -> float:
        parts = key.split(":")
        begins = (":".join(parts[:length]) for length in range(len(parts), 0, -1))
        return next((weights[each] for each in begins if each in weights), 0.0)

    if handling in weights or "+" not in handling:
        return of(handling)
    # several steps at once tell of drying only together with the rest; of freezing alone they tell nothing
    dried = [of(step) for step in handling.split("+") if "dried" in step]
    return rules.reading_list.joined_weight * max(dried, default=0.0)


def _tau(group: PooledClass, rules: Rules) -> float:
    settings = rules.heterogeneity
    of: dict[PooledClass, TauRules] = {
        "bulk": settings.bulk, "fragile": settings.fragile, "count": settings.count, "marker": settings.marker
    }  # fmt: skip
    return of[group].median * math.exp(settings.shift)


def _spread(group: PooledClass, rules: Rules) -> float:
    return {"bulk": rules.spread.bulk_sd, "count": rules.spread.count_sd}.get(group, rules.spread.fragile_sd)


def _precision(se: float, u: float, tau: float) -> float:
    return 1 / (se**2 * math.exp(2 * u**2) + tau**2)


def _narrowing(finding: Finding | None, group: PooledClass, study: str, mothers: float | None, rules: Rules) -> float:
    """Return by which share the standard error shrinks once the study has a figure with its own spread."""
    tau = finding.pooled.tau if finding is not None and finding.pooled is not None else _tau(group, rules)
    figures = finding.figure_studies if finding is not None else ()
    known = 1 / (rules.reading_list.no_figure_taus * _tau(group, rules)) ** 2
    others = known + sum(_precision(each.se, each.u, tau) for each in figures if each.study != study)
    mine = next((each for each in figures if each.study == study), None)
    before = others + (_precision(mine.se, mine.u, tau) if mine is not None else 0.0)
    n = mothers if mothers is not None and mothers >= 2 else float(rules.reading_list.expected_mothers)
    after = others + _precision(_spread(group, rules) / math.sqrt(n), 1 / math.sqrt(2 * (n - 1)), tau)
    return max(0.0, 1 - math.sqrt(before / after))


def _part(finding: Finding, study: str) -> StudyEstimate | Said | None:
    return next((each for each in finding.every_study if each.study == study), None)


def _turns(finding: Finding, part: StudyEstimate | Said | None) -> Turns:
    if isinstance(part, StudyEstimate) and part.kind == "figure":
        return "comparison" if part.own_spread else "own spread"
    return "further figure" if finding.figure_studies else "first figure"


def _chance(rows: Sequence[Measurement], status: Status, rules: Rules) -> float:
    limits = rules.reading_list
    if status == "not identified":
        return limits.chance_not_identified
    if status == "second hand":
        return limits.chance_second_hand
    return limits.chance_held if all(row.held for row in rows) else limits.chance_abstract


def _could_be_pooled(row: Measurement) -> bool:
    # no table makes one milk of two, or parts still there of an amount per gram of powder
    return row.design != "separate milk" and row.basis in ("milk", "not stated") and row.read_from != "memory"


def _stepped_back(overlaps: Iterable[Overlap]) -> frozenset[str]:
    return frozenset(
        each.key_b if each.keep == each.key_a else each.key_a for each in overlaps if each.certainty != "possible"
    )


def _gain_in(
    finding: Finding, study: str, rows: Sequence[Measurement], status: Status, worth: float, rules: Rules
) -> Gain | None:
    rows = [row for row in rows if _could_be_pooled(row)]
    weight = _handling_weight(finding.handling, rules) * worth
    if finding.group is None or not rows or not weight:
        return None
    part = _part(finding, study)
    turns = _turns(finding, part)
    known = [float(row.n_mothers or row.n or 0) for row in rows if row.n_mothers or (row.n and row.n_kind == "donors")]
    mothers = part.n if part is not None and part.n is not None else min(known, default=None)
    narrows = 0.0 if turns == "comparison" else _narrowing(finding, finding.group, study, mothers, rules)
    unstated = all(row.baseline_class == "not stated" for row in rows)
    settles = 1 / max(1, len(finding.every_study)) if part is not None and unstated else 0.0
    gain = weight * _chance(rows, status, rules) * (narrows + rules.reading_list.comparison_weight * settles)
    if gain <= 0:
        return None
    return Gain(finding.number, finding.component, finding.handling, turns, narrows, settles, gain, mothers)


def _status(study: Study, rows: Sequence[Measurement]) -> Status | None:
    """Return how far a paper has been read, None where its full text was."""
    if any(row.read_from in ("full text", "thesis") for row in rows):
        return None
    if study.completeness == "unidentified":
        return "not identified"
    return "second hand" if all(row.read_from.startswith("review") for row in rows) else "abstract only"


def _worth(component: Component, rules: Rules) -> float:
    return 1.0 if component.question_worthy == "1" else rules.reading_list.other_component_weight


def _studies_gains(
    sources: ReadingSources, rules: Rules
) -> dict[str, tuple[Status, tuple[Gain, ...], tuple[str, ...]]]:
    """Return study -> status, gains and where its rows stand in what was read."""
    by_study: dict[str, list[Measurement]] = defaultdict(list)
    by_id = {row.id: row for row in sources.measurements}
    for row in sources.measurements:
        by_study[row.study].append(row)
    components = {component.id: component for component in sources.components}
    twice = _stepped_back(sources.overlaps)
    status = {study.key: _status(study, by_study[study.key]) for study in sources.studies if study.key in by_study}
    gains: dict[str, list[Gain]] = defaultdict(list)
    for finding in sources.findings:
        rows: dict[str, list[Measurement]] = defaultdict(list)
        for part in finding.every_study:
            rows[part.study] += [by_id[each] for each in part.rows]
        for listed in finding.not_pooled:
            if all(part.study != listed.study for part in finding.every_study):
                rows[listed.study].append(by_id[listed.measurement])
        worth = _worth(components[finding.component], rules)
        for study, mine in sorted(rows.items()):
            how = status.get(study)
            found = _gain_in(finding, study, mine, how, worth, rules) if how and study not in twice else None
            if found is not None:
                gains[study].append(found)
    made: dict[str, tuple[Status, tuple[Gain, ...], tuple[str, ...]]] = {}
    for study, each in gains.items():
        how = status[study]
        assert how is not None
        places = tuple(dict.fromkeys(row.locator for row in by_study[study]))
        made[study] = (how, tuple(sorted(each, key=lambda gain: (-gain.gain, gain.number))), places)
    return made


def _unknown_gains(wanted: Wanted, rules: Rules) -> tuple[Gain, ...]:
    """Return the gains of a reference that does not say what it measured: so many fragile components are assumed."""
    limits, narrows, found = rules.reading_list, _narrowing(None, "fragile", wanted.key, None, rules), []
    for handling in wanted.handlings:
        gain = _handling_weight(handling, rules) * limits.chance_not_found * limits.unknown_components * narrows
        if gain > 0:
            found.append(Gain("", "", handling, "new question", narrows, 0.0, gain, None))
    return tuple(found)


def _wanted_gains(wanted: Wanted, sources: ReadingSources, rules: Rules) -> tuple[Gain, ...]:
    components = {component.id: component for component in sources.components}
    chance = rules.reading_list.chance_not_found
    if not wanted.components:
        return _unknown_gains(wanted, rules)
    found: list[Gain] = []
    for component in wanted.components:
        for handling in wanted.handlings:
            group = pooled_class("amount", components[component].outcome, components[component].wanted)
            weight = _handling_weight(handling, rules) * _worth(components[component], rules) * chance
            if group is None or not weight:
                continue
            fits = [
                each for each in sources.findings
                if each.component == component and each.group is not None
                and (each.handling == handling or each.handling.startswith(f"{handling}:"))
            ]  # fmt: skip
            # one paper measures one window of time: the finding it would tell most of stands for it
            open_to = [(_narrowing(each, each.group, wanted.key, None, rules), each) for each in fits if each.group]
            if open_to:
                narrows, best = max(open_to, key=lambda pair: (pair[0], pair[1].number))
                turns: Turns = "further figure" if best.figure_studies else "first figure"
                found.append(Gain(best.number, component, best.handling, turns, narrows, 0.0, weight * narrows, None))
            else:
                narrows = _narrowing(None, group, wanted.key, None, rules)
                found.append(Gain("", component, handling, "new question", narrows, 0.0, weight * narrows, None))
    return tuple(sorted(found, key=lambda gain: (-gain.gain, gain.component, gain.handling)))


def rank_papers(sources: ReadingSources, rules: Rules) -> tuple[ReadingListEntry, ...]:
    """Rank the papers not read in full, and the references not found, by what their tables would tell of drying.

    Papers that would bring nothing to a finding on drying or freezing are left out; references not found stay, last.
    """
    papers = {study.key: study for study in sources.studies}
    papers_gains = _studies_gains(sources, rules)
    drafts: list[tuple[str, Status, tuple[Gain, ...], tuple[str, ...], Wanted | None]] = [
        (key, status, gains, where, None) for key, (status, gains, where) in papers_gains.items()
    ]
    drafts += [
        (wanted.key, "not found", _wanted_gains(wanted, sources, rules), (), wanted)
        for wanted in sources.wanted
        if wanted.key not in papers_gains
    ]
    # nine digits: the same order on every machine
    drafts.sort(key=lambda draft: (-round(sum(gain.gain for gain in draft[2]), 9), draft[0]))
    return tuple(
        ReadingListEntry(
            rank=rank,
            key=key,
            status=status,
            gain=sum(gain.gain for gain in gains),
            gains=gains,
            reference=wanted.reference if wanted is not None else "",
            doi=papers[key].doi if key in papers else wanted.doi if wanted is not None else "",
            pmid=papers[key].pmid if key in papers else "",
            in_bibliography=key in papers,
            why=wanted.why if wanted is not None else "",
            where=where,
        )
        for rank, (key, status, gains, where, wanted) in enumerate(drafts, start=1)
    )
