"""What words need beside a finding: the rows, studies, components and cautions behind it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from sqlmodel import Session, col, select

from evidence.findings.finding import Finding
from evidence.model.tables import Caution, Component, EditionRecord, Measurement, Study
from evidence.store.connection import Store

__all__ = ["Library", "load_library"]


@dataclass(frozen=True)
class Library:
    """Look-ups by key for one edition; cautions in their printed order."""

    studies: dict[str, Study]
    components: dict[str, Component]
    measurements: dict[str, Measurement]
    cautions: tuple[Caution, ...]
    edition: EditionRecord

    def rows_of(self, finding: Finding) -> list[Measurement]:
        """Return all measurements of a finding, used or not, in order of their ids."""
        used = {row for study in finding.every_study for row in study.rows}
        used |= {each.measurement for each in finding.not_pooled}
        return [self.measurements[row] for row in sorted(used)]


def _wanted(findings: Iterable[Finding]) -> tuple[set[str], set[str]]:
    studies: set[str] = set()
    rows: set[str] = set()
    for finding in findings:
        for study in finding.every_study:
            studies.add(study.study)
            rows |= set(study.rows)
        for each in finding.not_pooled:
            studies.add(each.study)
            rows.add(each.measurement)
    return studies, rows


def load_library(store: Store, findings: Iterable[Finding] | None = None) -> Library:
    """Read the look-ups from the store: for some findings, or all of it."""
    with Session(store.engine, expire_on_commit=False) as session:
        studies, rows = select(Study), select(Measurement)
        components = select(Component)
        if findings is not None:
            chosen = list(findings)
            keys, ids = _wanted(chosen)
            studies = studies.where(col(Study.key).in_(keys))
            rows = rows.where(col(Measurement.id).in_(ids))
            components = components.where(col(Component.id).in_({finding.component for finding in chosen}))
        return Library(
            studies={study.key: study for study in session.exec(studies)},
            components={component.id: component for component in session.exec(components)},
            measurements={row.id: row for row in session.exec(rows)},
            cautions=tuple(session.exec(select(Caution).order_by(col(Caution.position)))),
            edition=session.exec(select(EditionRecord)).one(),
        )
