"""The reader of own effects: what is read, and every problem said at once."""

import os
from pathlib import Path

import pytest

from evidence.intake.own_effects import read_own_effects
from evidence.model.problems import InputProblems, Problem

GOOD = "study,log_ratio,variance\nAnn 2019,-0.36,0.01\nBo 2020,-0.1,4e-2\n"


def problems_of(folder: Path, content: str | bytes) -> tuple[Problem, ...]:
    path = folder / "own.csv"
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    with pytest.raises(InputProblems) as caught:
        read_own_effects(path)
    for problem in caught.value.problems:
        assert problem.file == str(path)
        assert problem.sentence().strip()
    return caught.value.problems


@pytest.mark.parametrize(
    "content",
    [
        GOOD.encode(),
        b"\xef\xbb\xbf" + GOOD.encode(),
        GOOD.replace("\n", "\r\n").encode(),
        GOOD.replace("\n", "\n\n").encode() + b" , , \n",
        b"variance,notes,study,log_ratio\n0.01,kept cold,Ann 2019,-0.36\n0.04,,Bo 2020, -0.1 \n",
    ],
    ids=["plain", "byte-order mark", "line ends of Windows", "empty lines", "other order and another column"],
)
def test_a_good_file_is_read(tmp_path: Path, content: bytes) -> None:
    path = tmp_path / "own.csv"
    path.write_bytes(content)
    found = read_own_effects(path)
    assert found.study == ("Ann 2019", "Bo 2020")
    assert found.log_ratio == (-0.36, -0.1)
    assert found.variance == (0.01, 0.04)


def test_all_problems_are_told_at_once_with_row_and_column(tmp_path: Path) -> None:
    content = "study,log_ratio,variance\nAnn,low,0.01\n,-0.1,0\nBo,nan,-1\nCy,0.1\nDi,0.1,0.1\n"
    found = [(problem.row, problem.column, problem.read) for problem in problems_of(tmp_path, content)]
    assert found == [
        (2, "log_ratio", "low"),
        (3, "study", ""),
        (3, "variance", "0"),
        (4, "log_ratio", "nan"),
        (4, "variance", "-1"),
        (5, None, "2 cells"),
    ]


@pytest.mark.parametrize(
    "cell", ["", "1_000", "inf", "-Infinity", "1e999", "0x1", "1,5", "\u0661", "--1", "1e", "1000"]
)
def test_what_is_not_a_plain_finite_number_is_no_log_ratio(tmp_path: Path, cell: str) -> None:
    (problem,) = problems_of(tmp_path, f'study,log_ratio,variance\nAnn,"{cell}",0.01\n')
    assert (problem.row, problem.column, problem.read) == (2, "log_ratio", cell)
    assert "decimal point" in problem.allowed


@pytest.mark.parametrize("cell", ["0", "-0.01", "0.0", "1e-300", "1e300", "nan", "inf", ""])
def test_a_variance_is_a_finite_number_above_zero(tmp_path: Path, cell: str) -> None:
    (problem,) = problems_of(tmp_path, f"study,log_ratio,variance\nAnn,0.1,{cell}\n")
    assert (problem.row, problem.column, problem.read) == (2, "variance", cell)
    assert "above 0" in problem.allowed


def test_a_missing_column_names_what_stands_in_its_place(tmp_path: Path) -> None:
    (problem,) = problems_of(tmp_path, "study,log_ratio,varience\nAnn,0.1,0.2\n")
    assert (problem.row, problem.column, problem.read, problem.nearest) == (1, "variance", "varience", "variance")
    assert "Nearest known: variance" in problem.sentence()


def test_semicolons_between_columns_are_told(tmp_path: Path) -> None:
    found = problems_of(tmp_path, "study;log_ratio;variance\nAnn;0,1;0,2\n")
    assert {problem.column for problem in found} == {"study", "log_ratio", "variance"}
    assert all("commas" in problem.allowed for problem in found)


def test_a_column_that_stands_twice_is_told(tmp_path: Path) -> None:
    (problem,) = problems_of(tmp_path, "study,log_ratio,variance,variance\nAnn,0.1,0.2,0.3\n")
    assert (problem.column, problem.read) == ("variance", "the column variance 2 times")


@pytest.mark.parametrize("content", ["", "\n\n", "\ufeff", " , ,\n"])
def test_an_empty_file_is_told(tmp_path: Path, content: str) -> None:
    (problem,) = problems_of(tmp_path, content)
    assert problem.read == "an empty file"


def test_a_heading_alone_is_told(tmp_path: Path) -> None:
    (problem,) = problems_of(tmp_path, "study,log_ratio,variance\n")
    assert problem.read == "a heading and no rows"


@pytest.mark.parametrize(
    ("content", "row"),
    [
        (GOOD.encode("utf-16"), 1),
        ("study,log_ratio,variance\nAnn,0.1,0.2\nFran\u00e7ois,0.1,0.2\n".encode("latin-1"), 3),
        (b"\x89PNG\r\n\x1a\n\x00\x00", 1),
    ],
    ids=["utf-16", "latin-1", "a picture"],
)
def test_another_encoding_is_told_with_its_row(tmp_path: Path, content: bytes, row: int) -> None:
    (problem,) = problems_of(tmp_path, content)
    assert problem.row == row
    assert "utf-8" in problem.allowed


@pytest.mark.parametrize(
    "line",
    [
        "Ann," + "1" * 10_000_000 + ",0.1",
        "Ann" * 3_500_000 + ",0.1,0.1",
        "Ann" + "," * 10_000_000,
        '"Ann,0.1,0.1' + "x" * 10_000_000,
    ],
    ids=["a long number", "a long name", "many cells", "a quote never closed"],
)
def test_a_line_of_ten_million_characters_is_told_in_a_short_sentence(tmp_path: Path, line: str) -> None:
    (problem,) = problems_of(tmp_path, f"study,log_ratio,variance\nBo,0.1,0.1\n{line}\n")
    assert problem.row == 3
    assert len(problem.sentence()) - len(str(tmp_path)) < 400


def test_a_row_after_a_cell_of_two_lines_keeps_its_line_number(tmp_path: Path) -> None:
    found = problems_of(tmp_path, 'study,log_ratio,variance,notes\nAnn,0.1,0.1,"two\nlines"\nBo,x,0.1,\n')
    assert [problem.row for problem in found] == [4]


def test_a_name_that_would_steer_a_terminal_is_refused(tmp_path: Path) -> None:
    (problem,) = problems_of(tmp_path, "study,log_ratio,variance\nAnn\x1b[2J,0.1,0.1\n")
    assert problem.column == "study"


def test_no_file_a_folder_and_a_pipe_are_told(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    for path, said in ((tmp_path / "none.csv", "no such file"), (tmp_path, "a folder"), (pipe, "a pipe")):
        with pytest.raises(InputProblems) as caught:
            read_own_effects(path)
        assert said in caught.value.problems[0].sentence()


def test_a_path_that_no_system_has_is_told() -> None:
    for path in ("own\0.csv", "x" * 5000):
        with pytest.raises(InputProblems):
            read_own_effects(path)
