"""whatstays claims: what to change, why and what may stand; as text and as JSON; a status that a build can stop at."""

from __future__ import annotations

import io
import json
import sys
from pathlib import Path

import pytest

from reports.command.main import main

FIELDS = ["sentence", "kind", "verdict", "why", "wording", "component", "handling", "findings", "lang"]
COPY = """# Our milk powder

We love what we do. Freeze-drying retains all nutrients, just like fresh milk.
Vitamin C falls by about 31 % in one study of five mothers compared with milk whose past is not stated.

- Shelf-stable for 3 years
- Full of goodness
"""


def _check(text: str, store: Path, folder: Path, *more: str, name: str = "copy.txt") -> int:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return main(["claims", str(path), "--store", str(store), *more])


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("We love what we do.", 0),
        ("", 0),
        ("Does freeze-drying cost vitamin C?", 0),
        ("Full of goodness.", 0),  # vague: shown, and stops nothing
        ("Freeze-drying retains all nutrients.", 5),
        ("Our powder is sterile.", 5),
        ("Pediatrician approved.", 5),
        ("Freeze-drying keeps all the vitamin D.", 5),
        ("Vitamin C falls by about 31 % in one study of five mothers compared with milk whose past is not stated.", 0),
    ],
)
def test_the_status_says_whether_a_sentence_goes_too_far(
    text: str, code: int, shipped_path: Path, tmp_path: Path
) -> None:
    assert _check(text, shipped_path, tmp_path) == code


def test_json_holds_every_sentence_once_in_order_and_unchanged(
    shipped_path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert _check(COPY, shipped_path, tmp_path, "--json") == 5
    told = json.loads(capsys.readouterr().out)
    assert [list(each) for each in told] == [FIELDS] * 6
    assert " ".join(each["sentence"] for each in told).split() == COPY.split()
    assert [each["verdict"] for each in told] == ["none", "none", "contradicted", "supported", "too_far", "vague"]
    supported = told[3]
    # martysiakzurowska2020lyophilization, abstract: five women, a fall of 31 %
    assert supported["component"] == "vitamin-c" and supported["handling"] == "freeze-dried"
    assert supported["findings"][0]["number"].startswith("A-") and "69" in supported["findings"][0]["sentence"]
    assert "freeze-drying" in supported["wording"]


def test_text_shows_what_to_change_counts_the_others_and_ends_with_the_cautions(
    shipped_path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert _check(COPY, shipped_path, tmp_path) == 5
    out = capsys.readouterr().out
    plain = " ".join(out.split())
    assert "2 of 6 sentences to change" in plain and "Shelf-stable" in plain and "Full of goodness" in plain
    assert "We love what we do" not in plain and "1 may stand" in plain and "2 claim nothing" in plain
    assert "May stand:" in plain and "edition " in plain
    assert plain.endswith("It does not say whether any milk is safe to give.")
    assert "does not make milk sterile" in plain and all(len(line) <= 120 for line in out.splitlines())
    assert _check(COPY, shipped_path, tmp_path, "--all") == 5
    assert "We love what we do" in capsys.readouterr().out


def test_standard_input_is_text(
    shipped_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(b"Rien ne se perd.")))
    assert main(["claims", "-", "--json", "--store", str(shipped_path)]) == 5
    (told,) = json.loads(capsys.readouterr().out)
    assert (told["sentence"], told["lang"], told["verdict"]) == ("Rien ne se perd.", "fr", "contradicted")


def test_a_page_is_read_by_its_ending(shipped_path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    page = "<title>Sterile milk</title><p>We <b>love</b> it.</p>"
    assert _check(page, shipped_path, tmp_path, "--json", name="page.html") == 5
    assert [each["sentence"] for each in json.loads(capsys.readouterr().out)] == ["Sterile milk", "We love it."]


@pytest.mark.parametrize(
    "text",
    [
        "Die Gefriertrocknung erhält alle Nährstoffe der Muttermilch. Wir lieben unsere Arbeit und Ihre Milch.",
        "La liofilizzazione conserva tutti i nutrienti del latte. Il nostro latte è sicuro per tutti i bambini.",
    ],
)
def test_a_language_that_is_not_read_is_refused_and_not_passed(
    text: str, shipped_path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert _check(text, shipped_path, tmp_path) == 2
    assert "English, French or Spanish" in capsys.readouterr().err


def test_input_that_cannot_be_read_is_the_input_s_fault(
    shipped_path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in ("none.txt", "copy.pdf"):
        assert main(["claims", str(tmp_path / name), "--store", str(shipped_path)]) == 2
        assert name in capsys.readouterr().err


def test_a_language_may_be_told(shipped_path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    _check("Sin bacterias.", shipped_path, tmp_path, "--json", "--lang", "es")
    (told,) = json.loads(capsys.readouterr().out)
    assert (told["lang"], told["verdict"]) == ("es", "contradicted")
