"""Certainty set by hand, for clinicians: every review that was signed, whether it counts, with its reason."""

from __future__ import annotations

from datetime import date

from evidence.findings.finding import Finding
from reports.words.catalogue import Catalogue

__all__ = ["review_lines"]


def review_lines(finding: Finding, say: Catalogue) -> tuple[str, ...]:
    """Return a line for every review of an answer, oldest first; none where nobody signed one."""
    told: list[str] = []
    for review in finding.certainty.reviews:
        key = "before" if not review.counts else "counts_second" if review.second else "counts"
        told.append(
            say.say(
                f"review/{key}",
                computed=_level(review.computed, say),
                level=_level(review.certainty, say),
                by=review.by,
                second=review.second,
                reason=review.reason,
                date=say.date(date.fromisoformat(review.date)),
            )
        )
    return tuple(told)


def _level(level: str, say: Catalogue) -> str:
    return say.say(f"clinician_level/{level}").lower()
