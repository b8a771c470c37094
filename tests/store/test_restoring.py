"""Own rows of an exported package come back into another store as they were."""

from __future__ import annotations

import csv
import shutil
from pathlib import Path

import pytest

from evidence.findings.adding import add_spreadsheet
from evidence.findings.restoring import restore_package
from evidence.model.problems import InputProblems
from evidence.store import Store, open_store
from evidence.store.exporting import export_package
from reports.command.main import main
from tests.invented import cells
from tests.spreadsheets import filled


@pytest.fixture
def other_store(shipped_path: Path, tmp_path: Path) -> Store:
    """A store that holds the shipped edition and nothing else, on another machine as it were."""
    shutil.copyfile(shipped_path, tmp_path / "other.sqlite")
    return open_store(str(tmp_path / "other.sqlite"))


@pytest.fixture
def exported(shipped_path: Path, tmp_path: Path) -> Path:
    """The export of a store with a study of Ann's."""
    shutil.copyfile(shipped_path, tmp_path / "own.sqlite")
    opened = open_store(str(tmp_path / "own.sqlite"))
    add_spreadsheet(opened, filled(tmp_path / "own.xlsx"), by="Ann")
    export_package(opened, tmp_path / "package")
    opened.close()
    return tmp_path / "package"


def origins(folder: Path) -> list[dict[str, str]]:
    with (folder / "data" / "origins.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_own_rows_come_back_with_their_numbers_their_owner_and_the_same_edition(
    exported: Path, other_store: Store, tmp_path: Path
) -> None:
    done = restore_package(other_store, exported)
    assert done.edition == done.package_edition
    export_package(other_store, tmp_path / "again")
    assert origins(tmp_path / "again") == origins(exported)
    assert (tmp_path / "again/data/measurements.csv").read_bytes() == (exported / "data/measurements.csv").read_bytes()
    assert restore_package(other_store, exported).edition == done.edition  # twice changes nothing


def test_the_command_says_what_came_and_refuses_a_folder_that_is_no_export(
    exported: Path, other_store: Store, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    store = ["--store", str(tmp_path / "other.sqlite")]
    assert main(["import", str(exported), *store]) == 0
    assert f"Your own rows: {len(origins(exported))}" in capsys.readouterr().out
    (tmp_path / "holiday").mkdir()
    assert main(["import", str(tmp_path / "holiday"), *store]) == 2
    assert "a folder that whatstays export wrote" in capsys.readouterr().err


def test_an_export_with_a_row_that_is_wrong_brings_nothing(exported: Path, other_store: Store) -> None:
    path = exported / "data" / "origins.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("own Ann", "shipped Ann"), encoding="utf-8")
    with pytest.raises(InputProblems, match=r"origins.csv, row 2, column origin"):
        restore_package(other_store, exported)


def test_check_says_where_a_key_of_the_shipped_evidence_was_used_again(
    tmp_path: Path, shipped_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    row = cells(study="abdelgalil2011study", id="abdelgalil2011study-1", retained_percent=50)
    path = tmp_path / "rows.csv"
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(row), lineterminator="\n")
        writer.writeheader()
        writer.writerow(row)
    assert main(["check", str(path)]) == 2
    told = capsys.readouterr().err
    assert "rows.csv, row 2, column id" in told and "the shipped evidence uses this one" in told
