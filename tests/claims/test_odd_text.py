"""Odd text of every kind: no crash, every sentence kept, nothing supported, everything shown as text."""

from __future__ import annotations

import html
import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evidence.store import Store
from reports.claims.check import Checker, open_checker
from reports.claims.document import blocks_of
from reports.claims.judgement import VERDICTS
from reports.claims.vocabulary import LANGUAGES, load_claim_words
from reports.command.main import main

ODD = [
    "", " ", "\ufeff", "\u200b", "?", "¿", "...", "%", "100 %", "0", "97", "…", "-", "()", "\x07\x1b[31mred\x1b[0m",
    "🍼🤱 97 % of nutrients 🎉", "\u202eneppo\u202c all nutrients kept", "احتفظ بجميع العناصر الغذائية", "保留所有营养",
    "'; DROP TABLE finding; --", "<script>alert('all nutrients')</script>", "{{ 7*7 }} {% raw %} ${x} #{y}",
    '=HYPERLINK("http://x","all nutrients")', "#set page(width: 1pt) \\input{x} $\\alpha$",
    "{component} {0} %s %(a)s", "NaN inf -inf 1e309 1e-309 %", "9" * 400 + " % of nutrients are kept",
    "1.2.3.4 % of vitamin C", "٩٧ % of nutrients", "A\u0301" * 50, "\ud7ff\ue000",
    "vita\u00admin\u200b C is ke\u00adpt",
    "ＶＩＴＡＭＩＮ Ｃ ｋｅｐｔ", "all\tnutrients\u00a0kept", "½ of vitamin C", "Vitamin C " * 2000,
    "no not never without " * 500, "a" * 100_000, "(" * 5000, '"' * 999,
]  # fmt: skip


@pytest.fixture(scope="module")
def checker(shipped_store: Store) -> Checker:
    return open_checker(shipped_store)


@pytest.mark.parametrize("kind", ["txt", "md", "html"])
@pytest.mark.parametrize("text", ODD, ids=range(len(ODD)))
def test_odd_text_is_checked_and_never_supported(text: str, kind: str, checker: Checker) -> None:
    for claim in checker.check(blocks_of(text, kind)):
        assert claim.verdict in VERDICTS and claim.verdict != "supported"
        assert claim.why and claim.wording
        json.dumps(claim.as_json())


_OTHER = """
retains retain keeps all every nutrients vitamin C IgA lost loss falls 31 % 69 of every 100 parts one study two studies
compared with fresh milk past is not stated after freeze-drying frozen safe sterile boosts immunity no not never without
up to most just like better than formula myth but however ? ! . , ; : ( ) conserve conserva tous todos nutriments
nutrientes perte pérdida lyophilisation liofilización étude estudio sûr seguro
"""
_VOCABULARY = sorted(set(_OTHER.split()).union(*(load_claim_words(language).stop for language in LANGUAGES)))


@settings(max_examples=300, deadline=None)
@given(words=st.lists(st.sampled_from(_VOCABULARY), min_size=1, max_size=25))
def test_any_words_of_the_vocabulary_are_checked(words: list[str], checker: Checker) -> None:
    text = " ".join(words)
    for claim in checker.check([text]):
        assert claim.sentence in text
        if claim.verdict == "supported":
            assert claim.findings and claim.component
            assert any(digit in claim.sentence for digit in "0123456789") or "study" in claim.sentence


@settings(max_examples=100, deadline=None)
@given(st.text(max_size=200))
def test_any_text_at_all_is_checked(checker: Checker, text: str) -> None:
    for kind in ("txt", "html"):
        for claim in checker.check(blocks_of(text, kind)):
            assert claim.verdict != "supported"


def test_a_million_letters_are_checked(checker: Checker) -> None:
    text = "Freeze-drying retains all nutrients, we are told. Call us. " * 17_000
    assert len(text) > 1_000_000
    claims = checker.check(blocks_of(text))
    assert len(claims) == 34_000
    assert {claim.verdict for claim in claims} == {"contradicted", "none"}


def test_nothing_shown_can_steer_a_terminal_or_a_reader_s_eye(
    shipped_path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    page = tmp_path / "odd.txt"
    page.write_text("\x1b[2J\u202eAll nutrients are kept \u202c\x07and we are glad.", encoding="utf-8")
    assert main(["claims", str(page), "--store", str(shipped_path)]) == 5
    out = capsys.readouterr().out
    assert not set(out) & set("\x1b\x07\u202e\u202c")
    assert "\\u001b" in out and "\\u202e" in out


def test_markup_in_a_page_s_text_is_kept_as_text(checker: Checker) -> None:
    shown = "<b>All nutrients</b> are kept & safe"
    (claim,) = checker.check(blocks_of(f"<p>{html.escape(shown)}</p>", "html"))
    assert claim.sentence == shown and claim.to_change
