"""Windows of time: the names under which times in a store are told apart (rules.toml, bands)."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

__all__ = ["NOT_STATED", "window"]

NOT_STATED = "not-stated"


def window(low: float | None, high: float | None, edges: Sequence[float]) -> str:
    """Return the window a time falls into: to-8, 9-45, 46-120, over-120, or not-stated.

    A bound from above counts at its end, as milk kept "up to 90 days" is measured there; a range that spans windows is
    not told apart and counts as not stated.
    """
    if high is None:
        return f"over-{edges[-1]:g}" if low is not None and low >= edges[-1] else NOT_STATED
    names = [f"to-{edges[0]:g}"]
    names += [f"{int(a) + 1}-{b:g}" for a, b in pairwise(edges)]
    names.append(f"over-{edges[-1]:g}")

    def place(value: float) -> int:
        return next((i for i, edge in enumerate(edges) if value <= edge), len(edges))

    if low is not None and place(low) != place(high):
        return NOT_STATED
    return names[place(high)]
