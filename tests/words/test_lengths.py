"""The same answer at other lengths: nothing that makes a number honest is lost on the way to the phone."""

from __future__ import annotations

import re

import pytest

from evidence.findings.finding import Finding
from evidence.store import Store
from reports.words.catalogue import load_catalogue
from reports.words.lengths import email_text, fitting_caution, phone_text
from reports.words.library import Library, load_library

SAY = load_catalogue()
NUMBER = re.compile(r"\d+ (of 100|of every 100|for every 100|to \d+ of 100)")


@pytest.fixture(scope="module")
def library(shipped_store: Store) -> Library:
    return load_library(shipped_store)


def test_a_number_on_the_phone_stands_in_one_sentence_with_what_it_was_compared_with(
    shipped_findings: list[Finding], library: Library
) -> None:
    numbers = 0
    for finding in shipped_findings:
        text = phone_text(finding, library, SAY)
        if NUMBER.search(text):
            numbers += 1
            sentence = re.split(r"(?<=[a-z)])\. (?=[A-Z])", text)[0]
            assert "against" in sentence or "measured from fresh milk" in sentence, text
    assert numbers > 100


def test_the_phone_says_that_it_is_about_nutrients_or_of_germs_that_nothing_is_sterile(
    shipped_findings: list[Finding], library: Library
) -> None:
    for finding in shipped_findings:
        text = phone_text(finding, library, SAY)
        assert "not about safety" in text or "does not make milk sterile" in text, text
        germs = library.components[finding.component].wanted == "germs"
        assert not germs or "does not make milk sterile" in text, text


def test_an_email_carries_every_source_once_with_its_link(shipped_findings: list[Finding], library: Library) -> None:
    for finding in shipped_findings:
        text = email_text(finding, library, SAY)
        listed = text.partition("\nSources\n")[2].strip().splitlines()
        keys = {each.study for each in finding.every_study}
        assert len(listed) == len(keys), finding.number
        for place, line in enumerate(listed, start=1):
            assert line.startswith(f"[{place}] ")
        for key in keys:
            doi = library.studies[key].doi
            assert not doi or text.count(f"https://doi.org/{doi}") == 1, (finding.number, doi)


def test_an_email_says_what_the_number_leaves_out_of_the_clients_own_way(
    shipped_findings: list[Finding], library: Library
) -> None:
    # Martysiak-Zurowska and others 2020: freeze-drying alone, its milk's past not stated
    drying = next(f for f in shipped_findings if (f.component, f.handling, f.form) == ("vitamin-c", "freeze-dried", ""))
    text = email_text(drying, library, SAY)
    assert "Nobody can tell whether it counts from fresh milk" in text
    assert "Drying does not make milk sterile" in text


def test_an_email_names_answer_edition_and_address_and_no_address_where_none_is_set(
    shipped_findings: list[Finding], library: Library
) -> None:
    finding = shipped_findings[0]
    text = email_text(finding, library, SAY, address="https://example.org/vitamin-c")
    assert finding.number in text and library.edition.hash[:12] in text
    assert "Newest page: https://example.org/vitamin-c" in text
    assert "Newest page" not in email_text(finding, library, SAY)


def test_the_caution_fits_the_handling(shipped_findings: list[Finding], library: Library) -> None:
    for finding in shipped_findings:
        last = finding.handling.split("+")[-1].split(":")[0]
        wanted = {"freeze-dried": "drying", "kept": "drying", "frozen": "storage", "chilled": "storage"}.get(last)
        if wanted:
            assert wanted in fitting_caution(finding, library).topics.split(";"), finding.number
