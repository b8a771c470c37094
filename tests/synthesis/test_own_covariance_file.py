"""The reader of a covariance matrix, and pool with it, as a user meets them."""

import json
from pathlib import Path

import numpy as np
import pytest

from evidence.intake.own_covariance import read_own_covariance
from evidence.intake.own_effects import read_own_effects
from evidence.model.problems import InputProblems, Problem
from reports.command.main import INPUT, main

ROWS = [("Bo", -0.2, 0.04), ("Ann", -0.5, 0.01), ("Bo", -0.4, 0.04), ("Cy", 0.1, 0.09)]
# By hand: the two rows of Bo with covariance 0.03, nothing else shared.
MATRIX = [[0.04, 0.0, 0.03, 0.0], [0.0, 0.01, 0.0, 0.0], [0.03, 0.0, 0.04, 0.0], [0.0, 0.0, 0.0, 0.09]]
NEEDED = {
    "schema", "estimate", "se", "ci_low", "ci_high", "tau2", "i2", "q", "prediction_low", "prediction_high",
    "k_studies", "k_rows", "retained_percent", "interval_kind", "df", "tau2_within",
}  # fmt: skip


def effects_file(folder: Path) -> Path:
    path = folder / "own.csv"
    lines = [f"{study},{log_ratio},{variance}" for study, log_ratio, variance in ROWS]
    path.write_text("\n".join(["study,log_ratio,variance", *lines]) + "\n", encoding="utf-8")
    return path


def matrix_file(folder: Path, matrix: list[list[object]] | list[list[float]], heading: str = "") -> Path:
    path = folder / "V.csv"
    text = "\n".join(",".join(str(cell) for cell in row) for row in matrix) + "\n"
    path.write_text(f"{heading}\n{text}" if heading else text, encoding="utf-8")
    return path


def problems_of(folder: Path, matrix: list[list[object]], heading: str = "") -> tuple[Problem, ...]:
    effects = read_own_effects(effects_file(folder))
    with pytest.raises(InputProblems) as caught:
        read_own_covariance(matrix_file(folder, matrix, heading), effects)
    assert all(problem.file.endswith("V.csv") and problem.sentence() for problem in caught.value.problems)
    return caught.value.problems


def changed(row: int, column: int, cell: object) -> list[list[object]]:
    return [[cell if (i, j) == (row, column) else MATRIX[i][j] for j in range(4)] for i in range(4)]


def pooled(capsys: pytest.CaptureFixture[str], *words: object) -> dict[str, object]:
    assert main(["pool", *(str(word) for word in words), "--json"]) == 0
    out = capsys.readouterr()
    assert out.err == ""
    found: dict[str, object] = json.loads(out.out)
    return found


def assert_same(one: dict[str, object], other: dict[str, object], tolerance: float) -> None:
    assert list(one) == list(other)
    for key, value in one.items():
        if isinstance(value, float):
            assert other[key] == pytest.approx(value, rel=tolerance, abs=tolerance), key
        else:
            assert other[key] == value, key


@pytest.mark.parametrize("heading", ["", "Bo,Ann,Bo,Cy", "\ufeffBo, Ann ,Bo,Cy"])
def test_a_square_of_numbers_is_read_with_or_without_names(tmp_path: Path, heading: str) -> None:
    effects = read_own_effects(effects_file(tmp_path))
    assert np.array(read_own_covariance(matrix_file(tmp_path, MATRIX, heading), effects)).tolist() == MATRIX


def test_names_in_another_order_are_told(tmp_path: Path) -> None:
    found = problems_of(tmp_path, MATRIX, "Ann,Bo,Bo,Cy")  # type: ignore[arg-type]
    assert [(problem.row, problem.column, problem.read) for problem in found] == [(1, "1", "Ann"), (1, "2", "Bo")]


def test_studies_named_by_numbers_are_told_from_a_line_of_the_matrix(tmp_path: Path) -> None:
    own = tmp_path / "own.csv"
    own.write_text("study,log_ratio,variance\n1,0.1,0.2\n2,0.1,0.3\n", encoding="utf-8")
    matrix = tmp_path / "V.csv"
    matrix.write_text("1,2\n0.2,0.1\n0.1,0.3\n", encoding="utf-8")
    assert read_own_covariance(matrix, read_own_effects(own)) == ((0.2, 0.1), (0.1, 0.3))


@pytest.mark.parametrize("cell", ["", "x", "nan", "inf", "0,5", "1_0"])
def test_what_is_no_number_is_told_with_row_and_column(tmp_path: Path, cell: str) -> None:
    shown = f'"{cell}"'
    (problem,) = problems_of(tmp_path, changed(1, 2, shown))
    assert (problem.row, problem.column, problem.read) == (2, "3", cell)


def test_a_matrix_that_is_not_square_or_of_another_size_is_told(tmp_path: Path) -> None:
    (short,) = problems_of(tmp_path, MATRIX[:3])  # type: ignore[arg-type]
    assert (short.read, short.row) == ("3 lines of numbers", None)
    uneven = problems_of(tmp_path, [*MATRIX[:3], MATRIX[3][:2]])  # type: ignore[list-item]
    assert [(problem.row, problem.read) for problem in uneven] == [(4, "2 cells")]
    assert problems_of(tmp_path, [[0.04]])
    assert problems_of(tmp_path, [])[0].read == "an empty file"


def test_two_cells_that_should_be_one_number_are_told(tmp_path: Path) -> None:
    (problem,) = problems_of(tmp_path, changed(2, 0, 0.02))
    assert (problem.row, problem.column) == (3, "1")
    assert "0.02, and 0.03 in row 1, column 3" in problem.read


def test_a_diagonal_that_is_not_the_variances_is_told(tmp_path: Path) -> None:
    (problem,) = problems_of(tmp_path, changed(1, 1, 0.0214))
    assert (problem.row, problem.column) == (2, "2")
    assert "0.01" in problem.allowed
    (nothing,) = problems_of(tmp_path, changed(3, 3, 0.0))
    assert "above 0" in nothing.allowed
    # The same variance in more digits is the same variance.
    effects = read_own_effects(effects_file(tmp_path))
    assert read_own_covariance(matrix_file(tmp_path, changed(1, 1, 0.01004)), effects)[1][1] == 0.01004


def test_a_matrix_no_errors_can_have_is_refused_in_a_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    matrix = [[0.04, 0.05, 0.03, 0.0], [0.05, 0.01, 0.0, 0.0], [0.03, 0.0, 0.04, 0.0], [0.0, 0.0, 0.0, 0.09]]
    status = main(["pool", str(effects_file(tmp_path)), "--v", str(matrix_file(tmp_path, matrix))])
    said = capsys.readouterr().err
    assert status == INPUT
    assert "V.csv" in said and "not positive definite" in said
    missing = main(["pool", str(effects_file(tmp_path)), "--v", str(tmp_path / "none.csv")])
    assert missing == INPUT and "no such file" in capsys.readouterr().err


def test_rows_of_one_study_stay_one_study_with_a_matrix(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    # By hand: Bo is the mean -0.3 with variance (0.04 + 0.04 + 2 x 0.03) / 4 = 0.035; common effect by weights.
    found = pooled(capsys, effects_file(tmp_path), "--v", matrix_file(tmp_path, MATRIX))
    assert set(found) >= NEEDED
    assert (found["k_studies"], found["k_rows"], found["interval_kind"]) == (3, 4, "hk-floor")
    weights = np.array([1 / 0.01, 1 / 0.035, 1 / 0.09])
    effects = np.array([-0.5, -0.3, 0.1])
    mean = float(weights @ effects / weights.sum())
    assert found["q"] == pytest.approx(float(weights @ (effects - mean) ** 2))
    assert found["df"] == 2.0


def test_a_matrix_of_the_default_correlation_changes_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    matrix = [list(row) for row in MATRIX]
    matrix[0][2] = matrix[2][0] = 0.8 * 0.04
    own, v = effects_file(tmp_path), matrix_file(tmp_path, matrix)
    for options in ([], ["--estimator", "dl", "--interval", "wald"], ["--shared-tau", "0.3,0.5"]):
        one, other = pooled(capsys, own, *options), pooled(capsys, own, "--v", v, *options)
        assert_same(one, other, 1e-9)
    for rows in ("three-level", "robust"):
        one, other = pooled(capsys, own, "--rows", rows), pooled(capsys, own, "--rows", rows, "--v", v)
        assert_same(one, other, 1e-7)
        assert set(one) >= NEEDED
        assert one["interval_kind"] == rows


def test_figures_that_do_not_exist_are_null(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own = effects_file(tmp_path)
    shared = pooled(capsys, own, "--shared-tau", "0.3,0.5")
    assert (shared["df"], shared["tau2_within"], shared["tau2"], shared["estimator"]) == (None,) * 4
    wald = pooled(capsys, own, "--interval", "wald")
    assert (wald["df"], wald["tau2_within"]) == (None, None)
    levels = pooled(capsys, own, "--rows", "three-level", "--row-correlation", "0")
    assert levels["df"] == 2.0 and levels["tau2_within"] is not None and levels["tau2_low"] is None


@pytest.mark.parametrize(
    "words",
    [
        ["--rows", "robust", "--shared-tau", "0.3,0.5"],
        ["--rows", "three-level", "--interval", "hk"],
        ["--rows", "three-level", "--estimator", "dl"],
        ["--row-correlation", "1"],
        ["--row-correlation", "much"],
        ["--row-correlation", "nan"],
    ],
)
def test_options_that_do_not_go_together_are_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], words: list[str]
) -> None:
    assert main(["pool", str(effects_file(tmp_path)), *words]) == INPUT
    said = capsys.readouterr().err
    assert "allowed:" in said and "Traceback" not in said


def test_a_matrix_and_a_correlation_of_rows_exclude_each_other(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["--v", str(matrix_file(tmp_path, MATRIX)), "--row-correlation", "0.5"]
    assert main(["pool", str(effects_file(tmp_path)), *words]) == INPUT
    assert "one of the two" in capsys.readouterr().err
