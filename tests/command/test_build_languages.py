"""whatstays build --language: every page in three languages, linked with its twins, the same on every machine."""

from __future__ import annotations

import csv
import html
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from pypdf import PdfReader

from evidence.model.shipped import data_folder
from reports.command.main import main
from reports.words.catalogue import LANGUAGES
from tests.invented import cells, passing_for_shipped

ROWS = [
    cells(id="alpha2031milk-1", retained_percent=70, n=5, n_kind="donors"),
    cells(id="beta2032milk-1", study="beta2032milk", component="total-fat", handling="frozen", retained_percent=96,
          baseline="expressed", baseline_said="fresh", n=12, n_kind="donors"),
    cells(id="gamma2033milk-1", study="gamma2033milk", component="lactoferrin", in_words="decrease", n=9,
    n_kind="donors"),
]  # fmt: skip


@pytest.fixture(scope="module")
def small_path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store with a small invented edition, its components, handlings and cautions the shipped ones."""
    folder = tmp_path_factory.mktemp("small")
    tables = {}
    for name in ("components", "cautions"):
        with (data_folder() / f"{name}.csv").open(encoding="utf-8", newline="") as file:
            tables[name] = [row | ({"guidance": ""} if name == "cautions" else {}) for row in csv.DictReader(file)]
    return passing_for_shipped(folder, "2031-05-01", measurements=ROWS, **tables)


@pytest.fixture(scope="module")
def built(small_path: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("pages") / "sheets"
    assert main(["build", "--language", "all", "--out", str(out), "--store", str(small_path), "--workers", "1"]) == 0
    return out


def _folder(built: Path, language: str) -> Path:
    return built if language == "en" else built / language


def _said(page: Path) -> str:
    text = re.sub(r"<(script|style).*?</\1>", "", page.read_text(encoding="utf-8"), flags=re.DOTALL)
    return html.unescape(re.sub(r"<[^>]+>", " ", text))


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_page_says_its_language_and_every_pdf_too(built: Path, language: str) -> None:
    pages = sorted(_folder(built, language).glob("*.html"))
    assert len(pages) > 10
    for page in pages:
        assert f'<html lang="{language}">' in page.read_text(encoding="utf-8"), page.name
    for path in sorted(_folder(built, language).glob("*.pdf")):
        assert PdfReader(path).trailer["/Root"]["/Lang"] == language, path.name


@pytest.mark.parametrize("language", LANGUAGES)
def test_sheets_and_list_lead_to_their_twins(built: Path, language: str) -> None:
    folder = _folder(built, language)
    for name in ("index.html", "vitamin-c.html", "total-fat.html"):
        links = re.findall(r'<a href="([^"]+)" lang="(\w+)" hreflang="(\w+)">', (folder / name).read_text("utf-8"))
        assert {code for _, code, _ in links} == set(LANGUAGES) - {language}
        for address, code, target in links:
            there = (folder / address).resolve()
            assert code == target and there.is_file() and f'<html lang="{code}">' in there.read_text(encoding="utf-8")


def test_an_unbranded_page_goes_out_alone(small_path: Path, tmp_path: Path) -> None:
    out = tmp_path / "sheets"
    options = ["--unbranded", "--language", "all", "--workers", "1", "--store", str(small_path), "--out", str(out)]
    assert main(["build", *options]) == 0
    assert "hreflang" not in (out / "fr" / "vitamin-c-unbranded.html").read_text(encoding="utf-8")


def test_the_answer_is_told_with_its_comparison_in_each_language(built: Path) -> None:
    french, spanish = (_said(_folder(built, language) / "vitamin-c.html") for language in ("fr", "es"))
    assert re.search(
        r"environ 70 parts sur 100 de vitamine C après lyophilisation[^.]*par rapport au même lait", french
    )
    assert re.search(r"cerca de 70 de cada 100 partes de vitamina C tras la liofilización[^.]*en comparación", spanish)
    assert "Vitamine C\u00a0: ce qui reste" in french  # a colon never begins a line
    assert "1er mai 2031" in french and "1 de mayo de 2031" in spanish
    fat = _said(_folder(built, "fr") / "total-fat.html")
    assert re.search(r"environ 96 parts sur 100 de matières grasses[^.]*par rapport au lait frais", fat)


@pytest.mark.parametrize("language", ["fr", "es"])
def test_no_english_of_ours_is_left_on_a_page(built: Path, language: str) -> None:
    ours = re.compile(r"\b(?:the|of|with|which|milk|study|studies|how|what|compared|still there|no answer)\b")
    quoted = re.compile(r'<cite.*?</cite>|<[^>]+ lang="en".*?</\w+>|<td[^>]*>[^<]*\.toml[^<]*</td>', re.DOTALL)
    for name in (
        "index",
        "vitamin-c",
        "total-fat",
        "lactoferrin",
        "measurements",
        "study-alpha2031milk",
        "calibration",
    ):
        page = _folder(built, language) / f"{name}.html"
        text = quoted.sub("", page.read_text(encoding="utf-8"))
        text = re.sub(r"<(script|style).*?</\1>", "", text, flags=re.DOTALL)
        left = [part.strip() for part in re.split(r"<[^>]+>", html.unescape(text)) if ours.search(part)]
        assert left == [], (name, left[:5])


def test_no_page_depends_on_the_machines_language(small_path: Path, tmp_path: Path) -> None:
    made = []
    for place, locale in enumerate(("C.UTF-8", "es_ES.UTF-8")):
        out = tmp_path / str(place)
        environment = os.environ | {"LC_ALL": locale, "LANG": locale, "LANGUAGE": locale[:2], "TZ": "Asia/Tokyo"}
        command = ["build", "--language", "fr", "--out", str(out), "--store", str(small_path), "--workers", "1"]
        subprocess.run([sys.executable, "-m", "reports", *command], env=environment, check=True, capture_output=True)
        made.append(
            {path.name: path.read_bytes() for path in sorted(out.iterdir()) if path.suffix in (".html", ".pdf")}
        )
    assert made[0] == made[1] and len(made[0]) > 10
