"""The middle of tau fitted over the questions of a class."""

import math

import numpy as np
import pytest
from scipy import integrate, stats

from evidence.synthesis.refusal import NoEstimate
from evidence.synthesis.settings import GridSettings
from evidence.synthesis.tau_median import Question, TauMedian, fit_tau_median

GRID = GridSettings(mu_points=281, tau_points=45, se_nodes=5, not_significant_reach=2.1)
QUESTIONS: list[Question] = [
    ([-0.4, -1.2], [0.1, 0.2], [0.7, 0.4]),
    ([-0.1, -0.3, 0.2], [0.05, 0.1, 0.15], [0.0, 0.7, 0.7]),
    ([-0.9, -0.2, -0.4, -0.5], [0.1, 0.1, 0.2, 0.1], [0.3, 0.3, 0.7, 0.0]),
    ([-0.5], [0.1], [0.7]),
]


def fitted(questions: list[Question], low: float = 0.02, high: float = 2.0) -> TauMedian:
    return fit_tau_median(questions, log_sd=0.5, shift=0.2, low=low, high=high, grid=GRID)


def log_marginal(questions: list[Question], median: float) -> float:
    """ln L(m): mu by the closed form for normals, summed over every choice of nodes; ln tau by adaptive quadrature."""
    places, weights = np.polynomial.hermite.hermgauss(5)
    weights = weights / np.sqrt(np.pi)
    total = 0.0
    for log_ratio, se, u in questions:
        y, errors, doubts = np.array(log_ratio), np.array(se), np.array(u)
        choices = np.array(np.meshgrid(*[np.arange(5)] * y.size)).reshape(y.size, -1).T
        share = np.prod(weights[choices], axis=1)
        at_nodes = errors * np.exp(np.sqrt(2) * doubts * places[choices])

        def integrand(score: float, y=y, at_nodes=at_nodes, share=share) -> float:  # type: ignore[no-untyped-def]
            tau = median * math.exp(0.2 + 0.5 * score)
            precisions = 1 / (at_nodes**2 + tau**2)
            whole = precisions.sum(axis=1)
            mean = (precisions * y).sum(axis=1) / whole
            misfit = (precisions * (y - mean[:, None]) ** 2).sum(axis=1)
            density = np.sqrt(precisions / (2 * np.pi)).prod(axis=1) * np.sqrt(2 * np.pi / whole) * np.exp(-misfit / 2)
            return float(stats.norm.pdf(score) * (share * density).sum())

        total += math.log(integrate.quad(integrand, -7, 7, epsabs=1e-13, epsrel=1e-10, limit=200)[0])
    return total


def test_the_marginal_likelihood_is_the_closed_form_at_the_median() -> None:
    found = fitted(QUESTIONS)
    assert found.log_marginal_likelihood == pytest.approx(log_marginal(QUESTIONS[:3], found.median), abs=1e-5)


def test_no_median_nearby_has_a_higher_closed_form_likelihood() -> None:
    found = fitted(QUESTIONS)
    top = log_marginal(QUESTIONS[:3], found.median)
    assert not found.at_limit
    for factor in (0.5, 0.9, 0.98, 1.02, 1.1, 2.0):
        assert log_marginal(QUESTIONS[:3], found.median * factor) < top


def test_questions_with_one_figure_say_nothing() -> None:
    assert fitted(QUESTIONS) == fitted(QUESTIONS[:3])
    assert fitted(QUESTIONS).n_questions == 3


def test_questions_and_rows_in_any_order_give_the_same_bytes() -> None:
    turned = [tuple(list(column)[::-1] for column in question) for question in QUESTIONS[::-1]]
    assert fitted(turned) == fitted(QUESTIONS)  # type: ignore[arg-type]


def test_the_median_stays_inside_its_limits_and_says_so() -> None:
    low = fitted(QUESTIONS, low=1.0, high=1.5)
    high = fitted(QUESTIONS, low=0.01, high=0.02)
    assert (low.median, high.median) == pytest.approx((1.0, 0.02), rel=1e-12)
    assert low.at_limit and high.at_limit
    assert fitted(QUESTIONS, low=0.3, high=0.3).median == pytest.approx(0.3, rel=1e-12)


def test_a_known_tau_is_found_again_from_many_questions() -> None:
    # 150 questions of three figures drawn from the model itself, ln tau ~ N(ln 0.36 + 0.2, 0.5^2): Monte Carlo error of
    # ln m is about sqrt(0.5^2 + 0.5) / sqrt(150) = 0.07 (one of 0.5 from three figures a question); four times that.
    draw = np.random.default_rng(20261125)
    questions: list[Question] = []
    for tau in 0.36 * np.exp(0.2 + 0.5 * draw.standard_normal(150)):
        se = draw.uniform(0.03, 0.1, 3)
        questions.append((draw.normal(-0.3, tau, 3) + se * draw.standard_normal(3), se, np.zeros(3)))
    assert math.log(fitted(questions).median / 0.36) == pytest.approx(0.0, abs=0.28)


def test_nothing_to_fit_is_refused() -> None:
    with pytest.raises(NoEstimate, match="No question has two figures"):
        fitted(QUESTIONS[3:])
    with pytest.raises(NoEstimate, match="limits of the median"):
        fitted(QUESTIONS, low=0.5, high=0.1)


def test_a_wider_prior_is_taken_where_some_questions_agree_and_others_do_not() -> None:
    rng = np.random.default_rng(11)
    taus = [0.0, 0.8] * 10
    apart: list[Question] = [
        (tau * rng.standard_normal(4) + 0.03 * rng.standard_normal(4), [0.03] * 4, [0.0] * 4) for tau in taus
    ]
    alike: list[Question] = [(0.36 * rng.standard_normal(4), [0.03] * 4, [0.0] * 4) for _ in taus]
    settings = {"log_sd": 0.5, "shift": 0.2, "low": 0.02, "high": 2.0, "grid": GRID}
    for questions, expected in ((apart, 1.0), (alike, 0.5)):
        found = fit_tau_median(questions, factors=(1.0, 1.5, 2.0), **settings)  # type: ignore[arg-type]
        assert found.log_sd == expected
        alone = [fit_tau_median(questions, **settings | {"log_sd": 0.5 * f}) for f in (1.0, 1.5, 2.0)]  # type: ignore[arg-type]
        assert found.log_marginal_likelihood == pytest.approx(
            max(each.log_marginal_likelihood for each in alone), abs=1e-3
        )


@pytest.mark.parametrize("factors", [(), (1.0, 0.0), (math.inf,)])
def test_factors_that_are_none_are_refused(factors: tuple[float, ...]) -> None:
    with pytest.raises(NoEstimate, match="factors"):
        fit_tau_median(QUESTIONS, log_sd=0.5, shift=0.2, low=0.1, high=1.0, grid=GRID, factors=factors)
