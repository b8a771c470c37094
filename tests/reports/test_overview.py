"""The overview and the smell and taste sheet: parents' words, and nothing claimed that no interval carries."""

from __future__ import annotations

import dataclasses
import re
from pathlib import Path

import pytest
from pypdf import PdfReader

from evidence.findings.finding import Finding
from evidence.store import Store
from reports.settings.settings import PaperSize
from reports.sheets.family.content import FamilyPage, Overview
from reports.sheets.family.maker import FamilyMaker
from reports.sheets.family.overview import outcome_of, overview
from reports.sheets.family.render import render_family_html, render_family_pdf
from reports.sheets.family.smell import smell_and_taste
from reports.sheets.pdf import PdfRenderer
from reports.words.choose import DRYING, FREEZING, leading
from tests.reports.browser import in_browser
from tests.reports.family_pages import every_line, family_maker
from tests.reports.markup import read_page

NUMBER = re.compile(r"\d+ (of 100|for every 100|to \d+ of 100)")


@pytest.fixture(scope="module")
def maker(shipped_store: Store) -> FamilyMaker:
    return family_maker(shipped_store)


@pytest.fixture(scope="module")
def page(maker: FamilyMaker) -> Overview:
    return overview(maker)


@pytest.fixture(scope="module")
def smell(maker: FamilyMaker) -> FamilyPage:
    made = smell_and_taste(maker)
    assert made is not None
    return made


def test_only_an_interval_that_leaves_out_no_change_falls_or_rises(shipped_findings: list[Finding]) -> None:
    numbers = 0
    for finding in shipped_findings:
        pooled = finding.pooled
        if pooled is None:
            continue
        numbers += 1
        outcome = outcome_of(finding)
        if outcome == "falls":
            assert pooled.ci_high < 100, finding.number
        elif outcome == "rises":
            assert pooled.ci_low > 100, finding.number
        elif outcome == "stays":
            assert finding.state in ("about_the_same", "little_less", "no_loss_seen"), finding.number
    assert numbers > 100


def test_studies_in_words_that_disagree_are_no_answer(shipped_findings: list[Finding]) -> None:
    for finding in shipped_findings:
        kinds = {said.kind for said in finding.said}
        if finding.pooled is None and {"fall", "no_change"} <= kinds:
            assert outcome_of(finding) == "unclear", finding.number


def test_nothing_measured_and_nothing_countable_is_what_nobody_knows(shipped_findings: list[Finding]) -> None:
    assert outcome_of(None) == "unknown"
    listed = next(finding for finding in shipped_findings if finding.state == "listed_only")
    assert outcome_of(listed) == "unknown"


def test_every_component_parents_ask_about_stands_once_in_each_column(maker: FamilyMaker, page: Overview) -> None:
    components = maker.sheets.library.components
    asked = {components[key].name_en for key in maker.pages if components[key].question_worthy == "1"}
    for section in page.sections:
        named = [name for inner in section.sections for line in inner.lines for name, _ in line.names]
        assert sorted(named) == sorted(asked)


def test_what_the_overview_says_is_what_the_leading_answer_says(maker: FamilyMaker, page: Overview) -> None:
    for section, kind in zip(page.sections, (DRYING, FREEZING), strict=True):
        for inner in section.sections:
            outcome = inner.slug.rpartition("-")[2]
            for line in inner.lines:
                for _, key in line.names:
                    ranked = leading(maker.findings.get(key, ()), kind)
                    assert outcome_of(ranked[0] if ranked else None) == outcome, key


def test_every_number_stands_with_what_it_was_compared_with(page: Overview, smell: FamilyPage) -> None:
    told = [line.answer for each in (page, smell) for line in every_line(each) if NUMBER.search(line.answer)]
    assert len(told) > 15
    assert all("against" in text for text in told)


def test_the_overview_prints_on_one_page_with_every_caution(page: Overview, tmp_path: Path) -> None:
    path = tmp_path / "overview.pdf"
    path.write_bytes(render_family_pdf(page, PdfRenderer()))
    reader = PdfReader(path)
    assert len(reader.pages) == 1
    text = re.sub(r"\s", "", reader.pages[0].extract_text())
    for said in (*page.keeping_safe, page.foot.interest):
        assert re.sub(r"\s", "", said) in text


def test_smell_says_that_it_tells_nothing_of_safety_and_what_nobody_knows(smell: FamilyPage) -> None:
    assert any("do not tell whether a milk is safe" in said for said in smell.intro)
    text = read_page(render_family_html(smell)).words()
    # no row of the table speaks of free fatty acids after freeze-drying (2026-11)
    assert "Whether freeze-drying makes more or less of it." in text


@pytest.mark.parametrize("name", ["overview", "smell"])
def test_pages_are_narrow_sound_and_refused_without_cautions(
    name: str, page: Overview, smell: FamilyPage, tmp_path: Path
) -> None:
    content = {"overview": page, "smell": smell}[name]
    html = render_family_html(content)
    assert not read_page(html).unclosed
    assert in_browser(html, "return page.documentElement.scrollWidth;", tmp_path, width=320) <= 320
    for bad in (
        dataclasses.replace(content, keeping_safe=()),
        dataclasses.replace(content, foot=dataclasses.replace(content.foot, interest="")),
    ):
        with pytest.raises(ValueError, match="The page"):
            render_family_html(bad)
        with pytest.raises(ValueError, match="The page"):
            render_family_pdf(bad, PdfRenderer())


@pytest.mark.parametrize("language", ["en", "fr", "es"])
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_overview_keeps_to_one_page_in_every_language_on_both_papers(
    shipped_store: Store, language: str, paper: PaperSize, tmp_path: Path
) -> None:
    page = overview(family_maker(shipped_store, language=language))
    path = tmp_path / "overview.pdf"
    path.write_bytes(render_family_pdf(dataclasses.replace(page, paper=paper), PdfRenderer()))
    assert len(PdfReader(path).pages) == 1
