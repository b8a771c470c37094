"""whatstays review: signed once, kept, printed on both sides of a sheet, refused with what is missing."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from evidence.findings import findings
from evidence.model.tables import Override
from evidence.store import open_store
from evidence.store.reading import all_rows
from reports.command.main import main
from reports.site.compose import compose_site


@pytest.fixture
def own(shipped_path: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(shipped_path, tmp_path / "own.sqlite"))


def _number(store: Path) -> str:
    """The answer on vitamin C after drying."""
    opened = open_store(str(store))
    found = [f for f in findings(opened) if (f.component, f.handling) == ("vitamin-c", "freeze-dried") and f.pooled]
    opened.close()
    return found[0].number


def _sign(store: Path, number: str, *more: str, level: str = "very low") -> int:
    reason = ("--reason", "The assay was run once.")
    return main(["review", number, "--certainty", level, "--by", "R. Viewer", *reason, *more, "--store", str(store)])


def test_a_review_is_printed_for_parents_and_for_clinicians(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    number = _number(own)
    assert _sign(own, number.lower(), "--date", "2026-11-03") == 0
    assert f"{number}-r1" in capsys.readouterr().out
    store = open_store(str(own))
    sheet = next(sheet for sheet in compose_site(store).sheets if sheet.slug == "vitamin-c")
    store.close()
    answer = next(answer for answer in sheet.answers if answer.number == number)
    for part in ("Hardly known", "R. Viewer", "3 November 2026", "The assay was run once.", "The figures alone give"):
        assert part in answer.how_sure
    block = next(block for block in sheet.clinician if block.number == number)
    assert block.certainty == "Very low"
    assert any("R. Viewer" in step and "by hand" in step for step in block.certainty_steps)
    assert main(["why", number, "--store", str(own)]) == 0
    assert "R. Viewer" in capsys.readouterr().out


def test_a_newer_review_replaces_the_older_and_both_are_printed(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    number = _number(own)
    assert _sign(own, number, "--date", "2026-11-03") == 0
    assert _sign(own, number, "--second", "S. Second", "--no-interest", level="moderate") == 0
    assert "Fairly sure" in capsys.readouterr().out
    store = open_store(str(own))
    found = next(each for each in findings(store) if each.number == number)
    assert [each.certainty for each in found.certainty.reviews] == ["very low", "moderate"]
    assert found.certainty.level == "moderate"
    assert {row.id for row in all_rows(store, Override)} == {f"{number}-r1", f"{number}-r2"}
    store.close()


def test_raising_without_a_second_name_is_refused_with_everything_that_is_missing(
    own: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    number = _number(own)
    assert _sign(own, number, level="high") == 2
    told = capsys.readouterr().err
    assert "--second" in told and "--no-interest" in told and "nothing was saved" in told
    store = open_store(str(own))
    assert all_rows(store, Override) == []
    store.close()


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("A-9999",), "the number of an answer"),
        (("A-0412", "--date", "2999-01-01"), "today or a day before it"),
        (("A-0412", "--date", "yesterday"), "a date such as"),
    ],
)
def test_what_is_wrong_is_said(
    arguments: tuple[str, ...], said: str, own: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert _sign(own, *arguments) == 2
    assert said in capsys.readouterr().err


def test_a_level_that_there_is_not_is_refused_with_the_nearest(own: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert _sign(own, "A-0412", level="lowish") == 2
    assert "Nearest known: low" in capsys.readouterr().err


def test_what_was_signed_is_never_edited_by_an_import(
    own: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    number = _number(own)
    assert _sign(own, number, "--date", "2026-11-03") == 0
    table = tmp_path / "overrides.csv"
    heading = "id,number,computed,certainty,by,reason,date,second,second_no_interest\n"
    store = open_store(str(own))
    (row,) = all_rows(store, Override)
    store.close()
    line = f"{row.id},{row.number},{row.computed},{row.certainty},{row.by},{row.reason},{row.date},,\n"
    table.write_text(heading + line, encoding="utf-8")
    assert main(["import", str(table), "--store", str(own)]) == 0
    table.write_text(heading + line.replace("once", "twice"), encoding="utf-8")
    assert main(["import", str(table), "--store", str(own)]) == 2
    assert "never edited" in capsys.readouterr().err


def test_a_table_that_raises_without_a_second_name_is_refused_by_check(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    table = tmp_path / "overrides.csv"
    table.write_text(
        "id,number,computed,certainty,by,reason,date,second,second_no_interest\n"
        "A-0412-r1,A-0412,low,high,R. Viewer,Seen.,2026-11-03,R. Viewer,\n",
        encoding="utf-8",
    )
    assert main(["check", str(table)]) == 2
    told = capsys.readouterr().err
    assert "column second: read 'R. Viewer'" in told
    assert "column second_no_interest" in told
    assert "column number" not in told
