"""whatstays in-a-day: an age, an amount of milk, a country; nothing worked out for babies born early."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from reports.command.main import main


def asked(shipped_path: Path, *words: str) -> int:
    return main(["in-a-day", *words, "--store", str(shipped_path)])


def test_it_says_amounts_comparison_and_cautions(shipped_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert asked(shipped_path, "vitamin", "C", "--age", "14mo", "--drinks", "120ml") == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "A child of 14 months, born at term" in told and "120 ml" in told
    assert "compared with" in told
    assert "15 mg a day: recommended allowance" in told  # DRI summary table, vitamins: 1 to 3 years, vitamin C 15
    assert "Drying does not make milk sterile" in told


def test_json_has_a_schema_and_multiplies_what_it_shows(shipped_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert asked(shipped_path, "vitamin C", "--age", "3 months", "--drinks", "500 ml", "--country", "gb", "--json") == 0
    found = json.loads(capsys.readouterr().out)
    assert found["schema"] == "whatstays-in-a-day-1"
    assert (found["age_months"], found["drinks_ml"], found["unit"], found["own_authority"]) == (3, 500, "mg", True)
    assert [each["country"] for each in found["figures"]] == ["UK"]
    drying = found["left"][0]
    for end in (0, 1):
        share = drying["still_there_percent"][end] / 100
        assert drying["amount"][end] == pytest.approx(found["fresh"][end] * share, abs=1e-3)
    assert found["cautions"]


def test_ounces_go_in_and_come_out(shipped_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert asked(shipped_path, "fat", "--age", "6w", "--drinks", "20oz", "--units", "us") == 0
    assert "20 fl oz" in capsys.readouterr().out
    assert asked(shipped_path, "fat", "--age", "6w", "--drinks", "20oz", "--json") == 0
    assert json.loads(capsys.readouterr().out)["drinks_ml"] == pytest.approx(591.5, abs=0.05)


def test_the_country_and_units_of_the_settings_are_used(
    shipped_path: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    text = '[service]\nname = "Tern"\ncountry = "GB"\n[pages]\nunits = "us"\n'
    (tmp_path / "whatstays.toml").write_text(text, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    assert asked(shipped_path, "vitamin C", "--age", "3mo") == 0
    told = capsys.readouterr().out
    assert "fl oz" in told and "United Kingdom" in told and "National Academies (DRI) (US" not in told


def test_a_baby_born_early_gets_a_sentence_and_no_number(
    shipped_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert asked(shipped_path, "vitamin C", "--age", "3w", "--drinks", "60ml", "--early") == 3
    told = capsys.readouterr().out
    assert "care team" in told
    assert not any(letter.isdigit() for letter in told)


def test_everything_wrong_is_told_at_once(shipped_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert asked(shipped_path, "vitamin C", "--age", "old", "--drinks", "a cup", "--country", "Grance") == 2
    told = capsys.readouterr().err
    for words in (
        "--age: read 'old'",
        "--drinks: read 'a cup'",
        "--country: read 'GRANCE'",
        "FR (France)",
        "3 problems",
    ):
        assert words in told


def test_older_than_a_year_the_amount_must_be_given(shipped_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert asked(shipped_path, "vitamin C", "--age", "14mo") == 2
    assert "--drinks" in capsys.readouterr().err


@pytest.mark.parametrize("drinks", ["0ml", "90 l", "-5ml", "5 gallons"])
def test_an_amount_no_child_drinks_is_refused(shipped_path: Path, drinks: str) -> None:
    assert asked(shipped_path, "vitamin C", "--age", "3mo", f"--drinks={drinks}") == 2


def test_what_milk_s_amount_is_unknown_of_has_no_answer(shipped_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert asked(shipped_path, "vitamin D", "--age", "3mo") == 3
    assert "Not worked out" in capsys.readouterr().out


def test_it_speaks_the_reader_s_language(shipped_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert asked(shipped_path, "fat", "--age", "3mo", "--lang", "fr") == 0
    told = capsys.readouterr().out
    assert "matières grasses" in told and "lait maternel" in told
    assert " fat " not in told and "mothers" not in told.split("Compté")[0]
