"""The order in which answers stand on a page: by kind of handling, then by time; never by how much is left."""

from __future__ import annotations

from collections.abc import Iterable

from evidence.findings.finding import Finding
from reports.words.handlings import family, load_handlings

__all__ = ["from_time", "handling_place", "in_order_of_time"]

_LAST, _UNSTATED = 9999.0, 99999.0


def from_time(handling: str) -> float:
    """Return where a handling's window of time begins, so that windows stand in order; not stated comes last."""
    low, _, _ = handling.rpartition(":")[2].removesuffix("d").removesuffix("h").partition("-")
    return {"to": 0.0, "over": _LAST}.get(low, float(low) if low.isdigit() else _UNSTATED)


def handling_place(handling: str) -> tuple[int, float, str]:
    """Return where a handling stands: by kind, then by time."""
    kind, known = family(handling), load_handlings()
    return (known[kind].order if kind in known else len(known)), from_time(handling), handling


def in_order_of_time(findings: Iterable[Finding]) -> list[Finding]:
    """Return findings by kind of handling and time."""
    return sorted(findings, key=lambda finding: (handling_place(finding.handling), finding.number))
