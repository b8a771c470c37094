"""Dates in words."""

from __future__ import annotations

from datetime import date

from evidence.model.rules import Rules

__all__ = ["long_date", "look_again"]

_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip


def long_date(day: date) -> str:
    """Return a date as 3 May 2027."""
    return f"{day.day} {_MONTHS[day.month - 1]} {day.year}"


def look_again(read: date, rules: Rules) -> date:
    """Return the day after which a printed page should be replaced."""
    month = read.month - 1 + rules.pages.look_again_months
    return date(read.year + month // 12, month % 12 + 1, 1)
