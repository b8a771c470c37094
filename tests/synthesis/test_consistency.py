"""The test of a whole network: the published loop, one by hand, its level under agreement, contradictions seen."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import norm

from evidence.synthesis import GridSettings, TauPrior
from evidence.synthesis.consistency import global_consistency
from evidence.synthesis.network import make_network

GRID = GridSettings(mu_points=401, tau_points=45, se_nodes=5, not_significant_reach=2.1)
NEARLY_NONE = TauPrior(median=1e-6, log_sd=0.1, shift=0.0)
PRIOR = TauPrior(median=0.36, log_sd=0.5, shift=0.2)


def test_the_published_loop_has_its_printed_p() -> None:
    # Bucher, Guyatt, Griffith and Walter 1997, abstract (PMID 9250266): indirect 0.37 (0.21 to 0.65), direct 0.64
    # (0.45 to 0.90), p for the difference 0.11
    wide = 2 * norm.ppf(0.975)
    indirect_se, direct_se = math.log(0.65 / 0.21) / wide, math.log(0.90 / 0.45) / wide
    half = indirect_se / math.sqrt(2)  # the indirect one is a difference of two; how they share its variance is nothing
    network = make_network(
        [[1, 0], [0, 1], [1, -1]], [math.log(0.37), 0.0, math.log(0.64)], [half, half, direct_se], [0, 0, 0],
        ["a", "b", "c"], rho=0.0,
    )  # fmt: skip
    found = global_consistency(network, prior=NEARLY_NONE, grid=GRID)
    assert found is not None and found.df == 1
    assert found.p == pytest.approx(0.11, abs=0.006)


def test_one_loop_is_direct_against_indirect() -> None:
    y, se = [0.1, -0.7, 0.4], [0.2, 0.1, 0.3]
    network = make_network([[1, 0], [1, 1], [0, 1]], y, se, [0, 0, 0], ["a", "b", "c"], rho=0.0)
    found = global_consistency(network, prior=NEARLY_NONE, grid=GRID)
    assert found is not None
    by_hand = (y[1] - y[0] - y[2]) ** 2 / sum(each**2 for each in se)  # bucher1997
    assert found.q == pytest.approx(by_hand, rel=1e-6)
    assert found.p == pytest.approx(2 * norm.sf(math.sqrt(by_hand)), rel=1e-6)


def test_without_a_loop_nothing_is_tested() -> None:
    network = make_network([[1, 0], [0, 1], [0, 1]], [0.1, 2.0, -2.0], [0.1] * 3, [0] * 3, ["a", "b", "c"], rho=0.8)
    assert global_consistency(network, prior=PRIOR, grid=GRID) is None


def test_the_order_of_rows_changes_nothing() -> None:
    rows = [([1.0, 0.0], 0.1, "a"), ([0.0, 1.0], -0.3, "b"), ([1.0, 1.0], 0.5, "c"), ([1.0, 1.0], 0.2, "a")]

    def found(order: list[int]) -> object:
        chosen = [rows[place] for place in order]
        network = make_network(
            [x for x, _, _ in chosen], [y for _, y, _ in chosen], [0.1] * 4, [0.3] * 4, [s for _, _, s in chosen],
            rho=0.8,
        )  # fmt: skip
        return global_consistency(network, prior=PRIOR, grid=GRID)

    assert found([0, 1, 2, 3]) == found([3, 1, 0, 2])


def test_times_of_one_comparison_are_one_line_and_no_contradiction() -> None:
    design = [[1, 10], [1, 20], [1, 20], [1, 60]]
    scattered = make_network(
        design, [-0.1, -0.9, 0.4, -0.2], [0.1] * 4, [0] * 4, list("abcd"), rho=0.0, random_scale=[1.0, 0.01]
    )
    assert global_consistency(scattered, prior=PRIOR, grid=GRID, lines=[1]) is None


def test_a_rate_measured_within_the_store_is_held_against_the_line() -> None:
    # line by hand: ln ratio -0.1 - 0.01 t; two times in the store, 100 days apart, must differ by -1
    def q(within: float) -> float:
        design = [[1, 10], [1, 50], [1, 100], [0, 100]]
        y = [-0.2, -0.6, -1.1, within]
        network = make_network(design, y, [0.05] * 4, [0] * 4, list("abcd"), rho=0.0, random_scale=[1.0, 0.01])
        found = global_consistency(network, prior=NEARLY_NONE, grid=GRID, lines=[1])
        assert found is not None and found.df == 1
        return found.q

    assert q(-1.0) == pytest.approx(0.0, abs=1e-9)
    assert q(0.0) > 20


def _shares(contradiction: float, tau: float, worlds: int = 150) -> float:
    random = np.random.default_rng(11)
    design = np.array([[1, 0]] * 3 + [[0, 1]] * 3 + [[1, 1]] * 3, dtype=float)
    few = 0
    for _ in range(worlds):
        own = tau * random.standard_normal((9, 2))
        y = design @ [-0.3, -0.2] + np.sum(own * design, axis=1) + 0.1 * random.standard_normal(9)
        y[6:] += contradiction
        network = make_network(design, y, [0.1] * 9, [0.0] * 9, list("abcdefghi"), rho=0.0)
        found = global_consistency(network, prior=PRIOR, grid=GRID)
        assert found is not None
        few += found.p < 0.1
    return few / worlds


def test_one_study_a_comparison_says_little() -> None:
    # nothing tells contradiction from studies that differ: p stays large where their difference is within tau
    network = make_network([[1, 0], [0, 1], [1, 1]], [0.0, 0.0, -0.6], [0.01] * 3, [0] * 3, list("abc"), rho=0.0)
    found = global_consistency(network, prior=PRIOR, grid=GRID)
    assert found is not None and found.p > 0.3


def test_where_steps_add_up_the_test_errs_no_more_often_than_it_says() -> None:
    # 10 % wanted; Monte Carlo error 2.4 points
    assert _shares(0.0, 0.3) < 0.17


def test_a_large_contradiction_is_seen() -> None:
    assert _shares(2.5, 0.3) > 0.6
