"""whatstays path and gaps on the shipped evidence: the keys, the words, the refusals and the exit status."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from reports.command.main import INPUT, NO_ANSWER, main
from reports.words.catalogue import load_catalogue

CHAIN = "expressed > frozen -20C 60d > thawed > freeze-dried > kept 22C 120d > reconstituted"
TO_POWDER = "expressed > frozen -20C 60d > thawed > freeze-dried > reconstituted"
KEYS = {
    "schema", "status", "component", "steps", "retained_percent", "ci_low", "ci_high", "flags", "missing", "studies",
    "cautions", "edition", "agreement",
}  # fmt: skip
STATUSES = {"estimated", "bounded", "not_identified", "beyond_data"}


@pytest.fixture
def ask(shipped_path: Path, capsys: pytest.CaptureFixture[str]) -> Any:
    """Run the command on the shipped evidence and return exit status, what it printed and what it complained of."""

    def run(*words: str) -> tuple[int, str, str]:
        status = main([*words, "--store", str(shipped_path)])
        told = capsys.readouterr()
        return status, told.out, told.err

    return run


@pytest.mark.parametrize("name", ["vitamin C", "fat", "lactoferrin", "lysozyme", "IgA", "energy"])
def test_the_six_components_of_the_question_have_an_answer_in_figures_and_words(ask: Any, name: str) -> None:
    status, printed, _ = ask("path", CHAIN, "--component", name, "--json")
    found = json.loads(printed)
    assert status == 0
    assert set(found) == KEYS
    assert found["schema"] == "whatstays-path-1"
    assert found["status"] in STATUSES
    assert [step["step"] for step in found["steps"]] == ["frozen -20C 60d", "freeze-dried", "kept 22C 120d"]
    for step in found["steps"]:
        assert set(step) == {"step", "status", "retained_percent", "ci_low", "ci_high", "studies"}
        numbers = [step["ci_low"], step["retained_percent"], step["ci_high"]]
        assert (None in numbers) == (step["status"] in ("not_identified", "beyond_data"))
        if None not in numbers:
            assert numbers == sorted(numbers)
            assert step["studies"]
    # nobody has measured powder kept so long: no number from fresh milk to the end, and what is missing is named
    assert found["retained_percent"] is None and found["ci_low"] is None and found["ci_high"] is None
    assert any("in the same mothers' milk" in each for each in found["missing"])
    known = {study["key"] for study in found["studies"]}
    assert all(set(step["studies"]) <= known for step in found["steps"])
    assert len(found["cautions"]) >= 6


def test_vitamin_c_to_the_new_powder_is_held_between_two_named_readings(ask: Any) -> None:
    status, printed, _ = ask("path", TO_POWDER, "--component", "vitamin C", "--json")
    found = json.loads(printed)
    assert status == 0
    assert found["status"] == "bounded"
    assert found["retained_percent"] is None
    assert 0 < found["ci_low"] < found["ci_high"]
    # an upper end from 100 on is none: that nothing was lost fits too
    upper = "At most" if found["ci_high"] < 100 else "No upper end"
    assert any(flag.startswith(f"{upper}: if the milk of Martysiak") for flag in found["flags"])
    assert any(flag.startswith("At least: if that milk had been frozen before") for flag in found["flags"])
    assert "vitamin C in the same mothers' milk, fresh and after freeze-drying" in found["missing"]


def test_the_words_carry_comparison_sources_and_cautions(ask: Any) -> None:
    _, printed, _ = ask("path", TO_POWDER, "--component", "vitamin C")
    plain = " ".join(printed.split())
    assert "At least" in plain and "of every 100 parts of vitamin C in fresh milk" in plain
    assert load_catalogue().say("compared/not-stated") in plain
    assert "Buss and others 2001" in plain
    assert "How long until 90 of every 100 parts are left: not measured." in plain
    assert "cannot be tested" in plain
    assert "Keeping it safe" in plain and "does not make milk sterile" in plain
    for word in ("bridged", "borrowed", "bounded", "significant", "not_identified"):
        assert word not in plain


def test_a_time_nobody_waited_for_is_beyond_the_data_with_the_longest(ask: Any) -> None:
    _, printed, _ = ask("path", "expressed > frozen -20C 3y > thawed", "--component", "vitamin C", "--json")
    assert json.loads(printed)["status"] == "beyond_data"
    status, printed, _ = ask("path", "expressed > frozen -20C 3y > thawed", "--component", "vitamin C")
    assert status == NO_ANSWER
    assert "the longest anyone looked is 365 days" in " ".join(printed.split())


def test_without_a_component_a_table_says_what_is_known_of_each(ask: Any) -> None:
    status, printed, _ = ask("path", TO_POWDER)
    assert status == 0
    lines = printed.splitlines()
    assert any(line.startswith("Vitamin C: at least") for line in lines)
    assert "nothing can be said from fresh milk" in " ".join(printed.split())
    status, printed, _ = ask("path", TO_POWDER, "--json")
    found = json.loads(printed)
    assert isinstance(found, list) and all(set(each) == KEYS for each in found)
    assert {each["component"] for each in found} >= {"vitamin-c", "total-fat", "lactoferrin"}


def test_table_and_single_answer_agree(ask: Any) -> None:
    _, one, _ = ask("path", TO_POWDER, "--component", "vitamin-c", "--json")
    _, many, _ = ask("path", TO_POWDER, "--json")
    mine = next(each for each in json.loads(many) if each["component"] == "vitamin-c")
    assert mine["steps"] == json.loads(one)["steps"]
    assert (mine["ci_low"], mine["ci_high"]) == (json.loads(one)["ci_low"], json.loads(one)["ci_high"])


@pytest.mark.parametrize(
    ("words", "sentences"),
    [
        (["path", "expressed > frozn -20C 60d"], ["'frozn'", "Nearest known: frozen"]),
        (["path", "expressed > frozen -20K"], ["'-20K'", "a number or range with a unit"]),
        (["path", "expressed"], ["at least one step"]),
        (["path", ""], ["at least one step"]),
        (["path", CHAIN, "--component", "vitamn zz qq"], ["--component", "the name of one component"]),
        (["gaps", "--component", "iga", "--half-width", "ten"], ["--half-width", "'ten'", "above 0 and below 100"]),
        (["gaps", "--half-width", "10"], ["together with --component"]),
    ],
)
def test_what_cannot_be_read_is_told_in_a_sentence(ask: Any, words: list[str], sentences: list[str]) -> None:
    status, printed, complained = ask(*words)
    assert status == INPUT
    assert printed == ""
    assert all(sentence in complained for sentence in sentences)
    assert "Traceback" not in complained


def test_a_typo_in_a_component_is_understood(ask: Any) -> None:
    _, printed, _ = ask("path", TO_POWDER, "--component", "lactoferin", "--json")
    assert json.loads(printed)["component"] == "lactoferrin"


def test_germs_have_no_path(ask: Any) -> None:
    status, printed, _ = ask("path", TO_POWDER, "--component", "total-bacteria")
    assert status == NO_ANSWER
    assert "No path is worked out" in printed


def test_the_same_question_gives_the_same_bytes(ask: Any) -> None:
    assert ask("path", CHAIN, "--component", "fat", "--json") == ask("path", CHAIN, "--component", "fat", "--json")


def test_gaps_name_component_step_and_gain(ask: Any) -> None:
    status, printed, _ = ask("gaps", "--json")
    found = json.loads(printed)
    assert status == 0
    assert found["schema"] == "whatstays-gaps-1"
    assert set(found["gaps"][0]) == {
        "component", "step", "studies_with_figures", "studies_in_words", "width_now", "width_after", "gain",
        "most_asked",
    }  # fmt: skip
    _, printed, _ = ask("gaps")
    assert "before the step" in " ".join(printed.split())


def test_gaps_say_how_many_mothers(ask: Any) -> None:
    _, wide, _ = ask("gaps", "--component", "IgA", "--half-width", "20", "--json")
    _, close, _ = ask("gaps", "--component", "IgA", "--half-width", "10", "--json")
    assert json.loads(wide)["mothers"] < json.loads(close)["mothers"]
    status, printed, _ = ask("gaps", "--component", "IgA", "--half-width", "10")
    assert status == 0
    assert f"measure {json.loads(close)['mothers']} mothers' milks" in " ".join(printed.split())
