"""The grid behind the shared estimate: where mu and ln tau have to be looked at, and with what weight."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from evidence.synthesis.likelihood import RowGroup, log_likelihood, se_nodes
from evidence.synthesis.panels import POINTS, Panels, is_resolved, make_panels, place_edges
from evidence.synthesis.refusal import Floats, NoEstimate
from evidence.synthesis.settings import GridSettings, TauPrior

__all__ = ["COARSE_MU_PANELS", "MOST_PASSES", "JointGrid", "figures_of", "joint_grid", "start_edges"]

_COARSE_TAU = 11
COARSE_MU_PANELS = 45
MOST_PASSES = 16
_PRIOR_REACH = 7.0  # SDs of ln tau looked at on either side, at least
_BEYOND = 3.0  # further on the scale of ln tau than any distance or standard error in the rows
_DROP = 22.0  # log units below the top that still count
_END_DROP = 16.0  # and how far below the ends must lie before tau counts as located
_FEWEST_TAU = 4  # points of tau that must carry weight before going on
_SIDES = np.array([-2.5, -0.75, 0.75, 2.5])
_OUTSIDE = np.array([0.75, 2.0, 4.0, 8.0])
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
    """Return the posterior of the rows on a grid placed by coarser passes, mostly two or three.

    Raises NoEstimate: no figure among the rows, or rows whose posterior the passes cannot resolve; an unresolved grid
    is never used.
    """
    low, high = _tau_reach(rows, prior)
    scores = np.linspace(low, high, _COARSE_TAU)
    some_tau = np.exp(prior.log_centre + prior.log_sd * scores[[3, 5, 7, _COARSE_TAU - 1]])
    panels = make_panels(start_edges(rows, some_tau, grid.se_nodes))
    for done in range(MOST_PASSES):
        density = _density(rows, prior, grid, scores, panels)
        weight = density @ panels.weights
        mass = np.sum(density, axis=0)
        if done > 0 and is_resolved(panels, mass) and _tau_resolved(weight):
            break
        scores = _narrowed(scores, weight, _COARSE_TAU)
        panels = make_panels(place_edges(panels, mass, COARSE_MU_PANELS, resolved=False))
    else:
        raise NoEstimate("The rows contradict each other so sharply that their common answer cannot be located.")
    scores = _narrowed(scores, weight, grid.tau_points)
    panels = make_panels(place_edges(panels, mass, grid.mu_points // POINTS, resolved=True))
    density = _density(rows, prior, grid, scores, panels)
    density /= np.sum(density @ panels.weights)
    return JointGrid(np.exp(prior.log_centre + prior.log_sd * scores), panels, density)


def _density(rows: Sequence[RowGroup], prior: TauPrior, grid: GridSettings, scores: Floats, panels: Panels) -> Floats:
    """Return prior times likelihood, shape (T, M), with 1 at its highest point."""
    tau = np.exp(prior.log_centre + prior.log_sd * scores)
    logs = log_likelihood(rows, panels.points, tau, grid.se_nodes, grid.not_significant_reach)
    logs -= 0.5 * scores[:, None] ** 2
    logs -= np.max(logs)
    return np.exp(logs, out=logs)


def _counts(weight: Floats) -> NDArray[np.bool_]:
    counted: NDArray[np.bool_] = weight > np.max(weight) * np.exp(-_DROP)
    return counted


def _tau_resolved(weight: Floats) -> bool:
    """Whether enough points of tau carry weight, and none of those at the ends."""
    # The ends are placed at a drop of _DROP, so they are asked for less: at the same drop rounding would decide.
    ends = max(float(weight[0]), float(weight[-1]))
    return int(np.count_nonzero(_counts(weight))) >= _FEWEST_TAU and ends < np.max(weight) * np.exp(-_END_DROP)


def _narrowed(scores: Floats, weight: Floats, number: int) -> Floats:
    """Return number evenly spaced scores over the part that carries weight, ends between the old ones interpolated."""
    kept = np.flatnonzero(_counts(weight))
    first, last = int(kept[0]), int(kept[-1])
    step = float(scores[1] - scores[0])
    drops = np.log(np.maximum(weight / np.max(weight), 1e-300)) + _DROP

    def beyond(inside: int, outside: int) -> float:
        """Return how far past the last score inside the weight goes on, at most one step."""
        if not 0 <= outside < scores.size or kept.size < _FEWEST_TAU:
            return step
        return step * float(drops[inside] / (drops[inside] - drops[outside]))

    return np.linspace(scores[first] - beyond(first, first - 1), scores[last] + beyond(last, last + 1), number)


def _tau_reach(rows: Sequence[RowGroup], prior: TauPrior) -> tuple[float, float]:
    """Return the scores (ln tau - centre) / log_sd between which tau is looked for.

    The prior's own reach, and beyond it from far below the smallest standard error to far above every distance.
    """
    effects, errors, _ = figures_of(rows)
    places = np.concatenate((effects, _pulls(rows)[0]))
    widest = max(float(np.ptp(places)), float(np.max(errors)))
    low = (np.log(np.min(errors)) - _BEYOND - prior.log_centre) / prior.log_sd
    high = (np.log(widest) + _BEYOND - prior.log_centre) / prior.log_sd
    return min(-_PRIOR_REACH, low), max(_PRIOR_REACH, high)


def _pulls(rows: Sequence[RowGroup]) -> tuple[Floats, Floats]:
    """Return where words and bounds pull mu to (0 or the bound) and with what se; shape (p,), p may be 0."""
    table = np.array([[row.log_ratio, row.se] for row in rows if row.kind != "figure"]).reshape(-1, 2)
    return table[:, 0], table[:, 1]


def start_edges(rows: Sequence[RowGroup], tau: Floats, nodes: int) -> Floats:
    """Return first edges of mu: round the figures' mean for each tau, round single figures, and where words pull.

    tau: shape (t,), rising; nodes: Gauss-Hermite nodes of ln(se), whose widest decides how far out mu is looked for.
    """
    effects, errors, counts = figures_of(rows)
    total = errors**2 + tau[:, None] ** 2
    weights = counts / total
    precision = np.sum(weights, axis=1)
    anchor = effects[np.argmin(errors)]
    means = anchor + np.sum(weights * (effects - anchor), axis=1) / precision
    steps = np.concatenate((-_STEPS[:0:-1], _STEPS))
    round_means = (means[:, None] + precision[:, None] ** -0.5 * steps).ravel()
    some = slice(None, None, 1 + effects.size // 8)  # eight or so of many figures are enough to start from
    pulls, pull_errors = _pulls(rows)
    pulls, first = np.unique(pulls, return_index=True)
    pull_errors = pull_errors[first]
    some_pulls = slice(None, None, 1 + pulls.size // 8)
    places = np.concatenate((effects[some], pulls[some_pulls]))
    middle = float(tau[tau.size // 2])
    spreads = np.sqrt(np.concatenate((errors[some], pull_errors[some_pulls])) ** 2 + middle**2)
    round_places = (places[:, None] + spreads[:, None] * _SIDES).ravel()
    widest = max(float(se_nodes(row, nodes)[0][-1]) for row in rows if row.kind == "figure")
    outside = np.hypot(widest, float(tau[-1])) * _OUTSIDE
    reached = np.concatenate((effects, pulls))
    flanks = np.concatenate((np.min(reached) - outside, np.max(reached) + outside))
    return np.unique(np.concatenate((round_means, round_places, flanks)))
