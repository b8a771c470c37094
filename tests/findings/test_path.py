"""Paths from fresh milk: what is estimated, held between two readings, missing or beyond the data. Invented rows."""

from __future__ import annotations

import math
from typing import Any

import pytest

from evidence.findings.path import PathAnswer, answer_path, asked_steps, lead_strand
from evidence.findings.path_model import PathModel
from evidence.findings.path_rows import Strand, make_strands
from evidence.handling import HandlingError, parse_chain
from evidence.model.lists import PooledClass
from evidence.model.rules import Rules, load_rules
from evidence.model.tables import Measurement
from evidence.synthesis import GridSettings, TauPrior, posterior
from tests.invented import FRESH, component, measured

PRIORS: dict[PooledClass, TauPrior] = {"bulk": TauPrior(0.05, 0.7, 0.2), "fragile": TauPrior(0.25, 0.5, 0.2)}
RULES = load_rules()
FROZEN = "expressed > frozen -20C 60d > thawed"
DRIED = "expressed > freeze-dried > reconstituted"
WHOLE = "expressed > frozen -20C 60d > thawed > freeze-dried > reconstituted"


def _strands(*rows: Measurement, of: str = "vitamin-c") -> tuple[Strand, ...]:
    return make_strands(component(of), rows, (), frozenset(), RULES)


def _answer(chain: str, *rows: Measurement, rules: Rules = RULES, **more: Any) -> PathAnswer:
    return answer_path("vitamin-c", parse_chain(chain), _strands(*rows), PRIORS, rules, **more)


def _row(study: str, percent: float, handling: str, n: int = 20, **more: Any) -> Measurement:
    return measured(study=study, retained_percent=percent, handling=handling, n=n, n_kind="donors", **more)


def _frozen_from_fresh(percent: float = 80, study: str = "alpha2031milk") -> Measurement:
    return _row(study, percent, FROZEN, **FRESH)


def _dried_of_unstated_past(percent: float = 70, study: str = "beta2032milk") -> Measurement:
    return _row(study, percent, DRIED)


def test_one_study_of_one_step_is_what_the_question_alone_says() -> None:
    answer = _answer(FROZEN, _frozen_from_fresh(80))
    se = RULES.spread.fragile_sd / math.sqrt(20)
    grid = GridSettings(**RULES.likelihood.model_dump())
    alone = posterior(
        ["figure"], [math.log(0.8)], [se], [RULES.spread.u_borrowed], prior=PRIORS["fragile"], grid=grid,
        level=RULES.printing.path_level,
    )  # fmt: skip
    assert answer.status == "estimated"
    assert answer.reach.retained_percent == pytest.approx(80)
    assert answer.reach.ci_low == pytest.approx(100 * math.exp(alone.ci_low), rel=1e-5)
    assert answer.reach.ci_high == pytest.approx(100 * math.exp(alone.ci_high), rel=1e-5)


def test_steps_measured_from_stated_milk_multiply() -> None:
    dried = _row("beta2032milk", 70, f"{FROZEN} > freeze-dried > reconstituted", baseline=FROZEN)
    answer = _answer(WHOLE, _frozen_from_fresh(80), dried)
    assert [step.status for step in answer.steps] == ["estimated", "estimated"]
    assert answer.status == "estimated"
    assert answer.reach.retained_percent == pytest.approx(56, rel=1e-3)
    assert answer.missing == ()


def test_drying_of_unstated_past_is_held_between_two_readings() -> None:
    answer = _answer(WHOLE, _frozen_from_fresh(80), _dried_of_unstated_past(70))
    assert answer.status == "bounded"
    assert answer.reach.retained_percent is None
    fresh, frozen = answer.readings
    assert (fresh.was, fresh.end, frozen.was, frozen.end) == ("fresh", "high", "frozen", "low")
    # reading A: the row alone; reading B: frozen x row
    assert fresh.amount is not None and frozen.amount is not None
    assert fresh.amount.retained_percent == pytest.approx(70)
    assert frozen.amount.retained_percent == pytest.approx(0.8 * 70, rel=1e-3)
    assert answer.reach.ci_low == pytest.approx(frozen.amount.ci_low)
    assert answer.reach.ci_high is not None and answer.reach.ci_high <= fresh.amount.ci_high
    assert [(each.first, each.last) for each in answer.missing] == [(0, 1)]


def test_no_more_is_left_than_freezing_alone_left() -> None:
    answer = _answer(WHOLE, _frozen_from_fresh(30), _dried_of_unstated_past(95))
    freezing = answer.steps[0].amount
    assert freezing is not None
    assert answer.reach.ci_high == pytest.approx(freezing.ci_high)


def test_without_a_figure_for_freezing_there_is_no_lower_end() -> None:
    answer = _answer(WHOLE, _dried_of_unstated_past(70))
    assert answer.steps[0].status == "not_identified"
    assert answer.status == "bounded"
    assert answer.reach.ci_low is None and answer.reach.ci_high is not None


def test_a_path_without_freezing_still_counts_the_freezing_a_silent_study_may_hide() -> None:
    answer = _answer(DRIED, _frozen_from_fresh(80), _dried_of_unstated_past(70))
    frozen = answer.readings[1]
    assert frozen.extra_freezing == "frozen:home:46-120d"
    assert frozen.amount is not None and frozen.amount.retained_percent == pytest.approx(56, rel=1e-3)


def test_drying_measured_from_frozen_milk_counts_the_freezing_too() -> None:
    dried = _row("beta2032milk", 70, f"{FROZEN} > freeze-dried > reconstituted", baseline=FROZEN)
    answer = _answer(DRIED, _frozen_from_fresh(80), dried)
    assert answer.reach.retained_percent == pytest.approx(56, rel=1e-3)
    assert "freezing on top" in answer.flags
    # without a figure for freezing nothing can be said from fresh milk
    alone = _answer(DRIED, dried)
    assert alone.status == "not_identified"
    assert alone.steps[0].amount is not None
    assert [(each.first, each.last) for each in alone.missing] == [(0, 0)]


def test_a_study_that_states_its_milk_ends_the_doubt() -> None:
    stated = _row("gamma2033milk", 70, DRIED, **FRESH)
    answer = _answer(DRIED, _dried_of_unstated_past(70), stated)
    assert answer.status == "estimated"
    assert "past partly not stated" in answer.flags


def test_a_step_nobody_measured_is_named_with_what_would_settle_it() -> None:
    answer = _answer(f"{WHOLE} > kept 22C 30d", _frozen_from_fresh(), _dried_of_unstated_past())
    assert answer.status == "not_identified"
    assert answer.reach.ci_low is None and answer.reach.ci_high is None
    assert [(each.first, each.last) for each in answer.missing] == [(0, 1), (2, 2)]
    # what can be said up to the powder is kept
    assert answer.steps[1].so_far.status == "bounded"


def test_two_steps_in_a_row_without_figures_need_one_measurement_across_both() -> None:
    answer = _answer(f"{WHOLE} > kept 22C 30d", _frozen_from_fresh())
    assert [(each.first, each.last) for each in answer.missing] == [(1, 2)]


def test_words_are_told_and_are_no_number() -> None:
    said = measured(study="beta2032milk", handling=DRIED, in_words="no change", n=20, n_kind="donors")
    answer = _answer(DRIED, said)
    assert answer.steps[0].status == "not_identified"
    assert answer.steps[0].amount is None
    assert [each.study for each in answer.steps[0].said] == ["beta2032milk"]


def test_a_row_from_memory_is_no_number() -> None:
    answer = _answer(FROZEN, _row("alpha2031milk", 80, FROZEN, read_from="memory", **FRESH))
    assert answer.steps[0].amount is None


def test_longer_than_anybody_looked_is_beyond_the_data() -> None:
    answer = _answer("expressed > frozen -20C 400d > thawed", _frozen_from_fresh())
    assert answer.status == "beyond_data"
    assert answer.steps[0].beyond == "time"
    assert answer.steps[0].measured is not None and answer.steps[0].measured.longest_days == 60
    assert answer.reach.retained_percent is None


def test_a_time_another_form_was_watched_for_is_not_beyond_the_data() -> None:
    longer = measured(
        study="beta2032milk", handling="expressed > frozen -20C 400d > thawed", in_words="decrease", form="total"
    )
    answer = _answer("expressed > frozen -20C 300d > thawed", _frozen_from_fresh(), longer)
    assert answer.status == "not_identified"


@pytest.mark.parametrize(("asked", "status"), [("-22C", "estimated"), ("-23C", "beyond_data"), ("-17C", "beyond_data")])
def test_two_degrees_outside_what_was_measured_are_the_most(asked: str, status: str) -> None:
    answer = _answer(f"expressed > frozen {asked} 60d > thawed", _frozen_from_fresh())
    assert answer.status == status


def test_freezing_twice_counts_twice() -> None:
    answer = _answer(f"{FROZEN} > frozen -20C 60d > thawed", _frozen_from_fresh(80))
    assert answer.reach.retained_percent == pytest.approx(64)


def test_a_step_never_measured_alone_can_be_worked_out_by_joining() -> None:
    whole = _row("beta2032milk", 56, WHOLE, **FRESH)
    answer = _answer(DRIED, _frozen_from_fresh(80), whole)
    assert answer.steps[0].status == "estimated"
    assert not answer.steps[0].direct
    assert answer.reach.retained_percent == pytest.approx(70, rel=0.02)


def test_direct_and_joined_are_compared_where_a_loop_exists() -> None:
    whole = _row("beta2032milk", 56, WHOLE, **FRESH)
    direct = _row("gamma2033milk", 35, f"{FROZEN} > freeze-dried > reconstituted", baseline=FROZEN)
    answer = _answer(WHOLE, _frozen_from_fresh(80), whole, direct)
    agreement = answer.steps[1].consistency
    assert agreement.tested
    # 35 direct against 56 / 80 = 70 joined
    assert agreement.ratio_percent == pytest.approx(50, rel=0.02)
    assert agreement.ci_low is not None and agreement.ci_high is not None
    assert agreement.ci_low < 50 < agreement.ci_high


def test_without_a_loop_agreement_cannot_be_tested() -> None:
    answer = _answer(WHOLE, _frozen_from_fresh(), _dried_of_unstated_past())
    assert not any(step.consistency.tested for step in answer.steps)


def _peers() -> tuple[Strand, ...]:
    found: list[Strand] = []
    for place, kept in enumerate((90, 80, 60)):
        row = _row(f"delta203{place}milk", kept, DRIED, component="lactoferrin", **FRESH)
        strand = make_strands(component("lactoferrin"), [row], (), frozenset(), RULES)[0]
        found.append(Strand(**{**vars(strand), "component": f"peer-{place}"}))
    return tuple(found)


def test_what_the_group_shows_is_off_until_switched_on() -> None:
    assert not RULES.path.group_fallback
    assert _answer(DRIED, _frozen_from_fresh(), peers=_peers()).assumptions == ()


def test_what_the_group_shows_is_an_assumption_and_never_the_headline() -> None:
    on = RULES.model_copy(update={"path": RULES.path.model_copy(update={"group_fallback": True})})
    answer = _answer(DRIED, _frozen_from_fresh(), rules=on, peers=_peers())
    assert [each.retained_percent for each in answer.assumptions] == pytest.approx([80])
    assert (answer.assumptions[0].lowest, answer.assumptions[0].highest) == pytest.approx((60, 90))
    assert answer.status == "not_identified"
    assert answer.reach.retained_percent is None
    fewer = _answer(DRIED, _frozen_from_fresh(), rules=on, peers=_peers()[:2])
    assert fewer.assumptions == ()


@pytest.mark.parametrize("chain", ["expressed", "expressed > thawed", "pooled > reconstituted"])
def test_a_chain_that_does_nothing_is_refused_in_a_sentence(chain: str) -> None:
    with pytest.raises(HandlingError, match="at least one step"):
        asked_steps(parse_chain(chain), RULES)


def test_a_freezer_of_unstated_temperature_counts_as_a_household_one_and_says_so() -> None:
    answer = _answer(FROZEN, _row("alpha2031milk", 80, "expressed > frozen 60d > thawed", **FRESH))
    assert answer.status == "estimated"
    assert "freezer not stated" in answer.flags


def test_a_deep_freezer_does_not_speak_for_a_household_one() -> None:
    answer = _answer(FROZEN, _row("alpha2031milk", 80, "expressed > frozen -80C 60d > thawed", **FRESH))
    assert answer.steps[0].amount is None


def test_germs_are_not_followed_along_a_path() -> None:
    row = _row("alpha2031milk", 10, FROZEN, component="total-bacteria", measured_as="count", **FRESH)
    strands = make_strands(component("total-bacteria"), [row], (), frozenset(), RULES)
    answer = answer_path("total-bacteria", parse_chain(FROZEN), strands, PRIORS, RULES)
    assert answer.unfollowed
    assert answer.status == "not_identified"


def test_forms_are_never_joined() -> None:
    # freezing measured as total, drying as reduced: no path through both
    total = _row("alpha2031milk", 80, FROZEN, form="total", **FRESH)
    reduced = _row("beta2032milk", 70, DRIED, form="reduced", **FRESH)
    answer = _answer(WHOLE, total, reduced)
    assert sum(step.amount is not None for step in answer.steps) == 1
    assert answer.status == "not_identified"


def test_the_smallest_measurement_is_found_for_a_step_with_no_column_at_all() -> None:
    strand = lead_strand(_strands(_frozen_from_fresh()), asked_steps(parse_chain(WHOLE), RULES))
    assert strand is not None
    model = PathModel(strand, PRIORS["fragile"], RULES)
    assert model.smallest(asked_steps(parse_chain(WHOLE), RULES)) == (1, 1)
