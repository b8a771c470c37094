"""Rows within studies and clusters against answers printed elsewhere; sources of the data: published/README.md."""

import math

import numpy as np
import pytest

from evidence.synthesis.cluster_robust import cluster_robust
from evidence.synthesis.row_blocks import RowBlocks, blocks_from_correlation
from evidence.synthesis.three_level import three_level
from tests.synthesis.published_data import Floats, columns, group_means

NOTHING = 1e-6  # a sampling variance too small to matter: all variance is then estimated


def single_values(name: str, group: str, value: str) -> RowBlocks:
    """Return the single values of a one-way layout as rows whose errors are negligible."""
    table = columns(name)
    values = np.array(table[value], dtype=float)
    return blocks_from_correlation(table[group], values, np.full(values.size, NOTHING), rho=0.0)


def wafers() -> tuple[list[str], Floats]:
    """Return lot and mean thickness of 24 wafers."""
    table = columns("oxide")
    cells: dict[tuple[str, str], list[float]] = {}
    for lot, wafer, thickness in zip(table["lot"], table["wafer"], table["thickness"], strict=True):
        cells.setdefault((lot, wafer), []).append(float(thickness))
    return [lot for lot, _ in cells], np.array([np.mean(values) for values in cells.values()])


def test_wafers_vary_within_and_between_lots_by_the_remembered_sds() -> None:
    # T2, expected values FROM MEMORY (Pinheiro and Bates, Mixed-Effects Models in S and S-PLUS, Springer 2000, section
    # 4.2.3, REML): SD of lots 11.398, of wafers in lots 5.9888, residual 3.5453, mean 2000.153, SE 4.2317.
    lots, means = wafers()
    found = three_level(blocks_from_correlation(lots, means, np.full(24, 3.5453**2 / 3), rho=0.0))
    assert found.tau2_within is not None
    assert f"{math.sqrt(found.tau2):.3f}" == "11.398"
    assert f"{math.sqrt(found.tau2_within):.4f}" == "5.9888"
    assert f"{found.estimate:.3f}" == "2000.153"
    assert f"{found.se:.4f}" == "4.2317"


def test_bulls_vary_between_and_within_by_the_printed_variances() -> None:
    # P5: lecture script, Technical University of Denmark, course 02429 (2024), example 2: REML variance between bulls
    # 76.8, residual 248.7, total 325.5, share 0.24. All from the single values; nothing is taken from another's fit.
    found = three_level(single_values("bulls", "bull", "percent_conceptions"))
    assert found.tau2_within is not None
    assert (round(found.tau2, 1), round(found.tau2_within, 1)) == (76.8, 248.7)
    assert round(found.tau2 + found.tau2_within, 1) == 325.5
    assert round(found.tau2 / (found.tau2 + found.tau2_within), 2) == 0.24


def test_dyestuff_varies_between_and_within_batches_by_the_printed_sds() -> None:
    # P3: REML fit of the single yields, test values of the MixedModels library of the Julia language (good to 1e-6):
    # residual SD 49.510093347813246, between batches 42.00063130711604, mean 1527.5, SE 19.383424615110936.
    found = three_level(single_values("dyestuff", "batch", "yield"))
    assert found.tau2_within is not None
    assert math.sqrt(found.tau2_within) == pytest.approx(49.510093347813246, rel=2e-6)
    assert math.sqrt(found.tau2) == pytest.approx(42.00063130711604, rel=2e-6)
    assert (found.estimate, found.se) == pytest.approx((1527.5, 19.383424615110936), rel=2e-6)


def test_batches_made_without_variance_have_none_between_them() -> None:
    # P4: Dyestuff2, made so that batches do not vary more than their yields: SD between batches exactly 0, mean 5.6656.
    # (The residual SD printed there is by maximum likelihood, ours by REML, so it is not compared.)
    found = three_level(single_values("dyestuff2", "batch", "yield"))
    assert found.tau2 == 0.0
    assert found.estimate == pytest.approx(5.6656, abs=1e-9)


def test_robust_error_of_a_balanced_plain_mean_is_the_ordinary_one() -> None:
    # P3: for six batches of five the ordinary SE of the mean from the six batch means is the printed 19.383; CR2 with
    # batches as clusters is the same number, and its degrees of freedom are 5 (algebra: equal clusters, one mean).
    table = columns("dyestuff")
    yields = np.array(table["yield"], dtype=float)
    found = cluster_robust(np.ones((30, 1)), yields, table["batch"])
    means, _ = group_means("dyestuff", "batch", "yield")
    assert found.se[0] == pytest.approx(19.383424615110936, rel=2e-6)
    assert found.se[0] == pytest.approx(float(np.std(means, ddof=1)) / math.sqrt(6), rel=1e-12)
    assert found.df[0] == pytest.approx(5.0, rel=1e-10)
    assert found.estimate[0] == pytest.approx(1527.5)


def test_growth_of_chicks_has_the_printed_robust_errors_and_degrees_of_freedom() -> None:
    # T3: reference page of a public library for cluster-robust variances of the R language, data set
    # ChickWeight (Crowder and Hand, Analysis of Repeated Measures, 1990, example 5.3): slope of each diet less that of
    # the first: estimate, SE, t, df, P as printed.
    table = columns("chick_growth")
    weight, time = (np.array(table[name], dtype=float) for name in ("weight", "time"))
    diets = np.column_stack([np.array(table["diet"]) == number for number in "234"]).astype(float)
    design = np.column_stack((np.ones(weight.size), diets, time, diets * time[:, None]))
    found = cluster_robust(design, weight, table["chick"])
    assert found.clusters == 50
    printed = (
        ("1.77", "1.49", "1.19", "18.8", "0.2497"),
        ("4.58", "1.35", "3.39", "18.8", "0.0031"),
        ("2.87", "1.01", "2.85", "18.3", "0.0105"),
    )
    for place, row in zip((5, 6, 7), printed, strict=True):
        numbers = (found.estimate, found.se, found.t, found.df, found.p)
        digits = (2, 2, 2, 1, 4)
        assert tuple(f"{number[place]:.{digit}f}" for number, digit in zip(numbers, digits, strict=True)) == row
