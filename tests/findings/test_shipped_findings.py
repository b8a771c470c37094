"""The findings of the shipped evidence: what the papers say and nothing more."""

from __future__ import annotations

import csv
from collections import defaultdict

import pytest

from evidence.findings.compute import Evidence, compute_findings
from evidence.findings.finding import Finding
from evidence.handling.meaning import said_fresh
from evidence.model.rules import Rules
from evidence.model.shipped import data_folder
from evidence.model.tables import Component, Measurement, Overlap, Question, Study
from evidence.store import Store
from evidence.store.reading import all_rows


@pytest.fixture(scope="module")
def rows(shipped_store: Store) -> dict[str, Measurement]:
    return {row.id: row for row in all_rows(shipped_store, Measurement)}


def _used(found: Finding) -> set[str]:
    return {row for study in found.every_study for row in study.rows}


def test_vitamin_c_after_freeze_drying_is_69_from_one_study_of_five_mothers(shipped_findings: list[Finding]) -> None:
    # martysiakzurowska2020lyophilization, abstract: 31 % fall in mature milk of five women; the baseline's past not
    # told
    found = [
        each for each in shipped_findings
        if (each.component, each.handling) == ("vitamin-c", "freeze-dried") and each.figure_studies
    ]  # fmt: skip
    assert len(found) == 1
    (study,) = found[0].figure_studies
    assert study.study == "martysiakzurowska2020lyophilization"
    assert (study.retained_percent, study.n) == (pytest.approx(69), 5)
    assert study.baseline == "not stated"
    assert found[0].state == "one_study"
    assert (study.ci_low, study.ci_high) == (None, None)
    assert "what it was compared with is not stated" in found[0].flags


def test_no_drying_finding_claims_a_fresh_baseline_its_rows_do_not_state(
    shipped_findings: list[Finding], rows: dict[str, Measurement], rules: Rules
) -> None:
    drying = [found for found in shipped_findings if "freeze-dried" in found.handling and found.every_study]
    assert len(drying) >= 5
    for found in drying:
        for study in found.every_study:
            mine = [rows[row] for row in study.rows]
            if study.baseline == "fresh":
                assert all(said_fresh(row.baseline_said, rules.fresh) for row in mine), study.study
                assert not any("frozen" in row.baseline or "not-stated" in row.baseline for row in mine), study.study


def test_every_study_called_fresh_has_the_page_s_word(
    shipped_findings: list[Finding], rows: dict[str, Measurement], rules: Rules
) -> None:
    fresh = [study for found in shipped_findings for study in found.every_study if study.baseline == "fresh"]
    assert fresh
    for study in fresh:
        assert any(said_fresh(rows[row].baseline_said, rules.fresh) for row in study.rows)


def test_no_row_from_memory_none_held_and_no_separate_milk_is_behind_any_figure(
    shipped_findings: list[Finding], rows: dict[str, Measurement]
) -> None:
    seen = 0
    for found in shipped_findings:
        for row in (rows[name] for name in _used(found)):
            seen += 1
            assert row.read_from != "memory", row.id
            assert not row.held, row.id
            assert row.design != "separate milk", row.id
            assert row.basis in ("milk", "not stated"), row.id
    assert seen >= 400


def test_no_sentence_on_all_nutrients_speaks_for_one(
    shipped_findings: list[Finding], rows: dict[str, Measurement]
) -> None:
    said = {row for found in shipped_findings for each in found.said for row in each.rows}
    assert not [row for row in said if rows[row].words_scope == "all nutrients"]


def test_no_row_answers_two_questions_and_none_is_used_and_left_out(shipped_findings: list[Finding]) -> None:
    where: dict[str, list[str]] = defaultdict(list)
    for found in shipped_findings:
        for row in _used(found) | {each.measurement for each in found.not_pooled}:
            where[row].append(found.number)
        assert not _used(found) & {each.measurement for each in found.not_pooled}
    assert {row: numbers for row, numbers in where.items() if len(numbers) > 1} == {}


def test_no_figure_rests_on_a_study_counted_twice(shipped_findings: list[Finding]) -> None:
    with (data_folder() / "overlaps.csv").open(encoding="utf-8", newline="") as file:
        same = [{row["key_a"], row["key_b"]} for row in csv.DictReader(file) if row["certainty"] != "possible"]
    assert same
    for found in shipped_findings:
        keys = [study.study for study in found.every_study]
        assert len(keys) == len(set(keys)), found.number
        assert not [pair for pair in same if pair <= set(keys)], found.number


def test_every_figure_lies_within_its_own_interval(shipped_findings: list[Finding]) -> None:
    pooled = [
        (found, figure)
        for found in shipped_findings
        for figure in (found.figures, found.with_words, found.fresh)
        if figure
    ]
    assert len(pooled) >= 50
    for found, figure in pooled:
        numbers = (figure.new_low, figure.ci_low, figure.retained_percent, figure.ci_high, figure.new_high)
        assert numbers == tuple(sorted(numbers)), found.number
        assert numbers[0] > 0, found.number


def test_one_figure_never_gets_more_than_its_own_line_and_low_certainty(shipped_findings: list[Finding]) -> None:
    singles = [found for found in shipped_findings if found.state == "one_study"]
    assert singles
    for found in singles:
        assert found.classical is None
        assert found.certainty.level in ("low", "very low"), found.number


def test_reassuring_states_have_three_studies_one_with_its_own_spread(shipped_findings: list[Finding]) -> None:
    for found in shipped_findings:
        if found.state in ("about_the_same", "little_less"):
            assert len(found.figure_studies) >= 3, found.number
            assert any(study.own_spread for study in found.figure_studies), found.number


def test_nothing_of_a_study_that_is_not_identified_is_used(
    shipped_findings: list[Finding], shipped_store: Store
) -> None:
    unknown = {study.key for study in all_rows(shipped_store, Study) if study.completeness == "unidentified"}
    assert unknown
    used = {study.study for found in shipped_findings for study in found.every_study}
    assert not used & unknown


def test_findings_kept_and_findings_made_again_are_the_same(
    shipped_store: Store, shipped_findings: list[Finding], rules: Rules
) -> None:
    studies = all_rows(shipped_store, Study)
    evidence = Evidence(
        all_rows(shipped_store, Component),
        all_rows(shipped_store, Measurement),
        all_rows(shipped_store, Overlap),
        all_rows(shipped_store, Question),
        frozenset(study.key for study in studies if study.completeness == "unidentified"),
    )
    again = compute_findings(evidence, rules)[0]
    assert sorted(again, key=lambda found: found.number) == shipped_findings
