"""Bad tables: every problem at once, each as a sentence that says where, what was read and what is allowed."""

from __future__ import annotations

import csv
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as some

from evidence.intake.bundle import Bundle, Known, read_files, read_shipped
from evidence.intake.reading import LONGEST_LINE
from evidence.model.problems import InputProblems, Problem
from tests.invented import cells, write_tables

KNOWN = Known(
    frozenset({"alpha2031milk", "beta2032milk"}),
    {"vitamin-c": "fragile", "lactoferrin": "fragile", "total-fat": "bulk"},
)
Row = Mapping[str, str]


def _table(path: Path, rows: Sequence[Row], columns: Sequence[str] | None = None) -> Path:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, columns or list(rows[0]), extrasaction="ignore", lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
    return path


def _good(**given: object) -> dict[str, str]:
    return cells(**{"retained_percent": 70, "n": 5, "n_kind": "donors"} | given)


def _read(path: Path) -> Bundle:
    return read_files([path], KNOWN)


def _problems(path: Path) -> tuple[Problem, ...]:
    with pytest.raises(InputProblems) as refused:
        _read(path)
    assert refused.value.problems
    for problem in refused.value.problems:
        assert problem.file == path.name
        assert "Traceback" not in problem.sentence()
    return refused.value.problems


def test_a_good_row_is_read(tmp_path: Path) -> None:
    bundle = _read(_table(tmp_path / "rows.csv", [_good()]))
    assert [row["retained_percent"] for row in bundle.rows("measurement")] == ["70"]


@pytest.mark.parametrize(
    ("column", "text", "allowed", "nearest"),
    [
        ("component", "vitamin-cc", "components.csv", "vitamin-c"),
        ("component", "Vitamin C", "", None),
        ("study", "alpha2031milc", "bibliography", "alpha2031milk"),
        ("n_kind", "donor", "donors", "donors"),
        ("measured_as", "ammount", "amount", "amount"),
        ("basis", "wet milk", "milk", "milk"),
        ("design", "paired", "same milk", None),
        ("number_is", "approximately", "about", None),
        ("in_words", "decreased", "decrease", "decrease"),
        ("words_scope", "all", "all nutrients", "all nutrients"),
        ("stage", "matur", "mature", "mature"),
        ("spread_kind", "sd", "SD", "SD"),
        ("n", "0", "1 or more", None),
        ("n", "-3", "1 or more", None),
        ("n", "3.5", "whole number", None),
        ("n", "five", "whole number", None),
        ("n", "1" * 40, "whole number", None),
        ("n_mothers", "0", "1 or more", None),
        ("baseline_mean", "3,5", "decimal point", None),
        ("baseline_mean", "nan", "decimal point", None),
        ("baseline_mean", "inf", "decimal point", None),
        ("baseline_mean", "1e999", "size", None),
        ("baseline_mean", "1e-999", "size", None),
        ("treated_spread", "3..", "pair", None),
        ("p", "0,05", "P such as", None),
        ("p", "1.5", "P such as", None),
        ("p", "-0.2", "P such as", None),
        ("read_from", "my head", "memory", None),
        ("second_read", "24 November", "date", None),
        ("handling", "expressed > frozn -20C", "steps.csv", "frozen"),
        ("handling", "expressed > frozen -20K", "unit", None),
        ("handling", "expressed > frozen -20C [plastik]", "conditions.csv", "plastic"),
        ("baseline", "expresed", "steps.csv", "expressed"),
        ("handling", "expressed  >  freeze-dried", "written as", None),
        ("locator", "", "not be empty", None),
        ("id", "Row 1", "", None),
    ],
)
def test_a_bad_cell_is_told_with_row_column_and_what_is_allowed(
    tmp_path: Path, column: str, text: str, allowed: str, nearest: str | None
) -> None:
    rows = [_good(), _good() | {column: text}]
    (problem, *_) = [each for each in _problems(_table(tmp_path / "rows.csv", rows)) if each.column == column]
    assert problem.row == 3
    assert problem.read in (text, *text.split(), text.split("[")[-1].rstrip("]"))
    assert allowed in problem.allowed
    if nearest is not None:
        assert problem.nearest == nearest


@pytest.mark.parametrize(
    ("more", "column"),
    [
        ({"interval_low": "60", "interval_high": "80"}, "interval_kind"),
        ({"baseline_mean": "5", "baseline_spread": "1"}, "spread_kind"),
        ({"percent_spread": "5"}, "percent_spread_kind"),
        ({"diff_mean": "-3", "diff_spread": "1"}, "diff_kind"),
        ({"retained_percent": "-5"}, "retained_percent"),
        ({"retained_percent": "", "change_percent": "-120"}, "change_percent"),
        ({"change_percent": "-30"}, "change_percent"),
        ({"number_is": ""}, "number_is"),
        ({"retained_percent": "", "number_is": ""}, "in_words"),
    ],
)
def test_cells_that_do_not_fit_each_other_are_told(tmp_path: Path, more: dict[str, str], column: str) -> None:
    problems = _problems(_table(tmp_path / "rows.csv", [_good() | more]))
    assert (column, 2) in [(problem.column, problem.row) for problem in problems]


def test_all_problems_of_all_files_are_told_at_once(tmp_path: Path) -> None:
    one = _table(tmp_path / "one.csv", [_good(n_kind="x"), _good(n="y"), _good(handling="expressed > z")])
    two = _table(tmp_path / "two.csv", [_good(component="nothing"), _good(study="nobody")])
    bib = tmp_path / "three.bib"
    bib.write_text("@article{a1, title = {No author}}\n", encoding="utf-8")
    with pytest.raises(InputProblems) as refused:
        read_files([one, two, bib], KNOWN)
    told = {(problem.file, problem.column) for problem in refused.value.problems}
    assert told >= {
        ("one.csv", "n_kind"), ("one.csv", "n"), ("one.csv", "handling"), ("two.csv", "component"), ("two.csv",
        "study"),
        ("three.bib", "a1"),
    }  # fmt: skip


def test_two_bad_cells_of_one_row_are_both_told(tmp_path: Path) -> None:
    problems = _problems(_table(tmp_path / "rows.csv", [_good(n_kind="x", basis="y", p="z")]))
    assert {problem.column for problem in problems} == {"n_kind", "basis", "p"}


def test_an_id_twice_is_told_with_the_row_that_has_it_first(tmp_path: Path) -> None:
    row = _good(id="alpha2031milk-900")
    (problem,) = _problems(_table(tmp_path / "rows.csv", [row, _good(), row]))
    assert (problem.row, problem.column, problem.read) == (4, "id", "alpha2031milk-900")
    assert "row 2" in problem.allowed


def test_an_unknown_column_is_told_with_the_nearest(tmp_path: Path) -> None:
    path = _table(tmp_path / "rows.csv", [_good() | {"componnent": "x"}])
    (problem,) = _problems(path)
    assert (problem.row, problem.column, problem.nearest) == (1, "componnent", "component")


@pytest.mark.parametrize("column", ["study", "handling", "baseline", "measured_as", "locator", "read_from"])
def test_a_missing_column_is_told_by_name(tmp_path: Path, column: str) -> None:
    row = _good()
    problems = _problems(_table(tmp_path / "rows.csv", [row], [name for name in row if name != column]))
    assert (1, column) in [(problem.row, problem.column) for problem in problems]


def test_a_column_twice_is_told(tmp_path: Path) -> None:
    row = _good()
    path = _table(tmp_path / "rows.csv", [row])
    lines = path.read_text(encoding="utf-8").splitlines()
    path.write_text("\n".join([lines[0] + ",n", lines[1] + ",5"]), encoding="utf-8")
    assert [problem.column for problem in _problems(path)] == ["n"]


def test_a_row_of_too_few_cells_is_told(tmp_path: Path) -> None:
    path = _table(tmp_path / "rows.csv", [_good(), _good()])
    path.write_text(path.read_text(encoding="utf-8") + "alpha2031milk-77,alpha2031milk\n", encoding="utf-8")
    (problem,) = _problems(path)
    assert problem.row == 4
    assert "2 cells" in problem.read


def test_the_row_told_is_the_line_of_the_file_even_after_a_cell_of_several_lines(tmp_path: Path) -> None:
    path = _table(tmp_path / "rows.csv", [_good(notes="one\ntwo\nthree"), _good(n_kind="x")])
    (problem,) = _problems(path)
    lines = path.read_text(encoding="utf-8").splitlines()
    assert problem.row is not None and ",x," in lines[problem.row - 1]


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "empty file"),
        (b"  \n\n", "empty file"),
        (b"\xef\xbb\xbf", "empty file"),
        (b",,,\n,,\n", "commas"),
        ("study,component\nä,b\n".encode("latin-1"), "byte"),
        ("study\n".encode("utf-16"), "byte"),
        (b"a\x00b,c\n1,2\n", "control character"),
        (b'id,study\n"alpha', "unexpected end of data"),
        (b"x" * (LONGEST_LINE * 10), "characters"),
        (b"id,study\n" + b"x" * (LONGEST_LINE * 10) + b"\n", "characters"),
    ],
    ids=[
        "empty",
        "blank",
        "mark alone",
        "commas",
        "latin-1",
        "utf-16",
        "zero byte",
        "open quote",
        "10 MB line",
        "10 MB cell",
    ],
)
def test_a_file_that_is_no_table_gets_a_sentence(tmp_path: Path, content: bytes, said: str) -> None:
    for name in ("rows.csv", "measurements.csv"):
        path = tmp_path / name
        path.write_bytes(content)
        (problem,) = _problems(path)
        assert said in problem.read
        assert len(problem.sentence()) < 400


def test_a_heading_alone_is_told(tmp_path: Path) -> None:
    path = _table(tmp_path / "rows.csv", [_good()])
    path.write_text(path.read_text(encoding="utf-8").splitlines()[0] + "\n", encoding="utf-8")
    (problem,) = _problems(path)
    assert "heading alone" in problem.read


def test_a_byte_order_mark_and_windows_line_ends_are_no_problem(tmp_path: Path) -> None:
    path = _table(tmp_path / "rows.csv", [_good()])
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b"\n", b"\r\n"))
    assert len(_read(path).rows("measurement")) == 1


def test_blank_lines_and_rows_of_commas_are_passed_over(tmp_path: Path) -> None:
    path = _table(tmp_path / "rows.csv", [_good(), _good()])
    lines = path.read_text(encoding="utf-8").splitlines()
    path.write_text("\n".join([lines[0], "", lines[1], "," * lines[0].count(","), "", lines[2], ""]), encoding="utf-8")
    assert len(_read(path).rows("measurement")) == 2


@pytest.mark.parametrize("make", [lambda path: None, lambda path: path.mkdir()], ids=["missing", "a folder"])
def test_a_file_that_is_not_there_gets_a_sentence(tmp_path: Path, make: Callable[[Path], object]) -> None:
    path = tmp_path / "rows.csv"
    make(path)
    assert _problems(path)


def test_a_device_is_not_read_for_ever() -> None:
    with pytest.raises(InputProblems, match="device"):
        read_files([Path("/dev/zero")], KNOWN)


def test_a_table_of_something_else_gets_a_sentence(tmp_path: Path) -> None:
    path = _table(tmp_path / "shopping.csv", [{"milk": "2", "bread": "1"}])
    (problem,) = _problems(path)
    assert "table of measurements" in problem.allowed


@pytest.mark.parametrize(
    "text",
    [
        "",
        "just text",
        "@article{a1,",
        "@article{a1, title = {x}",
        "@article{a1, title = {x}, author = {y}, journal = foo}",
        "@article{a1, title = {x}, author = {y}}\n@article{a1, title = {x}, author = {y}}",
        "@article{a1, author = {y}}",
    ],
    ids=["empty", "text", "cut", "open brace", "bare word", "key twice", "no title"],
)  # fmt: skip
def test_a_broken_bibliography_gets_a_sentence(tmp_path: Path, text: str) -> None:
    path = tmp_path / "own.bib"
    path.write_text(text, encoding="utf-8")
    assert _problems(path)


def test_direction_against_figure_twice_the_same_and_two_n_ask_for_a_look(tmp_path: Path) -> None:
    rows = [
        _good(in_words="increase", id="alpha2031milk-1"),
        _good(id="alpha2031milk-2") | {"n": "9"},
    ]
    notices = _read(_table(tmp_path / "rows.csv", rows)).notices
    assert {notice.column for notice in notices} == {"in_words", None, "n"}


BAD_TEXT = some.text(some.characters(exclude_categories=["Cs"]), min_size=1, max_size=30)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(column=some.sampled_from(sorted(cells())), text=BAD_TEXT)
def test_no_text_in_any_cell_breaks_the_reading(tmp_path: Path, column: str, text: str) -> None:
    path = _table(tmp_path / "rows.csv", [_good() | {column: text}])
    told: tuple[Problem, ...] = ()
    try:
        kept = _read(path).rows("measurement")[0][column]
    except InputProblems as refused:
        told = refused.problems
    else:
        assert ("" if kept is None else str(kept)) == text.strip()
    assert all(problem.sentence() for problem in told)


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(content=some.binary(max_size=200))
def test_no_bytes_break_the_reading(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "measurements.csv"
    path.write_bytes(content)
    assert _problems(path)


def test_a_shipped_row_that_refers_to_nothing_is_told(tmp_path: Path) -> None:
    data, bibliography = write_tables(
        tmp_path,
        overlaps=[
            {"key_a": "alpha2031milk", "key_b": "omega2099milk", "keep": "alpha2031milk", "certainty": "certain"}
        ],
        questions=[{"number": "A-0001", "component": "vitamin-x", "measured_as": "amount", "handling": "freeze-dried"}],
    )
    with pytest.raises(InputProblems) as refused:
        read_shipped(data, bibliography)
    told = {(problem.file, problem.column, problem.read) for problem in refused.value.problems}
    assert told == {("overlaps.csv", "key_b", "omega2099milk"), ("questions.csv", "component", "vitamin-x")}
