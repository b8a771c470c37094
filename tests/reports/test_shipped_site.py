"""The pages of the shipped evidence, built once and read as a parent, a clinician and a browser would."""

from __future__ import annotations

import hashlib
import html
import re
from dataclasses import dataclass
from pathlib import Path

import pytest
from pypdf import PdfReader

from evidence.model.tables import Measurement, Study
from evidence.store import Store
from evidence.store.reading import all_rows
from reports.site.build import write_site
from reports.site.compose import Site, compose_site
from reports.words.references import reference_line
from tests.reports.browser import in_browser

# the kinds of sheet: a figure, words only, nothing published on drying, germs, a rise nobody wants
KINDS = ("vitamin-c", "total-fat", "folate", "total-bacteria", "free-fatty-acids")
MOST_PDF_BYTES = 500_000


@dataclass(frozen=True)
class Built:
    site: Site
    folder: Path


@pytest.fixture(scope="module")
def built(shipped_store: Store, tmp_path_factory: pytest.TempPathFactory) -> Built:
    site = compose_site(shipped_store)
    folder = tmp_path_factory.mktemp("site") / "sheets"
    write_site(folder, site.pages, site.index, site.evidence, site.texts)
    return Built(site, folder)


def page(built: Built, name: str) -> str:
    return (built.folder / f"{name}.html").read_text(encoding="utf-8")


def shown(text: str) -> str:
    return html.unescape(re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", text)))


def test_every_component_measured_after_drying_or_freezing_has_a_sheet_as_html_and_pdf(
    built: Built, shipped_store: Store
) -> None:
    steps = ("freeze-dried", "spray-dried", "frozen", "kept")
    wanted = {
        row.component for row in all_rows(shipped_store, Measurement) if any(step in row.handling for step in steps)
    }
    assert {sheet.slug for sheet in built.site.sheets} == wanted
    for slug in wanted:
        assert (built.folder / f"{slug}.html").exists()
        assert (built.folder / f"{slug}.pdf").exists()


def test_every_sheet_carries_every_caution_and_the_makers_interest_on_both_media(built: Built) -> None:
    for sheet in built.site.sheets:
        text = shown(page(built, sheet.slug))
        for caution in sheet.keeping_safe:
            assert caution in text, (sheet.slug, caution)
        assert sheet.foot.interest in text
    for slug in KINDS:
        printed = " ".join(PdfReader(built.folder / f"{slug}.pdf").pages[n].extract_text() for n in range(2))
        flat = re.sub(r"\s+", " ", printed)
        sheet = next(sheet for sheet in built.site.sheets if sheet.slug == slug)
        for caution in sheet.keeping_safe:
            assert caution in flat, (slug, caution)


def test_a_number_of_parts_never_stands_in_a_sentence_without_its_comparison(built: Built) -> None:
    number = re.compile(r"\d+ (of every 100|parts|for every 100|of 100)")
    for sheet in built.site.sheets:
        for answer in sheet.answers:
            lead = [text for text in answer.sentences if number.search(text)]
            for text in lead[:1] + list(answer.more):
                if number.search(text):
                    assert "compared with" in text or "against" in text, (sheet.slug, text)


def test_every_study_named_in_a_table_is_a_numbered_source_with_its_link_where_one_is_known(built: Built) -> None:
    for sheet in built.site.sheets:
        numbers = {source.number for source in sheet.sources}
        cited = {row.source_number for block in sheet.clinician for row in block.rows}
        assert cited <= numbers, sheet.slug
        text = page(built, sheet.slug)
        for source in sheet.sources:
            if source.doi:
                assert f"https://doi.org/{source.doi.split('/')[0]}/" in text, (sheet.slug, source.doi)


def test_papers_that_have_not_been_identified_are_cited_on_no_sheet(built: Built, shipped_store: Store) -> None:
    unknown = {
        reference_line(study) for study in all_rows(shipped_store, Study) if study.completeness == "unidentified"
    }
    assert unknown
    for sheet in built.site.sheets:
        assert not unknown & {source.text for source in sheet.sources}, sheet.slug


def test_vitamin_c_says_what_the_paper_says(built: Built) -> None:
    # Martysiak-Zurowska and others 2020, abstract: five women, vitamin C fell by 31 % on freeze-drying
    text = shown(page(built, "vitamin-c"))
    assert "One study of five mothers found about 69 of every 100 parts of vitamin C still there" in text
    assert "fresh or frozen: not stated" in text


def test_every_link_between_pages_leads_somewhere(built: Built) -> None:
    names = {path.name for path in built.folder.iterdir()}
    for path in built.folder.glob("*.html"):
        for target in re.findall(r'href="([^"#:]+)(?:#[^"]*)?"', path.read_text(encoding="utf-8")):
            assert target in names, (path.name, target)


def test_each_printed_sheet_stays_under_half_a_megabyte(built: Built) -> None:
    for path in built.folder.glob("*.pdf"):
        if path.stem != "dossier":  # the whole of an edition, with a limit of its own in test_dossier
            assert path.stat().st_size < MOST_PDF_BYTES, path.name


def test_the_same_evidence_gives_the_same_bytes_with_one_process_as_with_several(built: Built, tmp_path: Path) -> None:
    sheets = [sheet for sheet in built.site.sheets if sheet.slug in KINDS]
    index = built.site.index.__class__(
        **{**built.site.index.__dict__, "entries": tuple(e for e in built.site.index.entries if e.slug in KINDS)}
    )
    write_site(tmp_path / "again", sheets, index, built.site.evidence, workers=1)
    for name in [*(f"{slug}.{ending}" for slug in KINDS for ending in ("html", "pdf")), "measurements.html"]:
        one, other = (
            hashlib.sha256((folder / name).read_bytes()).hexdigest() for folder in (built.folder, tmp_path / "again")
        )
        assert one == other, name


@pytest.mark.parametrize(
    "name", [*KINDS, "index", "measurements", "reading-list", "calibration", "study-castroalbarran2016spray"]
)
def test_no_page_scrolls_sideways_on_a_narrow_phone(built: Built, tmp_path: Path, name: str) -> None:
    assert in_browser(page(built, name), "return page.documentElement.scrollWidth;", tmp_path, width=320) <= 320


def test_the_table_holds_every_measurement_without_a_script(built: Built, shipped_store: Store) -> None:
    text = page(built, "measurements")
    for row in all_rows(shipped_store, Measurement):
        assert f'id="{row.id}"' in text, row.id


def test_the_table_can_be_searched_and_filtered_in_a_browser(
    built: Built, shipped_store: Store, tmp_path: Path
) -> None:
    script = """
    const q = page.getElementById("q"), pick = page.getElementById("class");
    const count = () => page.querySelectorAll("#list tbody tr:not(.group):not([hidden])").length;
    const all = count();
    pick.value = "fresh"; pick.dispatchEvent(new view.Event("change"));
    const fresh = count();
    q.value = "lactoferrin"; page.getElementById("find").dispatchEvent(new view.Event("submit", {cancelable: true}));
    return [all, fresh, count(), page.getElementById("count").textContent];
    """
    rows = all_rows(shipped_store, Measurement)
    every, fresh, both, said = in_browser(page(built, "measurements"), script, tmp_path, width=1280)
    assert every == len(rows)
    assert fresh == sum(row.baseline_class == "fresh" for row in rows)
    assert 0 < both < fresh
    assert str(both) in said


def test_side_one_stays_short(built: Built) -> None:
    """PAGES aims at 250 words for side 1; the cautions alone are over a hundred, so no sheet may pass 450."""
    for sheet in built.site.sheets:
        words = [sheet.title, sheet.what_it_does, sheet.from_fresh, sheet.foot.interest]
        for answer in sheet.answers:
            words += [answer.heading, *answer.sentences, answer.how_sure, answer.own_milk, answer.compared_with]
            words += answer.more
        words += [*sheet.more_or_less, *sheet.nobody_knows, *sheet.keeping_safe, *sheet.what_to_do]
        assert sum(len(text.split()) for text in words) <= 450, sheet.slug
