"""The trail of every shipped answer leads to its state, its certainty, its rows and their papers."""

from __future__ import annotations

import math

import pytest

from evidence.findings.finding import Finding, State
from evidence.findings.trail import RuleCheck, Trail, trail_of
from evidence.model.rules import Rules
from evidence.model.tables import Measurement, Study
from evidence.store import Store
from evidence.store.reading import all_rows


@pytest.fixture(scope="module")
def trails(shipped_store: Store, shipped_findings: list[Finding], rules: Rules) -> list[Trail]:
    rows = {row.id: row for row in all_rows(shipped_store, Measurement)}
    studies = {study.key: study for study in all_rows(shipped_store, Study)}
    return [trail_of(finding, rows, studies, rules) for finding in shipped_findings]


def _decided(checks: tuple[RuleCheck, ...]) -> set[State]:
    """The states that the checks allow, read as a person would read them, without the code that decided."""
    held = {check.code: check.holds for check in checks}
    seen = {check.code: check.observed for check in checks}
    if "no_pooled_figure" in held:
        return {"words_only"} if held["spoken"] else {"listed_only"}
    if held["few_studies"]:
        return {"one_study"} if seen["few_studies"] == (1.0,) else {"two_studies"}
    if held["spread"]:
        return {"spread"}
    if held.get("holds_stretched"):
        return {"about_the_same", "little_less"}
    if held["loss_and_none_fit"]:
        return {"cant_tell"}
    return {"no_loss_seen"} if held["no_loss_seen"] else {"amount"}


def test_the_checks_of_every_answer_lead_to_its_state(trails: list[Trail]) -> None:
    astray = [trail.finding.number for trail in trails if trail.finding.state not in _decided(trail.checks)]
    assert trails
    assert astray == []


def test_every_threshold_on_a_trail_carries_its_source(trails: list[Trail]) -> None:
    shown = {each for trail in trails for part in (*trail.checks, *trail.steps) for each in part.thresholds}
    assert {"printing.same_margin", "printing.cant_tell_below_percent", "certainty.wide_factor"} <= {
        each.key for each in shown
    }
    assert [each.key for each in shown if not each.source] == []


def test_every_step_down_names_the_threshold_it_comes_from(trails: list[Trail]) -> None:
    bare = {s.step.reason for trail in trails for s in trail.steps if not s.thresholds}
    assert bare <= {"no figure", "shares only"}  # without an amount there is nothing to step down from


def test_what_a_step_saw_is_beyond_its_threshold(trails: list[Trail], rules: Rules) -> None:
    limits = rules.certainty
    for trail in trails:
        for step in trail.steps:
            seen, reason = step.observed, step.step.reason
            if reason == "wide interval":
                assert seen[0] > limits.wide_factor
            if reason == "studies disagree":
                assert seen[0] > limits.disagreement_factor
            if reason == "few compared with fresh":
                assert seen[0] < limits.fresh_share * seen[1]
            if reason == "interval on both sides":
                assert seen[0] < limits.wide_low_percent and seen[1] > limits.wide_high_percent


def test_every_row_of_an_answer_is_on_its_trail_once_with_its_place(trails: list[Trail]) -> None:
    for trail in trails:
        finding = trail.finding
        rows = [row for each in finding.every_study for row in each.rows]
        rows += [each.measurement for each in finding.not_pooled]
        assert sorted(row.id for row in trail.rows) == sorted(rows)
        assert [place.row for place in trail.places] == [row.id for row in trail.rows]
        assert all(place.locator or place.read_from for place in trail.places)


def test_a_row_that_counts_leads_to_a_paper_that_can_be_found(trails: list[Trail], shipped_store: Store) -> None:
    titled = {study.key for study in all_rows(shipped_store, Study) if study.title}
    for trail in trails:
        places = {place.row: place for place in trail.places}
        for row in trail.rows:
            place = places[row.id]
            if row.use != "not pooled":
                assert place.doi or place.pmid or row.study in titled, row.id
            assert (row.use == "not pooled") == bool(row.reason)


def test_a_figures_effect_is_the_figure_printed(trails: list[Trail]) -> None:
    for trail in trails:
        kept = {study.study: study.retained_percent for study in trail.finding.studies}
        for row in trail.rows:
            if row.log_ratio is not None:
                assert math.isclose(100 * math.exp(row.log_ratio), kept[row.study], rel_tol=1e-9)
                assert row.recipe
