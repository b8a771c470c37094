"""Section "one likelihood for a question": against quadrature, against closed forms, and its symmetries."""

import math
import struct
import warnings
from collections.abc import Sequence
from dataclasses import astuple

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, optimize, stats

from evidence.synthesis.likelihood import group_rows
from evidence.synthesis.mixture import joint_grid
from evidence.synthesis.refusal import NoEstimate
from evidence.synthesis.settings import GridSettings, TauPrior
from evidence.synthesis.shared import SharedEstimate, posterior
from tests.synthesis.brute_force import Row, quantiles
from tests.synthesis.published_data import bulls, eight_schools

# The values a caller reads from the rules; the claims below hold for any.
GRID = GridSettings(mu_points=281, tau_points=45, se_nodes=5, not_significant_reach=2.1)
BULK = TauPrior(median=0.08, log_sd=0.7, shift=0.2)
FRAGILE = TauPrior(median=0.36, log_sd=0.5, shift=0.2)
HIGH = TauPrior(median=0.60, log_sd=0.5, shift=0.2)  # the upper limit of the fragile class

QUESTIONS: dict[str, list[Row]] = {
    "one figure": [("figure", -0.4, 0.1, 0.7)],
    "two figures": [("figure", -0.4, 0.1, 0.7), ("figure", -1.2, 0.2, 0.4)],
    "two figures far apart": [("figure", 0.0, 0.05, 0.8), ("figure", -2.0, 0.05, 0.8)],
    "a figure against words": [("figure", -0.9, 0.1, 0.2), *[("no_change", math.nan, 0.08, 0.7)] * 6],
    "a figure and falls": [("figure", 0.1, 0.2, 0.4), *[("fall", math.nan, 0.1, 0.7)] * 3],
    "bounds on both sides": [("figure", -0.5, 0.3, 0.7), ("at_most", -0.7, 0.1, 0.8), ("at_least", -1.0, 0.1, 0.8)],
    "one figure and one no change": [("figure", -0.84, 0.115, 0.0), ("no_change", 0.0, 0.041, 0.8)],
    "one figure and one fall": [("figure", -1.75, 0.084, 0.3), ("fall", 0.0, 0.16, 0.8)],
    "two figures and words": [
        ("figure", -0.53, 0.153, 0.8),
        ("figure", 0.16, 0.077, 0.3),
        ("fall", 0.0, 0.055, 0.7),
        ("no_change", 0.0, 0.232, 0.8),
    ],
    "all kinds": [
        ("figure", -0.5, 0.15, 0.7),
        ("figure", -0.1, 0.05, 0.2),
        ("no_change", 0.0, 0.1, 0.7),
        ("fall", 0.0, 0.1, 0.7),
        ("rise", 0.0, 0.1, 0.7),
        ("at_most", -0.2, 0.07, 0.8),
        ("at_least", -1.0, 0.1, 0.7),
    ],
}

figure_lists = st.lists(
    st.tuples(st.just("figure"), st.floats(-2, 1), st.floats(0.02, 0.6), st.sampled_from([0.0, 0.3, 0.7])),
    min_size=1,
    max_size=5,
)
word_lists = st.lists(
    st.tuples(
        st.sampled_from(["no_change", "fall", "rise", "at_most", "at_least"]),
        st.floats(-2, 1),
        st.floats(0.02, 0.6),
        st.sampled_from([0.0, 0.7]),
    ),
    max_size=4,
)


def combined(rows: Sequence[Row], prior: TauPrior = FRAGILE, grid: GridSettings = GRID) -> SharedEstimate:
    kind, log_ratio, se, u = zip(*rows, strict=True)
    return posterior(kind, log_ratio, se, u, prior=prior, grid=grid)


@pytest.mark.parametrize("prior", [BULK, FRAGILE, HIGH], ids=["bulk", "fragile", "high"])
@pytest.mark.parametrize("name", QUESTIONS)
def test_quantiles_agree_with_brute_force_quadrature(name: str, prior: TauPrior) -> None:
    found = combined(QUESTIONS[name], prior)
    expected = quantiles(QUESTIONS[name], math.log(prior.median) + prior.shift, prior.log_sd)
    for field, value in expected.items():
        assert getattr(found, field) == pytest.approx(value, abs=1e-4), field


@pytest.mark.parametrize("prior", [BULK, FRAGILE], ids=["bulk", "fragile"])
def test_one_figure_is_a_mixture_of_normals_by_adaptive_quadrature(prior: TauPrior) -> None:
    # One figure, se known: mu ~ N(y, se^2 + tau^2) mixed over tau; a new study ~ N(y, se^2 + 2 tau^2).
    def low_end(taus: float) -> float:
        def below(value: float) -> float:
            def at(score: float) -> float:
                tau = math.exp(math.log(prior.median) + prior.shift + prior.log_sd * score)
                spread = math.sqrt(0.1**2 + taus * tau**2)
                return float(stats.norm.pdf(score) * stats.norm.cdf((value + 0.4) / spread))

            return float(integrate.quad(at, -9.0, 9.0, epsabs=1e-10, limit=200)[0])

        return float(optimize.brentq(lambda value: below(value) - 0.025, -20.0, -0.4, xtol=1e-9))

    found = combined([("figure", -0.4, 0.1, 0.0)], prior)
    assert found.estimate == pytest.approx(-0.4, abs=1e-6)
    assert found.ci_low == pytest.approx(low_end(1.0), abs=1e-5)
    assert found.ci_high == pytest.approx(-0.8 - low_end(1.0), abs=1e-5)
    assert found.new_low == pytest.approx(low_end(2.0), abs=1e-5)
    assert found.tau_median == pytest.approx(prior.median * math.exp(prior.shift), rel=1e-5)


@pytest.mark.parametrize("data", [eight_schools, bulls], ids=["eight schools", "bulls"])
def test_without_heterogeneity_it_is_the_common_effect(data: object) -> None:
    # tau next to nothing and se known: mu ~ N(weighted mean, 1 / sum of weights), a closed form.
    effects, variances = data()  # type: ignore[operator]
    rows = [("figure", float(y), math.sqrt(float(v)), 0.0) for y, v in zip(effects, variances, strict=True)]
    found = combined(rows, TauPrior(median=1e-9, log_sd=0.1))
    weights = 1.0 / variances
    mean, sd = float(np.sum(weights * effects) / np.sum(weights)), float(np.sum(weights)) ** -0.5
    assert found.estimate == pytest.approx(mean, abs=1e-5 * sd)
    assert found.sd == pytest.approx(sd, rel=1e-5)
    assert (found.ci_low, found.ci_high) == pytest.approx(stats.norm.interval(0.95, mean, sd), abs=1e-4 * sd)
    assert (found.new_low, found.new_high) == pytest.approx((found.ci_low, found.ci_high), abs=1e-4 * sd)


def as_bytes(found: SharedEstimate) -> bytes:
    numbers = [float(value) for value in astuple(found)[:-1]]
    kept = found.distribution
    return struct.pack(f"{len(numbers)}d", *numbers) + kept.edges.tobytes() + kept.below.tobytes() + kept.rise.tobytes()


@settings(max_examples=30, deadline=None)
@given(figure_lists, word_lists, st.randoms(use_true_random=False))
def test_rows_in_any_order_give_the_same_bytes(figures: list[Row], words: list[Row], random: object) -> None:
    rows = figures + words
    shuffled = list(rows)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    assert as_bytes(combined(rows)) == as_bytes(combined(shuffled))


@settings(max_examples=30, deadline=None)
@given(figure_lists, st.floats(-3, 3))
def test_shifting_every_figure_shifts_every_quantile(figures: list[Row], shift: float) -> None:
    before = combined(figures)
    after = combined([(kind, y + shift, se, u) for kind, y, se, u in figures])
    for field in ("estimate", "ci_low", "ci_high", "new_low", "new_high"):
        assert getattr(after, field) == pytest.approx(getattr(before, field) + shift, abs=1e-5), field
    assert after.tau_median == pytest.approx(before.tau_median, rel=1e-4)


@settings(max_examples=30, deadline=None)
@given(figure_lists, word_lists)
def test_turning_gain_and_loss_about_mirrors_the_answer(figures: list[Row], words: list[Row]) -> None:
    opposite = {"fall": "rise", "rise": "fall", "at_most": "at_least", "at_least": "at_most"}
    rows = figures + words
    before = combined(rows)
    after = combined([(opposite.get(kind, kind), -y, se, u) for kind, y, se, u in rows])
    assert after.estimate == pytest.approx(-before.estimate, abs=1e-4)
    assert (after.ci_low, after.ci_high) == pytest.approx((-before.ci_high, -before.ci_low), abs=1e-4)
    assert (after.new_low, after.new_high) == pytest.approx((-before.new_high, -before.new_low), abs=1e-4)


@settings(max_examples=30, deadline=None)
@given(
    st.lists(st.floats(0.02, 0.6), min_size=1, max_size=5), st.floats(0.05, 0.5), st.floats(1.2, 4.0), st.floats(-1, 1)
)
def test_a_wider_prior_of_tau_gives_a_wider_interval(
    errors: list[float], median: float, factor: float, y: float
) -> None:
    # Figures that agree: for every tau mu ~ N(y, 1 / sum(1 / (se^2 + tau^2))), which grows with tau.
    rows = [("figure", y, se, 0.0) for se in errors]
    narrow = combined(rows, TauPrior(median=median, log_sd=0.5))
    wide = combined(rows, TauPrior(median=median * factor, log_sd=0.5))
    assert wide.ci_high - wide.ci_low > narrow.ci_high - narrow.ci_low
    assert wide.new_high - wide.new_low > narrow.new_high - narrow.new_low
    assert narrow.new_high - narrow.new_low > narrow.ci_high - narrow.ci_low


@settings(max_examples=30, deadline=None)
@given(figure_lists, word_lists)
def test_probability_below_is_the_inverse_of_the_quantiles(figures: list[Row], words: list[Row]) -> None:
    found = combined(figures + words)
    for value, probability in ((found.ci_low, 0.025), (found.estimate, 0.5), (found.ci_high, 0.975)):
        assert found.prob_below(value) == pytest.approx(probability, abs=1e-9)
    assert found.prob_below(-1e9) == 0.0
    assert found.prob_below(1e9) == 1.0


def test_a_row_stated_twice_counts_twice() -> None:
    # Two equal rows with known se are one likelihood, squared; brute force multiplies it row by row.
    rows: list[Row] = [("figure", -0.4, 0.1, 0.7), ("figure", -0.4, 0.1, 0.7), ("fall", 0.0, 0.1, 0.7)]
    found = combined(rows)
    assert (found.n_rows, found.n_figures) == (3, 2)
    expected = quantiles(rows, math.log(0.36) + 0.2, 0.5)
    assert found.ci_low == pytest.approx(expected["ci_low"], abs=1e-4)


def test_a_fall_in_words_lowers_and_no_change_pulls_towards_none() -> None:
    figure: Row = ("figure", -0.4, 0.2, 0.7)
    alone = combined([figure])
    assert combined([figure, ("fall", 0.0, 0.1, 0.7)]).estimate < alone.estimate
    assert combined([figure, ("rise", 0.0, 0.1, 0.7)]).estimate > alone.estimate
    assert alone.estimate < combined([figure, ("no_change", 0.0, 0.1, 0.7)]).estimate < 0.0


def hard_questions() -> dict[str, list[Row]]:
    draw = np.random.default_rng(20261125)
    many = [
        ("figure", float(y), float(se), 0.0)
        for y, se in zip(draw.normal(-0.3, 0.4, 500), draw.uniform(0.05, 0.4, 500), strict=True)
    ]
    return {
        "500 figures": many,
        "identical figures": [("figure", -0.2, 0.1, 0.7)] * 20,
        "one huge study": [("figure", -0.2, 1e-9, 0.0), ("figure", -0.9, 0.3, 0.7)],
        "figures ten apart": [("figure", -5.0, 0.01, 0.0), ("figure", 5.0, 0.01, 0.0)],
        "a rise against a hundred falls": [("figure", 3.0, 0.01, 0.0), *[("fall", 0.0, 0.01, 0.0)] * 100],
        "a figure far outside narrow windows": [("figure", -4.0, 0.01, 0.0), *[("no_change", 0.0, 0.001, 0.1)] * 40],
        "a bound far from the figure": [("figure", 4.0, 0.01, 0.0), ("at_most", -6.0, 0.01, 0.0)],
        "very doubtful errors": [("figure", -0.5, 0.1, 3.0), ("no_change", 0.0, 0.1, 3.0)],
    }


@pytest.mark.parametrize("prior", [BULK, FRAGILE, TauPrior(1e-6, 0.3), TauPrior(50.0, 1.5)], ids=str)
@pytest.mark.parametrize("name", hard_questions())
def test_hard_questions_have_finite_answers_without_a_warning(name: str, prior: TauPrior) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        found = combined(hard_questions()[name], prior)
    assert all(math.isfinite(float(value)) for value in astuple(found)[:-1])
    assert found.new_low - 1e-6 * found.sd <= found.ci_low < found.estimate < found.ci_high
    assert found.ci_high <= found.new_high + 1e-6 * found.sd
    assert np.all(np.diff(found.distribution.edges) > 0.0)


def test_five_hundred_figures_agree_with_the_large_sample_normal() -> None:
    # With 500 figures tau is known to a few percent, so mu is normal about the mean weighted with that tau.
    rows = hard_questions()["500 figures"]
    found = combined(rows)
    effects, errors = np.array([row[1] for row in rows]), np.array([row[2] for row in rows])
    weights = 1.0 / (errors**2 + found.tau_median**2)
    mean, sd = float(np.sum(weights * effects) / np.sum(weights)), float(np.sum(weights)) ** -0.5
    assert found.estimate == pytest.approx(mean, abs=0.01 * sd)
    assert (found.ci_high - found.ci_low) / 2 == pytest.approx(1.96 * sd, rel=0.01)
    assert (found.new_high - found.new_low) / 2 == pytest.approx(1.96 * math.hypot(sd, found.tau_median), rel=0.01)


def test_words_that_contradict_a_figure_move_tau_far_beyond_its_prior() -> None:
    # A figure at 3 against a hundred falls, prior tau near 1e-6: the answer lies nowhere near the figure or the prior.
    # Known se, so the logarithm of the joint density is short; Simpson on an even grid of ln tau and mu.
    found = combined(hard_questions()["a rise against a hundred falls"], TauPrior(median=1e-6, log_sd=0.3))
    log_tau, mu = np.linspace(math.log(0.1), math.log(1.0), 401), np.linspace(-3.0, 0.5, 3501)
    spread = np.hypot(0.01, np.exp(log_tau))[:, None]
    logs = -0.5 * ((log_tau[:, None] - math.log(1e-6)) / 0.3) ** 2 - 0.5 * ((3.0 - mu) / spread) ** 2
    logs = logs - np.log(spread) + 100 * stats.norm.logcdf(-mu / spread)
    below = integrate.cumulative_simpson(
        integrate.simpson(np.exp(logs - np.max(logs)), x=log_tau, axis=0), x=mu, initial=0.0
    )
    expected = np.interp([0.025, 0.5, 0.975], below / below[-1], mu)
    assert (found.ci_low, found.estimate, found.ci_high) == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize(("u", "relative"), [(0.8, None), (2.0, 1e-4)], ids=["as in the rules", "far beyond them"])
def test_a_doubtful_standard_error_keeps_its_far_flanks(u: float, relative: float | None) -> None:
    # tau next to nothing, one figure: a mixture of five normals with SD se exp(u z), a closed form. For u = 0.8, the
    # largest in use, to 1e-4; for u = 2 the interval is four wide and only 1e-4 of that width is claimed.
    places, weights = np.polynomial.hermite_e.hermegauss(5)
    spreads = 0.1 * np.exp(u * places)
    low = optimize.brentq(
        lambda x: float(weights @ stats.norm.cdf((x + 0.5) / spreads) / weights.sum()) - 0.025, -99, 0
    )
    found = combined([("figure", -0.5, 0.1, u)], TauPrior(median=1e-6, log_sd=0.3))
    tolerance = 1e-4 if relative is None else relative * 2 * (-0.5 - low)
    assert found.ci_low == pytest.approx(low, abs=tolerance)
    assert found.ci_high == pytest.approx(-1.0 - low, abs=tolerance)


@settings(max_examples=60, deadline=None)
@given(figure_lists, word_lists, st.floats(0.02, 1.0), st.floats(0.2, 1.0))
def test_the_grid_is_always_as_fine_as_asked_for(
    figures: list[Row], words: list[Row], median: float, log_sd: float
) -> None:
    # Passes that never settle once left their coarse grid in place, with answers wrong by a hundredth.
    joint = joint_grid(group_rows(*zip(*figures, *words, strict=True)), TauPrior(median, log_sd, 0.2), GRID)
    assert joint.tau.size == GRID.tau_points
    assert joint.panels.edges.size - 1 >= 0.9 * (GRID.mu_points // 4)
    weight = joint.density @ joint.panels.weights
    assert max(weight[0], weight[-1]) < 1e-6 * np.max(weight)


def test_words_alone_are_refused() -> None:
    with pytest.raises(NoEstimate, match="No row has a figure"):
        combined([("fall", 0.0, 0.1, 0.7), ("no_change", 0.0, 0.1, 0.7), ("at_most", -3.0, 0.1, 0.7)])


@pytest.mark.parametrize(
    ("row", "said"),
    [
        (("drop", -0.1, 0.1, 0.0), "'drop'"),
        (("figure", math.nan, 0.1, 0.0), "log_ratio holds a number that is not finite"),
        (("at_most", -math.inf, 0.1, 0.0), "not finite"),
        (("figure", -0.1, 0.0, 0.0), "standard error must be above zero"),
        (("figure", -0.1, 0.1, -0.1), "must not be negative"),
        (("figure", -0.1, math.inf, 0.0), "se holds"),
    ],
)
def test_a_row_that_cannot_be_is_refused_with_a_sentence(row: Row, said: str) -> None:
    with pytest.raises(NoEstimate, match=said):
        combined([("figure", -0.4, 0.1, 0.7), row])


def test_unequal_lengths_and_no_rows_are_refused() -> None:
    with pytest.raises(NoEstimate, match="equally many"):
        posterior(["figure", "figure"], [0.1], [0.1], [0.1], prior=FRAGILE, grid=GRID)
    with pytest.raises(NoEstimate, match="as many as the rows"):
        posterior(["figure"], [0.1], [0.1, 0.2], [0.1], prior=FRAGILE, grid=GRID)
    with pytest.raises(NoEstimate, match="nothing to combine"):
        posterior([], [], [], [], prior=FRAGILE, grid=GRID)


def test_settings_that_are_none_are_refused() -> None:
    with pytest.raises(NoEstimate, match="median of tau"):
        TauPrior(median=0.0, log_sd=0.5)
    with pytest.raises(NoEstimate, match="SD of ln tau"):
        TauPrior(median=0.1, log_sd=-0.5)
    with pytest.raises(NoEstimate, match="at least 80 points"):
        GridSettings(mu_points=20, tau_points=45, se_nodes=5, not_significant_reach=2.1)
