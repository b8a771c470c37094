"""What a finding is made of, and what stays out of it."""

from __future__ import annotations

import random
from dataclasses import replace
from typing import Any

import pytest

from evidence.findings.compute import Evidence, compute_findings
from evidence.findings.finding import Finding
from evidence.model.rules import Rules
from evidence.model.tables import Measurement
from tests.invented import FRESH, component, evidence_of, finding_of, measured, overlap


def _three() -> list[Measurement]:
    return [
        measured(study=f"{name}milk", id=f"{name}milk-1", retained_percent=percent, n=12, n_kind="donors")
        for name, percent in (("alpha2031", 70), ("beta2032", 78), ("gamma2033", 64))
    ]


# each would move the answer far if it entered
REFUSED: list[dict[str, Any]] = [
    {"retained_percent": 20, "read_from": "memory"},
    {"in_words": "decrease", "read_from": "memory"},
    {"retained_percent": 20, "number_is": "at most", "read_from": "memory"},
    {"retained_percent": 20, "held": "vouched from a review only"},
    {"in_words": "decrease", "held": "vouched from a review only"},
    {"retained_percent": 20, "design": "separate milk"},
    {"retained_percent": 20, "basis": "powder"},
    {"in_words": "no change", "words_scope": "all nutrients"},
    {"retained_percent": 20, "second_read": ""},
    {"retained_percent": 20, "number_is": "unclear"},
    {"interval_low": 10, "interval_high": 30, "interval_kind": "range of times, retained", "number_is": "range"},
    {"in_words": "not tested"},
]


@pytest.mark.parametrize("refused", REFUSED, ids=lambda given: ", ".join(f"{k} {v}" for k, v in given.items()))
def test_a_refused_row_changes_nothing_but_the_list_of_what_was_left_out(refused: dict[str, Any], rules: Rules) -> None:
    rows = _three()
    extra = measured(study="delta2034milk", id="delta2034milk-1", n=500, n_kind="donors", **refused)
    without, with_it = finding_of(rows), finding_of([*rows, extra])
    assert replace(with_it, not_pooled=()) == replace(without, not_pooled=())
    assert [each.measurement for each in with_it.not_pooled] == ["delta2034milk-1"]
    assert with_it.not_pooled[0].reason


@pytest.mark.parametrize("refused", REFUSED, ids=str)
def test_refused_rows_alone_give_no_figure_no_direction_and_no_certainty(refused: dict[str, Any]) -> None:
    found = finding_of([measured(n=500, n_kind="donors", **refused)])
    assert found.state == "listed_only"
    assert (found.studies, found.said, found.pooled, found.baselines) == ((), (), None, ())
    assert found.certainty.level == "very low"


def test_a_refused_row_changes_no_other_question_either(rules: Rules) -> None:
    # ten questions of two figures each: enough for the heterogeneity they share to be fitted
    rows = [
        measured(
            study=f"s{study}x2031milk", id=f"s{study}x{form}-1", form=f"form {form}",
            retained_percent=60 + 7 * study + form,
            n=12, n_kind="donors",
        )
        for form in range(12)
        for study in range(2)
    ]  # fmt: skip
    extra = [
        measured(
            study="delta2034milk", form=f"form {form}", retained_percent=3 + form, n=900, n_kind="donors", held="no"
        )
        for form in range(12)
    ]
    plain, tau = compute_findings(evidence_of(rows), rules)
    more, same_tau = compute_findings(evidence_of([*rows, *extra]), rules)
    assert tau["fragile"].fitted_on
    assert tau == same_tau
    assert [replace(each, not_pooled=()) for each in more] == [replace(each, not_pooled=()) for each in plain]


def test_the_order_of_rows_and_questions_changes_not_one_digit(rules: Rules) -> None:
    rows = [
        *_three(),
        measured(study="beta2032milk", id="beta2032milk-2", retained_percent=74, n=12, n_kind="donors"),
        measured(study="delta2034milk", id="delta2034milk-1", in_words="no change", n=9, n_kind="donors"),
        measured(study="alpha2031milk", id="alpha2031milk-7", component="lactoferrin", retained_percent=55),
        measured(study="gamma2033milk", id="gamma2033milk-7", component="lactoferrin", in_words="decrease"),
    ]
    pairs = [
        overlap("alpha2031milk", "delta2034milk", "alpha2031milk"),
        overlap("beta2032milk", "gamma2033milk", "beta2032milk"),
    ]
    evidence = evidence_of(rows, pairs)
    first = compute_findings(evidence, rules)
    for seed in range(4):
        shuffle = random.Random(seed).sample
        other = Evidence(
            shuffle(list(evidence.components), len(evidence.components)),
            shuffle(rows, len(rows)),
            shuffle(pairs, len(pairs)),
            shuffle(list(evidence.questions), len(evidence.questions)),
        )
        assert compute_findings(other, rules) == first


def test_rows_of_one_study_are_one_estimate_and_not_two_studies() -> None:
    rows = [
        measured(study="alpha2031milk", retained_percent=70, n=12, n_kind="donors"),
        measured(study="alpha2031milk", retained_percent=80, n=12, n_kind="donors"),
    ]
    found = finding_of(rows)
    assert found.state == "one_study"
    assert found.pooled is not None and (found.pooled.k_studies, found.pooled.k_rows) == (1, 2)
    # the mean of the logarithms: the square root of 0.7 x 0.8
    assert found.studies[0].retained_percent == pytest.approx(100 * (0.7 * 0.8) ** 0.5)


def test_two_rows_of_the_same_milks_are_hardly_better_than_one(rules: Rules) -> None:
    # both se 0.30/sqrt(12), correlation 0.8: variance (2 + 2 x 0.8) / 4 of one row's
    one = finding_of([measured(retained_percent=70, n=12, n_kind="donors")]).studies[0].se
    two = finding_of([measured(retained_percent=70, n=12, n_kind="donors") for _ in range(2)]).studies[0].se
    assert two == pytest.approx(one * (0.5 * (1 + rules.spread.between_row_correlation)) ** 0.5)


def test_words_of_a_study_that_prints_a_figure_are_listed_beside_it() -> None:
    rows = [
        measured(study="alpha2031milk", retained_percent=70),
        measured(study="alpha2031milk", in_words="no change", id="alpha2031milk-9999"),
    ]
    found = finding_of(rows)
    assert found.said == ()
    assert [each.measurement for each in found.not_pooled] == ["alpha2031milk-9999"]


def test_different_forms_measures_and_handlings_are_different_questions(rules: Rules) -> None:
    rows = [
        measured(retained_percent=70, form="total"),
        measured(retained_percent=50, form="ascorbic acid"),
        measured(retained_percent=60, measured_as="activity"),
        measured(retained_percent=65, handling="frozen", baseline="expressed"),
        measured(retained_percent=75, handling="expressed > frozen -80C 30d > thawed", baseline="expressed"),
    ]
    found, _ = compute_findings(evidence_of(rows), rules)
    assert [each.pooled.k_rows for each in found if each.pooled] == [1] * 5


def test_milks_that_are_not_baseline_and_more_answer_no_question(rules: Rules) -> None:
    rows = [
        measured(retained_percent=90, handling="expressed > frozen -80C 30d", baseline="expressed > frozen -20C 30d")
    ]
    assert compute_findings(evidence_of(rows), rules)[0] == []


def _keys(found: Finding) -> set[str]:
    return {study.study for study in found.every_study}


def test_the_same_milk_reported_twice_counts_once() -> None:
    rows = _three()
    found = finding_of(rows, overlaps=[overlap("alpha2031milk", "beta2032milk", "alpha2031milk")])
    assert _keys(found) == {"alpha2031milk", "gamma2033milk"}
    assert found == replace(
        finding_of([rows[0], rows[2]]), not_pooled=found.not_pooled, flags=found.flags, number=found.number
    )
    assert "the same milk was reported twice" in found.flags
    assert [each.study for each in found.not_pooled] == ["beta2032milk"]
    assert "alpha2031milk" in found.not_pooled[0].reason


@pytest.mark.parametrize("kept", ["alpha2031milk", "beta2032milk", "gamma2033milk"])
def test_the_same_milk_reported_three_times_counts_once_whichever_pairs_say_so(kept: str) -> None:
    names = ["alpha2031milk", "beta2032milk", "gamma2033milk"]
    order = [kept, *(name for name in names if name != kept)]
    pairs = [
        overlap(a, b, min(a, b, key=order.index))
        for a, b in ((names[0], names[1]), (names[0], names[2]), (names[1], names[2]))
    ]
    for given in (pairs, pairs[::-1]):
        found = finding_of(_three(), overlaps=given)
        assert _keys(found) == {kept}
        assert found.state == "one_study"


def test_pairs_that_contradict_each_other_still_leave_one_report_of_the_milk() -> None:
    pairs = [
        overlap("alpha2031milk", "beta2032milk", "alpha2031milk"),
        overlap("beta2032milk", "gamma2033milk", "beta2032milk"),
        overlap("alpha2031milk", "gamma2033milk", "gamma2033milk"),
    ]
    assert len(_keys(finding_of(_three(), overlaps=pairs))) == 1


def test_milks_that_are_only_possibly_the_same_both_count() -> None:
    found = finding_of(_three(), overlaps=[overlap("alpha2031milk", "beta2032milk", "alpha2031milk", "possible")])
    assert _keys(found) == {"alpha2031milk", "beta2032milk", "gamma2033milk"}


def test_a_report_whose_twin_has_no_row_here_is_not_lost() -> None:
    found = finding_of(_three(), overlaps=[overlap("alpha2031milk", "omega2099milk", "omega2099milk")])
    assert "alpha2031milk" in _keys(found)


def test_a_report_whose_twin_was_refused_is_not_lost() -> None:
    rows = _three()
    refused = measured(study="delta2034milk", retained_percent=70, read_from="memory")
    found = finding_of([*rows, refused], overlaps=[overlap("alpha2031milk", "delta2034milk", "delta2034milk")])
    assert _keys(found) == {"alpha2031milk", "beta2032milk", "gamma2033milk"}


def test_a_study_whose_paper_is_not_identified_is_listed_only() -> None:
    found = finding_of(_three(), uncitable=["beta2032milk"])
    assert _keys(found) == {"alpha2031milk", "gamma2033milk"}
    assert "cannot be cited" in found.not_pooled[0].reason


def test_one_study_gives_no_band_and_no_classical_line() -> None:
    found = finding_of([measured(retained_percent=69, n=5, n_kind="donors")])
    assert found.state == "one_study"
    assert found.classical is None
    (study,) = found.studies
    # its own line only if its spread is its own
    assert (study.ci_low, study.ci_high, study.own_spread) == (None, None, False)


def test_one_study_with_its_own_spread_has_its_own_line() -> None:
    found = finding_of(
        [measured(retained_percent=69, n=5, n_kind="donors", percent_spread=10, percent_spread_kind="SD")]
    )
    (study,) = found.studies
    # t(0.975, 4) = 2.776 in any printed table
    reach = 2.776 * 0.10 / 0.69 / 5**0.5
    assert study.ci_low == pytest.approx(69 * 2.718281828**-reach, rel=1e-3)
    assert study.ci_high == pytest.approx(69 * 2.718281828**reach, rel=1e-3)


def test_the_fresh_answer_stands_on_fresh_baselines_alone() -> None:
    rows = [
        measured(study="alpha2031milk", retained_percent=60, n=12, n_kind="donors", **FRESH),
        measured(study="beta2032milk", retained_percent=64, n=12, n_kind="donors", **FRESH),
        measured(study="gamma2033milk", retained_percent=95, n=12, n_kind="donors"),
    ]
    found = finding_of(rows)
    assert found.fresh is not None
    alone = finding_of(rows[:2])
    assert alone.pooled is not None
    assert (found.fresh.k_studies, found.fresh_state) == (2, "two_studies")
    assert found.fresh.retained_percent == pytest.approx(alone.pooled.retained_percent)
    assert dict(found.baselines) == {"fresh": 2, "not stated": 1}
    # where all are fresh there is nothing to tell apart
    assert alone.fresh is None


def test_a_study_half_of_whose_rows_are_fresh_is_not_called_fresh() -> None:
    rows = [measured(retained_percent=70, **FRESH), measured(retained_percent=72)]
    assert finding_of(rows).studies[0].baseline == "not stated"
    assert finding_of([*rows, measured(retained_percent=71, **FRESH)]).studies[0].baseline == "fresh"


def test_drying_after_freezing_carries_the_frozen_baseline_flag() -> None:
    frozen = "expressed > frozen -20C 30d > thawed"
    found = finding_of(
        [measured(retained_percent=80, baseline=frozen, handling=f"{frozen} > freeze-dried > reconstituted")]
    )
    assert found.handling == "freeze-dried"
    assert dict(found.baselines) == {"frozen": 1}
    assert "compared with milk already frozen" in found.flags
    assert "none compared with fresh milk" in found.flags


def test_a_fresh_baseline_carries_no_baseline_flag() -> None:
    found = finding_of([measured(retained_percent=80, **FRESH)])
    assert not [flag for flag in found.flags if "compared" in flag]


def test_frozen_milk_that_was_then_heated_keeps_both_flags() -> None:
    before = "expressed > frozen -20C 30d > thawed > pasteurised holder"
    found = finding_of(
        [measured(retained_percent=80, baseline=before, handling=f"{before} > freeze-dried > reconstituted")]
    )
    assert dict(found.baselines) == {"heat-treated": 1}
    assert {"compared with milk already frozen", "compared with milk already treated"} <= set(found.flags)


def test_the_smallest_loss_that_would_have_been_seen_is_told_for_words_only() -> None:
    # the project's statistical rules print it for fragile components and ten mothers: "about a quarter"
    found = finding_of([measured(in_words="no change", n=10, n_kind="donors")])
    (said,) = found.said
    assert said.smallest_loss_percent == pytest.approx(25, abs=2)


def test_a_component_of_a_share_or_physical_kind_has_no_pooled_figure() -> None:
    for name, measured_as in (("cell-viability", "share"), ("ph", "physical")):
        rows = [
            measured(
                study=f"s{n}x2031milk",
                component=name,
                measured_as=measured_as,
                retained_percent=80,
                in_words="decrease",
            )
            for n in range(4)
        ]
        found = finding_of(rows)
        assert (found.group, found.pooled, found.state) == (None, None, "words_only")


def test_component_kinds_used_here_are_those_of_the_shipped_table() -> None:
    from evidence.intake.reading import read_table
    from evidence.intake.schema import load_schemas
    from evidence.model.shipped import data_folder

    table, _ = read_table(data_folder() / "components.csv", load_schemas()["components"])
    shipped = {row["id"]: (row["outcome"], row["wanted"]) for row in table.rows}
    for name in (
        "total-fat",
        "lactose",
        "vitamin-c",
        "lactoferrin",
        "total-bacteria",
        "free-fatty-acids",
        "cell-viability",
    ):
        made = component(name)
        assert (made.outcome, made.wanted) == shipped[name]
