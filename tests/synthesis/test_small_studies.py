"""Whether small studies find something else: against weighted least squares of a general statistics library."""

from __future__ import annotations

import numpy as np
import pytest
import statsmodels.api as sm

from evidence.synthesis.refusal import NoEstimate
from evidence.synthesis.small_studies import small_study_regression

_RANDOM = np.random.default_rng(7)
SE = np.linspace(0.05, 0.6, 14)
Y = -0.2 - 0.8 * SE + SE * _RANDOM.standard_normal(SE.size)


def test_the_regression_is_weighted_least_squares_of_effect_on_its_error() -> None:
    found = small_study_regression(Y, SE, fewest=10)
    fit = sm.WLS(Y, sm.add_constant(SE), weights=1 / SE**2).fit()
    assert found.at_no_error == pytest.approx(fit.params[0], rel=1e-9)
    assert found.slope == pytest.approx(fit.params[1], rel=1e-9)
    assert found.slope_se == pytest.approx(fit.bse[1], rel=1e-9)
    assert found.t == pytest.approx(fit.tvalues[1], rel=1e-9)
    assert found.p == pytest.approx(fit.pvalues[1], rel=1e-9)
    assert found.k == 14


def test_it_is_the_intercept_of_scaled_effects_on_precision() -> None:
    # the form in which Egger and others 1997 give it: y/se on 1/se, ordinary least squares
    fit = sm.OLS(Y / SE, sm.add_constant(1 / SE)).fit()
    found = small_study_regression(Y, SE, fewest=10)
    assert found.slope == pytest.approx(fit.params[0], rel=1e-9)
    assert found.p == pytest.approx(fit.pvalues[0], rel=1e-9)


def test_the_order_of_studies_changes_nothing() -> None:
    turned = _RANDOM.permutation(SE.size)
    assert small_study_regression(Y[turned], SE[turned], fewest=10) == small_study_regression(Y, SE, fewest=10)


def test_too_few_studies_are_refused() -> None:
    with pytest.raises(NoEstimate, match="needs 10 studies; there are 9"):
        small_study_regression(Y[:9], SE[:9], fewest=10)


def test_equal_errors_are_refused() -> None:
    with pytest.raises(NoEstimate, match="same standard error"):
        small_study_regression(Y, np.full(SE.size, 0.3), fewest=10)


def test_effects_on_a_line_are_refused() -> None:
    with pytest.raises(NoEstimate, match="line exactly"):
        small_study_regression(1 + 2 * SE, SE, fewest=10)


def test_errors_that_are_not_positive_are_refused() -> None:
    with pytest.raises(NoEstimate, match="above zero"):
        small_study_regression(Y, np.append(SE[1:], 0.0), fewest=10)
