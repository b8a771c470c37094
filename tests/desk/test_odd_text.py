"""Odd text: nothing breaks the desk, no caution is lost, and nothing a message carries is shown as it came."""

from __future__ import annotations

import json
import unicodedata

import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from evidence.store import Store
from reports.desk.desk import Desk
from reports.desk.notes import notes_for
from reports.desk.printing import LENGTHS, printed
from reports.desk.vocabulary import LANGUAGES

ODD = {
    "nothing": "",
    "spaces": " \t\n\r\u2028\u00a0",
    "emoji": "🍼🥛 does freeze drying 😢 cost vitamin C?? 👶🏽👨‍👩‍👧",
    "emoji alone": "🍼" * 500,
    "right to left": "\u202evitamin C\u202c هل يبقى فيتامين",
    "control characters": "vitamin\x00 C \x1b[31mred\x07 after\x7f freezing\u200b\ufeff",
    "combining marks": "v" + "\u0301" * 2000 + "itamin C",
    "surrogates": "vitamin C \ud83d after drying",
    "sql": "'; DROP TABLE measurement; -- vitamin C after drying",
    "html": "<script>alert(1)</script><img src=x onerror=alert(1)> vitamin C & freeze-drying",
    "jinja": "{{ 7*7 }}{% for x in y %}{{ config }}{% endfor %} vitamin C",
    "format": "{0} {component} {__class__} %s %(x)s $x ${x} vitamin C dried",
    "typst": '#eval("1+1") #image("/etc/passwd") $x^2$ @ref <label> vitamin C',
    "formula": '=HYPERLINK("http://x","y") +1+1 -1 @SUM(A1) vitamin C',
    "shell": "$(rm -rf /) `id` | tee && vitamin C",
    "path": "../../../../etc/passwd vitamin C",
    "numbers": "99999999999999999999999999 months 1e999 days -0 % 000,000 °C vitamin C",
    "many percents": "50 % " * 3000 + "vitamin C",
    "long word": "a" * 300_000,
    "long digits": "9" * 300_000,
    "many questions": "does freezing cost vitamin C? " * 3000,
    "one sentence without end": "vitamin C freezer 3 months then dried and " * 3000,
    "many components": "vitamin C lactoferrin fat IgA lysozyme zinc iron folate " * 2000,
    "punctuation": "?!.,;:" * 20_000,
    "homoglyphs": "vіtаmіn С аfter freeze-drying",
    "full width": "ｖｉｔａｍｉｎ Ｃ ａｆｔｅｒ ｄｒｙｉｎｇ",
    "zalgo": "v̴̧i̵t̶a̷m̸i̴n̵ C̶ dried",
    "a megabyte": ("my baby drinks frozen milk and vitamin c " * 26_000)[:1_000_000] + " fever",
}


@pytest.fixture(scope="module")
def desk(shipped_store: Store) -> Desk:
    return Desk(notes_for(shipped_store))


def _shown_safely(text: str) -> bool:
    return all(each == "\n" or unicodedata.category(each)[0] != "C" for each in text)


@pytest.mark.parametrize("name", ODD)
def test_odd_text_gets_a_reply_with_every_caution(name: str, desk: Desk) -> None:
    replies = desk.replies(ODD[name])
    assert 0 < len(replies) <= 40
    for reply in replies:
        assert len(reply.cautions) >= 7
        assert _shown_safely(reply.sentence) and _shown_safely(reply.question) and len(reply.question) < 400
        json.dumps(reply.as_json()).encode()
    for length in LENGTHS:
        text = printed(replies, length, desk.clerk("en").say, "a day")
        assert all(caution.split()[0] in text for caution in replies[0].cautions)
        assert _shown_safely(text)


def test_harm_at_the_end_of_a_megabyte_comes_first(desk: Desk) -> None:
    assert desk.replies(ODD["a megabyte"])[0].redirect == "help-now"


def test_an_answer_repeats_nothing_of_the_message_but_what_was_understood(desk: Desk) -> None:
    for name in ("html", "sql", "jinja", "format", "typst", "formula", "shell"):
        for reply in desk.replies(ODD[name]):
            plain = json.dumps(reply.as_json())
            for part in ("script", "DROP", "{{", "__class__", "#eval", "HYPERLINK", "rm -rf"):
                assert part not in plain, (name, part)


def test_what_was_not_understood_is_shown_short_and_on_one_line(desk: Desk) -> None:
    (reply,) = desk.replies("qwerty\x1b[2J\n\n" + "uiop " * 400)
    assert "\x1b" not in reply.question and "\n" not in reply.question and len(reply.question) < 250


@settings(max_examples=150, deadline=None)
@given(some.text(max_size=300), some.sampled_from([None, *LANGUAGES]))
def test_any_text_gets_a_reply(desk: Desk, text: str, language: str | None) -> None:
    replies = desk.replies(text, language)
    assert replies
    for reply in replies:
        assert len(reply.cautions) >= 7
        assert reply.status in ("answered", "words_only", "no_evidence", "redirect", "not_understood")
        assert (reply.retained_percent is not None) is (reply.status == "answered")


WORDS = [
    "vitamin C",
    "fat",
    "IgA",
    "lactoferrin",
    "freeze-drying",
    "frozen",
    "then",
    "and",
    "after",
    "3 months",
    "14F",
    "-80",
    "fever",
    "safe",
    "price",
    "50 %",
    "less",
    "not",
    "?",
    ".",
    "or",
    "powder",
    "kept",
    "jan to march",
    "since May",
    "born at",
    "29 weeks",
    "how long",
    "congelé",
    "puis",
    "lyophilisé",
    "deux mois",
    "nevera",
    "y luego",
    "nutrients",
    "microwave",
    "72 °C",
    "à",
    "congelador",
    "half the",
    "vitamins A, D and E",
]


@settings(max_examples=300, deadline=None)
@given(some.lists(some.sampled_from(WORDS), max_size=14))
def test_any_heap_of_known_words_gets_a_reply(desk: Desk, words: list[str]) -> None:
    text = " ".join(words)
    replies = desk.replies(text)
    assert replies
    if "fever" in words and replies[0].lang != "und":
        assert replies[0].redirect == "help-now"
    assert desk.replies(text) == replies  # the same words, the same reply
