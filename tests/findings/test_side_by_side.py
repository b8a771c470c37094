"""Compared directly means: one study, the same milk, the same milk before; computed from the rows."""

from __future__ import annotations

from evidence.findings.finding import Finding
from evidence.findings.side_by_side import measured_together
from evidence.model.tables import Measurement
from evidence.store import Store
from evidence.store.reading import all_rows


def _rows(store: Store) -> dict[str, Measurement]:
    return {row.id: row for row in all_rows(store, Measurement)}


def _of(findings: list[Finding], component: str) -> list[Finding]:
    return [finding for finding in findings if finding.component == component]


def test_every_study_told_as_direct_has_rows_on_the_same_milk_for_each_handling(
    shipped_store: Store, shipped_findings: list[Finding]
) -> None:
    rows, direct = _rows(shipped_store), 0
    for component in {finding.component for finding in shipped_findings}:
        for each in measured_together(_of(shipped_findings, component), rows):
            handlings = {finding.handling for finding, _ in each.found}
            assert len(handlings) > 1
            for finding, told in each.found:
                mine = [rows[row] for row in told.rows]
                assert {row.study for row in mine} == {each.study}
                assert finding.component == component
                if each.same_milk:
                    direct += 1
                    assert any(row.design == "same milk" for row in mine), (each.study, finding.number)
    assert direct > 20


def test_two_studies_of_one_handling_each_compare_nothing(
    shipped_store: Store, shipped_findings: list[Finding]
) -> None:
    for component in ("vitamin-c", "total-fat"):
        for each in measured_together(_of(shipped_findings, component), _rows(shipped_store)):
            assert all(told.study == each.study for _, told in each.found)


def test_forms_are_never_set_side_by_side(shipped_store: Store, shipped_findings: list[Finding]) -> None:
    for component in {finding.component for finding in shipped_findings}:
        for each in measured_together(_of(shipped_findings, component), _rows(shipped_store)):
            assert len({(finding.form, finding.measured_as) for finding, _ in each.found}) == 1


def test_buss_2001_kept_the_same_milk_in_fridge_and_freezer(
    shipped_store: Store, shipped_findings: list[Finding]
) -> None:
    # Buss and others 2001 (PMID 11519487), as the table holds its abstract: 11 milks chilled and frozen
    found = measured_together(_of(shipped_findings, "vitamin-c"), _rows(shipped_store))
    buss = next(each for each in found if each.study == "buss2001vitamin")
    assert buss.same_milk
    assert {finding.handling.split(":")[0] for finding, _ in buss.found} == {"chilled", "frozen"}


def test_separate_milks_and_an_unstated_design_are_not_direct(
    shipped_store: Store, shipped_findings: list[Finding]
) -> None:
    rows = _rows(shipped_store)
    findings = _of(shipped_findings, "vitamin-c")
    changed = {key: row.model_copy() for key, row in rows.items()}
    for row in changed.values():
        row.design = "not stated"
    assert all(not each.same_milk for each in measured_together(findings, changed))
    for row in changed.values():
        row.design = "separate milk"
    assert measured_together(findings, changed) == ()
