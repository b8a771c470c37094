"""whatstays import: the shipped evidence or own rows, and what the store holds afterwards."""

from __future__ import annotations

import csv
import json
import shutil
from pathlib import Path

import pytest

from reports.command.main import main
from tests.invented import cells

BIB = """@article{mine2031milk,
  author = {Mine, M},
  title = {An invented study},
  year = {2031},
  journal = {Invented journal}
}
"""


@pytest.fixture
def own_store(shipped_path: Path, tmp_path: Path) -> Path:
    """A copy of the shipped store that may be changed."""
    return Path(shutil.copy(shipped_path, tmp_path / "own.sqlite"))


@pytest.fixture
def own_files(tmp_path: Path) -> list[str]:
    """A bibliography with an invented study, and a row of it on vitamin C after freeze-drying, at half."""
    row = cells(study="mine2031milk", id="mine2031milk-1", retained_percent=50, n=5, n_kind="donors")
    table = tmp_path / "rows.csv"
    with table.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(row), lineterminator="\n")
        writer.writeheader()
        writer.writerow(row)
    (tmp_path / "mine.bib").write_text(BIB, encoding="utf-8")
    return [str(table), str(tmp_path / "mine.bib")]


def test_shipped_evidence_imported_again_changes_nothing(own_store: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["import", "--store", str(own_store)]) == 0
    assert capsys.readouterr().out.startswith("Nothing changed:")


def test_own_rows_enter_the_next_answer(
    own_store: Path, own_files: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["import", *own_files, "--store", str(own_store)]) == 0
    assert capsys.readouterr().out.startswith("The evidence changed:")
    assert main(["answer", "does freeze-drying cost vitamin C?", "--json", "--store", str(own_store)]) == 0
    (reply,) = json.loads(capsys.readouterr().out)
    assert reply["k_studies"] == 2
    assert {study["key"] for study in reply["studies"]} >= {"mine2031milk"}
    assert "Mine 2031" in reply["sentence"] and "50" in reply["sentence"]


def test_own_rows_imported_twice_change_nothing_more(
    own_store: Path, own_files: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["import", *own_files, "--store", str(own_store)]) == 0
    capsys.readouterr()
    assert main(["import", *own_files, "--store", str(own_store)]) == 0
    assert capsys.readouterr().out.startswith("Nothing changed:")


def test_own_rows_stay_when_the_shipped_evidence_is_imported_again(
    own_store: Path, own_files: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["import", *own_files, "--store", str(own_store)]) == 0
    assert main(["import", "--store", str(own_store)]) == 0
    capsys.readouterr()
    assert main(["answer", "does freeze-drying cost vitamin C?", "--json", "--store", str(own_store)]) == 0
    assert json.loads(capsys.readouterr().out)[0]["k_studies"] == 2


def test_a_bad_row_saves_nothing_and_leaves_the_file_byte_for_byte(
    own_store: Path, own_files: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    before = own_store.read_bytes()
    path = Path(own_files[0])
    path.write_text(path.read_text(encoding="utf-8").replace("donors", "donor"), encoding="utf-8")
    assert main(["import", *own_files, "--store", str(own_store)]) == 2
    captured = capsys.readouterr()
    assert "nothing was saved" in captured.err and "n_kind" in captured.err
    assert own_store.read_bytes() == before


def test_a_study_without_its_reference_is_told(
    own_store: Path, own_files: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["import", own_files[0], "--store", str(own_store)]) == 2
    assert "mine2031milk" in capsys.readouterr().err
