"""Beside each sheet stands a text to paste: both answers at two lengths, with every caution."""

from __future__ import annotations

import dataclasses

import pytest

from evidence.store import Store
from reports.sheets.family.words_to_send import words_to_send
from reports.site.compose import Site
from tests.reports.family_pages import family_maker, site_of


@pytest.fixture(scope="module")
def site(shipped_store: Store) -> Site:
    return site_of(shipped_store)


def test_every_sheet_with_an_answer_has_a_text_that_its_page_and_the_list_link_to(site: Site) -> None:
    texts = dict(site.texts)
    links = {entry.slug: {page for _, page in entry.more} for entry in site.index.entries}
    for sheet in site.sheets:
        name = f"{sheet.slug}-words.txt"
        told = any(answer.number for answer in sheet.answers)
        assert (name in texts) == told == (name in links[sheet.slug]), sheet.slug
        assert told == (name in {page for _, page in sheet.more_pages})


def test_every_text_carries_every_caution_and_who_made_it(site: Site) -> None:
    sheets = {f"{sheet.slug}-words.txt": sheet for sheet in site.sheets}
    for name, text in site.texts:
        assert all(caution in text for caution in sheets[name].keeping_safe), name
        assert sheets[name].foot.interest in text


def test_a_text_holds_the_answers_of_its_sheet_and_their_numbers(site: Site) -> None:
    texts = dict(site.texts)
    for sheet in site.sheets:
        for answer in sheet.answers:
            if answer.number:
                text = texts[f"{sheet.slug}-words.txt"]
                assert answer.heading in text and answer.number in text
                assert " ".join(answer.sentences) in text


def test_without_cautions_there_is_no_text(shipped_store: Store, site: Site) -> None:
    sheet = dataclasses.replace(site.sheets[0], keeping_safe=())
    with pytest.raises(ValueError, match="no cautions"):
        words_to_send(sheet, family_maker(shipped_store))


def test_unbranded_pages_link_to_nothing_of_the_service(shipped_store: Store) -> None:
    twin = site_of(shipped_store, unbranded=True)
    assert all(page.more_pages == () for page in twin.pages)
    assert all(page.unbranded for page in twin.pages)
