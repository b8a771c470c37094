"""The dossier holds every answer with a number, every row once, every threshold, and its cautions on page one."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path

import pytest
from pypdf import PdfReader

from evidence.findings.finding import Finding
from evidence.model.rule_sources import thresholds
from evidence.model.tables import Measurement
from evidence.store import Store
from evidence.store.reading import all_rows
from reports.sheets.family.content import Dossier, Section
from reports.sheets.family.render import render_family_html, render_family_pdf
from reports.sheets.pdf import PdfRenderer
from reports.site.dossier import LONGEST
from reports.site.dossier_counts import rows_counted
from tests.reports.browser import in_browser
from tests.reports.family_pages import site_of
from tests.reports.markup import read_page


@pytest.fixture(scope="module")
def page(shipped_store: Store) -> Dossier:
    return next(page for page in site_of(shipped_store).family if isinstance(page, Dossier))


def _chapter(page: Dossier, slug: str) -> Section:
    return next(section for section in page.chapters if section.slug == slug)


def test_every_row_of_the_table_stands_in_exactly_one_line(
    page: Dossier, shipped_store: Store, shipped_findings: list[Finding]
) -> None:
    rows = all_rows(shipped_store, Measurement)
    counted = rows_counted(rows, shipped_findings)
    places = [counted.figures, counted.bounds, counted.words, counted.between, *(ids for _, ids in counted.listed)]
    assert sum(len(ids) for ids in places) == len(rows)
    assert frozenset().union(*places) == {row.id for row in rows}
    first, *lines = _chapter(page, "counts").tables[0].rows
    assert int(first[1]) == len(rows) == sum(int(line[1]) for line in lines)


def test_every_answer_with_a_number_stands_in_one_table_with_its_comparison(
    page: Dossier, shipped_findings: list[Finding]
) -> None:
    rows = _chapter(page, "answers").tables[0].rows
    assert sorted(row[0] for row in rows) == sorted(f.number for f in shipped_findings if f.pooled is not None)
    assert all("against" in row[5] for row in rows)


def test_two_studies_and_wide_spreads_give_no_average(page: Dossier, shipped_findings: list[Finding]) -> None:
    told = {row[0]: row[3] for row in _chapter(page, "answers").tables[0].rows}
    without = [
        f for f in shipped_findings if f.pooled is not None and f.state in ("two_studies", "spread", "cant_tell")
    ]
    assert without
    assert {told[finding.number] for finding in without} == {"no average"}


def test_every_threshold_stands_with_its_source(page: Dossier) -> None:
    told = {row[0]: row for row in _chapter(page, "rules").tables[0].rows}
    known = {key: each for key, each in thresholds().items() if len(each.value) <= LONGEST}
    assert len(known) > 100
    assert set(told) == set(known)
    for key, each in known.items():
        assert told[key][1] == each.value
    assert told["printing.same_margin"][2].count("Perrin") == 1  # its source in rules.toml: Perrin 2019


def test_what_the_service_may_print_carries_its_comparison(page: Dossier) -> None:
    points = _chapter(page, "claims").points
    assert len(points) > 40
    for point in points:
        if re.search(r"\d+ (of every 100|parts|for every 100)", point):
            assert "compared with" in point or "against" in point or "fresh milk" in point, point


def test_cautions_and_interest_stand_on_the_first_printed_page(page: Dossier, tmp_path: Path) -> None:
    path = tmp_path / "dossier.pdf"
    path.write_bytes(render_family_pdf(page, PdfRenderer()))
    reader = PdfReader(path)
    first = re.sub(r"\s", "", reader.pages[0].extract_text())
    for said in (*page.keeping_safe, page.foot.interest):
        assert re.sub(r"\s", "", said) in first
    assert len(reader.outline) >= len(page.chapters)
    assert path.stat().st_size < 1_500_000


def test_the_page_is_sound_narrow_and_refused_without_interest(page: Dossier, tmp_path: Path) -> None:
    html = render_family_html(page)
    assert not read_page(html).unclosed
    assert in_browser(html, "return page.documentElement.scrollWidth;", tmp_path, width=320) <= 320
    with pytest.raises(ValueError, match="who made it"):
        render_family_html(dataclasses.replace(page, foot=dataclasses.replace(page.foot, interest="")))
