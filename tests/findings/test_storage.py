"""Loss over time in a store: fitted only where times carry it, never drawn beyond them. Invented rows."""

from __future__ import annotations

import math
from typing import Any

import pytest

from evidence.findings.path import answer_path
from evidence.findings.path_rows import Strand, make_strands
from evidence.findings.storage import may_fit, over_temperatures, store_answer, timed_figures
from evidence.handling import parse_chain
from evidence.model.rules import load_rules
from evidence.model.tables import Measurement
from evidence.synthesis import TauPrior
from tests.invented import FRESH, component, measured

RULES = load_rules()
PRIOR = TauPrior(0.05, 0.7, 0.2)
HOME = "frozen:home"


def _row(study: str, days: float, percent: float, **more: Any) -> Measurement:
    given = {"handling": f"expressed > frozen -20C {days:g}d > thawed", **FRESH} | more
    return measured(
        study=study, component="total-fat", retained_percent=percent, n=40, n_kind="donors", **given
    )  # fmt: skip


def _strand(*rows: Measurement) -> Strand:
    return make_strands(component("total-fat"), rows, (), frozenset(), RULES)[0]


def _fits(*rows: Measurement) -> bool:
    return may_fit(timed_figures(_strand(*rows), HOME), RULES.storage)


def _course(study: str, *days: float, rate: float = 0.001, jump: float = 0.02) -> list[Measurement]:
    return [_row(study, day, round(100 * math.exp(-jump - rate * day), 3)) for day in days]


def test_two_studies_of_two_times_each_carry_a_rate() -> None:
    assert _fits(*_course("alpha2031milk", 10, 60), *_course("beta2032milk", 30, 90))


def test_one_study_of_many_times_does_not() -> None:
    assert not _fits(*_course("alpha2031milk", 5, 10, 30, 60, 90))


def test_four_times_over_three_studies_carry_a_rate_and_three_times_do_not() -> None:
    three = [*_course("alpha2031milk", 10), *_course("beta2032milk", 30), *_course("gamma2033milk", 60, 90)]
    assert _fits(*three)
    assert not _fits(*three[:3])


def test_two_studies_of_one_time_each_do_not() -> None:
    assert not _fits(*_course("alpha2031milk", 10), *_course("beta2032milk", 90))


def test_a_range_of_times_is_no_time() -> None:
    ranged = {"handling": "expressed > frozen -20C 10..60d > thawed"}
    rows = [*_course("alpha2031milk", 10, 60), _row("beta2032milk", 1, 90, **ranged), *_course("beta2032milk", 30)]
    assert not _fits(*rows)


def test_another_store_lends_no_times() -> None:
    deep = {"handling": "expressed > frozen -80C 90d > thawed"}
    assert not _fits(
        *_course("alpha2031milk", 10, 60), _row("beta2032milk", 1, 90, **deep), *_course("beta2032milk", 30)
    )


def test_what_made_the_courses_is_found_and_ends_with_the_data() -> None:
    strand = _strand(*_course("alpha2031milk", 10, 60, 120), *_course("beta2032milk", 30, 90, 120))
    answer = store_answer(strand, HOME, PRIOR, RULES)
    assert answer.fitted and answer.curve is not None and answer.left is not None
    assert answer.curve.rate == pytest.approx(0.001, rel=0.02)
    assert answer.curve.jump == pytest.approx(0.02, abs=0.002)
    assert float(answer.curve.days[-1]) == 120
    # 0.9 = exp(-0.02 - 0.001 t)
    assert answer.left.days == pytest.approx((-math.log(0.9) - 0.02) / 0.001, rel=0.05)
    assert answer.other is not None and set(answer.other) == {"zero", "first", "weibull"}


def test_four_times_are_too_few_for_other_orders() -> None:
    strand = _strand(*_course("alpha2031milk", 10, 60), *_course("beta2032milk", 30, 90))
    assert store_answer(strand, HOME, PRIOR, RULES).other is None


def test_without_a_rate_the_measured_times_are_told_and_nothing_is_drawn() -> None:
    answer = store_answer(_strand(*_course("alpha2031milk", 30, 60)), HOME, PRIOR, RULES)
    assert not answer.fitted
    assert answer.measured_days == (30.0, 60.0)
    assert answer.curve is None and answer.left is None


def test_a_time_between_the_measured_ones_is_answered_only_where_a_rate_is_carried() -> None:
    asked = parse_chain("expressed > frozen -20C 75d > thawed")
    priors = {"bulk": PRIOR}
    rows = [*_course("alpha2031milk", 10, 30), *_course("beta2032milk", 30, 150)]
    answer = answer_path("total-fat", asked, [_strand(*rows)], priors, RULES)  # type: ignore[arg-type]
    assert answer.reach.retained_percent == pytest.approx(100 * math.exp(-0.02 - 0.001 * 75), rel=0.02)
    # the window of 46 to 120 days has no figure of its own: without a rate there is no answer
    few = [*_course("alpha2031milk", 10), *_course("beta2032milk", 150)]
    answer = answer_path("total-fat", asked, [_strand(*few)], priors, RULES)  # type: ignore[arg-type]
    assert answer.status == "not_identified"


def test_beyond_the_longest_figure_a_fitted_store_says_nothing() -> None:
    asked = parse_chain("expressed > frozen -20C 151d > thawed")
    rows = [*_course("alpha2031milk", 10, 30), *_course("beta2032milk", 30, 150)]
    answer = answer_path("total-fat", asked, [_strand(*rows)], {"bulk": PRIOR}, RULES)
    assert answer.status == "beyond_data"


def test_a_comparison_of_two_times_joins_the_rate() -> None:
    later = {"handling": "expressed > frozen -20C 150d > thawed", "baseline": "expressed > frozen -20C 30d > thawed"}
    rows = [*_course("alpha2031milk", 10, 60), _row("beta2032milk", 1, round(100 * math.exp(-0.12), 3), **later)]
    figures = timed_figures(_strand(*rows), HOME)
    assert [(figure.days, figure.times_in) for figure in figures if figure.study == "beta2032milk"] == [(120.0, 0)]
    assert may_fit(figures, RULES.storage)


def test_three_temperatures_give_an_activation_energy_and_two_do_not() -> None:
    # made by 50 kJ/mol: k = exp(-50000 / (8.314462618 T)), kelvin
    def rate(celsius: float) -> float:
        return 1e6 * math.exp(-50_000 / (8.314462618 * (celsius + 273.15)))

    found = over_temperatures([(cold, rate(cold)) for cold in (4.0, 22.0, 40.0)], RULES.storage)
    assert found is not None and found.activation_energy == pytest.approx(50_000, rel=1e-6)
    assert over_temperatures([(cold, rate(cold)) for cold in (4.0, 40.0)], RULES.storage) is None
    assert over_temperatures([(4.0, -0.1), (22.0, 0.1), (40.0, 0.2)], RULES.storage) is None


def test_what_was_watched_longer_in_words_does_not_stretch_a_fitted_curve() -> None:
    asked = parse_chain("expressed > frozen -20C 200d > thawed")
    longer = measured(
        study="gamma2033milk", component="total-fat", in_words="decrease",
        handling="expressed > frozen -20C 300d > thawed", **FRESH,
    )  # fmt: skip
    rows = [*_course("alpha2031milk", 10, 30), *_course("beta2032milk", 30, 150), longer]
    assert answer_path("total-fat", asked, [_strand(*rows)], {"bulk": PRIOR}, RULES).status == "beyond_data"


def test_comparisons_of_two_times_alone_make_no_curve() -> None:
    def between(study: str, early: int, late: int) -> Measurement:
        before = f"expressed > frozen -20C {early}d > thawed"
        after = {"handling": f"expressed > frozen -20C {late}d > thawed", "baseline": before}
        return _row(study, 1, 95, **after)

    pairs = [between("alpha2031milk", 10, 90), between("beta2032milk", 30, 150)]
    assert not _fits(*pairs)
    assert not _fits(*pairs, *_course("gamma2033milk", 30))
    assert _fits(*pairs, *_course("gamma2033milk", 30, 60))
