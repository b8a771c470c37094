"""tau2 of many groups at once: the estimators of heterogeneity.py, iterated together, the finished ones dropped.

DerSimonian-Laird and Paule-Mandel as there. REML: with P as there, the slope of twice the restricted log likelihood is

    fit - trace,    fit = y'PPy,  trace = tr P;    fit' = -fit g,  g = 2 y'PPPy / y'PPy;   trace' = -trace h,
                                                   h = tr PP / tr P

fit^(-1/2) and 1 / trace are concave in tau2 (Cauchy-Schwarz on the eigenvalues of P), so (1/g)' >= 1/2, (1/h)' >= 1.
What is known at both ends of an interval can therefore prove that the slope keeps its sign there or changes it once;
intervals where neither is proved are halved. Every peak is found, and the highest is the estimate (viechtbauer2005).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evidence.synthesis.columns import Columns, Integers, column_sums, weigh
from evidence.synthesis.refusal import Floats

__all__ = ["tau2_of_columns"]

Flags = NDArray[np.bool_]
_MOST_STEPS = 200  # far above what any loop here takes (about ten)
_NARROW = 1e-9  # an interval of tau2 + smallest variance so much wider than a point is not halved again
_CLOSE = 1e-13  # relative errors of tau2 + smallest variance below this end the search for a peak
_LAST = 1e-15  # and so do steps and intervals that change tau2 by less than this share


@dataclass(frozen=True)
class Slope:
    """The slope of the restricted likelihood at one tau2 a group; each shape (G,), named as at the top of this file."""

    fit: Floats
    trace: Floats
    fit_rate: Floats
    trace_rate: Floats

    def some(self, which: Flags | Integers) -> "Slope":
        """Return some groups."""
        return Slope(self.fit[which], self.trace[which], self.fit_rate[which], self.trace_rate[which])

    @property
    def rising(self) -> Flags:
        """Where the restricted likelihood rises."""
        flags: Flags = self.fit > self.trace
        return flags


def tau2_of_columns(columns: Columns, q: Floats, estimator: str) -> Floats:
    """Return tau2 by reml, dl or pm, shape (G,); every group of two rows or more, q its Cochran's Q, shape (G,)."""
    if estimator == "dl":
        return _dersimonian_laird(columns, q)
    return _paule_mandel(columns) if estimator == "pm" else _reml(columns)


def _trace(heavy: Floats, light: Floats, light2: Floats) -> Floats:
    """Return tr P = S1 - S2 / S1, S the sums of powers of the weights.

    Written with the heaviest weight apart (light, light2: the others' sums), so that no digits are lost beside it.
    """
    return (2.0 * heavy * light + light * light - light2) / (heavy + light)


def _dersimonian_laird(columns: Columns, q: Floats) -> Floats:
    at = weigh(columns, 0.0)
    trace = _trace(at.weight[0], at.lighter, column_sums(at.weight[1:], at.weight[1:]))
    return np.maximum(0.0, (q - (columns.size - 1)) / trace)


def _paule_mandel(columns: Columns) -> Floats:
    """Newton's steps on 1 / Q, as in heterogeneity.py."""
    tau2 = np.zeros(columns.size.size)
    open_ = np.arange(columns.size.size)
    for _ in range(_MOST_STEPS):
        at = weigh(columns, tau2[open_])
        scaled = at.residual * at.weight
        q, target = column_sums(at.residual, scaled), columns.size - 1.0
        above = q > target
        q, target, scaled, open_ = q[above], target[above], scaled[:, above], open_[above]
        step = (1.0 / target - 1.0 / q) * q * q / column_sums(scaled, scaled)
        moved = tau2[open_] + step > tau2[open_]
        tau2[open_] += step
        columns, open_ = columns.some(above).some(moved), open_[moved]
        if not open_.size:
            break
    return tau2


def _slope(columns: Columns, tau2: Floats) -> Slope:
    slopes = [_slope_of_some(part, tau2[where]) for where, part in columns.parts()]
    if len(slopes) == 1:
        return slopes[0]
    return Slope(
        np.concatenate([slope.fit for slope in slopes]),
        np.concatenate([slope.trace for slope in slopes]),
        np.concatenate([slope.fit_rate for slope in slopes]),
        np.concatenate([slope.trace_rate for slope in slopes]),
    )


def _slope_of_some(columns: Columns, tau2: Floats) -> Slope:
    at = weigh(columns, tau2)
    scaled = at.weight * at.residual  # P y
    fit = np.maximum(column_sums(scaled, scaled), np.finfo(np.float64).tiny)
    apart = scaled - scaled[0]
    pull = at.weight * apart
    cube = column_sums(pull, apart) - np.add.reduce(pull, axis=0) ** 2 / at.total
    heavy, light, squares = at.weight[0], at.lighter, at.weight[1:] * at.weight[1:]
    light2, light3 = np.add.reduce(squares, axis=0), column_sums(squares, at.weight[1:])
    trace = _trace(heavy, light, light2)
    # tr PP = S2 - 2 S3 / S1 + (S2 / S1)^2, written as _trace is.
    square = heavy * (heavy * (light * light + 3.0 * light2) + 2.0 * (light * light2 - light3))
    square += light * (light * light2 - 2.0 * light3) + light2 * light2
    return Slope(fit, trace, 2.0 * cube / fit, square / (at.total * at.total * trace))


def _reml(columns: Columns) -> Floats:
    tau2 = np.zeros(columns.size.size)
    largest = columns.largest_variance()
    mean = np.sum(columns.apart, axis=0) / columns.size
    around = np.where(np.isinf(columns.variance), 0.0, columns.apart - mean)
    spread = column_sums(around, around) / (columns.size - 1)
    varied = np.flatnonzero(spread > 0.0)  # identical effects: the likelihood falls from 0 on
    if not varied.size:
        return tau2
    if varied.size < columns.size.size:
        columns = columns.some(varied)
    top = 2.0 * np.maximum(spread, largest)[varied]  # beyond it the slope is negative, as in heterogeneity.py
    start = _slope(columns, np.zeros(varied.size))
    of, left, right, guess = _intervals_with_a_peak(columns, start, top)
    if of.size:
        peaks = _peaks(columns.some(of), left, right, guess)
        tau2[varied] = _highest(columns, ~start.rising, of, peaks)
    return tau2


def _intervals_with_a_peak(columns: Columns, start: Slope, top: Floats) -> tuple[Integers, Floats, Floats, Floats]:
    """Return every interval of tau2 with one peak of the restricted likelihood inside.

    That is: group, left end, right end, and a guess between them where the peak is.
    """
    of = np.arange(top.size)
    smallest = columns.variance[0]
    left, right = np.zeros(top.size), top
    at_left, at_right = start, _slope(columns, top)
    found: list[tuple[Integers, Floats, Floats, Floats]] = []
    for _ in range(_MOST_STEPS):
        one, none = _what_is_proved(at_left, at_right, right - left)
        # Two turns closer than this are one to the precision of the arithmetic.
        narrow = right - left <= _NARROW * (left + smallest[of])
        one |= narrow & at_left.rising & ~at_right.rising
        lefts, rights = left[one], right[one]
        found.append((of[one], lefts, rights, _guess(lefts, rights, at_left.some(one), at_right.some(one))))
        rest = np.flatnonzero(~(one | none | narrow))
        if not rest.size:
            break
        of, left, right = of[rest], left[rest], right[rest]
        least = smallest[of]
        middle = np.sqrt((left + least) * (right + least)) - least
        middle = np.where((middle > left) & (middle < right), middle, 0.5 * (left + right))
        at_middle = _slope(columns.some(of), middle)
        at_left, at_right = _joined(at_left.some(rest), at_middle), _joined(at_middle, at_right.some(rest))
        of, left, right = np.tile(of, 2), np.concatenate((left, middle)), np.concatenate((middle, right))
    groups, lefts, rights, guesses = (np.concatenate(part) for part in zip(*found, strict=True))
    return groups, lefts, rights, guesses


def _guess(left: Floats, right: Floats, a: Slope, b: Slope) -> Floats:
    """Return where trace / fit is about 1: tau2 as a cubic in trace / fit, from the values and slopes at both ends."""
    ratio_a, ratio_b = a.trace / a.fit, b.trace / b.fit
    span, width = ratio_b - ratio_a, right - left
    share = (1.0 - ratio_a) / span
    rate_a, rate_b = ratio_a * (a.fit_rate - a.trace_rate), ratio_b * (b.fit_rate - b.trace_rate)
    line = left + share * width
    usable = (rate_a > 0.0) & (rate_b > 0.0)
    slope_a = np.divide(span, rate_a, out=width.copy(), where=usable)
    slope_b = np.divide(span, rate_b, out=width.copy(), where=usable)
    # Hermite's cubic: the line, and what its slopes at the ends add to it.
    rest = 1.0 - share
    cubic = line + share * rest * (rest * (slope_a - width) - share * (slope_b - width))
    return np.where((cubic > left) & (cubic < right), cubic, line)


def _joined(first: Slope, second: Slope) -> Slope:
    return Slope(
        np.concatenate((first.fit, second.fit)),
        np.concatenate((first.trace, second.trace)),
        np.concatenate((first.fit_rate, second.fit_rate)),
        np.concatenate((first.trace_rate, second.trace_rate)),
    )


def _what_is_proved(a: Slope, b: Slope, width: Floats) -> tuple[Flags, Flags]:
    """Return where the interval between a and b surely holds one peak, and where surely none."""
    # fit / trace falls throughout if h <= g does; it rises if h >= g. Beside it: the slope itself, as both are convex.
    falls = (1.0 / b.fit_rate - 0.5 * width <= 1.0 / a.trace_rate) | (a.trace * a.trace_rate <= b.fit * b.fit_rate)
    rises = (1.0 / b.trace_rate - 0.5 * width <= 1.0 / a.fit_rate) | (b.trace * b.trace_rate >= a.fit * a.fit_rate)
    up, up_after = a.rising, b.rising
    one = up & ~up_after & falls
    none = ((up == up_after) & (falls | rises)) | (~up & up_after & rises)
    rest = np.flatnonzero((up == up_after) & ~none)
    if rest.size:
        none[rest] = _keeps_its_sign(a.some(rest), b.some(rest), width[rest])
    return one, none


def _keeps_its_sign(a: Slope, b: Slope, width: Floats) -> Flags:
    """Return where the slope, of one sign at a and b, surely keeps it between."""
    f_a, f_b = 1.0 / np.sqrt(a.fit), 1.0 / np.sqrt(b.fit)
    t_a, t_b = 1.0 / a.trace, 1.0 / b.trace
    # Positive: a tangent above fit^(-1/2), squared, stays below the chord under 1 / trace.
    from_a, from_b = f_a * (1.0 + 0.5 * a.fit_rate * width), f_b * (1.0 - 0.5 * b.fit_rate * width)
    keeps: Flags = a.rising & ((from_a**2 <= t_b) | (from_b**2 <= t_a))
    # Negative: the chord under fit^(-1/2), squared, stays above a tangent over 1 / trace.
    chord = np.maximum(f_b - f_a, f_a * np.finfo(np.float64).eps)
    rate_a, rate_b = t_a * a.trace_rate * width, t_b * b.trace_rate * width
    for level, rate in ((t_a, rate_a), (t_b - rate_b, rate_b)):
        at = np.clip((0.5 * rate / chord - f_a) / chord, 0.0, 1.0)
        keeps |= ~a.rising & ((f_a + chord * at) ** 2 >= level + rate * at)
    return keeps


def _peaks(columns: Columns, left: Floats, right: Floats, guess: Floats) -> Floats:
    """Return the peak inside each interval, shape (G,): Newton's steps on trace / fit = 1.

    A step that leaves the interval, or is not half as long as the one before, is replaced by halving the interval.
    """
    tau2, open_ = guess.copy(), np.arange(guess.size)
    now, before = guess, right - left
    for _ in range(_MOST_STEPS):
        least = now + columns.variance[0]
        at = _slope(columns, now)
        off = at.trace / at.fit - 1.0
        below = off < 0.0
        left, right = np.where(below, now, left), np.where(below, right, now)
        rate = (1.0 + off) * (at.fit_rate - at.trace_rate)
        step = np.divide(-off, rate, out=np.full_like(off, np.inf), where=rate > 0.0)
        length, after = np.abs(step), now + step
        inside = (after > left) & (after < right) & (length <= 0.5 * before)
        # The step after this one would be about step^2 / (least^2 rate), for curves change on the scale of least.
        done = inside & (step * step <= _CLOSE * rate * least**3)
        done |= (length <= _LAST * now) | (right - left <= _LAST * right)
        before = np.where(inside, length, right - left)
        now = np.where(inside, after, np.where(done, now, 0.5 * (left + right)))
        if np.any(done):
            tau2[open_[done]] = now[done]
            rest = np.flatnonzero(~done)
            columns, open_, now, before = columns.some(rest), open_[rest], now[rest], before[rest]
            left, right = left[rest], right[rest]
        if not open_.size:
            return tau2
    tau2[open_] = now
    return tau2


def _highest(columns: Columns, zero_is_a_peak: Flags, of: Integers, peaks: Floats) -> Floats:
    """Return the tau2 with the highest restricted likelihood in each group, shape (G,); the smaller where equal."""
    number = zero_is_a_peak.size
    candidates = np.bincount(of, minlength=number) + zero_is_a_peak
    tau2 = np.zeros(number)
    tau2[of] = peaks
    several = candidates > 1
    if not np.any(several):
        return tau2
    zeros = np.flatnonzero(several & zero_is_a_peak)
    some = several[of]
    groups = np.concatenate((zeros, of[some]))
    values = np.concatenate((np.zeros(zeros.size), peaks[some]))
    order = np.lexsort((-values, _loglik(columns.some(groups), values), groups))
    tau2[groups[order]] = values[order]  # of several the last is written last: the highest
    return tau2


def _loglik(columns: Columns, tau2: Floats) -> Floats:
    at = weigh(columns, tau2)
    logs = np.sum(np.log(np.where(np.isinf(columns.variance), 1.0, columns.variance + tau2)), axis=0)
    result: Floats = -0.5 * (logs + np.log(at.total) + column_sums(at.residual * at.weight, at.residual))
    return result
