"""Steps joined into a path: additive on the log scale, an error for every study and step, tau shared with the class.

    y = X b + Z u + e,    u_js ~ N(0, tau^2) for study j and step s,    Var(y) = tau^2 Z Z' + V

X_is is the count of step s in the treated milk less that in the baseline milk; Z is X with every study apart (times a
scale a column, for a column that counts days); V has cov rho se_i se_j between rows of one study, which share their
baseline. For every tau on a grid b by generalised least squares (flat prior), averaged over the prior of ln tau as in
shared.py; each study's ln(se) over Gauss-Hermite nodes as in likelihood.py. One path with one step, a row a study, is
shared.posterior for figures. At tau 0 two steps in a row are the adjusted indirect comparison of bucher1997. Additive
component model: welton2009, rucker2020.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from evidence.synthesis.identify import is_identified
from evidence.synthesis.normals import NormalMixture, Normals, added, coarsened, outer_sum, quantile
from evidence.synthesis.refusal import Floats, NoEstimate, as_numbers
from evidence.synthesis.settings import GridSettings, TauPrior

__all__ = [
    "LeastSquares",
    "Network",
    "PathEstimate",
    "generalised_least_squares",
    "make_network",
    "path_posterior",
    "within_study_covariance",
]

_MOST_COMBINATIONS = 3500  # of Gauss-Hermite nodes in one block, a limit of the machine
_LEAST_WEIGHT = 1e-12  # of one normal among the many
_REACH = 7.0  # SDs of ln tau, as in mixture.py
_BEYOND = 3.0
_DROP = 22.0
_COARSE = 61


@dataclass(frozen=True)
class LeastSquares:
    """A weighted least-squares solution.

    Attributes:
        estimate: shape (p,).
        covariance: shape (p, p), (X' W X)^-1.
        solution: shape (p, r), so that estimate = solution @ y.
    """

    estimate: Floats
    covariance: Floats
    solution: Floats


def generalised_least_squares(design: ArrayLike, log_ratio: ArrayLike, covariance: ArrayLike) -> LeastSquares:
    """Solve y = X b with Var(y) known: X (r, p), y (r,), Var (r, r). Raises NoEstimate where X has not full rank."""
    rows, values = np.asarray(design, dtype=np.float64), as_numbers(log_ratio, "log_ratio")
    if rows.ndim != 2 or rows.shape[0] != values.size:
        raise NoEstimate("The design must have one row an observation.")
    if np.linalg.matrix_rank(rows) < rows.shape[1]:
        raise NoEstimate("The rows do not tell the steps apart: the design has not full rank.")
    weighted = np.linalg.solve(np.asarray(covariance, dtype=np.float64), rows).T
    spread: Floats = np.asarray(np.linalg.inv(weighted @ rows), dtype=np.float64)
    solution = spread @ weighted
    return LeastSquares(np.asarray(solution @ values, dtype=np.float64), spread, solution)


def within_study_covariance(study: Sequence[str], se: ArrayLike, rho: float) -> Floats:
    """Return V, shape (r, r): se_i^2 on the diagonal, rho se_i se_j between rows of one study, 0 elsewhere."""
    errors = as_numbers(se, "se")
    names = np.array(study)
    same = names[:, None] == names[None, :]
    correlation = np.where(same, rho, 0.0)
    np.fill_diagonal(correlation, 1.0)
    return np.asarray(correlation * np.outer(errors, errors), dtype=np.float64)


@dataclass(frozen=True)
class Network:
    """The measured contrasts of one component.

    Attributes:
        design: X, shape (r, p).
        log_ratio: y, shape (r,).
        study: r names.
        covariance: V, shape (r, r).
        u: SD of ln(se), shape (r,).
        random_scale: shape (p,), what a column of X is multiplied by in Z.
    """

    design: Floats
    log_ratio: Floats
    study: tuple[str, ...]
    covariance: Floats
    u: Floats
    random_scale: Floats


def make_network(
    design: ArrayLike,
    log_ratio: ArrayLike,
    se: ArrayLike,
    u: ArrayLike,
    study: Sequence[str],
    *,
    rho: float,
    random_scale: ArrayLike | None = None,
) -> Network:
    """Return the rows checked and in an order that does not depend on the order given; shapes as in Network."""
    rows = np.array(design, dtype=np.float64, ndmin=2)
    values, errors, doubts = as_numbers(log_ratio, "log_ratio"), as_numbers(se, "se"), as_numbers(u, "u")
    if not rows.shape[0] == values.size == errors.size == doubts.size == len(study):
        raise NoEstimate("design, log_ratio, se, u and study must be equally many.")
    if not np.all(np.isfinite(rows)) or np.any(errors <= 0.0) or np.any(doubts < 0.0):
        raise NoEstimate("A design must be finite, a standard error above zero, and u not negative.")
    if not 0.0 <= rho < 1.0:
        raise NoEstimate(f"The correlation between rows of one study lies from 0 to below 1, not {rho!r}.")
    scale = np.ones(rows.shape[1]) if random_scale is None else as_numbers(random_scale, "random_scale")
    if scale.size != rows.shape[1]:
        raise NoEstimate("random_scale needs one number a column of the design.")
    names = np.unique(np.array(study), return_inverse=True)[1]
    order = np.lexsort((doubts, errors, values, *rows.T[::-1], names))
    ordered = tuple(str(study[place]) for place in order)
    return Network(
        rows[order], values[order], ordered, within_study_covariance(ordered, errors[order], rho), doubts[order], scale
    )


@dataclass(frozen=True)
class PathEstimate:
    """A sum of steps on the log-ratio scale.

    Attributes:
        estimate: its median.
        ci_low, ci_high: equal-tailed interval.
        sd: its standard deviation.
        tau_median: median of tau after the rows were seen.
        tau, tau_weight: the grid of tau, shape (T,), and its weights, which sum to 1.
        n_studies: studies in the blocks that the path touches.
    """

    estimate: float
    ci_low: float
    ci_high: float
    sd: float
    tau_median: float
    tau: Floats = field(repr=False, compare=False)
    tau_weight: Floats = field(repr=False, compare=False)
    n_studies: int = 0


def path_posterior(
    network: Network, target: ArrayLike, *, prior: TauPrior, grid: GridSettings, level: float = 0.95
) -> PathEstimate:
    """Return the sum of steps that target, shape (p,), asks for.

    Only blocks of rows that the target touches speak, also to tau. Raises NoEstimate where it is not identified.
    """
    wanted = np.asarray(target, dtype=np.float64)
    if wanted.shape != (network.design.shape[1],) or not np.any(wanted):
        raise NoEstimate("A path needs one number a column of the design, at least one of them not 0.")
    if not is_identified(network.design, wanted):
        raise NoEstimate("The path is not identified: some step, or sum of steps, was not measured.")
    blocks = [rows for rows in _blocks(network) if np.any(network.design[rows][:, wanted != 0.0])]
    scores = _scores(network, blocks, wanted, prior, grid)
    tau = np.exp(prior.log_centre + prior.log_sd * scores)
    parts = [_block_mixture(network, rows, wanted, tau, grid.se_nodes) for rows in blocks]
    whole = parts[0]
    for part in parts[1:]:
        whole = added(whole, part)
    logs = whole.log_weight - 0.5 * scores[:, None] ** 2
    weights = np.exp(logs - np.max(logs))
    weights /= np.sum(weights)
    tau_weight = np.sum(weights, axis=1)
    kept = weights > _LEAST_WEIGHT
    normals = Normals(weights[kept] / np.sum(weights[kept]), whole.mean[kept], whole.variance[kept])
    centre = float(normals.weight @ normals.mean)
    sd = math.sqrt(float(normals.weight @ (normals.variance + (normals.mean - centre) ** 2)))
    tail = (1.0 - level) / 2.0
    coarse = coarsened(normals)
    low, middle, high = (quantile(q, coarse, normals, centre, sd) for q in (tail, 0.5, 1.0 - tail))
    below = np.cumsum(tau_weight) - 0.5 * tau_weight
    tau_median = float(np.exp(np.interp(0.5, below, np.log(tau))))
    studies = {network.study[row] for rows in blocks for row in rows}
    return PathEstimate(middle, low, high, sd, tau_median, tau, tau_weight, len(studies))


def _blocks(network: Network) -> list[list[int]]:
    """Return the rows in blocks that share neither a step nor a study; given tau they are independent."""
    left = list(range(network.log_ratio.size))
    blocks: list[list[int]] = []
    while left:
        block, columns, names = [left.pop(0)], network.design[0:0], set[str]()
        grew = True
        while grew:
            columns = np.any(network.design[block] != 0.0, axis=0)
            names = {network.study[row] for row in block}
            joins = [row for row in left if network.study[row] in names or np.any(network.design[row][columns] != 0.0)]
            block += joins
            left = [row for row in left if row not in joins]
            grew = bool(joins)
        blocks.append(sorted(block))
    return blocks


def _nodes(studies: int, most: int) -> tuple[Floats, Floats]:
    """Return places and weights of the nodes of ln(se): as many as the number of studies with u above 0 allows.

    With too many studies for nodes, one node stands at the root mean square of se, sqrt(E se^2) = se exp(u^2).
    """
    number = most
    while number > 1 and number**studies > _MOST_COMBINATIONS:
        number -= 2
    if number < 2:
        return np.zeros(1), np.ones(1)
    places, weights = np.polynomial.hermite_e.hermegauss(number)
    return np.asarray(places), np.asarray(weights / np.sum(weights))


def _block_mixture(network: Network, rows: list[int], target: Floats, tau: Floats, most_nodes: int) -> NormalMixture:
    """Return the target's part in one block, for every tau and every combination of nodes of the studies' ln(se)."""
    design = network.design[rows]
    used = np.any(design != 0.0, axis=0)
    size = np.where(used, np.max(np.abs(design), axis=0), 1.0)
    _, strength, turn = np.linalg.svd(design / size, full_matrices=False)
    turn = turn[strength > strength[0] * 1e-10]
    basis = (design / size) @ turn.T
    wanted = turn @ (np.where(used, target, 0.0) / size)
    names = sorted({network.study[row] for row in rows})
    unsure = {network.study[row] for row in rows if network.u[row] > 0.0}
    rule = _nodes(len(unsure), most_nodes)
    r, t = basis.shape[1], tau.size
    square, pull = np.zeros((t, 1, r, r)), np.zeros((t, 1, r))
    rest, log_weight = np.zeros((t, 1)), np.zeros((t, 1))
    for name in names:
        mine = [place for place, row in enumerate(rows) if network.study[row] == name]
        at = [rows[place] for place in mine]
        doubts = network.u[at]
        places, shares = rule if name in unsure else (np.zeros(1), np.ones(1))
        grown = np.exp(np.outer(places, doubts)) if places.size > 1 else np.exp(doubts**2)[None, :]
        errors = network.covariance[np.ix_(at, at)] * grown[:, :, None] * grown[:, None, :]
        random = design[mine] * network.random_scale
        total = tau[:, None, None, None] ** 2 * (random @ random.T) + errors
        inverse = np.linalg.inv(total)
        x, y = basis[mine], network.log_ratio[at]
        weighted = inverse @ x
        square = outer_sum(square, x.T @ weighted)
        pull = outer_sum(pull, np.swapaxes(weighted, -1, -2) @ y)
        spread = np.linalg.slogdet(total)[1]
        rest = outer_sum(rest, np.einsum("i,tnij,j->tn", y, inverse, y) + spread)
        log_weight = outer_sum(log_weight, np.broadcast_to(np.log(shares), (t, shares.size)))
    estimate, reach, spread = _solved(square, pull, wanted)
    fit = rest - np.sum(pull * estimate, axis=-1) + spread
    return NormalMixture(log_weight - 0.5 * fit, estimate @ wanted, reach @ wanted)


def _scores(network: Network, blocks: list[list[int]], target: Floats, prior: TauPrior, grid: GridSettings) -> Floats:
    """Return evenly spaced (ln tau - centre) / log_sd over the part that carries weight."""
    rows = [row for block in blocks for row in block]
    errors = np.sqrt(np.diag(network.covariance))[rows]
    widest = max(float(np.ptp(network.log_ratio[rows])), float(np.max(errors)))
    low = min(-_REACH, (math.log(float(np.min(errors))) - _BEYOND - prior.log_centre) / prior.log_sd)
    high = max(_REACH, (math.log(widest) + _BEYOND - prior.log_centre) / prior.log_sd)
    scores = np.linspace(low, high, _COARSE)
    tau = np.exp(prior.log_centre + prior.log_sd * scores)
    logs = -0.5 * scores**2
    for block in blocks:
        # where tau may lie does not hang on the nodes: one node will do for looking
        logs = logs + np.logaddexp.reduce(_block_mixture(network, block, target, tau, 1).log_weight, axis=1)
    counted = np.flatnonzero(logs > np.max(logs) - 2 * _DROP)
    step = float(scores[1] - scores[0])
    return np.linspace(scores[counted[0]] - step, scores[counted[-1]] + step, grid.tau_points)


def _solved(square: Floats, pull: Floats, wanted: Floats) -> tuple[Floats, Floats, Floats]:
    """Return A^-1 c, A^-1 l and ln det A for A (T, C, r, r), c (T, C, r), l (r,); one or two steps written out."""
    r = wanted.size
    if r > 2:
        both = np.stack([pull, np.broadcast_to(wanted, pull.shape)], axis=-1)
        solved: Floats = np.asarray(np.linalg.solve(square, both), dtype=np.float64)
        return solved[..., 0], solved[..., 1], np.asarray(np.linalg.slogdet(square)[1], dtype=np.float64)
    if r == 1:
        return pull / square[..., 0], wanted / square[..., 0], np.log(square[..., 0, 0])
    a, b, d = square[..., 0, 0], square[..., 0, 1], square[..., 1, 1]
    det = a * d - b * b

    def over(x: Floats, y: Floats) -> Floats:
        return np.stack([(d * x - b * y) / det, (a * y - b * x) / det], axis=-1)

    first, second = np.broadcast_to(wanted[0], a.shape), np.broadcast_to(wanted[1], a.shape)
    return over(pull[..., 0], pull[..., 1]), over(first, second), np.log(det)
