"""The stores in which times carry a rate of loss, over the components that parents ask about."""

from __future__ import annotations

from evidence.findings.path_store import path_evidence
from evidence.findings.storage import StoreAnswer, may_fit, store_answer, stores_of, timed_figures
from evidence.store.connection import Store

__all__ = ["fitted_stores"]


def fitted_stores(store: Store) -> tuple[StoreAnswer, ...]:
    """Return the fitted answers by component and store; the store must hold evidence (ensure_evidence)."""
    evidence = path_evidence(store)
    found: list[StoreAnswer] = []
    for key, component in sorted(evidence.components.items()):
        if component.question_worthy != "1":
            continue
        for strand in evidence.strands(key):
            prior = evidence.priors.get(strand.group) if strand.group is not None else None
            if prior is None:
                continue
            found += [
                store_answer(strand, place, prior, evidence.rules)
                for place in stores_of(strand)
                if may_fit(timed_figures(strand, place), evidence.rules.storage)
            ]
    return tuple(found)
