"""What the check says of a claim, and which of several claims in one sentence is the worst."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any, Literal

from evidence.findings.finding import Finding

__all__ = ["KINDS", "TO_CHANGE", "VERDICTS", "Judgement", "Kind", "Verdict", "worst"]

Kind = Literal["retention", "content", "comparison", "health", "safety", "endorsement", "process", "opinion"]
Verdict = Literal["supported", "too_far", "contradicted", "no_evidence", "vague", "none"]

VERDICTS: tuple[Verdict, ...] = ("contradicted", "too_far", "no_evidence", "vague", "supported", "none")
KINDS: tuple[Kind, ...] = (
    "safety", "health", "endorsement", "retention", "comparison", "content", "process", "opinion",
)  # fmt: skip
# a promise that a study denies, that no study makes, or that nobody has measured: a page with one is not ready. What is
# vague is shown and stops nothing: it promises nothing that could be held against a number.
TO_CHANGE: frozenset[Verdict] = frozenset({"contradicted", "too_far", "no_evidence"})


@dataclass(frozen=True)
class Judgement:
    """One claim judged: why and wording are keys of the claims catalogue with their values.

    wording None: the sentence may stand as it is; "finding": the first finding's own shortest wording.
    """

    kind: Kind
    verdict: Verdict
    why: str
    wording: str | None = None
    component: str | None = None
    handling: str | None = None
    findings: tuple[Finding, ...] = ()
    values: dict[str, Any] = field(default_factory=dict)


def worst(judged: Iterable[Judgement]) -> Judgement:
    """Return the judgement with the worst verdict; among equals the kind that can do most harm."""
    return min(judged, key=lambda each: (VERDICTS.index(each.verdict), KINDS.index(each.kind)))
