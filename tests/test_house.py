"""The house keeps its own rules: imports one way, lint and types clean, no machine's traces, a wheel for elsewhere."""

from __future__ import annotations

import ast
import json
import os
import re
import subprocess
import sys
import sysconfig
import tomllib
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
PACKAGES = ("evidence", "reports")


def _run(*command: str, cwd: Path = ROOT, **environment: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        command, cwd=cwd, env=os.environ | environment, capture_output=True, text=True, check=False, timeout=600
    )


def _python(*arguments: str) -> subprocess.CompletedProcess[str]:
    return _run(sys.executable, "-m", *arguments)


def _sources() -> Iterator[Path]:
    for package in PACKAGES:
        yield from sorted((ROOT / package).rglob("*.py"))


def _tracked() -> list[Path]:
    """Return what is or would be committed: all text files of the checkout but what .gitignore names."""
    listed = _run("git", "ls-files", "--cached", "--others", "--exclude-standard", "-z")
    if listed.returncode == 0:
        names = [ROOT / name for name in listed.stdout.split("\0") if name]
    else:  # unpacked without its history
        names = [path for path in ROOT.rglob("*") if not {".venv", "__pycache__", "build", "dist"} & set(path.parts)]
    return [path for path in names if path.is_file()]


def _text(path: Path) -> str | None:
    try:
        return path.read_text(encoding="utf-8")
    except UnicodeDecodeError:
        return None


def test_imports_run_one_way() -> None:
    scripts = Path(sysconfig.get_path("scripts"))
    done = _run(str(scripts / "lint-imports"), "--no-cache", PYTHONPATH=str(ROOT))
    assert done.returncode == 0, done.stdout + done.stderr
    assert "0 broken" in done.stdout


def test_every_room_has_its_place_in_the_order_of_imports() -> None:
    contract = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"][
        "contracts"
    ][0]
    placed = {room.strip() for layer in contract["layers"] for room in layer.split("|")}
    rooms = {f"{package}.{path.parent.name}" for package in PACKAGES for path in (ROOT / package).glob("*/__init__.py")}
    assert rooms <= placed, rooms - placed


@pytest.mark.parametrize("arguments", [("check",), ("format", "--check")], ids=["lint", "format"])
def test_ruff_finds_nothing(arguments: tuple[str, ...]) -> None:
    done = _python("ruff", *arguments, *PACKAGES)
    assert done.returncode == 0, done.stdout + done.stderr


def test_types_are_clean() -> None:
    done = _python("mypy", *PACKAGES)
    assert done.returncode == 0, done.stdout + done.stderr


def test_docstrings_are_asked_of_everything_public() -> None:
    lint = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["ruff"]["lint"]
    assert {"D1", "D"} & set(lint["select"])
    assert not {"D100", "D101", "D102", "D103", "D104"} & set(lint["ignore"])
    assert not [
        path for path in lint["per-file-ignores"] if path.startswith(PACKAGES) and not path.endswith("rules.py")
    ]


def _one_line_docstring(path: Path) -> bool:
    found = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
    return bool(found) and bool(found.splitlines()[0].strip())


def test_every_module_begins_with_a_docstring_of_one_line() -> None:
    assert [str(path.relative_to(ROOT)) for path in _sources() if not _one_line_docstring(path)] == []


def test_no_file_holds_much_more_than_four_hundred_lines() -> None:
    long = {str(path.relative_to(ROOT)): path.read_text(encoding="utf-8").count("\n") for path in _sources()}
    assert {name: lines for name, lines in long.items() if lines > 420} == {}


# written in parts, so that this file does not find itself
TRACES = {
    "a folder of one machine": re.compile(r"(?<![\w.])/(?:" + "work" + r"|root|home/\w+|Users/\w+|tmp" + r")/(?=\w)"),
    "a registry's host": re.compile(
        "py" + r"pi\.org|python" + r"hosted|art" + r"ifactory|/sim" + r"ple/?\b(?=.*https?)|--index" + r"-url"
    ),
    "a private address": re.compile(r"https?://(?:10|192\.168|172\.(?:1[6-9]|2\d|3[01]))\.\d+"),
    "a credential": re.compile(r"BEGIN (?:RSA |OPENSSH )?PRIV" + r"ATE KEY|AKIA[0-9A-Z]{16}"),
}


@pytest.mark.parametrize("what", list(TRACES))
def test_no_file_carries_a_machine_s_traces(what: str) -> None:
    found = [
        f"{path.relative_to(ROOT)}: {match[0]}"
        for path in _tracked()
        if (text := _text(path)) is not None
        for match in TRACES[what].finditer(text)
    ]
    assert found == []


def test_the_search_for_traces_finds_one() -> None:
    assert TRACES["a folder of one machine"].search("open('/" + "tmp/x')")
    assert TRACES["a registry's host"].search("https://py" + "pi.org/project")
    assert not TRACES["a folder of one machine"].search("evidence/" + "work/x and https://example.org/home/a/b")


def test_a_threshold_is_a_rule_and_no_number_in_the_code() -> None:
    """Look for the thresholds of rules.toml that are unlikely numbers, written again in code."""
    telling = {0.31, 2.1, 0.35, 1.15, 0.0005, 0.13}
    found = [
        f"{path.relative_to(ROOT)}:{node.lineno}: {node.value}"
        for path in _sources()
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Constant) and isinstance(node.value, float) and node.value in telling
        if path.parts[-2] in ("effects", "findings", "handling", "words", "desk")
    ]
    assert found == []


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel of this checkout, built by pip."""
    folder = tmp_path_factory.mktemp("wheel")
    done = _python("pip", "wheel", "--quiet", "--no-deps", "--wheel-dir", str(folder), str(ROOT))
    assert done.returncode == 0, done.stderr
    (path,) = folder.glob("*.whl")
    return path


def test_the_wheel_carries_data_bibliography_and_templates(wheel: Path) -> None:
    names = set(zipfile.ZipFile(wheel).namelist())
    tracked = {path.relative_to(ROOT) for path in _tracked()}
    for folder in ("data", "bibliography"):
        wanted = {f"evidence/_shipped/{path}" for path in tracked if path.parts[0] == folder}
        assert wanted and wanted <= names, wanted - names
    wanted = {str(path) for path in tracked if path.parts[0] in PACKAGES}
    assert wanted <= names, wanted - names
    assert not [name for name in names if name.startswith("tests/")]


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the wheel in it, and nothing of the checkout."""
    folder = tmp_path_factory.mktemp("elsewhere") / "site"
    done = _python("pip", "install", "--quiet", "--no-deps", "--no-index", "--target", str(folder), str(wheel))
    assert done.returncode == 0, done.stderr
    return folder


def _elsewhere(installed: Path, home: Path, *command: str) -> subprocess.CompletedProcess[str]:
    # the home is empty, and the checkout is neither the working folder nor on the path
    return _run(
        sys.executable,
        "-P",
        *command,
        cwd=home,
        PYTHONPATH=str(installed),
        HOME=str(home),
        XDG_DATA_HOME=str(home / "data"),
    )


def test_installed_elsewhere_it_answers_from_its_own_data(installed: Path, tmp_path: Path) -> None:
    where = _elsewhere(
        installed, tmp_path, "-c", "import evidence, reports; print(evidence.__file__, reports.__file__)"
    )
    assert where.stdout.count(str(installed)) == 2, where.stdout + where.stderr
    asked = ("-m", "reports", "answer", "does freeze-drying cost vitamin C?", "--json")
    for _ in range(2):  # first with an empty data folder, then with what it left there
        done = _elsewhere(installed, tmp_path, *asked)
        assert done.returncode == 0, done.stderr
        assert done.stderr == ""
        # martysiakzurowska2020lyophilization, abstract: 31 % fall
        assert json.loads(done.stdout)[0]["retained_percent"] == 69
    assert list((tmp_path / "data").rglob("evidence.sqlite"))


def test_installed_elsewhere_bad_input_is_a_sentence(installed: Path, tmp_path: Path) -> None:
    (tmp_path / "rows.csv").write_text("milk,bread\n1,2\n", encoding="utf-8")
    done = _elsewhere(installed, tmp_path, "-m", "reports", "check", "rows.csv")
    assert done.returncode == 2
    assert "rows.csv" in done.stderr and "Traceback" not in done.stderr


def test_the_command_is_named_as_the_readme_has_it(wheel: Path) -> None:
    archive = zipfile.ZipFile(wheel)
    (entry,) = [name for name in archive.namelist() if name.endswith(".dist-info/entry_points.txt")]
    assert "whatstays = reports.command.main:main" in archive.read(entry).decode()
