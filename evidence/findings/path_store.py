"""The store's evidence made ready for paths: strands of every component, and the heterogeneity their classes share."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from evidence.findings.edition import kept_tau
from evidence.findings.lent_spread import with_spreads
from evidence.findings.path import PathAnswer, answer_path
from evidence.findings.path_rows import Strand, make_strands
from evidence.handling import Chain
from evidence.model.lists import PooledClass
from evidence.model.rules import Rules, load_rules
from evidence.model.tables import Component, Measurement, Overlap, Study
from evidence.store.connection import Store
from evidence.store.reading import all_rows, edition, measurements_of
from evidence.synthesis import TauPrior

__all__ = ["PathEvidence", "path_evidence"]


@dataclass(frozen=True)
class PathEvidence:
    """Everything paths are answered from; strands are made when a component is asked for."""

    components: Mapping[str, Component]
    rows: Mapping[str, Sequence[Measurement]]
    overlaps: Sequence[Overlap]
    uncitable: frozenset[str]
    priors: Mapping[PooledClass, TauPrior]
    rules: Rules

    def strands(self, component: str) -> tuple[Strand, ...]:
        """Return the strands of a component."""
        rows = self.rows.get(component, ())
        return make_strands(self.components[component], rows, self.overlaps, self.uncitable, self.rules)

    def _peers(self, component: str) -> tuple[Strand, ...]:
        mine = self.components[component]
        same = [each.id for each in self.components.values() if each.group == mine.group and each.id != component]
        return tuple(strand for each in sorted(same) for strand in self.strands(each))

    def answer(self, component: str, chain: Chain, *, thorough: bool = True) -> PathAnswer:
        """Answer one component along a chain. Raises HandlingError where the chain does nothing to the milk."""
        peers = self._peers(component) if self.rules.path.group_fallback else ()
        return answer_path(
            component, chain, self.strands(component), self.priors, self.rules, peers=peers, thorough=thorough
        )


# an edition's evidence is the same wherever it lies: read once a process, the two used last kept
_READ: dict[str, PathEvidence] = {}
_MOST_KEPT = 2


def path_evidence(store: Store, component: str | None = None) -> PathEvidence:
    """Read the evidence of a store that ensure_evidence has filled: all of it, or the rows of one component only."""
    there = edition(store)
    assert there is not None, "ensure_evidence comes first"
    rules = load_rules()
    if component is not None and not rules.path.group_fallback and there.hash not in _READ:
        return _read(store, rules, component)
    if there.hash not in _READ:
        while len(_READ) >= _MOST_KEPT:
            del _READ[next(iter(_READ))]
        _READ[there.hash] = _read(store, rules, None)
    return _READ[there.hash]


def _read(store: Store, rules: Rules, component: str | None) -> PathEvidence:
    rows: dict[str, list[Measurement]] = defaultdict(list)
    for row in measurements_of(store, component):
        rows[row.component].append(row)
    kept = kept_tau(store)
    rules = with_spreads(rules, {group: each.spread for group, each in kept.items()})
    return PathEvidence(
        {each.id: each for each in all_rows(store, Component)},
        rows,
        all_rows(store, Overlap),
        frozenset(study.key for study in all_rows(store, Study) if study.completeness == "unidentified"),
        {group: each.prior() for group, each in kept.items()},
        rules,
    )
