"""template, check, add, export, reading-list as a person types them: what is printed and kept, the exit status."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import openpyxl
import pytest
from openpyxl import Workbook

from evidence.intake.template import MEASUREMENTS, STUDY
from evidence.model.tables import Measurement, Question, Study
from evidence.store import open_store
from evidence.store.reading import all_rows, edition
from reports.command.main import main
from tests.spreadsheets import KEY, filled, put


@pytest.fixture
def target(shipped_path: Path, tmp_path: Path) -> str:
    """A store of one's own with the shipped evidence, as --store takes it."""
    path = tmp_path / "mine.sqlite"
    shutil.copyfile(shipped_path, path)
    return str(path)


def state(target: str) -> tuple[str, int, int]:
    """Return the edition's hash, the number of measurements and of studies in a store."""
    store = open_store(target)
    there = edition(store)
    assert there is not None
    found = there.hash, len(all_rows(store, Measurement)), len(all_rows(store, Study))
    store.close()
    return found


def own_rows(target: str) -> list[Measurement]:
    store = open_store(target)
    found = [row for row in all_rows(store, Measurement) if row.origin.startswith("own ")]
    store.close()
    return found


def test_template_fill_in_check_add(tmp_path: Path, target: str, capsys: pytest.CaptureFixture[str]) -> None:
    path = filled(tmp_path / "study.xlsx")
    before = state(target)
    assert main(["check", str(path)]) == 0
    assert "3 measurement" in capsys.readouterr().out
    assert state(target) == before
    assert main(["add", str(path), "--store", target, "--by", "Ann Example"]) == 0
    printed = capsys.readouterr().out
    assert "Added 3 measurements and 1 new study, marked own Ann Example 20" in printed
    after = state(target)
    assert after[0] != before[0] and after[1:] == (before[1] + 3, before[2] + 1)
    assert [row.id for row in own_rows(target)] == [f"{KEY}-{n}" for n in (1, 2, 3)]


def test_a_question_that_own_rows_ask_is_answered_afterwards(
    tmp_path: Path, target: str, capsys: pytest.CaptureFixture[str]
) -> None:
    store = open_store(target)
    numbers = {question.number for question in all_rows(store, Question)}
    store.close()

    def change(book: Workbook) -> None:
        put(
            book,
            "handling",
            2,
            "expressed > frozen -20C 30d > thawed > freeze-dried > reconstituted > warmed 37C 10min",
        )

    assert main(["add", str(filled(tmp_path / "study.xlsx", change)), "--store", target]) == 0
    store = open_store(target)
    new = [question for question in all_rows(store, Question) if question.number not in numbers]
    store.close()
    assert [(each.component, each.handling) for each in new] != []


def test_the_example_left_in_is_refused_with_status_2(
    tmp_path: Path, target: str, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "new.xlsx"
    before = state(target)
    assert main(["template", str(path)]) == 0
    assert "INVENTED EXAMPLE" in capsys.readouterr().out
    assert main(["add", str(path), "--store", target]) == 2
    told = capsys.readouterr().err
    assert "sheet Study, cell A2" in told and "INVENTED EXAMPLE" in told and "nothing was saved" in told
    assert state(target) == before


@pytest.mark.parametrize("sheet", [STUDY, MEASUREMENTS])
def test_one_bad_cell_leaves_the_store_as_it_was(
    tmp_path: Path, target: str, sheet: str, capsys: pytest.CaptureFixture[str]
) -> None:
    name, value = ("year", "31") if sheet == STUDY else ("n", "12,5")
    path = filled(tmp_path / "study.xlsx", lambda book: put(book, name, 2, value, sheet))
    before = state(target)
    assert main(["add", str(path), "--store", target]) == 2
    assert f"sheet {sheet}, cell " in capsys.readouterr().err
    assert state(target) == before


def test_what_is_there_already_is_not_overwritten_silently(
    tmp_path: Path, target: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["add", str(filled(tmp_path / "first.xlsx")), "--store", target, "--by", "Ann"]) == 0
    before = state(target)
    capsys.readouterr()
    again = filled(tmp_path / "again.xlsx", lambda book: put(book, "treated_mean", 2, "3.30"))
    assert main(["add", str(again), "--store", target, "--by", "Bo"]) == 2
    told = capsys.readouterr().err
    assert f"sheet Measurements, cell A2: read '{KEY}-1, in the store already (own Ann" in told and "--replace" in told
    assert state(target) == before
    assert main(["add", str(again), "--store", target, "--by", "Bo", "--replace"]) == 0
    assert "3 of your rows were replaced" in capsys.readouterr().out
    first = own_rows(target)[0]
    assert (first.treated_mean, first.origin.split(" ")[1]) == ("3.30", "Bo")
    assert state(target)[1:] == before[1:]


def test_shipped_rows_are_never_replaced(tmp_path: Path, target: str, capsys: pytest.CaptureFixture[str]) -> None:
    store = open_store(target)
    shipped = all_rows(store, Measurement)[0]
    store.close()

    def change(book: Workbook) -> None:
        put(book, "id", 2, shipped.id)
        put(book, "key", 2, shipped.study, STUDY)
        for row in (2, 3, 4):
            put(book, "study", row, shipped.study)

    before = state(target)
    path = filled(tmp_path / "study.xlsx", change)
    assert main(["add", str(path), "--store", target, "--replace"]) == 2
    told = capsys.readouterr().err
    assert f"{shipped.id}, in the store already (shipped" in told and "sheet Measurements, cell A2" in told
    assert f"{shipped.study}, in the store already (shipped" in told and "sheet Study, cell A2" in told
    assert state(target) == before


def test_template_never_writes_over_a_file(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = filled(tmp_path / "study.xlsx")
    before = path.read_bytes()
    assert main(["template", str(path)]) == 2
    assert "a new name" in capsys.readouterr().err and path.read_bytes() == before
    assert main(["template", str(tmp_path / "study.ods")]) == 2
    assert "ends in .xlsx" in capsys.readouterr().err


def test_template_without_a_name_is_written_here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["template"]) == 0
    (made,) = tmp_path.iterdir()
    assert made.suffix == ".xlsx" and openpyxl.load_workbook(made).sheetnames


def test_check_tells_the_problems_of_every_file_at_once(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    one = filled(tmp_path / "one.xlsx", lambda book: put(book, "n", 2, "12,5"))
    two = filled(tmp_path / "two.xlsx", lambda book: put(book, "n", 3, "twelve"))
    (tmp_path / "three.bib").write_text("@article{a2031b,\n  title = {No author}\n}\n", encoding="utf-8")
    assert main(["check", str(one), str(two), str(tmp_path / "three.bib")]) == 2
    told = capsys.readouterr().err
    assert all(name in told for name in ("one.xlsx, sheet", "two.xlsx, sheet", "three.bib")) and "3 problems" in told


def test_export_says_what_it_wrote(tmp_path: Path, target: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["export", str(tmp_path / "package"), "--store", target]) == 0
    printed = capsys.readouterr().out
    assert f"{state(target)[1]} measurements" in printed and "BibTeX, RIS, CSL-JSON" in printed
    assert {path.name for path in (tmp_path / "package").iterdir()} == {"data", "bibliography", "evidence.xlsx"}


def test_export_into_a_file_is_told_with_status_2(
    tmp_path: Path, target: str, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "package").write_text("mine", encoding="utf-8")
    assert main(["export", str(tmp_path / "package"), "--store", target]) == 2
    assert "a new or empty folder" in capsys.readouterr().err
    assert (tmp_path / "package").read_text(encoding="utf-8") == "mine"


def test_reading_list_prints_papers_with_reason_and_what_to_copy(
    shipped_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["reading-list", "--first", "3", "--store", str(shipped_path)]) == 0
    printed = capsys.readouterr().out
    assert [line[:2] for line in printed.splitlines() if line[:1].isdigit()] == ["1.", "2.", "3."]
    assert printed.count("Why: It would") == 3 and printed.count("To copy:") == 3


def test_reading_list_as_json_carries_its_schema_and_every_reference(
    shipped_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["reading-list", "--json", "--store", str(shipped_path)]) == 0
    read = json.loads(capsys.readouterr().out)
    assert read["schema"] == "whatstays-reading-list-1" and len(read["papers"]) > 100
    for paper in read["papers"]:
        assert paper["reference"] and paper["reason"] and paper["copy"]
    assert {paper["status"] for paper in read["papers"]} >= {"abstract only", "not found"}


def test_reading_list_of_none_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["reading-list", "--first", "0"]) == 2
    assert "1 or more" in capsys.readouterr().err
