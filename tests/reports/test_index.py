"""The list of components and the writing of the whole site: usable without a script, complete or not written at all."""

from __future__ import annotations

import dataclasses
import os
import subprocess
import sys
from pathlib import Path

import pytest

from reports.sheets.content import SheetContent
from reports.site.build import write_site
from reports.site.index import IndexContent, render_index
from reports.site.made import MANIFEST
from tests.reports.browser import in_browser
from tests.reports.markup import read_page
from tests.reports.sample import HOSTILE, sample_index, sample_sheet

WAIT = "const wait = () => new Promise(done => view.setTimeout(done, 300));"
NAMES = """const names = () => Array.from(page.querySelectorAll("tbody tr:not(.group)"))
  .filter(row => row.offsetParent !== null).map(row => row.cells[0].textContent);"""


def _sheets(index: IndexContent) -> list[SheetContent]:
    return [dataclasses.replace(sample_sheet(), slug=entry.slug, title=entry.name) for entry in index.entries]


def _files(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in sorted(folder.iterdir())}


def test_without_a_script_every_component_stands_with_its_answers_and_links() -> None:
    index = sample_index(9)
    page = read_page(render_index(index))
    links = {link["href"] for link in page.named("a")}
    for entry in index.entries:
        assert {f"{entry.slug}.html", f"{entry.slug}.pdf"} <= links
        assert all(text in page.words() for text in (entry.name, entry.group, entry.sure, entry.answers[0][1]))
    assert page.unclosed == []
    assert "hidden" in page.named("form")[0], "a search that cannot work without a script is not shown"


def test_the_list_prints_cautions_interest_and_edition() -> None:
    index = sample_index(3)
    words = read_page(render_index(index)).words()
    assert all(text in words for text in (*index.cautions, index.interest, index.evidence_of, index.edition))


@pytest.mark.parametrize("missing", [{"cautions": ()}, {"interest": " "}])
def test_a_list_without_cautions_or_maker_is_refused(missing: dict[str, object]) -> None:
    with pytest.raises(ValueError, match="no cautions, or does not say who made it"):
        render_index(dataclasses.replace(sample_index(1), **missing))  # type: ignore[arg-type]


def test_markup_in_a_name_stays_text() -> None:
    index = sample_index(1)
    entry = dataclasses.replace(index.entries[0], name=HOSTILE, synonyms=(HOSTILE,), group=HOSTILE)
    page = read_page(render_index(dataclasses.replace(index, entries=(entry,), title=HOSTILE)))
    assert len(page.named("script")) == 1
    assert page.words().count(HOSTILE) == 4


def test_a_synonym_with_or_without_its_accent_finds_the_component(tmp_path: Path) -> None:
    script = f"""{WAIT}{NAMES}
    const input = page.getElementById("q"), found = [];
    for (const asked of ["examplina e4", "EXÁMPLINA E4", "no such thing", ""]) {{
      input.value = asked; input.dispatchEvent(new view.Event("input")); await wait();
      found.push([names(), page.getElementById("count").textContent]);
    }}
    return found"""
    plain, accented, nothing, all_again = in_browser(render_index(sample_index(9)), script, tmp_path, width=1000)
    assert plain == accented == [["Examplin 4"], "1 of 9 shown"]
    assert nothing == [[], "0 of 9 shown"]
    assert len(all_again[0]) == 9


def test_the_count_is_announced_politely() -> None:
    (status,) = [tag for tag in read_page(render_index(sample_index(2))).named("p") if tag.get("id") == "count"]
    assert (status["role"], status["aria-live"]) == ("status", "polite")


def test_a_column_sorts_up_then_down_then_back_into_groups(tmp_path: Path) -> None:
    script = f"""{NAMES}
    const heads = page.querySelectorAll("thead th"), seen = [];
    for (let turn = 0; turn < 3; turn += 1) {{
      heads[0].querySelector("button").click(); seen.push([names(), heads[0].getAttribute("aria-sort")]);
    }}
    return seen"""
    names = [entry.name for entry in sample_index(12).entries]
    up, down, back = in_browser(render_index(sample_index(12)), script, tmp_path, width=1000)
    assert up == [names, "ascending"], "Examplin 10 comes after Examplin 9"
    assert down == [names[::-1], "descending"]
    assert back == [names, None]


def test_how_sure_sorts_by_sureness_and_not_by_letter(tmp_path: Path) -> None:
    script = """const head = page.querySelectorAll("thead th")[3]; head.querySelector("button").click();
    return Array.from(page.querySelectorAll("tbody tr:not(.group)")).map(row => row.cells[3].textContent)"""
    assert in_browser(render_index(sample_index(5)), script, tmp_path, width=1000) == [
        "sure",
        "fairly sure",
        "not sure",
        "hardly known",
        "",
    ]


@pytest.mark.parametrize("count", [1, 150])
def test_nothing_scrolls_sideways_on_a_phone_of_320_pixels(count: int, tmp_path: Path) -> None:
    script = "return [view.innerWidth, page.documentElement.scrollWidth]"
    assert in_browser(render_index(sample_index(count)), script, tmp_path) == [320, 320]


def test_a_list_of_150_components_is_under_a_hundred_kilobytes() -> None:
    assert len(render_index(sample_index(150)).encode()) < 100_000


def test_the_site_is_the_same_bytes_whatever_the_number_of_workers(tmp_path: Path) -> None:
    index = sample_index(5)
    seen: list[tuple[int, int]] = []
    written = write_site(tmp_path / "one", _sheets(index), index, workers=1)
    write_site(
        tmp_path / "two", _sheets(index), index, workers=2, progress=lambda done, all_: seen.append((done, all_))
    )
    files = _files(tmp_path / "one")
    assert files == _files(tmp_path / "two")
    pages = [made for name, made in files.items() if name != MANIFEST]
    assert (written.pages, written.bytes) == (11, sum(map(len, pages)))
    assert seen == [(1, 5), (2, 5), (3, 5), (4, 5), (5, 5)]


def test_every_link_on_the_list_leads_to_a_file(tmp_path: Path) -> None:
    index = sample_index(2)
    write_site(tmp_path / "site", _sheets(index), index, workers=1)
    links = [link["href"] for link in read_page(render_index(index)).named("a")]
    assert all((tmp_path / "site" / link).exists() for link in links if not link.startswith("#"))


def test_an_accident_on_the_way_leaves_the_old_site_and_no_rubbish(tmp_path: Path) -> None:
    index = sample_index(2)
    write_site(tmp_path / "site", _sheets(index), index, workers=1)
    before = _files(tmp_path / "site")

    def stumble(done: int, _: int) -> None:
        if done == 2:
            raise RuntimeError("the light went out")

    changed = [dataclasses.replace(sheet, title="Changed") for sheet in _sheets(index)]
    with pytest.raises(RuntimeError, match="light"):
        write_site(tmp_path / "site", changed, index, workers=1, progress=stumble)
    assert _files(tmp_path / "site") == before
    assert [path.name for path in tmp_path.iterdir()] == ["site"]


def test_all_that_is_wrong_is_said_at_once_and_nothing_is_written(tmp_path: Path) -> None:
    index = sample_index(2)
    good, _ = _sheets(index)
    bad = dataclasses.replace(good, slug="other", keeping_safe=())
    with pytest.raises(ValueError, match="Nothing was written") as refused:
        write_site(tmp_path / "site", [good, good, bad, dataclasses.replace(good, slug="index")], index)
    said = str(refused.value)
    assert all(reason in said for reason in ("no cautions", '2 pages have the file name "examplin"', '"index"'))
    assert 'names "examplin-1"' in said
    assert list(tmp_path.iterdir()) == []


def test_a_file_where_the_folder_should_be_is_refused(tmp_path: Path) -> None:
    (tmp_path / "site").write_text("a note", encoding="utf-8")
    with pytest.raises(ValueError, match="is a file"):
        write_site(tmp_path / "site", _sheets(sample_index(1)), sample_index(1))
    assert (tmp_path / "site").read_text(encoding="utf-8") == "a note"


def test_pages_of_an_earlier_edition_are_left_and_named(tmp_path: Path) -> None:
    index = sample_index(1)
    (tmp_path / "site").mkdir()
    (tmp_path / "site" / "withdrawn.html").write_text("old", encoding="utf-8")
    written = write_site(tmp_path / "site", _sheets(index), index, workers=1)
    assert written.others == ("withdrawn.html",)
    assert (tmp_path / "site" / "withdrawn.html").read_text(encoding="utf-8") == "old"


def test_a_twin_without_brand_stands_beside_its_sheet(tmp_path: Path) -> None:
    index = sample_index(1)
    (sheet,) = _sheets(index)
    write_site(tmp_path / "site", [sheet, dataclasses.replace(sheet, unbranded=True)], index, workers=1)
    assert {"examplin.html", "examplin-unbranded.html", "examplin-unbranded.pdf"} <= set(_files(tmp_path / "site"))


def test_reading_the_module_loads_no_typesetter_and_no_drawing_library() -> None:
    code = (
        "import reports.site.build, sys; "
        "print(sorted({'matplotlib', 'typst', 'jinja2', 'pandas', 'scipy'} & set(sys.modules)))"
    )
    root = Path(__file__).parents[2]
    environment = os.environ | {"PYTHONPATH": str(root)}
    told = subprocess.run(
        [sys.executable, "-c", code], cwd=root, capture_output=True, text=True, env=environment, check=True
    )
    assert told.stdout.strip() == "[]"
