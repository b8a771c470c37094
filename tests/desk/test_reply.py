"""Replies: one a thing asked, the status it deserves, every key there, harm first."""

from __future__ import annotations

import json
from dataclasses import fields
from typing import Any

import pytest

from evidence.findings.finding import Finding
from evidence.model.tables import Caution
from evidence.store import Store
from evidence.store.reading import all_rows
from reports.desk.desk import reply_to
from reports.desk.reply import Reply
from reports.words.handlings import load_handlings

# what the first edition promises to print
KEYS = {
    "status", "component", "handling", "retained_percent", "ci_low", "ci_high", "k_studies", "k_rows", "baselines",
    "flags",
    "certainty", "sentence", "studies", "cautions", "edition",
}  # fmt: skip
STUDY_KEYS = {"key", "reference", "doi", "pmid", "baseline"}


def _one(question: str, store: Store) -> dict[str, Any]:
    (reply,) = reply_to(question, store)
    plain: dict[str, Any] = json.loads(json.dumps(reply.as_json()))
    return plain


@pytest.mark.parametrize(
    ("question", "status"),
    [
        ("does freeze-drying cost vitamin C?", "answered"),
        ("does freeze-drying change lipid peroxides?", "words_only"),
        ("does scalding cost vitamin d?", "no_evidence"),
        ("does it cost plutonium?", "not_understood"),
        ("my baby has a fever", "redirect"),
    ],
)
def test_each_status_is_reached_with_every_key(question: str, status: str, shipped_store: Store) -> None:
    reply = _one(question, shipped_store)
    assert reply["status"] == status
    assert KEYS <= set(reply) == {field.name for field in fields(Reply)}
    assert reply["sentence"]
    assert (reply["retained_percent"] is not None) is (status == "answered")
    assert (reply["k_studies"] > 0) is (status in ("answered", "words_only"))
    assert bool(reply["studies"]) is (status in ("answered", "words_only"))
    assert all(set(study) == STUDY_KEYS and study["reference"] for study in reply["studies"])


def test_vitamin_c_after_freeze_drying_is_answered_as_the_paper_has_it(shipped_store: Store) -> None:
    # martysiakzurowska2020lyophilization, abstract: 31 % fall, five women, past of the milk not told
    reply = _one("does freeze-drying cost vitamin C?", shipped_store)
    assert (reply["component"], reply["handling"]) == ("vitamin-c", "freeze-dried")
    assert reply["retained_percent"] == 69
    assert (reply["k_studies"], reply["k_rows"]) == (1, 1)
    assert reply["baselines"] == {"not stated": 1}
    assert reply["interval_kind"] == "shared"
    # no sentence tells one study's interval; the range of several is told at its own level
    assert reply["interval_level"] == (0.95 if reply["k_studies"] == 1 else 0.975)
    assert reply["ci_low"] < 69 < reply["ci_high"]
    assert [study["key"] for study in reply["studies"]] == ["martysiakzurowska2020lyophilization"]
    for part in ("five mothers", "69", "31", "not stated", "cannot show"):
        assert part in reply["sentence"]


def test_two_things_asked_are_two_replies_in_the_order_asked(shipped_store: Store) -> None:
    replies = reply_to("does freeze-drying cost lysozyme and vitamin C?", shipped_store)
    assert [reply.component for reply in replies] == ["lysozyme", "vitamin-c"]


def test_a_time_asked_for_leads_to_the_window_it_falls_in(shipped_store: Store) -> None:
    short, long = (reply_to(f"fat after {time} in the freezer", shipped_store)[0] for time in ("a week", "3 months"))
    assert (short.handling, long.handling) == ("frozen:home:to-8d", "frozen:home:46-120d")


@pytest.mark.parametrize("time", ["3 months", "two days", "12 hours", "a year"])
def test_a_time_asked_of_a_step_without_one_still_gets_the_answer(time: str, shipped_store: Store) -> None:
    (reply,) = reply_to(f"does freeze-drying cost vitamin C after {time}?", shipped_store)
    assert (reply.status, reply.handling) == ("answered", "freeze-dried")


def test_harm_comes_first_and_the_nutrient_after_it(shipped_store: Store) -> None:
    replies = reply_to("is dried milk safe, she has a fever, and does drying cost vitamin C?", shipped_store)
    assert [reply.status for reply in replies] == ["redirect", "redirect", "answered"]
    assert "medical help now" in replies[0].sentence
    assert all(reply.redirect_to for reply in replies[:2])
    assert replies[2].redirect_to is None


def test_no_redirect_says_that_anything_is_safe_or_unsafe(shipped_store: Store) -> None:
    (reply,) = reply_to("is dried milk safe?", shipped_store)
    assert "is safe is not something" in reply.sentence or "not something this tool can say" in reply.sentence


def test_every_reply_carries_every_caution(shipped_store: Store) -> None:
    cautions = {caution.text_en for caution in all_rows(shipped_store, Caution)}
    assert len(cautions) >= 7
    for question in ("vitamin C", "fever", "plutonium", "does scalding cost vitamin d?"):
        for reply in reply_to(question, shipped_store):
            assert set(reply.cautions) == cautions


def test_a_question_not_understood_offers_questions_that_have_answers(shipped_store: Store) -> None:
    (reply,) = reply_to("plutonium?", shipped_store)
    assert len(reply.alternatives) == 3
    for question in reply.alternatives:
        assert {each.status for each in reply_to(question, shipped_store)} == {"answered"}, question


@pytest.mark.parametrize("kind", sorted(load_handlings()))
def test_a_question_on_all_nutrients_always_gets_a_reply(kind: str, shipped_store: Store) -> None:
    replies = reply_to(f"does {load_handlings()[kind].noun} cost nutrients?", shipped_store)
    assert replies
    assert all(reply.sentence for reply in replies)


def test_all_nutrients_after_drying_are_those_that_were_measured(shipped_store: Store) -> None:
    replies = reply_to("does freeze-drying cost nutrients?", shipped_store)
    assert "vitamin-c" in [reply.component for reply in replies]
    assert {reply.status for reply in replies} == {"answered"}


def test_a_reply_says_what_its_finding_says(shipped_store: Store, shipped_findings: list[Finding]) -> None:
    by_number = {found.number: found for found in shipped_findings}
    seen = 0
    for name in ("lactoferrin", "total fat", "vitamin C", "IgA", "lysozyme", "bacteria"):
        for handling in ("freeze-drying", "freezing", "pasteurising", "the fridge"):
            for reply in reply_to(f"{name} after {handling}", shipped_store):
                if reply.number is None:
                    continue
                found = by_number[reply.number]
                seen += 1
                assert reply.k_studies == len(found.behind)
                assert sum(reply.baselines.values()) == reply.k_studies
                assert reply.certainty == found.certainty.level
                assert {study.key for study in reply.studies} == {study.study for study in found.every_study}
                if found.pooled is not None and found.pooled.k_studies > 1:
                    assert reply.retained_percent == pytest.approx(found.pooled.retained_percent, abs=0.005)
    assert seen >= 12


def test_only_studies_that_can_be_found_are_cited_with_their_doi(shipped_store: Store) -> None:
    (reply,) = reply_to("lactoferrin after holder pasteurisation", shipped_store)
    assert reply.studies
    assert any(study.doi for study in reply.studies)
    for study in reply.studies:
        assert study.doi is None or study.doi.startswith("10.")
        assert study.pmid is None or study.pmid.isdigit()
