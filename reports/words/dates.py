"""Dates that pages carry."""

from __future__ import annotations

from datetime import date

from evidence.model.rules import Rules

__all__ = ["look_again"]


def look_again(read: date, rules: Rules) -> date:
    """Return the day after which a printed page should be replaced."""
    month = read.month - 1 + rules.pages.look_again_months
    return date(read.year + month // 12, month % 12 + 1, 1)
