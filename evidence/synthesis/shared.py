"""One question's estimate with heterogeneity shared across questions: figures, words and bounds in one likelihood.

    p(mu, tau | rows)  ~  product of the rows' likelihoods (likelihood.py)  x  N(ln tau; ln m + shift, s^2),  mu flat

The idea of lending tau between questions: rover2023. Estimate = median of mu, interval = equal tails of mu, a new
study = the same mixture with N(0, tau^2) added. The grid is deterministic; rows in any order give the same bytes.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from evidence.synthesis.likelihood import RowGroup, group_rows
from evidence.synthesis.mixture import JointGrid, joint_grid
from evidence.synthesis.panels import PanelDistribution, panel_polynomials
from evidence.synthesis.refusal import Floats, NoEstimate
from evidence.synthesis.settings import GridSettings, TauPrior
from evidence.synthesis.tau_median import TauMedian, fit_tau_median

__all__ = ["GridSettings", "SharedEstimate", "TauMedian", "TauPrior", "fit_tau_median", "posterior"]

_NORMAL_REACH = 6.5  # SDs; 8e-11 of a normal lies outside
_NORMAL_STEP = 0.375
_MOST_STEPS = 60
_CLOSE = 1e-6  # of the SD: a step of Newton's smaller than this lands within the square of it, and ends the search
_NEAR = 1e-3  # and this one ends the search over few places
_COARSER = 3


@dataclass(frozen=True)
class SharedEstimate:
    """What the rows of one question say about mu, on the log-ratio scale.

    Attributes:
        estimate: median of mu.
        ci_low, ci_high: equal-tailed interval of mu (2.5 and 97.5 % at level 0.95).
        new_low, new_high: that of the true log ratio of a new study, mu widened by tau, at its own level.
        sd: standard deviation of mu.
        tau_median: median of tau after the rows were seen.
        n_rows: rows used; n_figures: those of them with a figure.
        distribution: the whole distribution of mu.
    """

    estimate: float
    ci_low: float
    ci_high: float
    new_low: float
    new_high: float
    sd: float
    tau_median: float
    n_rows: int
    n_figures: int
    distribution: PanelDistribution = field(repr=False, compare=False)

    def prob_below(self, value: float) -> float:
        """Return the probability that mu, a log ratio, lies below value."""
        return self.distribution.prob_below(value)


def posterior(
    kind: Sequence[str],
    log_ratio: ArrayLike,
    se: ArrayLike,
    u: ArrayLike,
    *,
    prior: TauPrior,
    grid: GridSettings,
    level: float = 0.95,
    new_level: float | None = None,
) -> SharedEstimate:
    """Combine the rows of one question, one row a study, at least one of them a figure.

    kind: k words of figure, no_change, fall, rise, at_most, at_least; log_ratio: shape (k,), the ln ratio of a figure
    or the ln of a bound, not read for words; se: shape (k,), standard error of the row on the log scale; u: shape
    (k,), SD of ln(se); level: of the interval of mu; new_level: of that of a new study, the same where not given.
    Raises NoEstimate (a ValueError): no figure, unequal lengths, numbers out of range.
    """
    levels = (level, level if new_level is None else new_level)
    for each in levels:
        if not 0.0 < each < 1.0:
            raise NoEstimate(f"The level of an interval lies between 0 and 1, not {each!r}.")
    rows = group_rows(kind, log_ratio, se, u)
    if len(rows) == 1 and rows[0].count == 1 and rows[0].kind == "figure":
        # many questions have one figure, and many of those the same lent standard error: only the place differs
        return _moved(_one_figure(rows[0].se, rows[0].u, prior, grid, levels), rows[0].log_ratio)
    return _estimate(rows, prior, grid, levels)


@lru_cache(maxsize=1024)
def _one_figure(
    se: float, u: float, prior: TauPrior, grid: GridSettings, levels: tuple[float, float]
) -> SharedEstimate:
    return _estimate((RowGroup("figure", 0.0, se, u, 1),), prior, grid, levels)


def _moved(found: SharedEstimate, by: float) -> SharedEstimate:
    """Return the estimate of rows that all lie further on by so much."""
    return replace(
        found,
        estimate=found.estimate + by,
        ci_low=found.ci_low + by,
        ci_high=found.ci_high + by,
        new_low=found.new_low + by,
        new_high=found.new_high + by,
        distribution=replace(found.distribution, edges=found.distribution.edges + by),
    )


def _estimate(
    rows: Sequence[RowGroup], prior: TauPrior, grid: GridSettings, levels: tuple[float, float]
) -> SharedEstimate:
    joint = joint_grid(rows, prior, grid)
    below, rise = panel_polynomials(joint.panels, joint.density)
    distribution = PanelDistribution(joint.panels.edges, np.sum(below, axis=0), np.sum(rise, axis=0))
    tail, new_tail = ((1.0 - level) / 2.0 for level in levels)
    median = distribution.quantile(0.5)
    weights = np.sum(joint.density, axis=0) * joint.panels.weights
    variance = float(np.sum(weights * (joint.panels.points - median) ** 2))
    variance -= float(np.sum(weights * (joint.panels.points - median))) ** 2
    n_rows = sum(row.count for row in rows)
    new_study = _NewStudy(joint, below, rise, n_rows)
    new_sd = float(np.sqrt(variance + np.sum(below[:, -1] * joint.tau**2)))
    return SharedEstimate(
        estimate=median,
        ci_low=distribution.quantile(tail),
        ci_high=distribution.quantile(1.0 - tail),
        new_low=new_study.quantile(new_tail, median, new_sd),
        new_high=new_study.quantile(1.0 - new_tail, median, new_sd),
        sd=float(np.sqrt(variance)),
        tau_median=_tau_median(joint.tau, below[:, -1]),
        n_rows=n_rows,
        n_figures=sum(row.count for row in rows if row.kind == "figure"),
        distribution=distribution,
    )


class _NewStudy:
    """mu + tau z, z standard normal: for every tau the distribution of mu, averaged over evenly spaced z.

    Even spacing is exact to about exp(-2 pi^2 sd^2 / (tau step)^2) here; k rows leave mu an SD of at least
    about tau / sqrt(k), so the step follows k.
    """

    def __init__(self, joint: JointGrid, below: Floats, rise: Floats, n_rows: int) -> None:
        step = min(_NORMAL_STEP, 1.5 / np.sqrt(n_rows))
        half = _COARSER * int(np.ceil(_NORMAL_REACH / step / _COARSER))
        places = np.linspace(-_NORMAL_REACH, _NORMAL_REACH, 2 * half + 1)
        weights = np.exp(-0.5 * places**2)
        self._weights = weights / np.sum(weights)
        self._shifts = joint.tau[:, None] * places
        self._edges, self._below = joint.panels.edges, below
        self._widths = np.diff(joint.panels.edges)
        # One flat table a coefficient: gathering from it is the whole cost of a look-up.
        self._rise = [np.ascontiguousarray(rise[..., order]).ravel() for order in range(rise.shape[-1])]
        self._start = np.arange(joint.tau.size)[:, None] * self._widths.size
        self._row = np.arange(joint.tau.size)[:, None] * self._edges.size

    def below_and_density(self, value: float, every: int = 1) -> tuple[float, float]:
        """Return the probability below value and the density there, from every so many of the places."""
        at = value - self._shifts[:, ::every]
        panel = np.clip(np.searchsorted(self._edges, at, side="right") - 1, 0, self._widths.size - 1)
        width = self._widths[panel]
        free = (at - self._edges[panel]) / width
        s = np.clip(free, 0.0, 1.0)
        first, second, third, fourth = (table[self._start + panel] for table in self._rise)
        probability = self._below.ravel()[self._row + panel]
        probability = probability + s * (first + s * (second + s * (third + s * fourth)))
        density = (first + s * (2.0 * second + s * (3.0 * third + s * 4.0 * fourth))) / width
        density[s != free] = 0.0
        weights = self._weights[::every]
        whole = float(np.sum(weights))
        return float(np.sum(probability @ weights)) / whole, float(np.sum(density @ weights)) / whole

    def quantile(self, probability: float, centre: float, sd: float) -> float:
        """Return the quantile by Newton's steps, first over few places, then over all."""
        start = centre + (2.0 if probability > 0.5 else -2.0) * 0.8 * sd
        near = self._quantile(probability, start, sd, _COARSER, _NEAR)
        return self._quantile(probability, near, sd, 1, _CLOSE)

    def _quantile(self, probability: float, value: float, sd: float, every: int, close: float) -> float:
        """Return the quantile from value on; a step that leaves the bracket halves it instead."""
        low = self._edges[0] - float(np.max(self._shifts))
        high = self._edges[-1] + float(np.max(self._shifts))
        for _ in range(_MOST_STEPS):
            reached, density = self.below_and_density(value, every)
            if reached < probability:
                low = value
            else:
                high = value
            step = (probability - reached) / density if density > 0.0 else np.inf
            if high - low <= close * sd:
                break
            value = value + step if low < value + step < high else 0.5 * (low + high)
            if abs(step) <= close * sd:
                break
        return float(value)


def _tau_median(tau: Floats, mass: Floats) -> float:
    """Return the median of tau from masses at points evenly spaced in ln tau: the cumulated cubic through them."""
    slopes = np.gradient(mass)
    steps = 0.5 * (mass[:-1] + mass[1:]) + (slopes[:-1] - slopes[1:]) / 12.0
    below = np.concatenate(([0.0], np.cumsum(steps)))
    # Hermite's cubic in every cell has the masses and slopes at its ends; integrated, these are its coefficients.
    start, end, at_start, at_end = mass[:-1], mass[1:], slopes[:-1], slopes[1:]
    square = (3.0 * (end - start) - 2.0 * at_start - at_end) / 3.0
    cube = (2.0 * (start - end) + at_start + at_end) / 4.0
    rise = np.column_stack((start, 0.5 * at_start, square, cube))
    return float(np.exp(PanelDistribution(np.log(tau), below / below[-1], rise / below[-1]).quantile(0.5)))
