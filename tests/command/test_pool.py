"""whatstays pool: the promised keys, null where a figure does not exist, a sentence where the input is wrong."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest

from reports.command.main import main

# what the first edition promises to print
KEYS = {
    "estimate", "se", "ci_low", "ci_high", "tau2", "tau2_low", "tau2_high", "i2", "q", "q_p", "prediction_low",
    "prediction_high", "k_studies", "k_rows", "retained_percent",
}  # fmt: skip
ONE = "study,log_ratio,variance\na,-0.35,0.04\n"
TWO = ONE + "b,-0.10,0.03\n"
THREE = TWO + "c,-0.22,0.05\n"


def _pool(tmp_path: Path, text: str, capsys: pytest.CaptureFixture[str], *options: str) -> dict[str, Any]:
    path = tmp_path / "own.csv"
    path.write_text(text, encoding="utf-8")
    assert main(["pool", str(path), "--json", *options]) == 0
    found: dict[str, Any] = json.loads(capsys.readouterr().out)
    assert set(found) >= KEYS
    return found


def test_one_study_has_no_heterogeneity_and_no_prediction(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = _pool(tmp_path, ONE, capsys)
    assert (found["k_studies"], found["k_rows"]) == (1, 1)
    assert found["estimate"] == -0.35
    assert found["se"] == pytest.approx(0.2)
    assert found["retained_percent"] == pytest.approx(100 * math.exp(-0.35))
    nothing = ("tau2", "tau2_low", "tau2_high", "i2", "q", "q_p", "prediction_low", "prediction_high")
    assert {name: found[name] for name in nothing} == dict.fromkeys(nothing)


def test_two_studies_have_heterogeneity_and_no_prediction(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = _pool(tmp_path, TWO, capsys)
    assert found["tau2"] is not None and found["q"] is not None
    assert (found["prediction_low"], found["prediction_high"]) == (None, None)


@pytest.mark.parametrize("estimator", ["reml", "dl", "pm"])
@pytest.mark.parametrize("interval", ["hk", "hk-floor", "wald"])
def test_three_studies_have_everything_by_every_method(
    tmp_path: Path, estimator: str, interval: str, capsys: pytest.CaptureFixture[str]
) -> None:
    found = _pool(tmp_path, THREE, capsys, "--estimator", estimator, "--interval", interval)
    assert all(found[name] is not None for name in KEYS)
    assert found["ci_low"] < found["estimate"] < found["ci_high"]
    assert found["prediction_low"] <= found["ci_low"] or interval != "wald"


def test_of_equal_variances_the_mean_is_the_mean(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    # arithmetic: (-0.1 - 0.2 - 0.6) / 3; Q = sum of (y - mean)^2 / v = 0.14 / 0.05
    found = _pool(tmp_path, "study,log_ratio,variance\na,-0.1,0.05\nb,-0.2,0.05\nc,-0.6,0.05\n", capsys)
    assert found["estimate"] == pytest.approx(-0.3)
    assert found["q"] == pytest.approx(0.14 / 0.05)


def test_rows_of_one_name_are_one_study(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = _pool(tmp_path, THREE + "c,-0.30,0.05\n", capsys)
    assert (found["k_studies"], found["k_rows"]) == (3, 4)


def test_text_says_what_does_not_exist(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "own.csv"
    path.write_text(ONE, encoding="utf-8")
    assert main(["pool", str(path)]) == 0
    out = capsys.readouterr().out
    assert "does not exist" in out and "None" not in out and "One study" in out


@pytest.mark.parametrize(
    "content",
    [
        b"", b"study,log_ratio,variance\n", b"study,log_ratio\na,1\n", b"study,log_ratio,variance\na,x,1\n",
        b"study,log_ratio,variance\na,nan,1\n", b"study,log_ratio,variance\na,0.1,0\n",
        b"study,log_ratio,variance\na,0.1,-1\n", b"study,log_ratio,variance\na,0.1,inf\n", b",,\n,,\n",
        b"study,log_ratio,variance\n,0.1,0.1\n", "stüdy,log_ratio,variance\n".encode("latin-1"),
        b"study,log_ratio,variance\n" + b"9" * 10_000_000, b'study,log_ratio,variance\n"a', b"\x00\x00\x00",
    ],
    ids=["empty", "heading", "column", "text", "nan", "zero", "negative", "inf", "commas", "no name", "latin-1",
    "10 MB",
         "quote", "zeros"],
)  # fmt: skip
def test_bad_input_gets_a_sentence(tmp_path: Path, content: bytes, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "own.csv"
    path.write_bytes(content)
    assert main(["pool", str(path), "--json"]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert "own.csv" in captured.err and "read" in captured.err and "allowed" in captured.err
    assert "Traceback" not in captured.err and len(captured.err) < 2000


@pytest.mark.parametrize("given", ["0.3", "0,0.5", "-1,0.5", "a,b", "0.3,nan", "1,2,3", "inf,1"])
def test_a_bad_prior_gets_a_sentence(tmp_path: Path, given: str, capsys: pytest.CaptureFixture[str]) -> None:
    path = tmp_path / "own.csv"
    path.write_text(THREE, encoding="utf-8")
    assert main(["pool", str(path), f"--shared-tau={given}"]) == 2
    assert "--shared-tau" in capsys.readouterr().err


def test_with_a_lent_heterogeneity_one_study_gets_an_interval_of_its_kind(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    found = _pool(tmp_path, ONE, capsys, "--shared-tau", "0.36,0.5")
    assert found["interval_kind"] == "shared"
    assert found["ci_low"] < -0.35 - 1.96 * 0.2 and found["ci_high"] > -0.35 + 1.96 * 0.2
