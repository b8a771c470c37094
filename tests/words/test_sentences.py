"""Every sentence of every shipped finding can be made, is whole, and says what its number was compared with."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from evidence.findings.finding import Finding
from evidence.model.rules import Rules
from evidence.store import Store
from reports.words.answers import answer_sentences, how_sure, no_evidence_sentence, own_milk, parts
from reports.words.brief import brief_answer, short_answer
from reports.words.catalogue import Catalogue, load_catalogue
from reports.words.handlings import handling_words
from reports.words.library import Library, load_library

# a number of parts still there, or of times as much: what must never stand without its comparison
NUMBER = re.compile(
    r"\b\d+(?:\.\d+)?\b[^.]*\b(?:every 100|in 100|of 100|times as (?:much|many))|a (?:tenth|hundredth|thousandth)"
)
COMPARISON = ("compared with", "against ")
BROKEN = re.compile(r"[{}]|\bNone\b|\bnan\b|\binf\b|  |\b(?:a|an|the|of) [,.;:]|\.\.|,,| ,")


@pytest.fixture(scope="module")
def say() -> Catalogue:
    return load_catalogue()


@pytest.fixture(scope="module")
def library(shipped_store: Store) -> Library:
    return load_library(shipped_store)


@pytest.fixture(scope="module")
def told(
    shipped_findings: list[Finding], library: Library, rules: Rules, say: Catalogue
) -> list[tuple[Finding, tuple[str, ...], tuple[str, ...]]]:
    """Each finding with the sentences of its answer and its one-line forms."""
    return [
        (
            found,
            answer_sentences(found, library, say),
            (brief_answer(found, library, say), short_answer(found, library, say)),
        )
        for found in shipped_findings
    ]


def _sentences(text: str) -> list[str]:
    return re.split(r"(?<=[a-z0-9)%])\.\s+(?=[A-Z])", text)


def test_every_finding_has_an_answer_that_is_whole(
    told: list[tuple[Finding, tuple[str, ...], tuple[str, ...]]],
) -> None:
    assert len(told) >= 400
    for found, answer, short in told:
        assert answer and all(answer), found.number
        for text in (*answer, *filter(None, short)):
            assert not BROKEN.search(text), (found.number, text)
        for text in answer:
            assert text[0].isupper() or text[0].isdigit(), (found.number, text)
            assert text.endswith("."), (found.number, text)


def test_a_number_is_never_told_without_what_it_was_compared_with(
    told: list[tuple[Finding, tuple[str, ...], tuple[str, ...]]],
) -> None:
    bare = [
        (found.number, sentence)
        for found, answer, short in told
        for text in (*answer, *short)
        for sentence in _sentences(text)
        if NUMBER.search(sentence)
        and not any(word in sentence for word in COMPARISON)
        # room for a loss no study saw is a number of its own, not a result
        and "gone unseen" not in sentence
    ]
    assert bare == []


def test_parts_gone_and_parts_there_add_up_to_100(told: list[tuple[Finding, tuple[str, ...], tuple[str, ...]]]) -> None:
    seen = 0
    for found, answer, _ in told:
        for text in answer:
            match = re.search(r"[Aa]bout (\d+) of every 100 parts .*about (\d+)(?: were)? gone", text)
            if match:
                seen += 1
                assert abs(int(match[1]) + int(match[2]) - 100) <= 1, (found.number, text)
    assert seen >= 10


def test_the_number_told_of_one_study_is_its_own(told: list[tuple[Finding, tuple[str, ...], tuple[str, ...]]]) -> None:
    seen = 0
    for found, answer, _ in told:
        if found.state == "one_study" and found.group in ("bulk", "fragile"):
            seen += 1
            assert parts(found.figure_studies[0].retained_percent) in answer[0], (found.number, answer[0])
    assert seen >= 20


def test_one_study_is_never_told_with_a_band(told: list[tuple[Finding, tuple[str, ...], tuple[str, ...]]]) -> None:
    for found, answer, short in told:
        if found.state == "one_study":
            text = " ".join((*answer, *short))
            assert "fits" not in text and "may lie" not in text and "room for" not in text, (found.number, text)


def test_two_studies_whose_interval_includes_100_get_no_average(
    told: list[tuple[Finding, tuple[str, ...], tuple[str, ...]]],
) -> None:
    for found, answer, _ in told:
        if found.state == "two_studies" and found.pooled and found.pooled.ci_low <= 100 <= found.pooled.ci_high:
            assert not any(re.search(r"Together[^.]*\babout \d", text) for text in answer), found.number


NEVER = re.compile(
    r"\b(?:significant\w*|killed|safe to|sterile milk|nothing is lost|no loss at all|guarantee\w*|proven)\b", re.I
)


def test_no_answer_uses_words_that_claim_too_much(told: list[tuple[Finding, tuple[str, ...], tuple[str, ...]]]) -> None:
    for found, answer, short in told:
        # why a row is left out may quote how its paper put it
        for text in (*(answer if found.state != "listed_only" else ()), *short):
            assert not NEVER.search(text), (found.number, text)


def test_germs_are_never_parts_still_there_and_never_safe(
    told: list[tuple[Finding, tuple[str, ...], tuple[str, ...]]], library: Library
) -> None:
    germs = [
        each for each in told if each[0].group == "count" or library.components[each[0].component].wanted == "germs"
    ]
    assert len(germs) >= 20
    for found, answer, short in germs:
        text = " ".join((*answer, *short))
        assert "still there" not in text, (found.number, text)
        if found.state != "listed_only":
            assert "does not make milk sterile" in text, (found.number, text)


def test_a_marker_that_rises_is_never_called_kept(told: list[tuple[Finding, tuple[str, ...], tuple[str, ...]]]) -> None:
    for found, answer, _ in told:
        if found.group == "marker" and found.pooled:
            assert "still there" not in " ".join(answer), found.number
            assert "gone" not in " ".join(answer), found.number


def test_every_study_behind_a_baseline_word_was_compared_so(
    told: list[tuple[Finding, tuple[str, ...], tuple[str, ...]]],
) -> None:
    seen = 0
    for found, answer, _ in told:
        if re.search(r"compared with fresh milk(?! in )", answer[0]) and not found.fresh:
            seen += 1
            assert {study.baseline for study in found.behind} == {"fresh"}, found.number
    assert seen >= 5


def test_milk_already_frozen_is_told_in_the_sentence_of_the_number(
    told: list[tuple[Finding, tuple[str, ...], tuple[str, ...]]],
) -> None:
    seen = 0
    for found, answer, _ in told:
        if found.pooled and any(study.baseline == "frozen" for study in found.figure_studies):
            seen += 1
            assert "already" in answer[0] and "frozen" in answer[0], (found.number, answer[0])
    assert seen >= 1


def test_how_sure_has_a_reason_unless_it_is_sure(shipped_findings: list[Finding], say: Catalogue) -> None:
    for found in shipped_findings:
        text = how_sure(found, say)
        assert not BROKEN.search(text), (found.number, text)
        if found.certainty.level != "high":
            assert "because" in text, (found.number, text)


def test_own_milk_is_told_wherever_a_nutrient_has_a_number(shipped_findings: list[Finding], say: Catalogue) -> None:
    for found in shipped_findings:
        text = own_milk(found, say)
        assert not BROKEN.search(text), (found.number, text)
        assert bool(text) is (found.pooled is not None and found.group in ("bulk", "fragile")), found.number


def test_every_handling_asked_has_words(shipped_findings: list[Finding], say: Catalogue) -> None:
    for key in {found.handling for found in shipped_findings}:
        words = handling_words(key, say)
        assert words.noun and words.after, key
        assert not BROKEN.search(words.after), (key, words.after)
        assert ":" not in words.after and "+" not in words.after, (key, words.after)


def test_no_evidence_says_so_and_that_it_is_neither_good_nor_bad(say: Catalogue) -> None:
    for between in (0, 2):
        text = no_evidence_sentence("zinc", "after freeze-drying", "freeze-drying", between, say)
        assert "zinc" in text and "neither good news nor bad" in text
        assert not BROKEN.search(text)


def test_parts_are_whole_and_a_trace_is_less_than_one() -> None:
    assert [parts(value) for value in (0.2, 0.4999, 0.5001, 1, 68.51, 100.4)] == [
        "less than 1", "less than 1", "1", "1", "69", "100",
    ]  # fmt: skip


def _messages(section: dict[str, object], path: str = "") -> Iterator[tuple[str, str]]:
    for key, value in section.items():
        if isinstance(value, dict):
            yield from _messages(value, f"{path}{key}/")
        else:
            yield f"{path}{key}", str(value)


def test_every_reason_step_and_flag_a_finding_may_carry_has_words(
    shipped_findings: list[Finding], say: Catalogue
) -> None:
    for found in shipped_findings:
        for step in found.certainty.steps:
            assert say.has(f"reason/{step.reason}") and say.has(f"step/{step.reason}"), step.reason
        for flag in found.flags:
            assert say.has(f"flag/{flag}"), flag


def test_no_message_carries_a_forbidden_word_or_a_loose_brace() -> None:
    import tomllib
    from importlib.resources import files

    messages = dict(_messages(tomllib.loads((files("reports.words") / "en.toml").read_text(encoding="utf-8"))))
    assert len(messages) > 100
    for key, text in messages.items():
        assert not NEVER.search(text), (key, text)
        assert text.count("{") == text.count("}"), key
