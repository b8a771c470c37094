"""Rows in words: what the paper printed, how many milks, what it was compared with."""

from __future__ import annotations

from evidence.model.tables import Measurement

__all__ = ["as_printed", "n_words", "read_in"]

_DIRECTIONS = {
    "decrease": "less",
    "increase": "more",
    "no change": "no clear change",
    "mixed": "less in some, not in others",
    "not detected": "not detected",
    "not tested": "not tested",
}
_BOUNDS = {
    "about": "about ",
    "at least": "at least ",
    "at most": "at most ",
    "up to": "up to ",
    "unclear": "(unclear) ",
}


def _spread(text: str, kind: str) -> str:
    if not text:
        return ""
    if ".." in text:
        return f" ({text.replace('..', ' to ')}, {kind})"
    return f" ± {text}" + (f" ({kind})" if kind else "")


def as_printed(row: Measurement) -> str:
    """Return a row's result as the paper prints it: means, percent, interval, P, words."""
    parts: list[str] = []
    bound = _BOUNDS.get(row.number_is, "")
    if row.baseline_mean or row.treated_mean:
        before = (row.baseline_mean or "?") + _spread(row.baseline_spread, row.spread_kind)
        after = (row.treated_mean or "?") + _spread(row.treated_spread, row.spread_kind)
        parts.append(f"{before} to {after} {row.unit}".strip())
    if row.retained_percent:
        parts.append(f"{bound}{row.retained_percent} % kept" + _spread(row.percent_spread, row.percent_spread_kind))
    elif row.change_percent:
        sign = "" if row.change_percent.startswith("-") else "+"
        parts.append(f"{bound}{sign}{row.change_percent} %" + _spread(row.percent_spread, row.percent_spread_kind))
    if row.diff_mean:
        parts.append(f"difference {row.diff_mean}{_spread(row.diff_spread, row.diff_kind)} {row.unit}".strip())
    if row.interval_low or row.interval_high:
        parts.append(f"{row.interval_low or '?'} to {row.interval_high or '?'} % ({row.interval_kind})")
    if row.p:
        parts.append("P not significant" if row.p == "ns" else f"P {row.p if row.p[0] in '<>=' else '= ' + row.p}")
    if row.in_words:
        parts.append(_DIRECTIONS[row.in_words])
    return "; ".join(parts).replace("-", "−") if not row.unit or "-" not in row.unit else "; ".join(parts)


def n_words(row: Measurement) -> str:
    """Return how many milks were measured, as printed: "20 mothers", "60 samples", "not stated"."""
    kinds = {"donors": "mothers", "pools": "pools", "samples": "samples", "replicates": "replicates", "not stated": ""}
    if row.n is None:
        return "pooled milk, number not stated" if row.n_kind == "pools" else "not stated"
    text = f"{row.n} {kinds[row.n_kind]}".strip()
    if row.n_mothers is not None and row.n_kind != "donors":
        text += f" of {row.n_mothers} mothers"
    return text


def read_in(row: Measurement) -> str:
    """Return where a row was read: "abstract, results"."""
    if not row.locator or row.locator.startswith(row.read_from):
        return row.locator or row.read_from
    return f"{row.read_from}: {row.locator}"
