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
from numpy.typing import ArrayLike, NDArray

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
    "part_touched",
    "path_posterior",
    "path_posteriors",
    "within_study_covariance",
]

# combinations of Gauss-Hermite nodes in one block, a limit of the machine: of one step, of several
_MOST_COMBINATIONS = (3500, 1000)
_LEAST_WEIGHT = 1e-12  # of one normal among the many
_REACH = 7.0  # SDs of ln tau, as in mixture.py
_BEYOND = 3.0
_DROP = 22.0
_COARSE = 61
_MOST_PASSES = 16
_FEWEST = 8  # coarse points that must carry weight before the grid is placed


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


@dataclass(frozen=True)
class _Block:
    """What one block of rows says for every tau and combination of nodes: b of its own steps is N(mean, square^-1).

    log_weight: shape (T, C), likelihood included; square (T, C, r, r); mean (T, C, r); turn, shape (r, p), brings a
    target to the block's own steps.
    """

    log_weight: Floats
    square: Floats
    mean: Floats
    turn: Floats

    def part(self, target: Floats) -> NormalMixture:
        """Return the target's part in this block."""
        wanted = self.turn @ target
        reach = _solved(self.square, np.broadcast_to(wanted, self.mean.shape))
        return NormalMixture(self.log_weight, self.mean @ wanted, reach @ wanted)


def path_posterior(
    network: Network, target: ArrayLike, *, prior: TauPrior, grid: GridSettings, level: float = 0.95
) -> PathEstimate:
    """Return the sum of steps that target, shape (p,), asks for. Raises NoEstimate where it is not identified.

    Only rows that share steps with the target, directly or through other rows, speak, also to tau.
    """
    return path_posteriors(network, [target], prior=prior, grid=grid, level=level)[0]


def path_posteriors(
    network: Network, targets: Sequence[ArrayLike], *, prior: TauPrior, grid: GridSettings, level: float = 0.95
) -> list[PathEstimate]:
    """Return several sums of steps of one network, each target of shape (p,), from the rows that touch any of them."""
    wanted = [np.asarray(target, dtype=np.float64) for target in targets]
    for each in wanted:
        if each.shape != (network.design.shape[1],) or not np.any(each):
            raise NoEstimate("A path needs one number a column of the design, at least one of them not 0.")
        if not is_identified(network.design, each):
            raise NoEstimate("The path is not identified: some step, or sum of steps, was not measured.")
    touched = np.any(np.array(wanted) != 0.0, axis=0)
    rows_of = _blocks(network, touched)
    scores = _scores(network, rows_of, prior, grid)
    tau = np.exp(prior.log_centre + prior.log_sd * scores)
    blocks = [_block(network, rows, tau, grid.se_nodes) for rows in rows_of]
    n_studies = len({network.study[row] for rows in rows_of for row in rows})
    return [_estimate(blocks, each, scores, tau, n_studies, level) for each in wanted]


def part_touched(network: Network, target: ArrayLike) -> Network | None:
    """Return the rows that share steps with the target, directly or through other rows; None where there are none."""
    touched = np.asarray(target, dtype=np.float64) != 0.0
    rows = sorted(row for block in _blocks(network, touched) for row in block)
    if not rows:
        return None
    return Network(
        network.design[rows], network.log_ratio[rows], tuple(network.study[row] for row in rows),
        network.covariance[np.ix_(rows, rows)], network.u[rows], network.random_scale,
    )  # fmt: skip


def _estimate(
    blocks: list[_Block], target: Floats, scores: Floats, tau: Floats, n_studies: int, level: float
) -> PathEstimate:
    whole = blocks[0].part(target)
    for block in blocks[1:]:
        whole = added(whole, block.part(target))
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
    return PathEstimate(middle, low, high, sd, tau_median, tau, tau_weight, n_studies)


def _blocks(network: Network, touched: NDArray[np.bool_]) -> list[list[int]]:
    """Return the rows that share steps with the touched columns, in blocks that share neither a step nor a study.

    Given tau the blocks are independent. Rows that share no step with the target say nothing of it.
    """
    left = [row for row in range(network.log_ratio.size) if np.any(network.design[row] != 0.0)]
    blocks: list[list[int]] = []
    while left:
        block = [left.pop(0)]
        joins = block
        while joins:
            columns = np.any(network.design[block] != 0.0, axis=0)
            joins = [row for row in left if np.any(network.design[row][columns] != 0.0)]
            block += joins
            left = [row for row in left if row not in joins]
        if np.any(network.design[block][:, touched] != 0.0):
            blocks.append(block)
    merged: list[list[int]] = []
    for block in blocks:
        names = {network.study[row] for row in block}
        same = [other for other in merged if names & {network.study[row] for row in other}]
        merged = [other for other in merged if other not in same]
        merged.append(sorted([*block, *(row for other in same for row in other)]))
    return merged


def _nodes(studies: int, most: int, combinations: int) -> tuple[Floats, Floats]:
    """Return places and weights of the nodes of ln(se): as many as the number of studies with u above 0 allows.

    With too many studies for nodes, one node stands at the root mean square of se, sqrt(E se^2) = se exp(u^2).
    """
    number = most
    while number > 1 and number**studies > combinations:
        number -= 2
    if number < 2:
        return np.zeros(1), np.ones(1)
    places, weights = np.polynomial.hermite_e.hermegauss(number)
    return np.asarray(places), np.asarray(weights / np.sum(weights))


def _block(network: Network, rows: list[int], tau: Floats, most_nodes: int) -> _Block:
    """Return what a block says, for every tau and every combination of nodes of its studies' ln(se)."""
    design = network.design[rows]
    used = np.any(design != 0.0, axis=0)
    size = np.where(used, np.max(np.abs(design), axis=0), 1.0)
    _, strength, turn = np.linalg.svd(design / size, full_matrices=False)
    turn = turn[strength > strength[0] * 1e-10]
    basis = (design / size) @ turn.T
    names = sorted({network.study[row] for row in rows})
    unsure = {network.study[row] for row in rows if network.u[row] > 0.0}
    r, t = basis.shape[1], tau.size
    rule = _nodes(len(unsure), most_nodes, _MOST_COMBINATIONS[min(r, 2) - 1])
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
    mean = _solved(square, pull)
    fit = rest - np.sum(pull * mean, axis=-1) + np.linalg.slogdet(square)[1]
    return _Block(log_weight - 0.5 * fit, square, mean, turn * np.where(used, 1.0 / size, 0.0))


def _scores(network: Network, blocks: list[list[int]], prior: TauPrior, grid: GridSettings) -> Floats:
    """Return evenly spaced (ln tau - centre) / log_sd over the part that carries weight."""
    rows = [row for block in blocks for row in block]
    errors = np.sqrt(np.diag(network.covariance))[rows]
    widest = max(float(np.ptp(network.log_ratio[rows])), float(np.max(errors)))
    low = min(-_REACH, (math.log(float(np.min(errors))) - _BEYOND - prior.log_centre) / prior.log_sd)
    high = max(_REACH, (math.log(widest) + _BEYOND - prior.log_centre) / prior.log_sd)
    for _ in range(_MOST_PASSES):
        scores = np.linspace(low, high, _COARSE)
        tau = np.exp(prior.log_centre + prior.log_sd * scores)
        logs = -0.5 * scores**2
        for block in blocks:
            # where tau may lie does not hang on the nodes: one node will do for looking
            logs = logs + np.logaddexp.reduce(_block(network, block, tau, 1).log_weight, axis=1)
        counted = np.flatnonzero(logs > np.max(logs) - 2 * _DROP)
        step = float(scores[1] - scores[0])
        low, high = float(scores[counted[0]]) - step, float(scores[counted[-1]]) + step
        if counted.size >= _FEWEST:
            break
    return np.linspace(low, high, grid.tau_points)


def _solved(square: Floats, right: Floats) -> Floats:
    """Return A^-1 x for A (T, C, r, r) and x (T, C, r); one or two steps written out, many times faster."""
    if right.shape[-1] == 1:
        return np.asarray(right / square[..., 0])
    if right.shape[-1] == 2:
        a, b, d = square[..., 0, 0], square[..., 0, 1], square[..., 1, 1]
        x, y = right[..., 0], right[..., 1]
        det = a * d - b * b
        return np.stack([(d * x - b * y) / det, (a * y - b * x) / det], axis=-1)
    return np.asarray(np.linalg.solve(square, right[..., None])[..., 0], dtype=np.float64)
