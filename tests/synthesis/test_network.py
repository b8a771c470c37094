"""The path model: steps joined on the log scale. Checks against formulas written out here, quadrature and print."""

import math
from collections.abc import Sequence

import numpy as np
import pytest
from scipy import stats

from evidence.synthesis import GridSettings, NoEstimate, TauPrior, posterior
from evidence.synthesis.network import (
    generalised_least_squares,
    make_network,
    path_posterior,
    path_posteriors,
    within_study_covariance,
)
from tests.synthesis.brute_force import row_likelihood
from tests.synthesis.published_data import Floats, columns

GRID = GridSettings(mu_points=281, tau_points=45, se_nodes=5, not_significant_reach=2.1)
FINE = GridSettings(mu_points=2001, tau_points=201, se_nodes=5, not_significant_reach=2.1)
PRIOR = TauPrior(0.25, 0.5, 0.2)

ONE_STEP = [
    ([-0.37], [0.134], [0.7]),
    ([-0.1, -0.3], [0.05, 0.1], [0.7, 0.2]),
    ([-0.1, -0.3, 0.2, -0.5], [0.05, 0.1, 0.2, 0.1], [0.7, 0.2, 0.4, 0.8]),
    ([-0.1, -0.3, 0.2, -0.5, -0.2, 0.1], [0.05, 0.1, 0.2, 0.1, 0.03, 0.07], [0.0] * 6),
]


def _names(number: int) -> list[str]:
    return [f"study{place}" for place in range(number)]


def _fixed(tau: float) -> TauPrior:
    """A prior so narrow that tau is known."""
    return TauPrior(tau, 1e-4)


@pytest.mark.parametrize(("log_ratio", "se", "u"), ONE_STEP)
def test_one_path_with_one_step_is_the_pooling_of_a_question(
    log_ratio: list[float], se: list[float], u: list[float]
) -> None:
    k = len(log_ratio)
    network = make_network(np.ones((k, 1)), log_ratio, se, u, _names(k), rho=0.8)
    path = path_posterior(network, [1.0], prior=PRIOR, grid=FINE)
    pooled = posterior(["figure"] * k, log_ratio, se, u, prior=PRIOR, grid=FINE)
    assert path.estimate == pytest.approx(pooled.estimate, abs=1e-6)
    assert path.ci_low == pytest.approx(pooled.ci_low, abs=1e-6)
    assert path.ci_high == pytest.approx(pooled.ci_high, abs=1e-6)
    assert path.sd == pytest.approx(pooled.sd, abs=1e-6)


def test_at_tau_zero_two_steps_are_the_adjusted_indirect_comparison() -> None:
    # bucher1997: with A against C and B against C, the indirect A against B is d_AC - d_BC with variance
    # var_AC + var_BC, each the inverse-variance mean of its own studies. Worked out here from that formula; the
    # printed example could not be had.
    a_c, v_a = [-0.42, -0.15, -0.30], [0.04, 0.09, 0.02]
    b_c, v_b = [-0.10, 0.05], [0.03, 0.06]

    def mean(values: list[float], variances: list[float]) -> tuple[float, float]:
        weights = [1 / variance for variance in variances]
        return sum(w * y for w, y in zip(weights, values, strict=True)) / sum(weights), 1 / sum(weights)

    (d_a, var_a), (d_b, var_b) = mean(a_c, v_a), mean(b_c, v_b)
    design = [[1.0, 0.0]] * 3 + [[0.0, 1.0]] * 2
    found = generalised_least_squares(design, a_c + b_c, np.diag(v_a + v_b))
    against = np.array([1.0, -1.0])
    assert float(against @ found.estimate) == pytest.approx(d_a - d_b, abs=1e-12)
    assert float(against @ found.covariance @ against) == pytest.approx(var_a + var_b, abs=1e-12)
    # and the mixture comes to the same where tau is next to nothing
    network = make_network(design, a_c + b_c, np.sqrt(v_a + v_b), [0.0] * 5, _names(5), rho=0.8)
    path = path_posterior(network, against, prior=_fixed(1e-6), grid=GRID)
    reach = 1.959963985 * math.sqrt(var_a + var_b)
    assert path.estimate == pytest.approx(d_a - d_b, abs=1e-6)
    assert (path.ci_low, path.ci_high) == pytest.approx((d_a - d_b - reach, d_a - d_b + reach), abs=1e-5)


@pytest.mark.parametrize(
    ("name", "weights", "divisor", "basis", "factors"),
    [
        # restraint on weight 1: it is the zero from which the others are counted, as fresh milk is
        ("weighing_1_1_1", 3, 3.0, [[0, 0], [1, 0], [0, 1]], {1: 0.8165, 2: 0.8165}),
        ("weighing_1_1_1_increasing", 3, 6.0, [[1, 0], [0, 1], [0, 0]], {0: 0.5774, 1: 0.5774}),
        # restraint on the sum of weights 1 and 2, known: weight 2 is then minus weight 1
        (
            "weighing_2_2_2_1_1", 5, 16.0,
            [[1, 0, 0, 0], [-1, 0, 0, 0], [0, 1, 0, 0], [0, 0, 1, 0], [0, 0, 0, 1]],
            {0: 0.3536, 1: 0.3536, 2: 0.6124, 3: 0.5863, 4: 0.5863},
        ),
    ],
)  # fmt: skip
def test_printed_difference_networks_come_out_of_the_same_least_squares(
    name: str, weights: int, divisor: float, basis: list[list[float]], factors: dict[int, float]
) -> None:
    # NIST/SEMATECH e-Handbook of Statistical Methods, 2.3.4.1: solution matrices and factors as printed there
    table = columns(name)
    printed = np.array([[float(cell) for cell in table[f"s{w}"]] for w in range(1, weights + 1)]) / divisor
    design = np.array([[float(cell) for cell in table[f"w{w}"]] for w in range(1, weights + 1)]).T
    turn = np.array(basis, dtype=float)
    found = generalised_least_squares(design @ turn, np.zeros(design.shape[0]), np.eye(design.shape[0]))
    assert np.allclose(turn @ found.solution, printed, atol=1e-12)
    spread = np.sqrt(np.diag(turn @ found.covariance @ turn.T))
    for weight, factor in factors.items():
        assert spread[weight] == pytest.approx(factor, abs=5e-5)


def test_a_known_tau_gives_the_dense_generalised_least_squares() -> None:
    # three studies, two of them with rows on both steps and a shared baseline; everything written out by hand
    design = np.array([[1.0, 0.0], [1.0, 1.0], [0.0, 1.0], [1.0, 0.0]])
    y, se, study = np.array([-0.2, -0.5, -0.25, -0.1]), np.array([0.1, 0.12, 0.08, 0.2]), ["a", "a", "b", "c"]
    tau, rho = 0.15, 0.8
    total = np.diag(se**2)
    total[0, 1] = total[1, 0] = rho * se[0] * se[1]
    total[0, 0] += tau**2 * 1
    total[0, 1] += tau**2 * 1
    total[1, 0] += tau**2 * 1
    total[1, 1] += tau**2 * 2
    total[2, 2] += tau**2
    total[3, 3] += tau**2
    inverse = np.linalg.inv(total)
    spread = np.linalg.inv(design.T @ inverse @ design)
    estimate = spread @ design.T @ inverse @ y
    network = make_network(design, y, se, np.zeros(4), study, rho=rho)
    for target in ([1.0, 1.0], [1.0, 0.0], [0.0, 1.0], [2.0, 1.0]):
        path = path_posterior(network, target, prior=_fixed(tau), grid=GRID)
        wanted = np.array(target)
        assert path.estimate == pytest.approx(float(wanted @ estimate), abs=1e-4)
        assert path.sd == pytest.approx(math.sqrt(float(wanted @ spread @ wanted)), rel=1e-3)


def test_the_sum_of_two_steps_with_doubtful_errors_agrees_with_quadrature() -> None:
    first, second = [(-0.2, 0.1, 0.7), (-0.35, 0.15, 0.4)], [(-0.37, 0.13, 0.7)]
    scores = np.linspace(-5.0, 5.0, 101)
    tau = np.exp(PRIOR.log_centre + PRIOR.log_sd * scores)
    mu = np.linspace(-9.0, 9.0, 6001)

    def density(rows: list[tuple[float, float, float]]) -> Floats:
        joint = np.ones((tau.size, mu.size))
        for y, se, u in rows:
            joint = joint * row_likelihood(("figure", y, se, u), mu, tau, 2.1, 5)
        return joint

    step = mu[1] - mu[0]
    one, two = density(first), density(second)
    summed = sum(
        weight * np.convolve(a, b) * step for weight, a, b in zip(stats.norm.pdf(scores), one, two, strict=True)
    )
    places = np.linspace(2 * mu[0], 2 * mu[-1], 2 * mu.size - 1)
    below = np.cumsum(summed)
    expected = np.interp([0.025, 0.5, 0.975], below / below[-1], places)
    rows = first + second
    y, se, u = (np.array(column) for column in zip(*rows, strict=True))
    network = make_network([[1.0, 0.0], [1.0, 0.0], [0.0, 1.0]], y, se, u, _names(3), rho=0.8)
    path = path_posterior(network, [1.0, 1.0], prior=PRIOR, grid=GRID)
    assert [path.ci_low, path.estimate, path.ci_high] == pytest.approx(list(expected), abs=4e-3)


def test_rows_in_any_order_give_the_same_bytes() -> None:
    design = [[1.0, 0.0], [0.0, 1.0], [1.0, 1.0], [1.0, 0.0]]
    y, se, u, study = [-0.2, -0.3, -0.4, -0.1], [0.1, 0.2, 0.15, 0.1], [0.7, 0.2, 0.4, 0.0], ["a", "b", "c", "a"]
    rng = np.random.default_rng(20261125)
    found = set()
    for _ in range(5):
        order = rng.permutation(4)
        network = make_network(
            [design[i] for i in order], [y[i] for i in order], [se[i] for i in order], [u[i] for i in order],
            [study[i] for i in order], rho=0.8,
        )  # fmt: skip
        path = path_posterior(network, [1.0, 1.0], prior=PRIOR, grid=GRID)
        found.add((path.estimate, path.ci_low, path.ci_high))
    assert len(found) == 1


def test_rows_that_share_no_step_with_the_path_say_nothing_of_it() -> None:
    alone = make_network([[1.0, 0.0]], [-0.3], [0.1], [0.7], ["a"], rho=0.8)
    beside = make_network([[1.0, 0.0], [0.0, 1.0]], [-0.3, -2.0], [0.1, 0.01], [0.7, 0.7], ["a", "b"], rho=0.8)
    one, two = (path_posterior(each, [1.0, 0.0], prior=PRIOR, grid=GRID) for each in (alone, beside))
    assert (one.estimate, one.ci_low, one.ci_high) == (two.estimate, two.ci_low, two.ci_high)


def test_a_path_with_an_unmeasured_step_is_refused() -> None:
    network = make_network([[1.0, 0.0]], [-0.3], [0.1], [0.0], ["a"], rho=0.8)
    with pytest.raises(NoEstimate, match="not identified"):
        path_posterior(network, [1.0, 1.0], prior=PRIOR, grid=GRID)


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [
        ({"se": [0.0]}, "above zero"),
        ({"u": [-0.1]}, "not negative"),
        ({"study": []}, "equally many"),
        ({"rho": 1.0}, "below 1"),
        ({"design": [[math.nan, 0.0]]}, "finite"),
        ({"random_scale": [1.0]}, "one number a column"),
    ],
)
def test_rows_that_make_no_network_are_refused_in_a_sentence(changes: dict[str, object], sentence: str) -> None:
    given: dict[str, object] = {
        "design": [[1.0, 0.0]], "log_ratio": [-0.3], "se": [0.1], "u": [0.0], "study": ["a"], "rho": 0.8
    }  # fmt: skip
    with pytest.raises(NoEstimate, match=sentence):
        make_network(**(given | changes))  # type: ignore[arg-type]


def test_rows_of_one_study_share_their_baseline() -> None:
    covariance = within_study_covariance(["a", "b", "a"], [0.1, 0.2, 0.3], 0.8)
    assert covariance == pytest.approx(np.array([[0.01, 0.0, 0.024], [0.0, 0.04, 0.0], [0.024, 0.0, 0.09]]))


def _simulated(
    rng: np.random.Generator, truth: Sequence[float], tau: float
) -> tuple[Floats, Floats, Floats, list[str]]:
    """Rows of invented studies: some of one step, some of both, each study with a departure a step."""
    kinds = np.array([[1.0, 0.0], [1.0, 0.0], [0.0, 1.0], [0.0, 1.0], [1.0, 1.0]])
    se = rng.uniform(0.04, 0.2, 5)
    departures = rng.normal(0.0, tau, (5, 2))
    y = (kinds * (np.array(truth) + departures)).sum(axis=1) + rng.normal(0.0, se)
    return kinds, y, se, _names(5)


def test_simulated_networks_give_back_the_truth_as_often_as_they_say() -> None:
    # 400 networks, tau drawn from the prior itself: an interval of 95 % must cover in 95 % (binomial SE 1.1 %)
    rng = np.random.default_rng(6)
    truth = (-0.25, -0.4)
    covered, misses = 0, []
    for _ in range(400):
        tau = float(np.exp(PRIOR.log_centre + PRIOR.log_sd * rng.normal()))
        design, y, se, study = _simulated(rng, truth, tau)
        network = make_network(design, y, se, np.zeros(5), study, rho=0.8)
        path = path_posterior(network, [1.0, 1.0], prior=PRIOR, grid=GRID)
        covered += path.ci_low <= sum(truth) <= path.ci_high
        misses.append(path.estimate - sum(truth))
    assert 0.95 - 3 * 0.011 < covered / 400 < 0.95 + 3 * 0.011
    assert abs(float(np.mean(misses))) < 3 * float(np.std(misses)) / math.sqrt(400)


def test_several_paths_of_one_block_agree_with_each_alone() -> None:
    network = make_network(
        [[1.0, 0.0], [1.0, 1.0], [0.0, 1.0]],
        [-0.2, -0.5, -0.25],
        [0.1, 0.12, 0.08],
        [0.7, 0.7, 0.2],
        _names(3),
        rho=0.8,
    )
    targets = ([1.0, 0.0], [0.0, 1.0], [1.0, 1.0])
    together = path_posteriors(network, targets, prior=PRIOR, grid=GRID)
    for target, found in zip(targets, together, strict=True):
        alone = path_posterior(network, target, prior=PRIOR, grid=GRID)
        assert (found.estimate, found.ci_low) == pytest.approx((alone.estimate, alone.ci_low), abs=1e-12)
