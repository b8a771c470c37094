"""The reading list of a store: its findings and rows, and the references that were not found."""

from __future__ import annotations

from evidence.findings.edition import findings
from evidence.findings.reading_list import ReadingListEntry, ReadingSources, rank_papers
from evidence.findings.wanted import read_wanted
from evidence.model.rules import load_rules
from evidence.model.tables import Component, Measurement, Overlap, Study
from evidence.store.connection import Store
from evidence.store.reading import all_rows

__all__ = ["reading_list"]


def reading_list(store: Store) -> tuple[ReadingListEntry, ...]:
    """Return the papers to get hold of, the most telling first; the store must hold evidence (ensure_evidence)."""
    components = all_rows(store, Component)
    sources = ReadingSources(
        findings(store),
        all_rows(store, Measurement),
        all_rows(store, Study),
        components,
        all_rows(store, Overlap),
        read_wanted({component.id for component in components}),
    )
    return rank_papers(sources, load_rules())
