"""The grid behind the shared estimate: where mu and ln tau have to be looked at, and with what weight."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evidence.synthesis.likelihood import RowGroup, log_likelihood
from evidence.synthesis.panels import POINTS, Panels, make_panels, place_edges
from evidence.synthesis.refusal import Floats, NoEstimate
from evidence.synthesis.settings import GridSettings, TauPrior

__all__ = ["JointGrid", "figures_of", "joint_grid", "start_edges"]

_COARSE_TAU = 11
_COARSE_MU_PANELS = 45
_SCAN = 401
_PRIOR_REACH = 7.0  # SDs of ln tau looked at on either side; the scan goes on upwards while the figures ask for it
_DROP = 30.0  # log units below the top that still count
_STEPS = np.array([0.0, 0.75, 1.5, 2.5, 4.0, 8.0, 25.0])


@dataclass(frozen=True)
class JointGrid:
    """The posterior of (tau, mu) on a grid.

    Attributes:
        tau: shape (T,), rising, evenly spaced in ln tau.
        panels: the panels of mu.
        density: shape (T, 4 * panels): density in mu times the weight of the tau; with panels.weights it sums to 1.
    """

    tau: Floats
    panels: Panels
    density: Floats


def figures_of(rows: Sequence[RowGroup]) -> tuple[Floats, Floats, Floats]:
    """Return log ratio, se and count of the figures among the rows; raise NoEstimate where there is none."""
    figures = [row for row in rows if row.kind == "figure"]
    if not figures:
        raise NoEstimate("No row has a figure: words and bounds alone give a direction, not an amount.")
    table = np.array([[row.log_ratio, row.se, float(row.count)] for row in figures])
    return table[:, 0], table[:, 1], table[:, 2]


def joint_grid(rows: Sequence[RowGroup], prior: TauPrior, grid: GridSettings) -> JointGrid:
    """Return the posterior of the rows on a grid that was placed in two coarser passes. Raises NoEstimate."""
    low, high = _tau_reach(rows, prior)
    scores = np.linspace(low, high, _COARSE_TAU)
    panels = make_panels(start_edges(rows, np.exp(prior.log_centre + prior.log_sd * scores[3:9:2])))
    for number in (_COARSE_MU_PANELS, grid.mu_points // POINTS):
        density = _density(rows, prior, grid, scores, panels)
        scores_number = _COARSE_TAU if number == _COARSE_MU_PANELS else grid.tau_points
        scores = _narrowed(scores, density @ panels.weights, scores_number)
        panels = make_panels(place_edges(panels, np.sum(density, axis=0), number))
    density = _density(rows, prior, grid, scores, panels)
    density /= np.sum(density @ panels.weights)
    return JointGrid(np.exp(prior.log_centre + prior.log_sd * scores), panels, density)


def _density(
    rows: Sequence[RowGroup], prior: TauPrior, grid: GridSettings, scores: Floats, panels: Panels
) -> Floats:
    """Return prior times likelihood, shape (T, M), with 1 at its highest point."""
    tau = np.exp(prior.log_centre + prior.log_sd * scores)
    logs = log_likelihood(rows, panels.points, tau, grid.se_nodes, grid.not_significant_reach)
    logs -= 0.5 * scores[:, None] ** 2
    logs -= np.max(logs)
    return np.exp(logs, out=logs)


def _narrowed(scores: Floats, weight: Floats, number: int) -> Floats:
    """Return number evenly spaced scores over the part that carries weight, one old step wider on each side."""
    kept = np.flatnonzero(weight > np.max(weight) * np.exp(-_DROP))
    step = scores[1] - scores[0]
    return np.linspace(scores[kept[0]] - step, scores[kept[-1]] + step, number)


def _tau_reach(rows: Sequence[RowGroup], prior: TauPrior) -> tuple[float, float]:
    """Return the scores (ln tau - centre) / log_sd between which tau is looked for.

    The prior's own reach, and upwards as far as the figures, with their printed standard errors, make tau plausible.
    """
    effects, errors, counts = figures_of(rows)
    widest = max(float(np.ptp(effects)), float(np.max(errors)))
    top = max(_PRIOR_REACH, (np.log(widest) + 3.0 - prior.log_centre) / prior.log_sd)
    scores = np.linspace(-_PRIOR_REACH, top, _SCAN)
    total = errors**2 + np.exp(2.0 * (prior.log_centre + prior.log_sd * scores))[:, None]
    weights = counts / total
    precision = np.sum(weights, axis=1)
    apart = effects - effects[np.argmin(errors)]
    shift = np.sum(weights * apart, axis=1) / precision
    misfit = np.sum(weights * (apart - shift[:, None]) ** 2, axis=1)
    logs = -0.5 * (np.sum(counts * np.log(total), axis=1) + np.log(precision) + misfit + scores**2)
    kept = scores[logs > np.max(logs) - _DROP]
    return min(-_PRIOR_REACH, float(kept[0])), max(_PRIOR_REACH, float(kept[-1]))


def start_edges(rows: Sequence[RowGroup], tau: Floats) -> Floats:
    """Return first edges of mu: round the figures' mean for each tau, and round single figures that stand apart."""
    effects, errors, counts = figures_of(rows)
    total = errors**2 + tau[:, None] ** 2
    weights = counts / total
    precision = np.sum(weights, axis=1)
    anchor = effects[np.argmin(errors)]
    means = anchor + np.sum(weights * (effects - anchor), axis=1) / precision
    steps = np.concatenate((-_STEPS[:0:-1], _STEPS))
    round_means = (means[:, None] + precision[:, None] ** -0.5 * steps).ravel()
    single = np.array([-2.5, -0.75, 0.75, 2.5])
    apart = slice(None, None, max(1, effects.size // 8))
    round_figures = (effects[apart, None] + np.sqrt(np.median(total, axis=0))[apart, None] * single).ravel()
    reach = 8.0 * float(np.sqrt(np.max(total)))
    ends = np.array([np.min(effects) - reach, np.max(effects) + reach])
    return np.unique(np.concatenate((round_means, round_figures, ends)))
