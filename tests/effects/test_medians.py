"""A mean from a median: against what is known of normal samples, not against our own output."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import ndtri

from evidence.effects import Effect, effect_of
from evidence.effects.medians import mean_from_median
from evidence.effects.printed import sd_from_spread
from evidence.model.rules import Rules
from tests.invented import measured


def test_worked_by_hand() -> None:
    # luo2018, equation 15 with n = 39: w = 0.7 + 0.01, mid 6, median 5: 0.71 x 6 + 0.29 x 5
    assert mean_from_median(5, 4, 8, "IQR", 39) == pytest.approx(5.71)
    # equation 7 with n = 16: 16^0.75 = 8, w = 4/12
    assert mean_from_median(5, 2, 11, "range", 16) == pytest.approx(5 + 1.5 / 3)


@pytest.mark.parametrize(
    ("kind", "n", "middle"), [("CI95", 10, 5.0), ("IQR", None, 5.0), ("IQR", 1, 5.0), ("range", 10, 9.0)]
)
def test_other_pairs_give_no_mean(kind: str, n: float | None, middle: float) -> None:
    assert mean_from_median(middle, 4, 8, kind, n) is None


def test_the_weight_of_quartiles_is_the_best_one_of_large_normal_samples() -> None:
    # Sample quantiles of many normal values have covariances p (1 - q) / (phi(x_p) phi(x_q)), p <= q (common knowledge,
    # no source); the weight of the mid-quartile that gives the mean its smallest variance follows from them.
    p = np.array([0.25, 0.5, 0.75])
    height = np.exp(-0.5 * ndtri(p) ** 2) / math.sqrt(2 * math.pi)
    covariance = (np.minimum.outer(p, p) - np.outer(p, p)) / np.outer(height, height)
    mid, median = np.array([0.5, 0.0, 0.5]), np.array([0.0, 1.0, 0.0])
    best = (median @ covariance @ median - mid @ covariance @ median) / ((mid - median) @ covariance @ (mid - median))
    found = mean_from_median(0, -1, 3, "IQR", 10**9)
    assert found == pytest.approx(best, abs=0.003)  # the middle of -1 and 3 is 1: the mean is the weight


@pytest.mark.parametrize("n", [9, 25, 81])
def test_the_weight_of_a_range_is_near_the_best_one_of_normal_samples(n: int) -> None:
    drawn = np.sort(np.random.default_rng(n).standard_normal((60_000, n)), axis=1)
    mid, median = (drawn[:, 0] + drawn[:, -1]) / 2, drawn[:, n // 2]
    (var_mid, both), (_, var_median) = np.cov(mid, median)
    best = (var_median - both) / (var_mid + var_median - 2 * both)
    assert mean_from_median(0, -1, 3, "range", n) == pytest.approx(best, abs=0.03)


def test_skew_is_seen_where_the_median_would_hide_it() -> None:
    # log-normal values with SD 0.5: the mean is exp(0.125) of the median; quartiles exp(+-0.3372)
    q = math.exp(0.5 * ndtri(0.75))
    found = mean_from_median(1, 1 / q, q, "IQR", 50)
    assert found is not None
    assert abs(found - math.exp(0.125)) < 0.75 * abs(1 - math.exp(0.125))


def test_the_sd_over_mean_of_printed_quartiles_uses_both(rules: Rules) -> None:
    # medians 10 and 8, quartiles 8 to 14 and 6 to 10, n = 39: means 0.71 x 11 + 0.29 x 10 = 10.71 and 8
    found = effect_of(
        measured(
            baseline_mean="10", baseline_spread="8..14", treated_mean="8", treated_spread="6..10", spread_kind="IQR",
            spread_of="milks", percent_of="median", n=39, n_kind="donors",
        ),
        "fragile",
        rules,
    )  # fmt: skip
    assert isinstance(found, Effect) and found.log_ratio is not None
    sd = [sd_from_spread(pair, "IQR", 39) for pair in ("8..14", "6..10")]
    assert sd[0] is not None and sd[1] is not None
    c_b, c_t = sd[0] / 10.71, sd[1] / 8
    r = rules.spread.paired_correlation_fragile
    assert found.se == pytest.approx(math.sqrt((c_b**2 + c_t**2 - 2 * r * c_b * c_t) / 39))
    assert found.log_ratio == pytest.approx(math.log(0.8))  # the ratio of the printed medians stands
    assert "medians" in found.flags
