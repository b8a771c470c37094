"""Rows of one study become one estimate."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evidence.synthesis.dependence import combine_within_studies
from evidence.synthesis.refusal import NoEstimate

row_lists = st.lists(
    st.tuples(st.sampled_from("abc"), st.floats(-2, 2), st.floats(0.01, 1.0), st.floats(0.0, 1.0)),
    min_size=1,
    max_size=12,
)


def test_variance_of_the_mean_is_the_sum_of_the_covariance_matrix() -> None:
    # Var(mean) = 1' C 1 / r^2 with C_ij = rho se_i se_j, C_ii = se_i^2: the definition, by an explicit matrix.
    se = np.array([0.1, 0.2, 0.4])
    matrix = 0.8 * np.outer(se, se) + 0.2 * np.diag(se**2)
    found = combine_within_studies(["x"] * 3, [-0.3, -0.2, -0.7], se, [0.0, 0.0, 0.0], rho=0.8)
    assert found.log_ratio[0] == pytest.approx(-0.4)
    assert found.se[0] ** 2 == pytest.approx(matrix.sum() / 9)
    assert found.rows == (3,)


@settings(max_examples=80, deadline=None)
@given(row_lists, st.floats(0.0, 1.0))
def test_many_studies_at_once_are_each_as_if_alone(rows: list[tuple[str, float, float, float]], rho: float) -> None:
    study, log_ratio, se, u = zip(*rows, strict=True)
    together = combine_within_studies(study, log_ratio, se, u, rho=rho)
    assert together.study == tuple(sorted(set(study)))
    for at, name in enumerate(together.study):
        mine = [row for row in rows if row[0] == name]
        errors = np.array([row[2] for row in mine])
        matrix = rho * np.outer(errors, errors) + (1 - rho) * np.diag(errors**2)
        assert together.rows[at] == len(mine)
        assert together.log_ratio[at] == pytest.approx(np.mean([row[1] for row in mine]), abs=1e-12)
        assert together.se[at] == pytest.approx(np.sqrt(matrix.sum()) / len(mine), rel=1e-12)
        assert min(row[3] for row in mine) - 1e-12 <= together.u[at] <= max(row[3] for row in mine) + 1e-12


def test_doubt_about_the_se_follows_the_delta_method() -> None:
    # Move all ln(se_i) by eps u_i: ln(se) of the mean moves by eps u, by numerical differentiation.
    se, u, eps = np.array([0.1, 0.3, 0.2]), np.array([0.7, 0.2, 0.4]), 1e-6
    zeros = np.zeros(3)
    up = combine_within_studies("xxx", zeros, se * np.exp(eps * u), u, rho=0.8).se[0]
    down = combine_within_studies("xxx", zeros, se * np.exp(-eps * u), u, rho=0.8).se[0]
    found = combine_within_studies("xxx", zeros, se, u, rho=0.8).u[0]
    assert found == pytest.approx((np.log(up) - np.log(down)) / (2 * eps), rel=1e-6)


def test_equal_rows_that_err_wholly_together_are_worth_one_row() -> None:
    found = combine_within_studies("xxxx", [-0.2] * 4, [0.3] * 4, [0.7] * 4, rho=1.0)
    assert (found.log_ratio[0], found.se[0], found.u[0]) == pytest.approx((-0.2, 0.3, 0.7))


def test_independent_equal_rows_shrink_with_the_root_of_their_number() -> None:
    found = combine_within_studies("xxxx", [-0.2] * 4, [0.3] * 4, [0.0] * 4, rho=0.0)
    assert found.se[0] == pytest.approx(0.15)


@settings(max_examples=40, deadline=None)
@given(row_lists, st.randoms(use_true_random=False))
def test_rows_in_any_order_give_the_same_bytes(rows: list[tuple[str, float, float, float]], random: object) -> None:
    shuffled = list(rows)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    first, second = (combine_within_studies(*zip(*some, strict=True), rho=0.8) for some in (rows, shuffled))
    assert first.study == second.study and first.rows == second.rows
    for mine, other in ((first.log_ratio, second.log_ratio), (first.se, second.se), (first.u, second.u)):
        assert mine.tobytes() == other.tobytes()


@pytest.mark.parametrize("rho", [-0.1, 1.1, float("nan")])
def test_an_impossible_correlation_is_refused(rho: float) -> None:
    with pytest.raises(NoEstimate, match="between 0 and 1"):
        combine_within_studies("xx", [0.1, 0.2], [0.1, 0.1], [0.0, 0.0], rho=rho)


def test_unequal_lengths_and_bad_errors_are_refused() -> None:
    with pytest.raises(NoEstimate, match="equally many"):
        combine_within_studies("xx", [0.1], [0.1], [0.0], rho=0.8)
    with pytest.raises(NoEstimate, match="above zero"):
        combine_within_studies("x", [0.1], [0.0], [0.0], rho=0.8)
