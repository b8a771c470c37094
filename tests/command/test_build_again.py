"""whatstays build, again: the same bytes anywhere and any day, and only what changed is made again."""

from __future__ import annotations

import csv
import os
import subprocess
import sys
from pathlib import Path

import pytest

from evidence.model.shipped import data_folder
from reports.command.main import main
from reports.site.made import MANIFEST, read_made
from tests.invented import cells, passing_for_shipped

ROOT = Path(__file__).resolve().parents[2]
ROWS = [
    cells(id="alpha2031milk-1", retained_percent=70, n=5, n_kind="donors", form="total"),
    cells(id="beta2032milk-1", study="beta2032milk", component="total-fat", handling="frozen", retained_percent=96,
          baseline="expressed", baseline_said="fresh", n=12, n_kind="donors"),
]  # fmt: skip
# runs the command on another day than this one
LATER = """
import datetime, sys, time
real = datetime.date
class Later(real):
    @classmethod
    def today(cls):
        return real(2041, 2, 28)
datetime.date = Later
before = time.time
time.time = lambda: before() + 5e8
if __name__ == "__main__":
    from reports.command.main import main
    sys.exit(main(sys.argv[1:]))
"""


@pytest.fixture(scope="module")
def small_path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store with a small invented edition that passes for the shipped one."""
    folder = tmp_path_factory.mktemp("small")
    with (data_folder() / "components.csv").open(encoding="utf-8", newline="") as file:
        components = list(csv.DictReader(file))
    return passing_for_shipped(folder, "2031-05-03", components, measurements=ROWS)


def _build(store: Path, out: Path) -> None:
    assert main(["build", "--out", str(out), "--store", str(store), "--workers", "1"]) == 0


@pytest.fixture
def built(small_path: Path, tmp_path: Path) -> Path:
    _build(small_path, tmp_path / "sheets")
    return tmp_path / "sheets"


def _files(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def _times(folder: Path) -> dict[str, int]:
    return {path.name: path.stat().st_mtime_ns for path in folder.iterdir()}


def test_another_folder_zone_language_seed_day_and_number_of_workers_give_the_same_bytes(
    built: Path, small_path: Path, tmp_path: Path
) -> None:
    elsewhere = tmp_path / "else where"
    elsewhere.mkdir()
    environment = os.environ | {
        "PYTHONPATH": str(ROOT), "TZ": "Pacific/Auckland", "LC_ALL": "tr_TR.UTF-8", "LANG": "tr_TR.UTF-8",
        "PYTHONHASHSEED": "4711", "HOME": str(elsewhere), "XDG_CACHE_HOME": str(elsewhere / "cache"),
    }  # fmt: skip
    arguments = ["build", "--out", "pages", "--store", str(small_path), "--workers", "2"]
    script = elsewhere / "later.py"
    script.write_text(LATER, encoding="utf-8")
    done = subprocess.run(
        [sys.executable, str(script), *arguments], cwd=elsewhere, env=environment, capture_output=True, text=True,
        check=False, timeout=600,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    here, there = _files(built), _files(elsewhere / "pages")
    assert set(here) == set(there)
    assert [name for name in here if here[name] != there[name]] == []
    assert sum(name.endswith(".pdf") for name in here) >= 2


def test_building_again_touches_nothing_and_says_so(
    built: Path, small_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = _times(built)
    capsys.readouterr()
    _build(small_path, built)
    assert _times(built) == before
    assert "Nothing changed" in capsys.readouterr().out


@pytest.mark.parametrize("spoil", ["missing", "edited"])
def test_only_the_page_that_is_missing_or_was_edited_is_made_again(
    built: Path, small_path: Path, spoil: str, capsys: pytest.CaptureFixture[str]
) -> None:
    before, times = _files(built), _times(built)
    page = built / "vitamin-c.pdf"
    if spoil == "missing":
        page.unlink()
    else:
        page.write_bytes(page.read_bytes() + b" ")
    _build(small_path, built)
    after = _times(built)
    assert _files(built) == before
    assert after["vitamin-c.pdf"] != times["vitamin-c.pdf"]
    assert after["total-fat.pdf"] == times["total-fat.pdf"]
    assert "had not changed and were left" in capsys.readouterr().out


def test_other_choices_make_the_pages_they_change(built: Path, small_path: Path) -> None:
    times = _times(built)
    assert main(["build", "--out", str(built), "--store", str(small_path), "--paper", "letter", "--workers", "1"]) == 0
    assert _times(built)["vitamin-c.pdf"] != times["vitamin-c.pdf"]


@pytest.mark.parametrize("text", ["", "{", "[]", '{"schema": "another"}', '{"schema": "whatstays-made-1", "asked": 1}'])
def test_a_spoilt_list_makes_everything_again(built: Path, small_path: Path, text: str) -> None:
    before, times = _files(built), _times(built)
    (built / MANIFEST).write_text(text, encoding="utf-8")
    assert read_made(built).files == {}
    _build(small_path, built)
    assert _files(built) == before
    assert all(_times(built)[name] != time for name, time in times.items() if name.endswith(".pdf"))


def test_the_list_names_no_place_of_this_machine(built: Path) -> None:
    assert str(ROOT) not in (built / MANIFEST).read_text(encoding="utf-8")
    assert str(built.parent) not in (built / MANIFEST).read_text(encoding="utf-8")
