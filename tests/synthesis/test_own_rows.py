"""A reader's own rows pooled."""

import math
from dataclasses import dataclass

import pytest
from scipy import stats

from evidence.synthesis.classical import pool
from evidence.synthesis.own_rows import pool_own_rows, pool_own_rows_shared
from evidence.synthesis.refusal import NoEstimate
from evidence.synthesis.settings import GridSettings, TauPrior

GRID = GridSettings(mu_points=281, tau_points=45, se_nodes=5, not_significant_reach=2.1)


@dataclass(frozen=True)
class Rows:
    study: tuple[str, ...]
    log_ratio: tuple[float, ...]
    variance: tuple[float, ...]


ROWS = Rows(("Bo", "Ann", "Bo", "Cy"), (-0.2, -0.5, -0.4, 0.1), (0.04, 0.01, 0.04, 0.09))


def test_rows_of_one_study_count_as_one_study() -> None:
    # By hand: Bo is the mean -0.3 with variance (2 x 0.04 + 2 x 0.8 x 0.04) / 4 = 0.036.
    found = pool_own_rows(ROWS, rho=0.8)
    by_hand = pool([-0.5, -0.3, 0.1], [0.01, 0.036, 0.09])
    assert (found.k_studies, found.k_rows) == (3, 4)
    assert (found.estimate, found.se, found.q) == pytest.approx((by_hand.estimate, by_hand.se, by_hand.q))
    assert (found.estimator, found.interval_kind) == ("reml", "hk-floor")


def test_what_is_left_of_100_is_the_exponential_of_the_estimate() -> None:
    found = pool_own_rows(Rows(("a",), (math.log(0.69),), (0.01,)), rho=0.8)
    assert found.retained_percent == pytest.approx(69.0)
    assert (found.k_studies, found.tau2, found.prediction_low, found.interval_kind) == (1, None, None, "wald")


def test_a_shared_tau_of_almost_none_gives_the_common_effect() -> None:
    found = pool_own_rows_shared(ROWS, rho=0.8, prior=TauPrior(1e-9, 0.1), grid=GRID)
    weights = [1 / 0.01, 1 / 0.036, 1 / 0.09]
    mean = sum(w * y for w, y in zip(weights, (-0.5, -0.3, 0.1), strict=True)) / sum(weights)
    assert found.estimate == pytest.approx(mean, abs=1e-6)
    assert (found.ci_low, found.ci_high) == pytest.approx(
        stats.norm.interval(0.95, mean, sum(weights) ** -0.5), abs=1e-5
    )
    assert (found.interval_kind, found.tau2, found.k_studies, found.k_rows) == ("shared", None, 3, 4)


def test_one_study_with_a_shared_tau_has_a_wider_interval_than_its_own() -> None:
    single = Rows(("a",), (-0.4,), (0.01,))
    shared = pool_own_rows_shared(single, rho=0.8, prior=TauPrior(0.3, 0.5), grid=GRID)
    alone = pool_own_rows(single, rho=0.8)
    assert shared.ci_high - shared.ci_low > alone.ci_high - alone.ci_low
    assert shared.prediction_low is not None and shared.prediction_low < shared.ci_low
    assert shared.q is None


def test_an_estimate_that_is_no_share_of_100_is_refused() -> None:
    with pytest.raises(NoEstimate, match="no share of 100"):
        pool_own_rows(Rows(("a",), (800.0,), (0.01,)), rho=0.8)


def test_rows_without_an_answer_are_refused() -> None:
    with pytest.raises(NoEstimate, match="above zero"):
        pool_own_rows(Rows(("a", "b"), (0.1, 0.2), (0.01, -0.01)), rho=0.8)
    with pytest.raises(NoEstimate, match="equally many"):
        pool_own_rows(Rows(("a",), (0.1, 0.2), (0.01, 0.01)), rho=0.8)
