"""Every question ends in one of five ways, each with what it owes: the comparison, the nearest answer, words to say."""

from __future__ import annotations

import re

import pytest

from evidence.store import Store
from reports.desk import Desk, Reply, notes_for
from reports.desk.clerk import Clerk
from reports.desk.vocabulary import LANGUAGES

AGAINST = {"en": ("against", "compared with"), "fr": ("par rapport",), "es": ("frente a", "en comparación", "respecto")}


@pytest.fixture(scope="module")
def desk(shipped_store: Store) -> Desk:
    return Desk(notes_for(shipped_store))


def _one(desk: Desk, text: str, language: str | None = None) -> Reply:
    (reply,) = desk.replies(text, language)
    return reply


@pytest.mark.parametrize("language", LANGUAGES)
def test_the_comparison_stands_in_every_length_of_every_answer(language: str, desk: Desk) -> None:
    clerk: Clerk = desk.clerk(language)
    seen = 0
    for component in clerk.notes["names"]:
        for card in clerk.cards(component)[0]:
            if card.status == "no_evidence":
                continue
            seen += 1
            for told in (card.sentence, card.phone, card.email):
                assert any(word in told.lower() for word in AGAINST[language]), (card.number, told)
            assert card.number in card.email
    assert seen > 500


@pytest.mark.parametrize("language", LANGUAGES)
def test_questions_that_are_offered_have_answers_in_their_own_language(language: str, desk: Desk) -> None:
    offered = dict.fromkeys(
        question
        for text in ("plutonium", "does scalding cost vitamin D?", "iron after freeze-drying", "DHA frozen 2 months")
        for reply in desk.replies(text, language)
        for question in reply.alternatives
    )
    assert len(offered) >= 5
    for question in offered:
        replies = desk.replies(question)
        assert {each.lang for each in replies} == {language}, question
        assert {each.status for each in replies} == {"answered"}, question


@pytest.mark.parametrize(
    ("text", "paper"),
    [
        # two of the papers that data/wanted.csv and the reading list name for these questions
        ("vitamin C frozen and then freeze-dried", True),
        ("iron after freeze-drying", False),
    ],
)
def test_no_evidence_names_the_nearest_question_and_the_paper_if_there_is_one(
    text: str, paper: bool, desk: Desk
) -> None:
    reply = desk.replies(text)[0]
    assert reply.status == "no_evidence"
    assert reply.alternatives and reply.alternatives[0] in reply.sentence
    assert ("might settle it" in reply.sentence) is paper
    assert ("no paper that has measured it" in reply.sentence) is not paper


def test_a_remembered_number_is_told_with_its_comparison_and_never_confirmed(desk: Desk) -> None:
    # martysiakzurowska2020lyophilization, abstract: 31 % fall, past of the milk not told
    reply = _one(desk, "so it's 31 % less vitamin C than fresh after freeze-drying, right?")
    assert "You mention 31 %." in reply.sentence
    assert "not stated" in reply.sentence and "not a figure measured from fresh milk" in reply.sentence
    assert not re.search(r"\b(right|true|correct|yes)\b", reply.sentence.lower())


def test_a_remembered_number_that_no_row_has_is_said_to_be_none(desk: Desk) -> None:
    reply = _one(desk, "I read that freeze-drying keeps 90 % of lactoferrin")
    assert "No row of this table has that number for lactoferrin" in reply.sentence
    assert reply.say.startswith("You mention 90 %.")


def test_a_remembered_number_of_another_handling_is_said_to_be_one(desk: Desk) -> None:
    reply = _one(desk, "is 80 % of the lactoferrin lost in the freezer?")
    assert "No row of this table has that number for lactoferrin" in reply.sentence
    assert reply.sentence.index("No row") < reply.sentence.index("asteuris")


def test_a_number_without_a_component_is_not_confirmed_either(desk: Desk) -> None:
    reply = _one(desk, "isn't it 11 % less than fresh?")
    assert reply.status == "not_understood"
    assert "You mention 11 %." in reply.sentence and len(reply.alternatives) == 3


def test_a_comparison_says_whether_figures_may_stand_side_by_side(desk: Desk) -> None:
    drying, freezing = desk.replies("is drying better than freezing for vitamin C?")
    assert (drying.handling, freezing.status) == ("freeze-dried", "answered")
    assert "cannot tell which is better" in freezing.sentence


def test_a_time_nobody_measured_is_not_answered_with_another(desk: Desk) -> None:
    reply = _one(desk, "lipase after two days at room temperature")
    assert reply.status == "no_evidence"
    assert reply.handling == "room:over-4h"


@pytest.mark.parametrize("text", ["Wie lange hält gefrorene Muttermilch?", "Сколько витамина С остаётся в молоке?"])
def test_a_language_it_cannot_read_is_said_to_be_one_in_all_three(text: str, desk: Desk) -> None:
    reply = _one(desk, text)
    assert (reply.status, reply.lang) == ("not_understood", "und")
    for language in LANGUAGES:
        assert desk.clerk(language).say.say("not_understood/language") in reply.sentence
    assert len(reply.alternatives) == 3


def test_harm_is_first_and_price_is_last(desk: Desk) -> None:
    replies = desk.replies("what do you charge, does drying cost vitamin C, and is it safe? she has a fever")
    assert [reply.redirect for reply in replies] == ["help-now", "safety", None, "price"]


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_redirect_has_its_words_in_every_language(language: str, desk: Desk) -> None:
    clerk = desk.clerk(language)
    assert {each.id for each in clerk.redirects.values()} >= {
        "help-now", "safety", "opened-pack", "water", "illness-allergy", "medicines", "premature", "law", "travel",
        "price", "storage",
    }  # fmt: skip
    for redirect in clerk.redirects.values():
        reply = clerk.redirected(redirect.id)
        assert reply.say and reply.redirect_to and redirect.about and len(redirect.words) > 4


def test_more_than_there_was_is_never_told_as_still_there(desk: Desk) -> None:
    # "about 110 of 100 still there" reads as a slip
    clerk = desk.clerk("en")
    phones = [card.phone for component in clerk.notes["names"] for card in clerk.cards(component)[0]]
    assert not [told for told in phones if re.search(r"about 1[0-9][1-9] of (every )?100", told)]
