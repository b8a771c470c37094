"""Rows within studies, three levels: y_ij = mu + u_j + w_ij + e_ij, u ~ N(0, tau2), w ~ N(0, tau2_within), e ~ N(0, V).

S = V + tau2_within I + tau2 Z Z' (Z: which study a row is of), P = S^-1 - S^-1 1 1' S^-1 / (1' S^-1 1). Both variances
by restricted maximum likelihood: the highest point of -1/2 (ln det S + ln 1'S^-1 1 + y'Py), by Fisher scoring,

    slope_a = (y'P K_a P y - tr P K_a) / 2,   information_ab = tr(P K_a P K_b) / 2,   K = ZZ' or I

from several starts, each variance held at 0 where its slope points below (vandennoortgate2013 for the model). The mean
is generalised least squares; its interval uses t with k - 1 degrees of freedom, k the studies: common practice, no
source. A new study's row lies about mu with tau2 + tau2_within + se^2, t(k - 2), k >= 3, after higgins2009.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import chdtrc, stdtrit

from evidence.synthesis.refusal import Floats, NoEstimate
from evidence.synthesis.row_blocks import RowBlocks

__all__ = ["ThreeLevelEstimate", "three_level"]

_STARTS = (0.0, 0.05, 0.5, 2.5)  # shares of the spread between rows
_REFINED = 2  # of the best starts
_MOST_STEPS = 500
_SETTLED = 1e-20  # what a step may still gain in log likelihood
_NOISE = 1e-13  # by which rounding may lower a log likelihood, relative
_HALVINGS = 60


@dataclass(frozen=True)
class ThreeLevelEstimate:
    """Rows of k >= 2 studies pooled at three levels, on the scale of the effects given.

    Attributes:
        estimate: the pooled mean.
        se: its standard error.
        ci_low, ci_high: its interval, t with df degrees of freedom.
        df: k_studies - 1.
        tau2: variance between studies.
        tau2_within: variance between rows of one study; None where no study has two rows, for tau2 then holds both.
        q: weighted squares of all rows about their common-effect mean; q_p its upper-tail probability on k_rows - 1.
        q_p: see q.
        i2: max(0, (q - (k_rows - 1)) / q).
        prediction_low, prediction_high: where the true effect behind a row of a new study may lie; None below three.
        k_studies: studies.
        k_rows: rows.
    """

    estimate: float
    se: float
    ci_low: float
    ci_high: float
    df: float
    tau2: float
    tau2_within: float | None
    q: float
    q_p: float
    i2: float
    prediction_low: float | None
    prediction_high: float | None
    k_studies: int
    k_rows: int


@dataclass(frozen=True)
class _Fit:
    """The mean, and the restricted likelihood, at one pair of variances."""

    mean: float
    precision: float
    squares: float
    loglik: float
    inverses: tuple[Floats, ...]


@dataclass(frozen=True)
class _Slopes:
    """Slopes, shape (2,), and information, (2, 2), of the restricted likelihood: tau2, then tau2_within."""

    slopes: Floats
    information: Floats


def three_level(rows: RowBlocks, *, level: float = 0.95) -> ThreeLevelEstimate:
    """Pool rows of two studies or more at three levels. Raises NoEstimate. Formulas: at the top of this file."""
    if not 0.0 < level < 1.0:
        raise NoEstimate(f"The level of an interval lies between 0 and 1, not {level!r}.")
    k = rows.k_studies
    if k < 2:
        raise NoEstimate("One study cannot show how much studies differ: three levels need at least two.")
    separable = bool(np.any(np.bincount(rows.study) > 1))
    variances = _variances(rows, separable)
    at, without = _fit(rows, variances), _fit(rows, np.zeros(2))
    se, upper = math.sqrt(1.0 / at.precision), 0.5 + level / 2.0
    reach = float(stdtrit(k - 1, upper)) * se
    beyond = float(stdtrit(k - 2, upper)) * math.sqrt(float(np.sum(variances)) + se * se) if k >= 3 else None
    q, q_df = without.squares, rows.k_rows - 1
    return ThreeLevelEstimate(
        estimate=at.mean,
        se=se,
        ci_low=at.mean - reach,
        ci_high=at.mean + reach,
        df=float(k - 1),
        tau2=float(variances[0]),
        tau2_within=float(variances[1]) if separable else None,
        q=q,
        q_p=float(chdtrc(q_df, q)),
        i2=(q - q_df) / q if q > q_df else 0.0,
        prediction_low=None if beyond is None else at.mean - beyond,
        prediction_high=None if beyond is None else at.mean + beyond,
        k_studies=k,
        k_rows=rows.k_rows,
    )


def _fit(rows: RowBlocks, variances: Floats) -> _Fit:
    """Return mean and restricted likelihood at tau2 and tau2_within, shape (2,)."""
    # Differences from one row keep their digits whatever the effects have in common.
    anchor = float(rows.log_ratio[0])
    inverses, precision, sum_y, log_det = [], 0.0, 0.0, 0.0
    for batch in rows.batches:
        total = batch.covariance + variances[0] * batch.together + variances[1] * np.eye(batch.row.shape[1])
        roots = np.linalg.cholesky(total)
        log_det += 2.0 * float(np.sum(np.log(np.einsum("bii->bi", roots))))
        inverse = np.linalg.inv(total)
        inverses.append(0.5 * (inverse + np.swapaxes(inverse, 1, 2)))
        pull = np.sum(inverses[-1], axis=2)
        precision += float(np.sum(pull))
        sum_y += float(np.sum(pull * (batch.log_ratio - anchor)))
    shift, squares = sum_y / precision, 0.0
    for batch, inverse in zip(rows.batches, inverses, strict=True):
        residual = batch.log_ratio - anchor - shift
        squares += float(np.sum(residual * _times(inverse, residual)))
    loglik = -0.5 * (log_det + math.log(precision) + squares)
    return _Fit(anchor + shift, precision, squares, loglik, tuple(inverses))


def _slopes(rows: RowBlocks, at: _Fit) -> _Slopes:
    slopes, information, first, second = np.zeros(2), np.zeros((2, 2)), np.zeros(2), np.zeros((2, 2))
    for batch, inverse in zip(rows.batches, at.inverses, strict=True):
        scaled = _times(inverse, batch.log_ratio - at.mean)  # P y
        pull = np.sum(inverse, axis=2)
        # K is ZZ', then I.
        moved = (_times(batch.together, pull), pull)
        products = (inverse @ batch.together, inverse)
        fits = (np.sum(scaled * _times(batch.together, scaled)), np.sum(scaled * scaled))
        for a in range(2):
            slopes[a] += float(fits[a]) - float(np.einsum("bii->", products[a]))
            first[a] += float(np.sum(pull * moved[a]))
            for b in range(2):
                information[a, b] += float(np.einsum("bij,bji->", products[a], products[b]))
                second[a, b] += float(np.sum(moved[a] * _times(inverse, moved[b])))
    slopes += first / at.precision
    information += np.outer(first, first) / at.precision**2 - 2.0 * second / at.precision
    return _Slopes(0.5 * slopes, 0.5 * information)


def _times(matrices: Floats, vectors: Floats) -> Floats:
    """Return each matrix times its vector; shapes (b, m, m), (b, m)."""
    products: Floats = np.matmul(matrices, vectors[:, :, None])[:, :, 0]
    return products


def _variances(rows: RowBlocks, separable: bool) -> Floats:
    """Return tau2 and tau2_within at the highest restricted likelihood; tau2_within 0 where not separable."""
    spread = float(np.var(rows.log_ratio))
    if spread == 0.0:
        return np.zeros(2)
    shares = [(one, two) for one in _STARTS for two in (_STARTS if separable else (0.0,))]
    starts = [spread * np.array(pair) for pair in shares]
    starts.sort(key=lambda start: -_fit(rows, start).loglik)
    free = np.array([True, separable])
    ends = [_climb(rows, start, free) for start in starts[:_REFINED]]
    return max(ends, key=lambda end: (_fit(rows, end).loglik, -float(np.sum(end))))


def _climb(rows: RowBlocks, start: Floats, free: NDArray[np.bool_]) -> Floats:
    """Return the peak reached from start by Fisher's steps, halved until they climb, variances never below 0."""
    variances, at = start, _fit(rows, start)
    for _ in range(_MOST_STEPS):
        way = _slopes(rows, at)
        moving = free & ((variances > 0.0) | (way.slopes > 0.0))
        step = np.zeros(2)
        if np.any(moving):
            step[moving] = np.linalg.lstsq(way.information[np.ix_(moving, moving)], way.slopes[moving], rcond=None)[0]
        if float(step @ way.slopes) <= _SETTLED:
            break
        for _ in range(_HALVINGS):
            after = np.maximum(variances + step, 0.0)
            found = _fit(rows, after)
            if found.loglik >= at.loglik - _NOISE * (1.0 + abs(at.loglik)):
                break
            step *= 0.5
        else:
            break
        if np.array_equal(after, variances):
            break
        variances, at = after, found
    return variances
