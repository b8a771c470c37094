"""How sure anyone can be once named reviewers have spoken: nothing is edited, and upwards only with a second name."""

from __future__ import annotations

from collections.abc import Sequence
from typing import cast

from evidence.findings.finding import Certainty, Level, Review
from evidence.model.lists import CERTAINTY_LEVELS
from evidence.model.tables import Override

__all__ = ["may_stand", "raises", "reviewed"]


def raises(certainty: str, computed: str) -> bool:
    """Return whether a level is surer than another."""
    return CERTAINTY_LEVELS.index(certainty) < CERTAINTY_LEVELS.index(computed)


def may_stand(certainty: str, computed: str, by: str, second: str, second_no_interest: str) -> bool:
    """Return whether a review has the names it needs: one to lower, a second without interest to raise."""
    other = " ".join(second.split()).casefold()
    return not raises(certainty, computed) or (
        bool(other) and other != " ".join(by.split()).casefold() and second_no_interest == "yes"
    )


def _serial(identity: str) -> int:
    return int(identity.rpartition("-r")[2])


def reviewed(computed: Certainty, overrides: Sequence[Override]) -> Certainty:
    """Return the certainty that the newest review sets; all reviews stay with it, oldest first.

    Where the figures have changed since it was signed, the lower of the two levels stands, and the review counts only
    where it is the lower. One that lacks a name it needs never counts.
    """
    if not overrides:
        return computed
    signed = sorted(overrides, key=lambda each: (each.date, _serial(each.id)))
    last = signed[-1]
    stands = may_stand(last.certainty, computed.level, last.by, last.second, last.second_no_interest)
    if last.computed != computed.level and raises(last.certainty, computed.level):
        stands = False
    level = cast(Level, last.certainty) if stands else computed.level
    reviews = tuple(
        Review(
            certainty=cast(Level, each.certainty),
            computed=cast(Level, each.computed),
            by=each.by,
            reason=each.reason,
            date=each.date,
            second=each.second if each.second_no_interest == "yes" else "",
            counts=stands and each is last,
        )
        for each in signed
    )
    return Certainty(level, computed.steps, computed.level, reviews)
