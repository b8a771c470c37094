"""Sentences of replies that could be misread when read aloud, as they were found by reading them so."""

from __future__ import annotations

from pathlib import Path

import pytest

from evidence.findings import findings
from evidence.store import Store
from reports.command.main import main
from reports.desk.desk import Desk
from reports.desk.notes import notes_for

ASKED = {"en": "lipase after thawing", "fr": "lipase après décongélation", "es": "lipasa tras descongelar"}
SIDES = ("side 2", "verso", "reverso")
WORDS_ONLY = {
    "en": ("IgA frozen 2 months", "one study"),
    "fr": ("IgA congelé 2 mois", "une étude"),
    "es": ("IgA congelada 2 meses", "un estudio"),
}

UNSEEN = {"en": "may have gone unseen", "fr": "passer inaperçue", "es": "pasado inadvertida"}


@pytest.fixture(scope="module")
def desk(shipped_store: Store) -> Desk:
    return Desk(notes_for(shipped_store))


@pytest.mark.parametrize("language", ["fr", "es"])
def test_no_reply_in_another_language_quotes_a_readers_english_note(
    language: str, desk: Desk, shipped_store: Store
) -> None:
    listed = [finding for finding in findings(shipped_store) if finding.state == "listed_only"]
    notes = {row.reason for finding in listed for row in finding.not_pooled if " " in row.reason}
    assert notes
    said = {
        card.sentence + card.phone + card.email
        for component in {finding.component for finding in listed}
        for card in desk.clerk(language).cards(component)[0]
        if card.status == "no_evidence"
    }
    assert said
    assert not [(note, text) for note in notes for text in said if note in text]


@pytest.mark.parametrize("language", sorted(ASKED))
def test_a_reply_points_to_no_side_of_a_sheet(language: str, desk: Desk) -> None:
    for reply in desk.replies(ASKED[language], language):
        assert not any(side in reply.sentence + reply.say + reply.email for side in SIDES)


@pytest.mark.parametrize("language", sorted(WORDS_ONLY))
def test_what_was_told_in_words_says_who_saw_it(language: str, desk: Desk) -> None:
    question, who = WORDS_ONLY[language]
    (reply,) = desk.replies(question, language)
    assert reply.status == "words_only"
    assert who in reply.say
    assert UNSEEN[language] in reply.say  # "no clear change" is not heard as "nothing is lost"


def test_two_figures_of_one_study_name_it_as_sentences_do(desk: Desk) -> None:
    last = desk.replies("antioxidants fridge or freezer?")[-1]
    assert "Aksu and others" in last.say


def test_names_that_two_languages_share_do_not_decide(desk: Desk) -> None:
    assert desk.replies("calories après holder")[0].lang == "fr"


def test_an_email_says_where_the_pages_of_the_service_stand(
    shipped_store: Store, shipped_path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    notes_for(shipped_store)
    own = tmp_path / "whatstays.toml"
    own.write_text('[service]\nname = "Milk"\npages_at = "https://example.org/milk"\n', encoding="utf-8")
    for length, there in (("email", True), ("phone", False)):
        asked = ["answer", "IgA after freeze-drying", "--for", length, "--store", str(shipped_path)]
        assert main([*asked, "--settings", str(own)]) == 0
        assert ("https://example.org/milk" in capsys.readouterr().out) is there
