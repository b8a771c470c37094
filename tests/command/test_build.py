"""whatstays build: a sheet for every component on drying or freezing, twice the same bytes."""

from __future__ import annotations

import csv
import html
import re
from pathlib import Path

import pytest

from evidence.model.shipped import data_folder
from reports.command.main import main
from reports.words.catalogue import load_catalogue
from tests.invented import cells, passing_for_shipped

ROWS = [
    cells(id="alpha2031milk-1", retained_percent=70, n=5, n_kind="donors", form="total"),
    cells(id="beta2032milk-1", study="beta2032milk", component="total-fat", handling="frozen", retained_percent=96,
          baseline="expressed", baseline_said="fresh", n=12, n_kind="donors"),
    cells(id="gamma2033milk-1", study="gamma2033milk", component="lactoferrin", in_words="decrease", n=9,
    n_kind="donors"),
    cells(id="delta2034milk-1", study="delta2034milk", component="lactose", retained_percent=99, baseline="expressed",
          handling="expressed > pasteurised holder"),
]  # fmt: skip


@pytest.fixture(scope="module")
def small_path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store with a small invented edition that passes for the shipped one."""
    folder = tmp_path_factory.mktemp("small")
    with (data_folder() / "components.csv").open(encoding="utf-8", newline="") as file:
        components = list(csv.DictReader(file))
    return passing_for_shipped(folder, "2031-05-03", components, measurements=ROWS)


@pytest.fixture(scope="module")
def built(small_path: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The pages of the small edition."""
    out = tmp_path_factory.mktemp("pages") / "sheets"
    assert main(["build", "--out", str(out), "--store", str(small_path), "--workers", "1"]) == 0
    return out


def test_every_component_on_drying_or_freezing_has_a_sheet_and_no_other(built: Path) -> None:
    with (data_folder() / "components.csv").open(encoding="utf-8", newline="") as file:
        components = {row["id"] for row in csv.DictReader(file)}
    names = {path.stem for path in built.glob("*.pdf")} & components
    assert names == {"vitamin-c", "total-fat", "lactoferrin"}
    assert names <= {path.stem for path in built.glob("*.html")}
    assert (built / "index.html").is_file()


def test_pages_are_what_they_are_called_and_small(built: Path) -> None:
    for path in built.glob("*.pdf"):
        assert path.read_bytes().startswith(b"%PDF-")
        assert path.stat().st_size < 500_000  # the first edition's limit for a page
    for path in built.glob("*.html"):
        text = path.read_text(encoding="utf-8")
        assert text.lower().startswith("<!doctype html>")
        assert "{{" not in text and ">None<" not in text and "nan of" not in text


def test_the_index_leads_to_every_sheet(built: Path) -> None:
    index = (built / "index.html").read_text(encoding="utf-8")
    for name in ("vitamin-c", "total-fat", "lactoferrin"):
        assert f"{name}.html" in index


def test_every_page_is_linked_from_another(built: Path) -> None:
    pages = {path.name: path.read_text(encoding="utf-8") for path in built.glob("*.html")}
    for name in pages:
        assert any(f'href="{name}"' in text for other, text in pages.items() if other != name), name


def test_a_sheet_tells_its_number_with_what_it_was_compared_with(built: Path) -> None:
    fat = (built / "total-fat.html").read_text(encoding="utf-8")
    assert re.search(r"\b96\b[^.]*compared with fresh milk", fat)
    drying = (built / "vitamin-c.html").read_text(encoding="utf-8")
    assert re.search(r"\b70\b[^.]*compared with[^.]*not stated", drying)
    words = (built / "lactoferrin.html").read_text(encoding="utf-8")
    assert re.search(r"looked at lactoferrin[^.]*\.\s+Compared with[^.]* saw [^.]*\.[^.]*no number", words)


def test_the_same_evidence_gives_the_same_bytes_with_any_number_of_workers(
    built: Path, small_path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "again"
    assert main(["build", "--out", str(out), "--store", str(small_path), "--workers", "2"]) == 0
    assert "3 sheets" in capsys.readouterr().out
    first = {path.relative_to(built): path.read_bytes() for path in built.rglob("*") if path.is_file()}
    second = {path.relative_to(out): path.read_bytes() for path in out.rglob("*") if path.is_file()}
    assert first == second


def test_the_unbranded_twin_names_no_interest(built: Path, small_path: Path, tmp_path: Path) -> None:
    out = tmp_path / "twin"
    assert main(["build", "--unbranded", "--out", str(out), "--store", str(small_path), "--workers", "1"]) == 0
    page, twin = "vitamin-c.html", "vitamin-c-unbranded.html"
    interest = load_catalogue().say("foot/interest")
    assert "payment" in interest
    assert interest in html.unescape((built / page).read_text(encoding="utf-8"))
    assert interest not in html.unescape((out / twin).read_text(encoding="utf-8"))


def test_pages_of_another_edition_are_left_and_named(
    small_path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "sheets"
    out.mkdir()
    (out / "letter.html").write_text("mine", encoding="utf-8")
    assert main(["build", "--out", str(out), "--store", str(small_path), "--workers", "1"]) == 0
    assert "letter.html" in capsys.readouterr().out
    assert (out / "letter.html").read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize("workers", ["0", "-2"])
def test_no_workers_is_the_input_s_fault(workers: str, small_path: Path, tmp_path: Path) -> None:
    out = tmp_path / "sheets"
    assert main(["build", "--workers", workers, "--out", str(out), "--store", str(small_path)]) == 2
    assert not out.exists()


def test_a_file_in_the_place_of_the_folder_is_told_and_left(
    small_path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "sheets"
    out.write_text("mine", encoding="utf-8")
    assert main(["build", "--out", str(out), "--store", str(small_path)]) == 2
    assert "--out" in capsys.readouterr().err
    assert out.read_text(encoding="utf-8") == "mine"
