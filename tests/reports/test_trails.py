"""Every number on every page says where it comes from, and what it names is there and says the same."""

from __future__ import annotations

import csv
import html
import re
from pathlib import Path

import pytest

from evidence.findings.finding import Finding
from evidence.findings.reading_sources import reading_list
from evidence.findings.trail import figures_of
from evidence.model.shipped import data_folder
from evidence.model.tables import Component, ComponentName, Measurement, Study
from evidence.store import Store
from evidence.store.reading import all_rows
from reports.words.catalogue import load_catalogue
from reports.words.handlings import handling_words
from reports.words.told import CAMPAIGN, EDITION
from tests.reports.trails import NUMBER, Number, numbers_on


@pytest.fixture(scope="module")
def names(shipped_store: Store) -> set[str]:
    """The names of components, and of their forms: a number in a name is no figure."""
    found = {row.name for row in all_rows(shipped_store, ComponentName)}
    for each in all_rows(shipped_store, Component):
        found |= {value for key, value in each if "name" in key and isinstance(value, str)}
    return found | {row.form for row in all_rows(shipped_store, Measurement)}


@pytest.fixture(scope="module")
def pages(built_pages: Path, names: set[str]) -> dict[str, list[Number]]:
    found = {
        str(path.relative_to(built_pages)): numbers_on(path.read_text(encoding="utf-8"), names)
        for path in sorted(built_pages.rglob("*.html"))
    }
    assert len(found) > 100
    return found


def test_every_number_on_every_page_carries_its_trail(pages: dict[str, list[Number]]) -> None:
    bare = [(page, each.text, each.within[:90]) for page, found in pages.items() for each in found if not each.trail]
    assert sum(len(found) for found in pages.values()) > 5000
    assert bare == []


def test_every_trail_leads_somewhere(
    pages: dict[str, list[Number]], shipped_store: Store, shipped_findings: list[Finding]
) -> None:
    known = {EDITION, CAMPAIGN} | {finding.number for finding in shipped_findings}
    known |= {row.id for row in all_rows(shipped_store, Measurement)}
    known |= {study.key for study in all_rows(shipped_store, Study)}
    known |= {entry.key for entry in reading_list(shipped_store)}
    for name in ("guidance", "intake", "composition"):
        with (data_folder() / f"{name}.csv").open(encoding="utf-8", newline="") as file:
            known |= {
                row[column] for row in csv.DictReader(file) for column in ("id", "key", "source") if row.get(column)
            }
    lost = {step for found in pages.values() for each in found for step in each.trail} - known
    assert lost == set()


def _printable(values: tuple[float, ...]) -> set[str]:
    told = {"100"}
    for value in values:
        told |= {f"{value:.0f}", f"{value:.1f}", f"{value / 100:.1f}", f"{value / 100:.0f}"}
    return {each.removesuffix(".0") for each in told}


def test_a_number_in_an_answers_sentences_is_one_of_the_answers_own(
    built_pages: Path, shipped_store: Store, shipped_findings: list[Finding], names: set[str]
) -> None:
    found, say = {finding.number: finding for finding in shipped_findings}, load_catalogue()
    rows = {row.id: row for row in all_rows(shipped_store, Measurement)}
    years = {study.key: study.year for study in all_rows(shipped_store, Study)}
    astray, seen = [], 0
    for path in sorted(built_pages.glob("*.html")):
        for each in numbers_on(path.read_text(encoding="utf-8"), names):
            if "div.said" not in each.path or len(each.trail) != 1 or each.trail[0] not in found:
                continue
            finding = found[each.trail[0]]
            mine = [rows[row] for study in finding.every_study for row in study.rows]
            allowed = _printable(figures_of(finding)) | {str(n) for row in mine for n in (row.n, row.n_mothers)}
            allowed |= {years[row.study] for row in mine} | {
                number.group() for number in NUMBER.finditer(handling_words(finding.handling, say).after)
            }
            seen += 1
            if each.text not in allowed:
                astray.append((path.name, each.trail[0], each.text, each.within))
    assert seen > 100
    assert astray == []


def test_a_number_in_a_row_as_printed_stands_in_that_row_of_the_table(built_pages: Path, shipped_store: Store) -> None:
    page = (built_pages / "measurements.html").read_text(encoding="utf-8")
    rows = {row.id: row for row in all_rows(shipped_store, Measurement)}
    lines = re.findall(r'<tr role="row" [^>]*data-from="([^"]+)">(.*?)</tr>', page, flags=re.DOTALL)
    assert {identity for identity, _ in lines} == set(rows)
    for identity, line in lines:
        printed = html.unescape(re.sub(r"<[^>]+>", " ", re.findall(r"<td[^>]*>(.*?)</td>", line, flags=re.DOTALL)[3]))
        held = " ".join(str(value) for value in rows[identity].model_dump().values())
        written = re.findall(r"\d+(?:\.\d+)?", held)
        assert set(re.findall(r"\d+(?:\.\d+)?", printed)) <= set(written), identity


def test_a_page_without_its_trails_would_be_found(built_pages: Path, names: set[str]) -> None:
    page = (built_pages / "vitamin-c.html").read_text(encoding="utf-8")
    stripped = re.sub(r' data-from="[^"]*"', "", page)
    assert [each for each in numbers_on(stripped, names) if not each.trail]
