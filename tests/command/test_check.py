"""whatstays check: everything that is wrong, nothing written."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from evidence.model.shipped import data_folder
from reports.command.main import main
from tests.invented import cells


def _table(path: Path, *rows: dict[str, str]) -> Path:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    return path


def _shipped_study() -> str:
    with (data_folder() / "measurements.csv").open(encoding="utf-8", newline="") as file:
        return next(csv.DictReader(file))["study"]


def test_the_shipped_tables_have_no_problem(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check"]) == 0
    out = capsys.readouterr().out
    assert out.startswith("No problems.")
    assert "measurement" in out


def test_own_rows_may_refer_to_shipped_studies_and_components(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    study = _shipped_study()
    path = _table(tmp_path / "rows.csv", cells(study=study, id=f"{study}-9001", retained_percent=70))
    assert main(["check", str(path)]) == 0
    assert "1 measurement" in capsys.readouterr().out


def test_all_problems_are_printed_as_sentences_and_the_status_is_2(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    study = _shipped_study()
    path = _table(
        tmp_path / "rows.csv",
        cells(study=study, id=f"{study}-9001", retained_percent=70, n_kind="donor"),
        cells(study="nobody2099", id="nobody2099-1", retained_percent="7o", component="vitamin-c"),
    )
    assert main(["check", str(path)]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    for part in (
        "rows.csv, row 2, column n_kind",
        "rows.csv, row 3, column study",
        "rows.csv, row 3, column retained_percent",
    ):
        assert part in captured.err
    assert "Nearest known: donors" in captured.err
    assert "3 problems; nothing was saved." in captured.err
    assert "Traceback" not in captured.err


def test_one_problem_is_not_called_problems(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", str(tmp_path / "missing.csv")]) == 2
    assert "1 problem; nothing was saved." in capsys.readouterr().err


def test_what_deserves_a_look_is_printed_on_request_and_refuses_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    study = _shipped_study()
    path = _table(
        tmp_path / "rows.csv", cells(study=study, id=f"{study}-9001", retained_percent=70, in_words="increase")
    )
    assert main(["check", "--notices", str(path)]) == 0
    assert "Look at: rows.csv, row 2" in capsys.readouterr().out


def test_no_file_gives_a_traceback(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    # one run over all of them: each is told, and none hides another
    contents = {
        "empty.csv": b"", "zeros.csv": b"\x00\x01\x02", "commas.csv": b",,,", "wide.csv": "ä,ö\n".encode("utf-16"),
        "cut.bib": b"@article{", "nothing.xlsx": b"", "cut.xlsx": b"PK\x03\x04 not a zip",
        "text.txt": b"Dear reader", "bare": b"",
    }  # fmt: skip
    for name, content in contents.items():
        (tmp_path / name).write_bytes(content)
    assert main(["check", *(str(tmp_path / name) for name in contents)]) == 2
    err = capsys.readouterr().err
    assert "Traceback" not in err
    for name in contents:
        assert name in err
