"""The classical random-effects line for studies whose errors are correlated: y ~ N(mu 1, V + tau2 I), V known.

mu drops out of the differences L'y, L an orthonormal basis of what is orthogonal to 1. With L'VL = U diag(m) U' and
c = U'L'y, everything classical.py computes from studies becomes a sum over the k - 1 pairs (c, m):

    Q(tau2) = sum(c^2 / (m + tau2)),   fit = sum(c^2 / (m + tau2)^2),   trace = sum(1 / (m + tau2))
    DerSimonian-Laird  max(0, (Q - (k - 1)) / trace) at 0      Paule-Mandel, Q-profile  Q(tau2) = target
    REML               the highest point of -1/2 sum(ln(m + tau2) + c^2 / (m + tau2)); its slope is (fit - trace) / 2

The mean and its variance: generalised least squares (aitken1936). Intervals and prediction: as in classical.py.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.linalg import cho_solve, cholesky, eigh
from scipy.special import chdtrc, gammaincinv, ndtri, stdtrit

from evidence.synthesis.classical import INTERVALS, PooledEstimate, pool
from evidence.synthesis.heterogeneity import ESTIMATORS
from evidence.synthesis.refusal import LARGEST_VARIANCE, SMALLEST_VARIANCE, Floats, NoEstimate, as_numbers

__all__ = ["Differences", "as_covariance", "differences_of", "generalised_mean", "pool_with_covariance"]

# Below this (largest eigenvalue 1) fewer than six digits of an answer would be certain; a limit of the arithmetic.
_LEAST_EIGENVALUE = 1e-10
_SYMMETRY = 1e-9  # two entries that differ by more of their variances were not meant to be one number
_SEARCH_POINTS = 200
_MOST_STEPS = 200


@dataclass(frozen=True)
class Differences:
    """What the differences between k studies say about tau2.

    Attributes:
        contrast: shape (k - 1,), uncorrelated differences c.
        variance: shape (k - 1,), their sampling variances m, rising.
    """

    contrast: Floats
    variance: Floats

    def q(self, tau2: float) -> float:
        """Return Q(tau2)."""
        return float(np.sum(self.contrast**2 / (self.variance + tau2)))

    def loglik(self, tau2: ArrayLike) -> Floats:
        """Return the restricted log likelihood, but for a constant; tau2: shape (t,), result too."""
        total = self.variance + np.asarray(tau2, dtype=np.float64)[:, None]
        result: Floats = -0.5 * np.sum(np.log(total) + self.contrast**2 / total, axis=1)
        return result

    def slope(self, tau2: Floats) -> Floats:
        """Return fit - trace, twice the slope of the restricted log likelihood; tau2: shape (t,), result too."""
        weight = 1.0 / (self.variance + tau2[:, None])
        result: Floats = np.sum((self.contrast * weight) ** 2, axis=1) - np.sum(weight, axis=1)
        return result

    def where_q_is(self, target: float) -> float:
        """Solve Q(tau2) = target by Newton's steps on 1 / Q (concave), or return 0 if Q(0) is not above it."""
        tau2 = 0.0
        for _ in range(_MOST_STEPS):
            q = self.q(tau2)
            if q <= target:
                break
            fit = float(np.sum((self.contrast / (self.variance + tau2)) ** 2))
            step = (1.0 / target - 1.0 / q) * q * q / fit
            if tau2 + step == tau2:
                break
            tau2 += step
        return tau2

    def tau2(self, estimator: str) -> float:
        """Return tau2 by reml, dl or pm."""
        df = float(self.contrast.size)
        if estimator == "dl":
            return max(0.0, (self.q(0.0) - df) / float(np.sum(1.0 / self.variance)))
        return self.where_q_is(df) if estimator == "pm" else self._reml()

    def _reml(self) -> float:
        """Find every peak of the restricted likelihood by the sign of its slope; return the highest."""
        spread = float(np.mean(self.contrast**2))
        # From here on the slope is negative: fit <= sum(c^2) / tau2^2, trace >= (k - 1) 2 / (3 tau2).
        top = 2.0 * max(spread, float(self.variance[-1]))
        points = np.concatenate(([0.0], np.geomspace(1e-6 * float(self.variance[0]), top, _SEARCH_POINTS)))
        rising = self.slope(points) > 0.0
        peaks = [] if rising[0] else [0.0]
        for turn in np.flatnonzero(rising[:-1] & ~rising[1:]):
            peaks.append(self._peak(float(points[turn]), float(points[turn + 1])))
        heights = self.loglik(peaks)
        return peaks[int(np.argmax(heights))]

    def _peak(self, left: float, right: float) -> float:
        """Return the peak in between: Newton's steps on trace / fit = 1, halving where they do not shrink."""
        tau2, before = 0.5 * (left + right), math.inf
        for _ in range(_MOST_STEPS):
            weight = 1.0 / (self.variance + tau2)
            pull = (self.contrast * weight) ** 2
            fit, trace = float(np.sum(pull)), float(np.sum(weight))
            if fit > trace:
                left = tau2
            else:
                right = tau2
            rate = trace / fit * (2.0 * float(np.sum(pull * weight)) / fit - float(np.sum(weight**2)) / trace)
            step = (1.0 - trace / fit) / rate if rate > 0.0 else math.inf
            if abs(step) <= 1e-13 * tau2 or right - left <= 1e-15 * right:
                break
            if left < tau2 + step < right and abs(step) <= 0.5 * before:
                tau2, before = tau2 + step, abs(step)
            else:
                tau2, before = 0.5 * (left + right), right - left
        return tau2


def pool_with_covariance(
    log_ratio: ArrayLike,
    covariance: ArrayLike,
    *,
    estimator: str = "reml",
    interval: str = "hk-floor",
    level: float = 0.95,
) -> PooledEstimate:
    """Pool k >= 1 studies whose errors have a known covariance matrix; options and result as of classical.pool.

    log_ratio: shape (k,); covariance: shape (k, k), symmetric and positive definite. Raises NoEstimate, a ValueError.
    """
    effects = as_numbers(log_ratio, "log_ratio")
    matrix = as_covariance(covariance, effects.size)
    if not np.any(matrix - np.diag(np.diag(matrix))):
        return pool(effects, np.diag(matrix), estimator=estimator, interval=interval, level=level)
    if estimator not in ESTIMATORS:
        raise NoEstimate(f"There is no estimator {estimator!r} of tau2; known are {', '.join(ESTIMATORS)}.")
    if interval not in INTERVALS:
        raise NoEstimate(f"There is no interval {interval!r}; known are {', '.join(INTERVALS)}.")
    if not 0.0 < level < 1.0:
        raise NoEstimate(f"The level of an interval lies between 0 and 1, not {level!r}.")
    k, upper = effects.size, 0.5 + level / 2.0
    differences = differences_of(effects, matrix)
    tau2, q = differences.tau2(estimator), differences.q(0.0)
    mean, mean_variance, _ = generalised_mean(effects, matrix, tau2)
    if interval == "wald":
        stretch, quantile = 1.0, float(ndtri(upper))
    else:
        stretch, quantile = differences.q(tau2) / (k - 1), float(stdtrit(k - 1, upper))
        if interval == "hk-floor":
            stretch = max(1.0, stretch)
    se = math.sqrt(stretch * mean_variance)
    beyond = float(stdtrit(k - 2, upper)) * math.sqrt(tau2 + se * se) if k >= 3 else None
    half_df = (k - 1) / 2.0
    return PooledEstimate(
        estimate=mean,
        se=se,
        ci_low=mean - quantile * se,
        ci_high=mean + quantile * se,
        tau2=tau2,
        tau2_low=differences.where_q_is(2.0 * float(gammaincinv(half_df, upper))),
        tau2_high=differences.where_q_is(2.0 * float(gammaincinv(half_df, 1.0 - upper))),
        i2=(q - (k - 1)) / q if q > k - 1 else 0.0,
        q=q,
        q_p=float(chdtrc(k - 1, q)),
        prediction_low=None if beyond is None else mean - beyond,
        prediction_high=None if beyond is None else mean + beyond,
        k=k,
        estimator=estimator,
        interval=interval,
    )


def as_covariance(covariance: ArrayLike, size: int) -> Floats:
    """Return a covariance matrix of size rows, checked and made exactly symmetric, or raise NoEstimate."""
    try:
        matrix = np.array(covariance, dtype=np.float64)
    except (TypeError, ValueError):
        raise NoEstimate("The covariance matrix must be a square of numbers.") from None
    if matrix.ndim != 2 or matrix.shape[0] != matrix.shape[1]:
        raise NoEstimate(f"The covariance matrix must be square, not of shape {matrix.shape}.")
    if matrix.shape[0] != size:
        raise NoEstimate(f"The covariance matrix has {matrix.shape[0]} rows and columns for {size} effects.")
    if not np.all(np.isfinite(matrix)):
        raise NoEstimate("The covariance matrix holds a number that is not finite.")
    variances = np.diag(matrix)
    if np.any(variances < SMALLEST_VARIANCE) or np.any(variances > LARGEST_VARIANCE):
        limits = f"between {SMALLEST_VARIANCE:g} and {LARGEST_VARIANCE:g}"
        raise NoEstimate(f"The variances on the diagonal of the covariance matrix must lie above zero, {limits}.")
    errors = np.sqrt(variances)
    correlations = matrix / errors / errors[:, None]
    uneven = np.abs(correlations - correlations.T)
    if np.max(uneven) > _SYMMETRY:
        row, column = np.unravel_index(int(np.argmax(uneven)), uneven.shape)
        both = f"{matrix[row, column]:g} and {matrix[column, row]:g}"
        raise NoEstimate(
            f"The covariance matrix is not symmetric: rows {row + 1} and {column + 1} have {both}, which must be equal."
        )
    lowest = float(eigh(0.5 * (correlations + correlations.T), eigvals_only=True, subset_by_index=[0, 0])[0])
    if lowest <= _LEAST_EIGENVALUE:
        raise NoEstimate(
            "The covariance matrix is not positive definite, or too close to not being so: the smallest "
            f"eigenvalue of its correlations is {lowest:.3g}; some weighted sum of the effects would have no variance."
        )
    return 0.5 * (matrix + matrix.T)


def differences_of(effects: Floats, covariance: Floats) -> Differences:
    """Return the uncorrelated differences between k >= 2 studies and their variances; shapes (k,), (k, k)."""
    if effects.size < 2:
        raise NoEstimate("One study cannot show how much studies differ: tau2 needs at least two.")
    basis = _without_the_mean(effects.size)
    variances, axes = eigh(basis.T @ covariance @ basis)
    contrast = axes.T @ (basis.T @ (effects - effects[int(np.argmin(np.diag(covariance)))]))
    if variances[0] <= _LEAST_EIGENVALUE * variances[-1]:
        raise NoEstimate(
            "The variances in the covariance matrix lie too far apart to be carried beside its correlations: those of "
            f"uncorrelated differences between effects run from {max(variances[0], 0.0):.3g} to {variances[-1]:.3g}."
        )
    return Differences(contrast, variances)


def generalised_mean(effects: Floats, covariance: Floats, tau2: float = 0.0) -> tuple[float, float, float]:
    """Return the mean weighted by (covariance + tau2 I)^-1, its variance, and the weighted squares about it."""
    root = cholesky(covariance + tau2 * np.eye(effects.size), lower=True)
    anchor = float(effects[int(np.argmin(np.diag(covariance)))])
    both = np.column_stack((np.ones(effects.size), effects - anchor))
    solved = cho_solve((root, True), both)
    precision = float(np.sum(solved[:, 0]))
    shift = float(np.sum(solved[:, 1])) / precision
    residual = both[:, 1] - shift
    return anchor + shift, 1.0 / precision, float(residual @ cho_solve((root, True), residual))


def _without_the_mean(size: int) -> Floats:
    """Return an orthonormal basis of the vectors of that size that sum to 0, shape (size, size - 1)."""
    # Householder's reflection that takes the first axis to 1 / sqrt(size); its other columns are the basis.
    vector = np.full(size, 1.0 / math.sqrt(size))
    vector[0] += 1.0
    reflection: Floats = np.eye(size) - np.outer(vector, vector) / vector[0]
    return reflection[:, 1:]
