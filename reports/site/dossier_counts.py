"""What an edition holds, counted for the dossier: where every row stands, what was read, how well studies report."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from evidence.findings.finding import Finding, Said
from evidence.model.tables import Appraisal, Measurement, Study

__all__ = ["RowsCounted", "answered", "read_from", "rows_counted"]


@dataclass(frozen=True)
class RowsCounted:
    """Every row once: as a number, a limit, words, listed for a reason, or as two handled milks set side by side.

    Each holds the ids of its rows; listed is by reason, the reason that holds back most rows first.
    """

    figures: frozenset[str]
    bounds: frozenset[str]
    words: frozenset[str]
    listed: tuple[tuple[str, frozenset[str]], ...]
    between: frozenset[str]


def rows_counted(rows: Iterable[Measurement], findings: Sequence[Finding]) -> RowsCounted:
    """Return where every row stands; a row that could stand in two places stands in the first of their order."""
    figures: set[str] = set()
    bounds: set[str] = set()
    words: set[str] = set()
    listed: dict[str, str] = {}
    for finding in findings:
        for each in finding.every_study:
            kept = words if isinstance(each, Said) else figures if each.kind == "figure" else bounds
            kept |= set(each.rows)
        for left in finding.not_pooled:
            listed.setdefault(left.measurement, left.reason)
    bounds -= figures
    words -= figures | bounds
    every = {row.id for row in rows}
    by_reason: dict[str, set[str]] = {}
    for row, reason in listed.items():
        if row not in figures | bounds | words:
            by_reason.setdefault(reason, set()).add(row)
    told = figures | bounds | words | set(listed)
    ordered = sorted(by_reason.items(), key=lambda item: (-len(item[1]), item[0]))
    return RowsCounted(
        frozenset(figures), frozenset(bounds), frozenset(words),
        tuple((reason, frozenset(ids)) for reason, ids in ordered), frozenset(every - told),
    )  # fmt: skip


def read_from(rows: Iterable[Measurement]) -> dict[str, tuple[int, int]]:
    """Return rows and studies by what they were read from; reviews together, most rows first."""
    found: dict[str, list[Measurement]] = {}
    for row in rows:
        found.setdefault("review" if row.read_from.startswith("review") else row.read_from, []).append(row)
    counted = {kind: (len(mine), len({row.study for row in mine})) for kind, mine in found.items()}
    return dict(sorted(counted.items(), key=lambda item: (-item[1][0], item[0])))


def answered(appraisals: Iterable[Appraisal], studies: Mapping[str, Study]) -> dict[str, Counter[str]]:
    """Return the answers to every appraisal question, of identified studies."""
    found: dict[str, Counter[str]] = {}
    for each in appraisals:
        if each.study in studies and studies[each.study].completeness != "unidentified":
            found.setdefault(each.question, Counter())[each.answer] += 1
    return found
