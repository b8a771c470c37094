"""Which sums of steps the measurements identify, and the smallest measurement that would identify one they do not.

A path is a row of step counts, like a row of the design. It is identified if and only if it is a sum of measured rows:

    rank [X; target] = rank X        (the condition of an additive component model: welton2009, rucker2020)
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from evidence.synthesis.refusal import Floats, NoEstimate

__all__ = ["is_identified", "smallest_measurement"]


def _table(design: ArrayLike, columns: int) -> Floats:
    rows = np.asarray(design, dtype=np.float64)
    if rows.size == 0:
        return np.zeros((0, columns))
    if rows.ndim != 2 or rows.shape[1] != columns:
        raise NoEstimate(f"A design has one column a step: {columns} were expected.")
    if not np.all(np.isfinite(rows)):
        raise NoEstimate("A design holds a number that is not finite.")
    return rows


def _rank(rows: Floats) -> int:
    # days stand beside counts: columns are brought to one size first, so that the tolerance means the same in each
    size = np.max(np.abs(rows), axis=0, initial=0.0)
    kept = size > 0.0
    return int(np.linalg.matrix_rank(rows[:, kept] / size[kept])) if rows.size and np.any(kept) else 0


def is_identified(design: ArrayLike, target: ArrayLike) -> bool:
    """Return whether the target, shape (p,), is a sum of multiples of the rows of the design, shape (r, p); r may be 0.

    Raises NoEstimate where the shapes do not fit or a number is not finite.
    """
    wanted = np.asarray(target, dtype=np.float64)
    rows = _table(design, wanted.size)
    return _rank(np.vstack([rows, wanted])) == _rank(rows)


def smallest_measurement(design: ArrayLike, target: ArrayLike, candidates: Sequence[ArrayLike]) -> int | None:
    """Return the place of the first candidate that, once measured, identifies the target; None where none does.

    design (r, p), target (p,), candidates each (p,), the smallest first. A target already identified needs none, and
    None is returned too: ask is_identified first.
    """
    wanted = np.asarray(target, dtype=np.float64)
    rows = _table(design, wanted.size)
    if is_identified(rows, wanted):
        return None
    for place, candidate in enumerate(candidates):
        if is_identified(np.vstack([rows, np.asarray(candidate, dtype=np.float64)]), wanted):
            return place
    return None
