"""whatstays sheet: one page for one client's milk, the same for the same path, and nothing about whose it is."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from evidence.model.rules import load_rules
from reports.command.main import INPUT, NO_ANSWER, main, make_parser
from tests.reports.markup import read_page

CHAIN = "expressed > frozen -20C 60d > thawed > freeze-dried > kept 22C 120d > reconstituted"
MASSES = ("--mass-in", "4800g", "--mass-out", "560g", "--bag", "15g")


@pytest.fixture
def make(shipped_path: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Any:
    """Run the command on the shipped evidence and return exit status, the files it wrote and its complaints."""

    def run(*words: str, out: str = "out") -> tuple[int, dict[str, bytes], str]:
        status = main(["sheet", *words, "--store", str(shipped_path), "--out", str(tmp_path / out)])
        files = {path.name: path.read_bytes() for path in sorted((tmp_path / out).glob("*"))}
        return status, files, capsys.readouterr().err

    return run


def _page(files: dict[str, bytes]) -> str:
    (html,) = (text for name, text in files.items() if name.endswith(".html"))
    return html.decode()


def _print(files: dict[str, bytes], folder: Path) -> PdfReader:
    (made,) = (data for name, data in files.items() if name.endswith(".pdf"))
    (folder / "page.pdf").write_bytes(made)
    return PdfReader(folder / "page.pdf")


def test_a_clients_milk_gets_one_page_with_its_steps_eight_parts_and_water_for_a_bag(make: Any, tmp_path: Path) -> None:
    status, files, _ = make("--path", CHAIN, "--batch", "2026-117", *MASSES)
    assert status == 0
    assert {name.rsplit(".", 1)[1] for name in files} == {"html", "pdf"}
    page = read_page(_page(files))
    words = page.words()
    assert page.unclosed == []
    for name in ("Vitamin C:", "Fat:", "Protein:", "Energy:", "Lactoferrin:", "Lysozyme:", "IgA antibodies:"):
        assert name in words
    assert len(page.named("svg")) == len(load_rules().path.most_asked) == 8
    assert all(picture["role"] == "img" and picture["aria-label"] for picture in page.named("svg"))
    # 15 g x (4800 / 560 - 1) = 113.57 g by hand
    assert "114 g of water" in words and "hygiene rules of your local authority come first" in words
    assert "Nobody has measured this milk itself" in words and "Batch 2026-117" in words
    assert "Drying does not make milk sterile" in words and "gains if you think well of drying" in words
    paper = _print(files, tmp_path)
    assert len(paper.pages) == 1
    printed = " ".join((paper.pages[0].extract_text() or "").split())
    assert "114 g of water" in printed and "Drying does not make milk sterile" in printed
    assert "edition" in printed


@pytest.mark.parametrize(
    "chain",
    [
        "expressed > freeze-dried",
        "expressed > frozen -20C 9d > thawed",
        "expressed > chilled 4C 2d > frozen -20C 300d > thawed > chilled 4C 1d > pasteurised holder 62.5C 30min > "
        "frozen -20C 30d > thawed > freeze-dried > kept 35C 400d > reconstituted",
    ],
)
def test_short_and_long_paths_stay_on_one_page(make: Any, tmp_path: Path, chain: str) -> None:
    _, files, _ = make("--path", chain, "--batch", "a batch with a long name of 40 letters", *MASSES)
    assert len(_print(files, tmp_path).pages) == 1


def test_the_same_path_gives_the_same_bytes(make: Any) -> None:
    assert make("--path", CHAIN, "--batch", "7")[1] == make("--path", CHAIN, "--batch", "7", out="again")[1]


def test_other_milk_gets_another_file(make: Any) -> None:
    make("--path", CHAIN, "--batch", "7")
    make("--path", CHAIN, "--batch", "8")
    assert len(make("--path", "expressed > freeze-dried", "--batch", "8")[1]) == 6


@pytest.mark.parametrize("language", ["fr", "es"])
def test_the_page_speaks_the_readers_language_on_one_page(make: Any, tmp_path: Path, language: str) -> None:
    _, files, _ = make("--path", CHAIN, *MASSES, "--lang", language)
    page = read_page(_page(files))
    assert page.named("html")[0]["lang"] == language
    assert "Drying does not make milk sterile" not in page.words() and "fits" not in page.words()
    assert len(_print(files, tmp_path).pages) == 1


def test_a_service_dresses_the_page_and_an_unbranded_twin_stays_bare(make: Any, tmp_path: Path) -> None:
    main(["start", str(tmp_path / "mine"), "--name", "Alder Milk House", "--yes"])
    settings = ("--settings", str(tmp_path / "mine" / "whatstays.toml"))
    branded = read_page(_page(make("--path", CHAIN, *MASSES, *settings)[1])).words()
    assert "Alder Milk House" in branded and "gains if you think well of drying" in branded
    bare = read_page(_page(make("--path", CHAIN, "--unbranded", *settings, out="bare")[1])).words()
    assert "Alder Milk House" not in bare


def test_without_masses_there_is_no_water(make: Any) -> None:
    page = _page(make("--path", CHAIN)[1])
    assert "of water" not in page and "Water for one bag" not in page


def test_the_twin_without_a_brand_links_nowhere_and_says_so(make: Any) -> None:
    status, files, _ = make("--path", CHAIN, "--unbranded")
    assert status == 0 and all("-unbranded." in name for name in files)
    page = read_page(_page(files))
    assert "it carries no service's name" in page.words()
    assert "index.html" not in {link.get("href") for link in page.named("a")}


def test_all_that_is_wrong_is_told_at_once_and_nothing_is_written(make: Any) -> None:
    status, files, told = make(
        "--path", "expressed > frozzen", "--batch", "<script>", "--mass-in", "10g", "--mass-out", "20g", "--bag", "5g"
    )
    assert status == INPUT and files == {}
    assert "--path: read" in told and "Nearest known: frozen" in told
    assert "--batch: read" in told and "--mass-out: read" in told


def test_a_long_batch_is_refused(make: Any) -> None:
    assert make("--path", CHAIN, "--batch", "7" * 41)[0] == INPUT


def test_a_path_nobody_measured_is_a_page_that_says_so(make: Any) -> None:
    status, files, _ = make("--path", "expressed > light 3h")
    assert status in (0, NO_ANSWER) and "nobody has published a figure we can use" in _page(files)


def test_help_says_that_no_name_is_stored() -> None:
    (sub,) = (action for action in make_parser("sheet")._actions if action.dest == "command")
    assert sub.choices is not None
    told = " ".join(sub.choices["sheet"].format_help().split())  # type: ignore[union-attr, index, call-overload]
    assert "no client's name" in told
