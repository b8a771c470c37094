"""Several rows of one study in one question become one estimate.

Rows of the same milks err together: cov(y_i, y_j) = rho se_i se_j. For the plain mean of r rows

    var = sum_ij R_ij se_i se_j / r^2 = ((1 - rho) sum(se_i^2) + rho (sum se_i)^2) / r^2,    R_ii = 1, R_ij = rho

and, since ln(se) of the mean moves by a_i = se_i sum_j(R_ij se_j) / (r^2 var) when ln(se_i) moves by one (the a_i sum
to 1), its SD is u = sum(a_i u_i): the rows' doubts about their se are taken as shared, the cautious end.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from evidence.synthesis.refusal import Floats, NoEstimate, as_numbers

__all__ = ["StudyEstimates", "combine_within_studies"]


@dataclass(frozen=True)
class StudyEstimates:
    """One estimate a study, studies in the order of their names.

    Attributes:
        study: names, length k.
        log_ratio: shape (k,), plain means of the rows.
        se: shape (k,), their standard errors.
        u: shape (k,), SD of ln(se).
        rows: how many rows each came from, length k.
    """

    study: tuple[str, ...]
    log_ratio: Floats
    se: Floats
    u: Floats
    rows: tuple[int, ...]


def combine_within_studies(
    study: Sequence[str], log_ratio: ArrayLike, se: ArrayLike, u: ArrayLike, *, rho: float
) -> StudyEstimates:
    """Return one estimate a study from rows in any order.

    study: n names; log_ratio, se, u: shape (n,), se above 0, u not below 0; rho: correlation between the errors of two
    rows of one study, 0 to 1. Raises NoEstimate. Formulas: at the top of this file; delta method for u.
    """
    values, errors, doubts = as_numbers(log_ratio, "log_ratio"), as_numbers(se, "se"), as_numbers(u, "u")
    if not len(study) == values.size == errors.size == doubts.size:
        raise NoEstimate("study, log_ratio, se and u must be equally many.")
    if not 0.0 <= rho <= 1.0:
        raise NoEstimate(f"The correlation between rows of one study lies between 0 and 1, not {rho!r}.")
    if np.any(errors <= 0.0) or np.any(doubts < 0.0):
        raise NoEstimate("A standard error must be above zero, and u must not be negative.")
    names, of_row = np.unique(np.array([str(name) for name in study]), return_inverse=True)
    order = np.lexsort((doubts, errors, values, of_row))
    of_row, values, errors, doubts = of_row[order], values[order], errors[order], doubts[order]

    def per_study(amount: Floats) -> Floats:
        """Return the sum of amount, shape (n,), over each study's rows, shape (k,)."""
        return np.bincount(of_row, weights=amount, minlength=names.size).astype(np.float64)

    rows = np.bincount(of_row, minlength=names.size)
    total = per_study(errors)
    variance = ((1.0 - rho) * per_study(errors**2) + rho * total**2) / rows**2
    pull = errors * ((1.0 - rho) * errors + rho * total[of_row])
    doubt = per_study(pull * doubts) / per_study(pull)
    return StudyEstimates(
        study=tuple(str(name) for name in names),
        log_ratio=per_study(values) / rows,
        se=np.sqrt(variance),
        u=doubt,
        rows=tuple(int(number) for number in rows),
    )
