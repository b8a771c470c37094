"""The project's own sheets pass its own check."""

from __future__ import annotations

import pytest

from evidence.store import Store
from reports.claims.check import Checker, Claim, open_checker
from reports.claims.document import blocks_of
from reports.claims.holdings import may_stand
from reports.sheets.html import render_html
from reports.site.compose import compose_site

SHEETS = ("vitamin-c", "iga", "total-fat", "total-bacteria", "free-fatty-acids")


Pages = dict[str, str]


def _pages(store: Store, *, unbranded: bool = False, language: str = "en") -> Pages:
    site = compose_site(store, unbranded=unbranded, language=language)
    return {sheet.slug: render_html(sheet) for sheet in site.sheets if sheet.slug in SHEETS}


@pytest.fixture(scope="module")
def pages(shipped_store: Store) -> Pages:
    return _pages(shipped_store)


@pytest.fixture(scope="module")
def checker(shipped_store: Store) -> Checker:
    return open_checker(shipped_store)


def _claims(checker: Checker, page: str) -> list[Claim]:
    return checker.check(blocks_of(page, "html"))


@pytest.mark.parametrize("name", SHEETS)
def test_no_sentence_of_a_sheet_goes_too_far(name: str, pages: Pages, checker: Checker) -> None:
    claims = _claims(checker, pages[name])
    assert len(claims) > 100
    assert [(claim.verdict, claim.sentence) for claim in claims if claim.to_change] == []


def test_no_sentence_of_an_unbranded_sheet_goes_too_far(shipped_store: Store, checker: Checker) -> None:
    for page in _pages(shipped_store, unbranded=True).values():
        assert [claim.sentence for claim in _claims(checker, page) if claim.to_change] == []


@pytest.mark.parametrize("language", ["fr", "es"])
def test_no_sentence_of_a_translated_sheet_goes_too_far(language: str, shipped_store: Store, checker: Checker) -> None:
    for page in _pages(shipped_store, language=language).values():
        claims = _claims(checker, page)
        assert [(claim.verdict, claim.sentence) for claim in claims if claim.to_change] == []
        assert sum(claim.lang == language for claim in claims) > 0.8 * len(claims)


@pytest.mark.parametrize("language", ["en", "fr", "es"])
def test_every_answer_in_words_of_ours_may_stand(language: str, checker: Checker) -> None:
    """What we offer instead must itself pass: the shortest wording of every finding, checked again."""
    library = checker.holdings.library
    for component, findings in checker.holdings.found.items():
        for finding in findings:
            if not finding.figure_studies or finding.pooled is None:
                continue
            wording = may_stand(finding, library, language)
            told = checker.check([library.components[component].sentence_name_en, wording], language)[1:]
            assert not [claim for claim in told if claim.to_change], wording
            assert any(claim.verdict == "supported" for claim in told), wording


@pytest.mark.parametrize("name", SHEETS)
def test_sentences_with_figure_comparison_and_studies_are_supported(name: str, pages: Pages, checker: Checker) -> None:
    claims = _claims(checker, pages[name])
    whole = [
        claim
        for claim in claims
        if any(word in claim.sentence for word in ("compared with", "against "))
        and any(word in claim.sentence for word in ("One study", "Two studies", "studies)", "(one study)"))
        and any(word in claim.sentence for word in ("of every 100", "for every 100"))
    ]
    assert {claim.verdict for claim in whole} <= {"supported"}, [c.sentence for c in whole if c.verdict != "supported"]
    if name in ("vitamin-c", "iga", "total-fat"):
        assert whole
    assert all(claim.findings for claim in whole)
