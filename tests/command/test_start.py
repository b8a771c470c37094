"""whatstays start: plain questions, options for each of them, and a file that build reads."""

from __future__ import annotations

import io
from pathlib import Path

import pytest

from reports.command.main import main
from reports.command.start import _ASKED
from reports.settings import read_settings
from reports.settings.reading import KEYS

LOGO = '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 4 2"><path d="M0 0L4 2"/></svg>'


def test_every_key_of_the_file_has_its_option() -> None:
    assert set(_ASKED) == {key for keys in KEYS.values() for key in keys}


def test_with_options_alone_nothing_is_asked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    logo = tmp_path / "mark.svg"
    logo.write_text(LOGO, encoding="utf-8")
    own = tmp_path / "a" / "own"
    given = [
        "--name",
        'The "Tern" & Co.',
        "--country",
        "gb",
        "--languages",
        "en",
        "--units",
        "us",
        "--contact",
        "a@b.example",
    ]
    given += [
        "--logo",
        str(logo),
        "--main-colour",
        "#204060",
        "--second-colour",
        "#aa3300",
        "--legal-status",
        "registered",
    ]
    assert main(["start", str(own), *given, "--pages-at", "https://example.org", "--yes"]) == 0
    assert str(own / "whatstays.toml") in capsys.readouterr().out
    read = read_settings(own / "whatstays.toml")
    assert (read.name, read.country, read.units, read.paper) == ('The "Tern" & Co.', "GB", "us", "letter")
    assert (read.contact, read.legal_status, read.pages_at) == ("a@b.example", "registered", "https://example.org")
    assert read.logo is not None and read.logo.data == LOGO.encode()
    assert read.main_colour is not None and read.main_colour.light == "#204060"


def test_questions_are_asked_in_words_and_wrong_answers_once_more(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    answers = ["Tern Drying", "Atlantis", "Ireland", "", "", "", "", "", "#ffff00", "#204060", "", "", "letter"]
    monkeypatch.setattr("sys.stdin", io.StringIO("\n".join(answers) + "\n"))
    assert main(["start", str(tmp_path / "own")]) == 0
    shown = capsys.readouterr()
    assert "What is your service called?" in shown.out
    assert "'Atlantis'" in shown.err and "#ffff00" in shown.err
    read = read_settings(tmp_path / "own" / "whatstays.toml")
    assert (read.name, read.country, read.units, read.paper) == ("Tern Drying", "IE", "metric", "letter")
    assert read.main_colour is not None


def test_every_wrong_option_is_told_and_nothing_is_written(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own = tmp_path / "own"
    assert main(["start", str(own), "--country", "Nowhere", "--units", "cups", "--paper", "A5", "--yes"]) == 2
    told = capsys.readouterr().err
    for word in ("key name", "Nowhere", "cups", "A5", "4 problems"):
        assert word in told
    assert not own.exists()


def test_questions_without_answers_are_the_input_s_fault(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO("Tern\n"))
    assert main(["start", str(tmp_path / "own")]) == 2
    assert not (tmp_path / "own").exists()


def test_settings_that_are_there_are_never_written_over(tmp_path: Path) -> None:
    assert main(["start", str(tmp_path), "--name", "One", "--yes"]) == 0
    before = (tmp_path / "whatstays.toml").read_bytes()
    assert main(["start", str(tmp_path), "--name", "Two", "--yes"]) == 2
    assert (tmp_path / "whatstays.toml").read_bytes() == before


def test_the_file_explains_every_key_in_words(tmp_path: Path) -> None:
    assert main(["start", str(tmp_path), "--name", "One", "--yes"]) == 0
    lines = (tmp_path / "whatstays.toml").read_text(encoding="utf-8").splitlines()
    for keys in KEYS.values():
        for key in keys:
            (place,) = [place for place, line in enumerate(lines) if line.startswith(f"{key} = ")]
            assert lines[place - 1].startswith("# "), key
