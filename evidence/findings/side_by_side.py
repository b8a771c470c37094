"""Which handlings one study measured on the same milk: computed from the rows, never from two papers' figures."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from evidence.findings.finding import Finding, Said, StudyEstimate
from evidence.model.tables import Measurement

__all__ = ["MeasuredTogether", "measured_together"]

_Found = tuple[Finding, StudyEstimate | Said]


@dataclass(frozen=True)
class MeasuredTogether:
    """One study that measured several handlings against milk handled the same way before.

    found: each handling's finding with what the study says of it, in given order. same_milk: the study says that each
    treated milk came from the milk it was compared with; False where it leaves that open.
    """

    study: str
    found: tuple[_Found, ...]
    same_milk: bool


def measured_together(
    findings: Sequence[Finding], measurements: Mapping[str, Measurement]
) -> tuple[MeasuredTogether, ...]:
    """Return the studies that measured two or more of the findings' handlings together; those on the same milk first.

    Rows count together that are of one study, one form and kind of measure, and have the same chain as baseline. Rows
    on separate milks compare nothing here.
    """
    same: dict[tuple[str, str, str, str], list[_Found]] = defaultdict(list)
    every: dict[tuple[str, str, str, str], list[_Found]] = defaultdict(list)
    for finding in findings:
        for each in finding.every_study:
            rows = [measurements[row] for row in each.rows]
            for baseline in dict.fromkeys(row.baseline for row in rows if row.design != "separate milk"):
                key = (each.study, finding.form, finding.measured_as, baseline)
                every[key].append((finding, each))
                if all(row.design == "same milk" for row in rows if row.baseline == baseline):
                    same[key].append((finding, each))
    together = []
    for key, found in every.items():
        known = _several(same[key])
        if known or _several(found):
            together.append(MeasuredTogether(key[0], tuple(same[key] if known else found), known))
    return tuple(sorted(together, key=lambda each: (not each.same_milk, each.study)))


def _several(found: Sequence[_Found]) -> bool:
    return len({finding.handling for finding, _ in found}) > 1
