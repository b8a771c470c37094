"""What an answer would be if one choice were made otherwise; every row is invented."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from scipy.special import ndtri

from evidence.findings.compute import Evidence
from evidence.findings.finding import Pooled
from evidence.findings.sensitivity import Choice, Sensitivity, low_concern_studies, sensitivities
from evidence.model.rules import load_rules
from evidence.model.tables import Appraisal, Measurement
from tests.invented import FRESH, evidence_of, finding_of, measured

RULES = load_rules()
OWN = {"percent_spread": 12, "percent_spread_kind": "SD", "spread_of": "milks", "n": 9, "n_kind": "donors"}


def _sensitivity(rows: Sequence[Measurement], appraisals: Sequence[Appraisal] = ()) -> Sensitivity:
    (found,) = sensitivities(replace(evidence_of(rows), appraisals=appraisals), RULES)
    return found


def _choice(found: Sensitivity, code: str, about: str = "") -> Choice:
    (choice,) = [each for each in found.choices if each.code == code and each.about == about]
    return choice


def _shown(rows: Sequence[Measurement]) -> Pooled:
    pooled = finding_of(rows).pooled
    assert pooled is not None
    return pooled


def _three() -> list[Measurement]:
    return [
        measured(study="alpha2031milk", retained_percent=80, **OWN, **FRESH),
        measured(study="beta2032milk", retained_percent=70, n=12, n_kind="donors"),
        measured(study="gamma2033milk", retained_percent=90, **OWN, baseline="expressed > not-stated"),
    ]


@pytest.mark.parametrize("gone", [0, 1, 2])
def test_leaving_a_study_out_is_the_answer_of_the_others_alone(gone: int) -> None:
    rows = _three()
    choice = _choice(_sensitivity(rows), "without_study", rows[gone].study)
    others = [row for row in rows if row is not rows[gone]]
    assert choice.pooled == _shown(others)
    assert choice.state == finding_of(others).state


def test_a_study_in_words_is_left_out_too() -> None:
    figures = [
        measured(study=f"{name}2031milk", component="total-fat", retained_percent=percent, n=30, n_kind="donors")
        for name, percent in (("alpha", 84), ("beta", 86), ("gamma", 88))
    ]
    rows = [
        *figures,
        measured(study="delta2034milk", component="total-fat", in_words="no change", n=90, n_kind="donors"),
    ]
    choice = _choice(_sensitivity(rows), "without_study", "delta2034milk")
    assert choice.pooled == _shown(figures)
    # it has a say in the sentence, or leaving it out would show nothing
    assert finding_of(rows).headline == "with_words"
    assert choice.pooled != _shown(rows)


def test_without_borrowed_spreads_bounds_and_words_only_spreads_of_their_own_count() -> None:
    more = [
        measured(study="delta2034milk", in_words="decrease", n=40, n_kind="donors"),
        measured(study="epsilon2035milk", retained_percent=95, number_is="at most", n=8, n_kind="donors"),
    ]
    rows = [*_three(), *more]
    assert _choice(_sensitivity(rows), "own_spread_only").pooled == _shown([rows[0], rows[2]])


def test_fresh_only_is_the_answer_from_fresh() -> None:
    finding = finding_of(_three())
    choice = _choice(_sensitivity(_three()), "fresh_only")
    assert finding.fresh is not None
    assert choice.pooled == finding.fresh
    assert choice.state == finding.fresh_state == "one_study"


def _appraised(study: str, **answers: str) -> list[Appraisal]:
    return [
        Appraisal(
            study=study, question=question.replace("_", "-"), answer=word, read_where="abstract", origin="shipped 1"
        )
        for question, word in answers.items()
    ]


def test_low_concern_needs_a_yes_to_same_milk_and_to_a_stated_baseline() -> None:
    appraisals = [
        *_appraised("alpha2031milk", same_milk="yes", baseline_stated="yes", funding_stated="no"),
        *_appraised("beta2032milk", same_milk="yes", baseline_stated="not stated"),
        *_appraised("gamma2033milk", same_milk="no", baseline_stated="yes"),
    ]
    assert low_concern_studies(appraisals, RULES) == {"alpha2031milk"}
    choice = _choice(_sensitivity(_three(), appraisals), "low_concern_only")
    assert choice.pooled == _shown(_three()[:1])


def test_where_no_study_was_appraised_there_is_no_choice_of_low_concern() -> None:
    assert "low_concern_only" not in {choice.code for choice in _sensitivity(_three()).choices}


def _two_means(study: str, treated: float, n: int) -> Measurement:
    return measured(
        study=study, baseline_mean="10.00", treated_mean=f"{treated:.2f}", baseline_spread="3.00",
        treated_spread="3.00", spread_kind="SD", spread_of="milks", n=n, n_kind="donors",
    )  # fmt: skip


def test_a_correlation_of_two_means_only_moves_how_sure_one_study_is() -> None:
    rows = [_two_means("alpha2031milk", 8, 6)]
    found = _sensitivity(rows)
    none, strong = (_choice(found, "correlation", about).pooled for about in ("0", "0.9"))
    main = _shown(rows)
    assert none is not None
    assert strong is not None
    width = [each.ci_high / each.ci_low for each in (none, main, strong)]
    assert width == sorted(width, reverse=True)
    assert width[0] > width[2]
    assert not found.changing


def test_correlations_are_not_asked_about_where_no_study_printed_two_means() -> None:
    assert "correlation" not in {choice.code for choice in _sensitivity(_three()).choices}


def test_a_common_effect_is_the_inverse_variance_mean_where_errors_are_well_known() -> None:
    # DerSimonian and Laird 1986 with tau2 = 0: sum(w y) / sum(w), se = 1 / sqrt(sum w); u is 0.016 with 2,000 mothers
    percents, sds, n = (80.0, 79.0, 81.0), (20.0, 40.0, 30.0), 2000
    rows = [
        measured(study=f"{name}2031milk", retained_percent=percent, percent_spread=sd, percent_spread_kind="SD",
                 spread_of="milks", n=n, n_kind="donors")
        for name, percent, sd in zip(("alpha", "beta", "gamma"), percents, sds, strict=True)
    ]  # fmt: skip
    y = np.log(np.array(percents) / 100)
    w = n / (np.array(sds) / np.array(percents)) ** 2
    mean, se = float(np.sum(w * y) / np.sum(w)), 1 / math.sqrt(float(np.sum(w)))
    pooled = _choice(_sensitivity(rows), "common_effect").pooled
    assert pooled is not None
    assert math.log(pooled.retained_percent / 100) == pytest.approx(mean, abs=se / 100)
    z = float(ndtri((1 + RULES.printing.range_level) / 2))
    assert math.log(pooled.ci_high / pooled.ci_low) == pytest.approx(2 * z * se, rel=0.01)
    assert pooled.tau < RULES.sensitivity.common_effect_tau * 10


def test_several_rows_of_a_study_are_counted_in_two_other_ways() -> None:
    rows = [
        measured(id="alpha2031milk-10", study="alpha2031milk", retained_percent=60, n=10, n_kind="donors"),
        measured(id="alpha2031milk-2", study="alpha2031milk", retained_percent=90, n=10, n_kind="donors"),
        measured(id="beta2032milk-1", study="beta2032milk", retained_percent=80, n=10, n_kind="donors"),
    ]
    found = _sensitivity(rows)
    # the second row of the paper comes before its tenth, though not as text
    assert _choice(found, "rows_first").pooled == _shown(rows[1:])
    apart = _choice(found, "rows_apart").pooled
    renamed = [
        measured(study=f"{n}2031milk", retained_percent=p, n=10, n_kind="donors")
        for n, p in zip("abc", (60, 90, 80), strict=True)
    ]
    assert apart is not None
    assert apart.k_studies == 3
    assert apart == _shown(renamed)


def test_a_study_on_which_the_sentence_hangs_is_named() -> None:
    # three alike and well below 100, and one that says nothing was lost and is believed most
    rows = [
        measured(study=f"{name}2031milk", component="total-fat", retained_percent=percent, n=30, n_kind="donors")
        for name, percent in (("alpha", 88), ("beta", 87), ("gamma", 89), ("delta", 101))
    ]
    found = _sensitivity(rows)
    assert finding_of(rows).state == "cant_tell"
    assert [(choice.code, choice.about, choice.why) for choice in found.changing if choice.code == "without_study"] == [
        ("without_study", "delta2031milk", "claim")
    ]
    assert {choice.code for choice in found.leaving_nothing} == {"own_spread_only", "fresh_only"}


def test_the_same_claim_with_a_figure_outside_the_interval_changes_the_sentence() -> None:
    rows = [
        measured(
            study=f"{name}2031milk", component="total-fat", retained_percent=percent, n=60, n_kind="donors", **more
        )
        for name, percent, more in (
            ("a", 55, {}), ("b", 56, {}), ("c", 57, {}), ("d", 58, {}), ("e", 59, {}), ("f", 76, FRESH),
            ("g", 77, FRESH),
        )
    ]  # fmt: skip
    main, choice = _shown(rows), _choice(_sensitivity(rows), "fresh_only")
    assert choice.pooled is not None
    assert choice.pooled.ci_high < 100
    assert choice.pooled.retained_percent > main.ci_high
    assert choice.why == "amount"
    assert choice.changes_sentence


def test_the_only_study_with_a_figure_is_not_left_out() -> None:
    found = _sensitivity([measured(study="alpha2031milk", retained_percent=80, **OWN, **FRESH)])
    assert found.choices == ()
    assert found.changing == ()


def test_a_question_without_a_figure_has_no_sensitivity() -> None:
    assert sensitivities(evidence_of([measured(in_words="decrease", n=10, n_kind="donors")]), RULES) == []


def test_only_the_findings_asked_for_are_worked_out() -> None:
    rows = [*_three(), *(measured(study=row.study, component="lactose", retained_percent=99) for row in _three())]
    evidence = evidence_of(rows)
    every = sensitivities(evidence, RULES)
    assert [each.number for each in every] == ["A-0001", "A-0002"]
    assert sensitivities(evidence, RULES, ["A-0002"]) == every[1:]


def test_the_order_of_the_rows_changes_nothing() -> None:
    rows = [*_three(), measured(study="delta2034milk", in_words="no change", n=40, n_kind="donors")]
    evidence = evidence_of(rows)
    turned = Evidence(evidence.components, rows[::-1], evidence.overlaps, evidence.questions)
    assert sensitivities(turned, RULES) == sensitivities(evidence, RULES)


@pytest.mark.parametrize(("studies", "there"), [(9, False), (10, True)])
def test_small_studies_are_looked_at_from_ten_studies_on(studies: int, there: bool) -> None:
    rows = [
        measured(study=f"a{number}2031milk", retained_percent=70 + 3 * (number % 4), n=5 + 4 * number, n_kind="donors")
        for number in range(studies)
    ]
    assert (_sensitivity(rows).small_studies is not None) == there
