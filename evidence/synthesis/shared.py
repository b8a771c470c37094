"""One question's estimate with heterogeneity shared across questions: figures, words and bounds in one likelihood.

    p(mu, tau | rows)  ~  product of the rows' likelihoods (likelihood.py)  x  N(ln tau; ln m + shift, s^2),  mu flat

The idea of lending tau between questions: rover2023. Estimate = median of mu, interval = equal tails of mu, a new
study = the same mixture with N(0, tau^2) added. The grid is deterministic; rows in any order give the same bytes.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from evidence.synthesis.likelihood import group_rows
from evidence.synthesis.mixture import JointGrid, joint_grid
from evidence.synthesis.panels import PanelDistribution, panel_polynomials
from evidence.synthesis.refusal import Floats, NoEstimate
from evidence.synthesis.settings import GridSettings, TauPrior
from evidence.synthesis.tau_median import TauMedian, fit_tau_median

__all__ = ["GridSettings", "SharedEstimate", "TauMedian", "TauPrior", "fit_tau_median", "posterior"]

_NORMAL_REACH = 6.5  # SDs; 8e-11 of a normal lies outside
_NORMAL_STEP = 0.375
_MOST_STEPS = 60
_CLOSE = 1e-9  # of the SD: steps smaller than this end the search


@dataclass(frozen=True)
class SharedEstimate:
    """What the rows of one question say about mu, on the log-ratio scale.

    Attributes:
        estimate: median of mu.
        ci_low, ci_high: equal-tailed interval of mu (2.5 and 97.5 % at level 0.95).
        new_low, new_high: the same of the true log ratio of a new study, mu widened by tau.
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
) -> SharedEstimate:
    """Combine the rows of one question, one row a study, at least one of them a figure.

    kind: k words of figure, no_change, fall, rise, at_most, at_least; log_ratio: shape (k,), the ln ratio of a figure
    or the ln of a bound, not read for words; se: shape (k,), standard error of the row on the log scale; u: shape
    (k,), SD of ln(se). Raises NoEstimate (a ValueError): no figure, unequal lengths, numbers out of range.
    """
    if not 0.0 < level < 1.0:
        raise NoEstimate(f"The level of an interval lies between 0 and 1, not {level!r}.")
    rows = group_rows(kind, log_ratio, se, u)
    joint = joint_grid(rows, prior, grid)
    below, rise = panel_polynomials(joint.panels, joint.density)
    distribution = PanelDistribution(joint.panels.edges, np.sum(below, axis=0), np.sum(rise, axis=0))
    tail = (1.0 - level) / 2.0
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
        new_low=new_study.quantile(tail, median, new_sd),
        new_high=new_study.quantile(1.0 - tail, median, new_sd),
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
        half = int(np.ceil(_NORMAL_REACH / step))
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

    def below_and_density(self, value: float) -> tuple[float, float]:
        """Return the probability below value and the density there."""
        at = value - self._shifts
        panel = np.clip(np.searchsorted(self._edges, at, side="right") - 1, 0, self._widths.size - 1)
        width = self._widths[panel]
        free = (at - self._edges[panel]) / width
        s = np.clip(free, 0.0, 1.0)
        first, second, third, fourth = (table[self._start + panel] for table in self._rise)
        probability = self._below.ravel()[self._row + panel]
        probability = probability + s * (first + s * (second + s * (third + s * fourth)))
        density = (first + s * (2.0 * second + s * (3.0 * third + s * 4.0 * fourth))) / width
        density[s != free] = 0.0
        return float(np.sum(probability @ self._weights)), float(np.sum(density @ self._weights))

    def quantile(self, probability: float, centre: float, sd: float) -> float:
        """Return the quantile by Newton's steps, halved whenever they leave the bracket."""
        low = self._edges[0] - float(np.max(self._shifts))
        high = self._edges[-1] + float(np.max(self._shifts))
        value = centre + (2.0 if probability > 0.5 else -2.0) * 0.8 * sd
        for _ in range(_MOST_STEPS):
            reached, density = self.below_and_density(value)
            if reached < probability:
                low = value
            else:
                high = value
            step = (probability - reached) / density if density > 0.0 else np.inf
            if abs(step) <= _CLOSE * sd or high - low <= _CLOSE * sd:
                break
            value = value + step if low < value + step < high else 0.5 * (low + high)
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
