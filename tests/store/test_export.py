"""The open package: what the store holds, in open formats; read again it is the same evidence."""

from __future__ import annotations

import csv
import json
import re
import shutil
import zipfile
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import openpyxl
import pytest
import rispy
from frictionless import Package

from evidence.findings.adding import add_spreadsheet
from evidence.intake.bundle import read_shipped
from evidence.intake.references import read_references
from evidence.intake.template import MEASUREMENTS, STUDY
from evidence.model.problems import InputProblems
from evidence.model.rules import load_rules
from evidence.model.shipped import bibliography_folder, data_folder
from evidence.model.workbook import put_text
from evidence.store import Imported, Store, import_rows, open_store
from evidence.store.exporting import Exported, export_package
from evidence.store.reading import edition
from tests.spreadsheets import KEY, filled, put

# text that a spreadsheet program would run, and text that a table, a query or a bibliography could trip over
NASTY = ['=HYPERLINK("http://example.org")', "+1+1", "-1+1", "@SUM(A1)", "'; DROP TABLE study; --", 'say "so", twice',
         "one\ntwo", "100 % & más – 母乳", "_x0041_"]  # fmt: skip


def heading_of(path: Path) -> list[str]:
    """The columns of a table, whether or not it has rows."""
    with path.open(encoding="utf-8", newline="") as file:
        return next(csv.reader(file))


@pytest.fixture(scope="session")
def package(shipped_store: Store, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("export") / "package"
    export_package(shipped_store, folder)
    return folder


def read_again(folder: Path, store: Store) -> Imported:
    bundle = read_shipped(folder / "data", folder / "bibliography")
    stamp = {"origin": "shipped 1", "edition_name": "1", "evidence_of": "2026-11-25"}
    return import_rows(store, bundle.tables, load_rules(), **stamp)


def hash_of(store: Store) -> str:
    there = edition(store)
    assert there is not None
    return there.hash


@cache
def references_of(path: Path) -> list[dict[str, str]]:
    return read_references(path)


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_export_then_import_gives_the_same_evidence_hash(package: Path, shipped_store: Store, store: Store) -> None:
    assert read_again(package, store).edition == hash_of(shipped_store)


def test_both_databases_export_the_same_bytes(package: Path, postgres_url: str, tmp_path: Path) -> None:
    opened = open_store(postgres_url)
    read_again(package, opened)
    export_package(opened, tmp_path / "again")
    opened.close()
    files = [path.relative_to(package) for path in package.rglob("*") if path.is_file() and path.suffix != ".xlsx"]
    assert len(files) > 20
    for path in files:
        if path.name != "datapackage.json":
            assert (tmp_path / "again" / path).read_bytes() == (package / path).read_bytes(), path


def _tables() -> list[str]:
    raw = json.loads((data_folder() / "datapackage.json").read_text(encoding="utf-8"))
    return [str(resource["path"]) for resource in raw["resources"]]


@pytest.mark.parametrize("name", _tables())
def test_every_table_comes_out_as_it_went_in(package: Path, name: str) -> None:
    shipped, exported = rows_of(data_folder() / name), rows_of(package / "data" / name)
    assert exported == shipped
    assert heading_of(package / "data" / name) == heading_of(data_folder() / name)


def test_bibtex_comes_out_as_it_went_in(package: Path) -> None:
    for path in bibliography_folder().glob("*.bib"):
        assert references_of(package / "bibliography" / path.name) == references_of(path)


def test_the_rules_travel_with_the_tables_and_the_invented_demo_does_not(package: Path) -> None:
    for name in ("rules.toml", "edition.toml", "README.md", "vocabulary/steps.csv"):
        assert (package / "data" / name).read_bytes() == (data_folder() / name).read_bytes()
    assert not (package / "data" / "demo").exists()


@pytest.mark.parametrize("which", ["shipped", "exported"])
def test_frictionless_finds_the_package_valid(which: str, package: Path) -> None:
    folder = data_folder() if which == "shipped" else package / "data"
    report = Package(str(folder / "datapackage.json")).validate()
    assert report.valid, report.flatten(["type", "message"])
    assert report.stats["tasks"] == len(_tables())


def test_frictionless_would_find_a_wrong_word(package: Path, tmp_path: Path) -> None:
    shutil.copytree(package, tmp_path / "broken")
    path = tmp_path / "broken" / "data" / "overlaps.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("certain", "sure", 1), encoding="utf-8")
    rows = rows_of(path)
    rows[0]["certainty"] = "quite"
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    assert not Package(str(tmp_path / "broken" / "data" / "datapackage.json")).validate().valid


# RIS, tag list of 2011: two letters or digits, two spaces, a hyphen, a space; TY first, ER last (from memory of the
# format's description; rispy reads by the same list)
RIS_LINE = re.compile(r"[A-Z][A-Z0-9]  - .*")


@pytest.mark.parametrize("name", ["studies", "guidance"])
def test_ris_holds_every_reference_by_its_public_rules(package: Path, name: str) -> None:
    text = (package / "bibliography" / f"{name}.ris").read_bytes().decode("utf-8")
    assert "\n" not in text.replace("\r\n", "")
    lines = [line for line in text.split("\r\n") if line]
    assert all(RIS_LINE.fullmatch(line) for line in lines)
    records = "\n".join(lines).split("ER  - ")
    assert records.pop().strip() == "" and all(record.strip().startswith("TY  - ") for record in records)
    entries = references_of(package / "bibliography" / f"{name}.bib")
    read = {each["id"]: each for each in rispy.loads(text)}
    assert set(read) == {entry["ID"] for entry in entries}
    for entry in entries:
        record = read[entry["ID"]]
        assert record.get("doi", "") == entry.get("doi", "")
        assert record.get("year", "") == entry.get("year", "")
        assert record.get("secondary_title", "") == entry.get("journal", entry.get("booktitle", ""))
        assert len(record["authors"]) == 1 + len(re.findall(r" and (?![^{]*\})", entry["author"]))


# CSL-JSON 1.0.2 (schema csl-data of the Citation Style Language, read 2026-11): which names and types may stand
CSL_TYPES = {"article-journal", "book", "chapter", "document", "paper-conference", "report", "thesis", "webpage"}
CSL_TEXT = {"title", "container-title", "publisher", "volume", "issue", "page", "language", "keyword", "note", "DOI",
            "PMID", "URL", "id", "type"}  # fmt: skip
CSL_NAME = {"family", "given", "literal"}


def _csl_faults(item: dict[str, Any]) -> Iterator[str]:
    if not {"id", "type"} <= set(item) or item["type"] not in CSL_TYPES:
        yield f"{item.get('id')}: type {item.get('type')}"
    for name, value in item.items():
        if name == "author":
            if not value or not all(set(each) <= CSL_NAME and all(each.values()) for each in value):
                yield f"{item['id']}: author {value}"
        elif name == "issued":
            if not (set(value) == {"date-parts"} and isinstance(value["date-parts"][0][0], int)):
                yield f"{item['id']}: issued {value}"
        elif name not in CSL_TEXT or not isinstance(value, str) or not value or "{" in value:
            yield f"{item['id']}: {name} {value}"


@pytest.mark.parametrize("name", ["studies", "guidance", "methods"])
def test_csl_json_holds_every_reference_by_its_public_schema(package: Path, name: str) -> None:
    items = json.loads((package / "bibliography" / f"{name}.csl.json").read_text(encoding="utf-8"))
    assert [fault for item in items for fault in _csl_faults(item)] == []
    entries = references_of(package / "bibliography" / f"{name}.bib")
    assert [(item["id"], item.get("DOI", ""), item.get("PMID", "")) for item in items] == [
        (entry["ID"], entry.get("doi", ""), entry.get("pmid", "")) for entry in entries
    ]


def test_a_paper_nobody_has_identified_says_so_in_every_format(package: Path) -> None:
    entries = references_of(package / "bibliography" / "studies.bib")
    key = next(entry["ID"] for entry in entries if entry.get("completeness") == "unidentified")
    items = json.loads((package / "bibliography" / "studies.csl.json").read_text(encoding="utf-8"))
    assert "not to be cited" in next(item["note"] for item in items if item["id"] == key)
    records = rispy.loads((package / "bibliography" / "studies.ris").read_text(encoding="utf-8"))
    assert "not to be cited" in " ".join(next(each["notes"] for each in records if each["id"] == key))


def test_the_spreadsheet_has_a_sheet_for_each_table_with_headings_that_stay_and_filters(package: Path) -> None:
    book = openpyxl.load_workbook(package / "evidence.xlsx")
    names = [Path(name).stem for name in _tables()]
    assert book.sheetnames == ["Read me", *names, "studies"]
    for name in names:
        page, rows = book[name], rows_of(package / "data" / f"{name}.csv")
        assert page.freeze_panes == "B2" and page.auto_filter.ref.startswith("A1:")
        assert page.max_row == len(rows) + 1
        assert [cell.value for cell in page[1]] == heading_of(package / "data" / f"{name}.csv")
        for row in rows[:1]:
            assert ["" if cell.value is None else str(cell.value) for cell in page[2]] == list(row.values())
    about = {row[0].value: row[1].value for row in book["Read me"].iter_rows(max_row=6, max_col=2)}
    assert len(about["Evidence hash"]) == 64


def _formulas(path: Path) -> list[str]:
    with zipfile.ZipFile(path) as archive:
        sheets = [name for name in archive.namelist() if name.startswith("xl/worksheets/")]
        return [name for name in sheets if re.search(rb"<f[ >/]", archive.read(name))]


def test_no_cell_of_the_spreadsheet_is_a_formula(package: Path) -> None:
    assert _formulas(package / "evidence.xlsx") == []


def _nasty(book: openpyxl.Workbook) -> None:
    """Make a paper and a row of each nasty text."""
    for number, text in enumerate(NASTY):
        key, row = f"testpaper20{31 + number}freeze", number + 2
        for sheet in (STUDY, MEASUREMENTS):
            for cell in book[sheet][2]:
                put_text(book[sheet].cell(row, cell.column), str(cell.value or ""))
        put(book, "key", row, key, STUDY)
        put(book, "title", row, text.replace("\n", " "), STUDY, as_text=True)
        put(book, "study", row, key)
        put(book, "id", row, f"{key}-2")
        put(book, "notes", row, text, as_text=True)


@pytest.fixture(scope="session")
def own_store(shipped_path: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """A store with papers of the user's own, whose texts are as nasty as can be."""
    folder = tmp_path_factory.mktemp("own")
    shutil.copyfile(shipped_path, folder / "own.sqlite")
    opened = open_store(str(folder / "own.sqlite"))
    add_spreadsheet(opened, filled(folder / "own.xlsx", _nasty), by="Ann")
    yield opened
    opened.close()


@pytest.fixture(scope="session")
def own_export(own_store: Store, tmp_path_factory: pytest.TempPathFactory) -> Exported:
    return export_package(own_store, tmp_path_factory.mktemp("own-export") / "package")


def test_own_rows_are_exported_whole_and_what_looks_like_a_formula_stays_text(own_export: Exported) -> None:
    data = own_export.folder / "data"
    notes = {row["id"]: row["notes"] for row in rows_of(data / "measurements.csv")}
    titles = {
        entry["ID"]: entry["title"] for entry in read_references(own_export.folder / "bibliography" / "studies.bib")
    }
    book = openpyxl.load_workbook(own_export.folder / "evidence.xlsx")
    cells = {row[0].value: row[-1] for row in book["measurements"].iter_rows(min_row=2)}
    assert _formulas(own_export.folder / "evidence.xlsx") == []
    for number, text in enumerate(NASTY):
        key = f"testpaper20{31 + number}freeze"
        assert notes[f"{key}-2"] == text
        assert titles[key] == text.replace("\n", " ")
        assert cells[f"{key}-2"].data_type == "s"
        assert str(cells[f"{key}-2"].value).replace("_x005F_", "_") == text
    origins = rows_of(data / "origins.csv")
    assert own_export.own_rows == len(origins) and {row["origin"].split(" ")[1] for row in origins} == {"Ann"}
    assert {row["key"] for row in origins if row["table"] == "study"} == {
        f"testpaper20{31 + number}freeze" for number in range(len(NASTY))
    }
    assert Package(str(data / "datapackage.json")).validate().valid


def test_a_store_with_own_rows_comes_back_with_the_same_hash(
    own_export: Exported, own_store: Store, store: Store
) -> None:
    assert read_again(own_export.folder, store).edition == own_export.edition == hash_of(own_store)


def test_an_earlier_export_is_replaced_whole(shipped_store: Store, package: Path, tmp_path: Path) -> None:
    folder = tmp_path / "package"
    shutil.copytree(package, folder)
    (folder / "data" / "left-over.csv").write_text("a\n", encoding="utf-8")
    export_package(shipped_store, folder)
    assert not (folder / "data" / "left-over.csv").exists()
    assert [path.name for path in tmp_path.iterdir()] == ["package"]


@pytest.mark.parametrize("there", ["letters.txt", "data/letters.txt"])
def test_a_folder_that_holds_something_else_is_left_alone(shipped_store: Store, tmp_path: Path, there: str) -> None:
    (tmp_path / "mine" / there).parent.mkdir(parents=True)
    (tmp_path / "mine" / there).write_text("dear", encoding="utf-8")
    with pytest.raises(InputProblems) as caught:
        export_package(shipped_store, tmp_path / "mine")
    assert "a new or empty folder" in caught.value.problems[0].sentence()
    assert [path for path in tmp_path.rglob("*") if path.is_file()] == [tmp_path / "mine" / there]


def test_a_folder_that_cannot_be_made_is_told(shipped_store: Store, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x", encoding="utf-8")
    with pytest.raises(InputProblems) as caught:
        export_package(shipped_store, tmp_path / "file" / "package")
    assert "a folder that can be written" in caught.value.problems[0].sentence()
    assert KEY not in caught.value.problems[0].sentence()
