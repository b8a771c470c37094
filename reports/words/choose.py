"""Which findings stand on which sheet, and which of several leads."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence

from evidence.findings.finding import Finding
from evidence.model.tables import Measurement
from reports.words.handlings import family, load_handlings

__all__ = [
    "DRYING",
    "FREEZING",
    "by_component",
    "has_sheet",
    "in_page_order",
    "leading",
    "on_drying_or_freezing",
    "rows_between",
    "studies_between",
]

DRYING, FREEZING = "freeze-dried", "frozen:home"
_SHEET_STEPS = ("freeze-dried", "spray-dried", "frozen", "kept")
# where studies are equally many: an amount says more to a parent than an activity; weeks are a freezer's usual case
_MEASURES = ("amount", "capacity", "activity", "count", "marker", "share", "physical")
_WINDOWS = ("9-45", "46-120", "to-8", "over-120", "not-stated")


def has_sheet(rows: Iterable[Measurement]) -> bool:
    """Return whether a component has at least one row on drying or freezing, and so a sheet."""
    return any(step in row.handling for row in rows for step in _SHEET_STEPS)


def on_drying_or_freezing(finding: Finding) -> bool:
    """Return whether a finding's handling dries, freezes, thaws or keeps powder: what a sheet shows in full."""
    return any(step in finding.handling for step in (*_SHEET_STEPS, "thawed"))


def by_component(findings: Iterable[Finding]) -> dict[str, list[Finding]]:
    """Return the findings by component."""
    grouped: dict[str, list[Finding]] = defaultdict(list)
    for finding in findings:
        grouped[finding.component].append(finding)
    return dict(grouped)


def studies_between(rows: Iterable[Measurement], kind: str) -> int:
    """Return how many studies compared two handled milks on a kind of handling; rows are those no finding uses."""
    return len({row.study for row in rows_between(rows, kind)})


def rows_between(rows: Iterable[Measurement], kind: str) -> list[Measurement]:
    """Return the rows of those studies."""
    step = kind.split(":")[0]
    return [row for row in rows if step in row.handling]


def _window_rank(handling: str) -> int:
    return next((rank for rank, window in enumerate(_WINDOWS) if f":{window}d" in handling), len(_WINDOWS))


def leading(findings: Sequence[Finding], kind: str) -> list[Finding]:
    """Return the findings of one kind of handling, the one to lead first: most figures, then most studies.

    A freezer whose temperature a paper does not state counts as a household one here, and its sentence says so.
    """
    kinds = (FREEZING, "frozen:not-stated") if kind == FREEZING else (kind,)
    mine = [finding for finding in findings if family(finding.handling) in kinds]
    return sorted(
        mine,
        key=lambda finding: (
            -len(finding.figure_studies),
            finding.state == "listed_only",
            -len(finding.studies) - len(finding.said),
            _MEASURES.index(finding.measured_as),
            _window_rank(finding.handling),
            finding.number,
        ),
    )


def in_page_order(findings: Iterable[Finding]) -> list[Finding]:
    """Return findings in the order of side 2: drying first, then what comes before it."""
    known = load_handlings()

    def place(finding: Finding) -> tuple[int, int, str]:
        kind = family(finding.handling)
        return (known[kind].order if kind in known else 90, -len(finding.figure_studies), finding.number)

    return sorted(findings, key=place)
