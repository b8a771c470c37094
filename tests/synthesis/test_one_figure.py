"""One figure alone, and the levels of the two intervals: against the mixture of normals that it is."""

import numpy as np
import pytest
from scipy import optimize, stats

from evidence.synthesis.refusal import NoEstimate
from evidence.synthesis.settings import GridSettings, TauPrior
from evidence.synthesis.shared import posterior

GRID = GridSettings(mu_points=401, tau_points=45, se_nodes=5, not_significant_reach=2.1)


@pytest.mark.parametrize("place", [-1.7, 0.0, 0.4])
def test_one_figure_has_the_same_answer_wherever_it_lies(place: float) -> None:
    # mu given tau and the node of se is normal round the figure: the mixture's quantiles by bisection, no grid of ours
    prior = TauPrior(median=0.36, log_sd=0.5, shift=0.2)
    found = posterior(["figure"], [place], [0.1], [0.7], prior=prior, grid=GRID, level=0.975, new_level=0.9)
    places, weights = np.polynomial.hermite_e.hermegauss(5)
    scores = np.linspace(-8, 8, 4001)
    tau = np.exp(prior.log_centre + prior.log_sd * scores)
    share = np.exp(-0.5 * scores**2)
    share /= share.sum()
    se = 0.1 * np.exp(0.7 * places)
    mass = (weights / weights.sum())[:, None] * share

    def beyond(tail: float, taus: float) -> float:
        spread = np.sqrt(se[:, None] ** 2 + taus * tau**2)
        return float(optimize.brentq(lambda x: float((mass * stats.norm.sf(x / spread)).sum()) - tail, 0, 50))

    assert found.ci_high - place == pytest.approx(beyond(0.0125, 1), abs=1e-4)
    assert place - found.ci_low == pytest.approx(beyond(0.0125, 1), abs=1e-4)
    assert found.new_high - place == pytest.approx(beyond(0.05, 2), abs=1e-4)
    assert found.estimate == pytest.approx(place, abs=1e-6)
    assert found.prob_below(place) == pytest.approx(0.5, abs=1e-6)


def test_a_new_study_s_level_is_its_own() -> None:
    rows = (["figure"] * 3, [-0.2, -0.4, -0.1], [0.1, 0.2, 0.1], [0.7, 0.4, 0.0])
    prior = TauPrior(median=0.36, log_sd=0.5, shift=0.2)
    plain = posterior(*rows, prior=prior, grid=GRID)
    wide = posterior(*rows, prior=prior, grid=GRID, level=0.975, new_level=0.95)
    assert wide.ci_low < plain.ci_low and wide.ci_high > plain.ci_high
    assert (wide.new_low, wide.new_high) == pytest.approx((plain.new_low, plain.new_high), rel=1e-12)
    with pytest.raises(NoEstimate, match="level"):
        posterior(*rows, prior=prior, grid=GRID, new_level=1.0)
