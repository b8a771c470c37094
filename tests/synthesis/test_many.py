"""Pooling many groups at once is pooling them one by one."""

import dataclasses
import subprocess
import sys
import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import evidence
from evidence.synthesis.classical import pool
from evidence.synthesis.heterogeneity import ESTIMATORS
from evidence.synthesis.many import PooledTable, pool_many
from evidence.synthesis.refusal import NoEstimate
from tests.synthesis.published_data import Floats, bulls, eight_schools, gravitation, group_means, nicotine_gum
from tests.synthesis.test_heterogeneity import hard_inputs, restricted_loglik

NUMBERS = ("estimate", "se", "ci_low", "ci_high", "tau2", "i2", "q")
row_lists = st.lists(
    st.tuples(st.integers(0, 5), st.floats(-3, 3, allow_nan=False), st.floats(0.001, 4.0, allow_nan=False)),
    min_size=1,
    max_size=40,
)


def assert_as_one_by_one(table: PooledTable, effects: Floats, variances: Floats, group: Floats, estimator: str) -> None:
    """Hold every number of every group to pool(), within 1e-10 of the scale it is computed on."""
    assert table.group.tolist() == sorted(set(group.tolist()))
    for place, label in enumerate(table.group.tolist()):
        of_group = group == label
        single = pool(effects[of_group], variances[of_group], estimator=estimator)
        assert table.k[place] == single.k
        reach = float(np.max(np.abs(effects[of_group])))
        scale = {"tau2": float(np.max(variances[of_group])), "q": 1.0, "i2": 1.0}
        for name in NUMBERS:
            expected, found = getattr(single, name), float(getattr(table, name)[place])
            if expected is None:
                assert np.isnan(found), name
            else:
                assert found == pytest.approx(expected, rel=1e-10, abs=1e-10 * scale.get(name, reach)), name


def two_peaks() -> tuple[Floats, Floats]:
    """Two exact studies close together and several rough ones far apart: the likelihood has two peaks."""
    effects = np.array([0.0, 0.05, 6.0, -5.0, 7.0, -6.5])
    return effects, np.array([1e-4, 1e-4, 4.0, 4.0, 4.0, 4.0])


@pytest.mark.parametrize("estimator", ESTIMATORS)
def test_published_data_pooled_together_are_as_pooled_one_by_one(estimator: str) -> None:
    sets = [nicotine_gum(), eight_schools(), gravitation(), bulls(), two_peaks()]
    sets.append((group_means("dyestuff", "batch", "yield")[0], np.full(6, 49.51**2 / 5)))
    effects = np.concatenate([one for one, _ in sets])
    variances = np.concatenate([two for _, two in sets])
    group = np.repeat(np.arange(len(sets)), [one.size for one, _ in sets])
    shuffled = np.random.default_rng(3).permutation(group.size)
    effects, variances, group = effects[shuffled], variances[shuffled], group[shuffled]
    assert_as_one_by_one(
        pool_many(effects, variances, group, estimator=estimator), effects, variances, group, estimator
    )


@settings(max_examples=80, deadline=None)
@given(row_lists, st.sampled_from(ESTIMATORS))
def test_any_groups_are_as_pooled_one_by_one(rows: list[tuple[int, float, float]], estimator: str) -> None:
    group, effects, variances = (np.array(column) for column in zip(*rows, strict=True))
    assert_as_one_by_one(
        pool_many(effects, variances, group, estimator=estimator), effects, variances, group, estimator
    )


@pytest.mark.parametrize("estimator", ESTIMATORS)
def test_variances_over_five_orders_of_magnitude_are_as_pooled_one_by_one(estimator: str) -> None:
    draw = np.random.default_rng(20261125)
    sizes = draw.integers(1, 40, 200)
    group = np.repeat(np.arange(sizes.size), sizes)
    variances = 10.0 ** draw.uniform(-4, 1, group.size)
    effects = draw.normal(0.0, np.sqrt(variances + (10.0 ** draw.uniform(-3, 1, sizes.size))[group]))
    assert_as_one_by_one(
        pool_many(effects, variances, group, estimator=estimator), effects, variances, group, estimator
    )


@pytest.mark.parametrize("estimator", ESTIMATORS)
def test_hard_groups_pool_without_a_warning_as_one_by_one(estimator: str) -> None:
    groups = list(hard_inputs().values())
    effects = np.concatenate([one for one, _ in groups])
    variances = np.concatenate([two for _, two in groups])
    group = np.repeat(np.arange(len(groups)), [one.size for one, _ in groups])
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        table = pool_many(effects, variances, group, estimator=estimator)
    assert_as_one_by_one(table, effects, variances, group, estimator)
    assert all(np.all(np.isfinite(getattr(table, name))) for name in NUMBERS)


def test_of_two_peaks_the_higher_is_taken() -> None:
    effects, variances = two_peaks()
    grid = np.geomspace(1e-6, 100.0, 4000)
    heights = np.array([restricted_loglik(effects, variances, tau2) for tau2 in grid])
    peaks = np.flatnonzero((heights[1:-1] > heights[:-2]) & (heights[1:-1] > heights[2:])) + 1
    assert peaks.size == 2  # else this checks nothing
    found = float(pool_many(effects, variances, np.zeros(6, dtype=int)).tau2[0])
    assert found == pytest.approx(grid[np.argmax(heights)], rel=0.01)
    assert restricted_loglik(effects, variances, found) >= float(np.max(heights)) - 1e-9


def test_a_peak_sharper_than_its_information_is_reached() -> None:
    # Found by chance: here Fisher's steps alone swing about the peak for ever.
    effects = np.array([0.0, 0.0, 0.0, 0.0, 1.75, 0.96875, -0.5625, -0.125])
    variances = np.array([2.0, 0.375, 0.4375, 0.4375, 1.75, 0.00390625, 0.40625, 1.0])
    grid = np.linspace(0.2, 0.3, 2001)
    highest = grid[np.argmax([restricted_loglik(effects, variances, tau2) for tau2 in grid])]
    for found in (pool(effects, variances).tau2, float(pool_many(effects, variances, np.zeros(8)).tau2[0])):
        assert found == pytest.approx(highest, abs=1e-4)
    assert_as_one_by_one(pool_many(effects, variances, np.zeros(8)), effects, variances, np.zeros(8), "reml")


@settings(max_examples=30, deadline=None)
@given(row_lists, st.randoms(use_true_random=False))
def test_rows_in_any_order_give_the_same_bytes(rows: list[tuple[int, float, float]], random: object) -> None:
    shuffled = list(rows)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    tables = []
    for some in (rows, shuffled):
        group, effects, variances = (np.array(column) for column in zip(*some, strict=True))
        tables.append(pool_many(effects, variances, group))
    for field in dataclasses.fields(PooledTable):
        one, other = (getattr(table, field.name) for table in tables)
        assert one.tobytes() == other.tobytes(), field.name


@settings(max_examples=30, deadline=None)
@given(row_lists, st.floats(0.01, 100.0))
def test_a_change_of_unit_changes_only_the_unit(rows: list[tuple[int, float, float]], unit: float) -> None:
    group, effects, variances = (np.array(column) for column in zip(*rows, strict=True))
    before, after = pool_many(effects, variances, group), pool_many(unit * effects, unit**2 * variances, group)
    scale = float(np.max(np.abs(effects))) + 1.0
    np.testing.assert_allclose(after.estimate, unit * before.estimate, rtol=1e-7, atol=1e-9 * unit * scale)
    np.testing.assert_allclose(after.se, unit * before.se, rtol=1e-7)
    np.testing.assert_allclose(after.q, before.q, rtol=1e-7, atol=1e-9)


def test_labels_may_be_words_or_numbers_and_come_back_sorted() -> None:
    effects, variances = [0.1, 0.2, 0.3, 0.4], [0.01, 0.02, 0.03, 0.04]
    words = pool_many(effects, variances, ["fat", "zinc", "fat", "iron"])
    assert words.group.tolist() == ["fat", "iron", "zinc"]
    assert words.k.tolist() == [2, 1, 1]
    wide = pool_many(effects, variances, [2**40, -5, 2**40, 7])
    assert wide.group.tolist() == [-5, 7, 2**40]
    assert wide.estimate.tolist() == words.estimate[[2, 1, 0]].tolist()
    near = pool_many(effects, variances, [70_000, -5, 70_000, 7])
    assert near.estimate.tolist() == wide.estimate.tolist()


@pytest.mark.parametrize("size", [1, 7, 8, 9, 17, 33, 1000, 40_000])
def test_a_group_of_any_size_is_as_pooled_alone(size: int) -> None:
    draw = np.random.default_rng(size)
    effects, variances = draw.normal(0.0, 0.4, size), draw.uniform(0.01, 0.2, size)
    group = np.full(size, 3)
    assert_as_one_by_one(pool_many(effects, variances, group, estimator="pm"), effects, variances, group, "pm")


@pytest.mark.parametrize(
    ("effects", "variances", "group", "estimator", "said"),
    [
        ([], [], [], "reml", "nothing to combine"),
        ([0.1, 0.2], [0.1], [1, 1], "reml", "equally many"),
        ([0.1, 0.2], [0.1, 0.1], [1], "reml", "equally many"),
        ([0.1, np.nan], [0.1, 0.1], [1, 1], "reml", "not finite"),
        ([0.1, 0.2], [0.1, 0.0], ["fat", "zinc"], "reml", "group zinc is 0"),
        ([0.1, 1e20], [0.1, 0.1], ["fat", "zinc"], "reml", "group zinc"),
        ([0.1, 0.2], [0.1, 0.1], [[1, 1]], "reml", "not a table"),
        ([0.1, 0.2], [0.1, 0.1], [[1], [1, 2]], "reml", "one row of labels"),
        ([0.1, 0.2], [0.1, 0.1], [1.0, np.nan], "reml", "not a finite number"),
        ([0.1, 0.2], [0.1, 0.1], np.array([1, "a"], dtype=object), "reml", "all numbers or all words"),
        ([0.1, 0.2], [0.1, 0.1], [1, 1], "best", "'best'"),
    ],
)
def test_what_has_no_answer_is_refused_with_a_sentence(
    effects: object, variances: object, group: object, estimator: str, said: str
) -> None:
    with pytest.raises(NoEstimate, match=said):
        pool_many(effects, variances, group, estimator=estimator)  # type: ignore[arg-type]


def test_the_package_offers_it_without_loading_statistics_beforehand() -> None:
    assert evidence.pool_many is pool_many
    with pytest.raises(AttributeError, match="pool_few"):
        _ = evidence.pool_few
    code = "import evidence, sys; print(any(name in sys.modules for name in ('numpy', 'scipy')))"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "False"
