"""The bibliography: every entry readable, every identifier well formed, nothing cited twice, nothing invented."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Iterable
from functools import cache
from pathlib import Path

import bibtexparser
import pytest
from bibtexparser.bibdatabase import BibDatabase
from bibtexparser.bparser import BibTexParser
from bibtexparser.bwriter import BibTexWriter

from evidence.model.lists import APPRAISAL_QUESTIONS
from evidence.model.shipped import bibliography_folder, data_folder

Entry = dict[str, str]

# Crossref's pattern for current DOIs (its blog, "DOIs and matching regular expressions", 2015; cited from memory).
DOI = re.compile(r"10\.\d{4,9}/[-._;()/:A-Za-z0-9]+")
# One to eight digits, no leading zero (NLM, MEDLINE/PubMed data element PMID; cited from memory).
PMID = re.compile(r"[1-9]\d{0,7}")
COMPLETENESS = {"full", "no identifier", "unidentified"}
NO_AUTHOR = "{Author not identified}"
FILES = sorted(bibliography_folder().glob("*.bib"))


def _parse(text: str) -> list[Entry]:
    # a crossed-out or unknown entry type must not vanish silently
    parser = BibTexParser(common_strings=True, ignore_nonstandard_types=False)
    entries: list[Entry] = bibtexparser.loads(text, parser).entries
    return entries


@cache
def _entries(path: Path) -> tuple[Entry, ...]:
    return tuple(_parse(path.read_text(encoding="utf-8")))


def _studies() -> tuple[Entry, ...]:
    return _entries(bibliography_folder() / "studies.bib")


def _rows(name: str) -> list[dict[str, str]]:
    with (data_folder() / name).open(encoding="utf-8", newline="") as lines:
        return list(csv.DictReader(lines))


def _written(text: str) -> int:
    return len(re.findall(r"^@(?!comment|preamble|string)\w+\s*\{", text, re.MULTILINE | re.IGNORECASE))


def _identifier_faults(entry: Entry) -> list[str]:
    faults = []
    if "doi" in entry and not DOI.fullmatch(entry["doi"]):
        faults.append(f"{entry['ID']}: doi {entry['doi']}")
    if "pmid" in entry and not PMID.fullmatch(entry["pmid"]):
        faults.append(f"{entry['ID']}: pmid {entry['pmid']}")
    return faults


def _state_faults(entry: Entry) -> list[str]:
    key, state = entry["ID"], entry.get("completeness", "")
    identified = "doi" in entry or "pmid" in entry
    faults = []
    if state not in COMPLETENESS:
        faults.append(f"{key}: completeness {state!r}")
    if (state == "full") != identified:
        faults.append(f"{key}: {state!r} with doi {entry.get('doi')} and pmid {entry.get('pmid')}")
    if state == "unidentified" and entry["ENTRYTYPE"] != "misc":
        faults.append(f"{key}: unidentified but @{entry['ENTRYTYPE']}")
    if "doi_unconfirmed" in entry and "doi" in entry:
        faults.append(f"{key}: a confirmed and an unconfirmed doi")
    if "doi_basis" in entry and "doi" not in entry:
        faults.append(f"{key}: says how its doi was established, but has none")
    if not entry.get("author") or not entry.get("title"):
        faults.append(f"{key}: no author or no title")
    if "year" in entry and not re.fullmatch(r"(19|20)\d\d", entry["year"]):
        faults.append(f"{key}: year {entry['year']}")
    if re.search(r"unknown|anonymous|\banon\b|n\.n\.", entry.get("author", ""), re.IGNORECASE):
        faults.append(f"{key}: author {entry['author']}, expected {NO_AUTHOR}")
    return faults


def _text_faults(entry: Entry) -> list[str]:
    # "Ã" or "â€" before another sign is UTF-8 once read as Latin-1
    spoilt = re.compile(r"\ufffd|Ã[\u0080-\u00bf]|â€|&[a-z]+;|&#\d+;|</?[a-z]+>|\s{2,}")
    return [f"{entry['ID']}: {field} {text}" for field, text in entry.items() if spoilt.search(text)]


def _repeated(entries: Iterable[Entry], field: str, same_milk: set[frozenset[str]]) -> list[str]:
    by_value: dict[str, list[str]] = {}
    for entry in entries:
        if field in entry:
            by_value.setdefault(entry[field].lower(), []).append(entry["ID"])
    return [
        f"{value}: {', '.join(keys)}"
        for value, keys in by_value.items()
        if len(keys) > 1 and frozenset(keys) not in same_milk
    ]


def _same_milk() -> set[frozenset[str]]:
    return {frozenset((row["key_a"], row["key_b"])) for row in _rows("overlaps.csv")}


def test_the_bibliography_is_there() -> None:
    assert {"studies.bib", "guidance.bib"} <= {path.name for path in FILES}


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_every_entry_written_in_a_file_is_read(path: Path) -> None:
    assert len(_entries(path)) == _written(path.read_text(encoding="utf-8")) > 0


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_writing_and_reading_again_loses_nothing(path: Path) -> None:
    before = _entries(path)
    database = BibDatabase()
    database.entries = [dict(entry) for entry in before]
    after = _parse(BibTexWriter().write(database))
    assert sorted(after, key=lambda e: e["ID"]) == sorted(before, key=lambda e: e["ID"])


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_no_key_stands_twice(path: Path) -> None:
    keys = Counter(re.findall(r"^@\w+\s*\{\s*([^,\s]+)", path.read_text(encoding="utf-8"), re.MULTILINE))
    assert [key for key, times in keys.items() if times > 1] == []


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_identifiers_are_well_formed(path: Path) -> None:
    assert [fault for entry in _entries(path) for fault in _identifier_faults(entry)] == []


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_no_text_is_spoilt(path: Path) -> None:
    assert [fault for entry in _entries(path) for fault in _text_faults(entry)] == []


def test_studies_stand_in_the_order_of_their_keys() -> None:
    keys = [entry["ID"] for entry in _studies()]
    assert keys == sorted(keys)


def test_every_study_says_how_far_it_is_identified() -> None:
    assert [fault for entry in _studies() for fault in _state_faults(entry)] == []


@pytest.mark.parametrize("field", ["doi", "pmid"])
def test_no_paper_stands_under_two_keys(field: str) -> None:
    assert _repeated(_studies(), field, _same_milk()) == []


def test_no_study_is_cited_by_the_address_of_a_copy() -> None:
    assert [e["ID"] for e in _studies() if "url" in e or any("http" in text for text in e.values())] == []


def test_every_study_and_every_review_that_rows_name_is_in_the_bibliography() -> None:
    keys = {entry["ID"] for entry in _studies()}
    rows = _rows("measurements.csv")
    named = {row["study"] for row in rows}
    named |= {row["read_from"].removeprefix("review ") for row in rows if row["read_from"].startswith("review ")}
    assert named - keys == set()


def test_every_study_with_rows_is_asked_the_seven_questions_once_each() -> None:
    asked = Counter((row["study"], row["question"]) for row in _rows("appraisals.csv"))
    studies = {row["study"] for row in _rows("measurements.csv")}
    assert set(asked) == {(study, question) for study in studies for question in APPRAISAL_QUESTIONS}
    assert max(asked.values()) == 1


def test_overlapping_studies_are_in_the_bibliography() -> None:
    keys = {entry["ID"] for entry in _studies()}
    for row in _rows("overlaps.csv"):
        assert {row["key_a"], row["key_b"]} <= keys
        assert row["key_a"] != row["key_b"]
        assert row["keep"] in (row["key_a"], row["key_b"])


def test_each_statement_of_guidance_has_its_document_and_each_document_a_statement() -> None:
    documents = {entry["ID"] for entry in _entries(bibliography_folder() / "guidance.bib")}
    assert {row["bib_key"] for row in _rows("guidance.csv")} == documents


def test_each_caution_rests_on_guidance_that_is_there_and_quotes_no_figure() -> None:
    statements = {row["id"] for row in _rows("guidance.csv")}
    for row in _rows("cautions.csv"):
        rests_on = set(row["guidance"].split(";"))
        assert rests_on <= statements
        assert not re.search(r"\d", row["text_en"])
        assert len(row["text_en"].split()) <= 30


GOOD: Entry = {
    "ENTRYTYPE": "article",
    "ID": "good2001entry",
    "author": "Good, A",
    "title": "A good entry",
    "year": "2001",
    "doi": "10.1000/182",
    "completeness": "full",
}


@pytest.mark.parametrize("doi", ["doi:10.1000/182", "https://doi.org/10.1000/182", "10.1000", "10.1/x", "10.1000/a b"])
def test_a_wrong_doi_is_noticed(doi: str) -> None:
    assert _identifier_faults(GOOD) == []
    assert _identifier_faults(GOOD | {"doi": doi})


@pytest.mark.parametrize("pmid", ["PMC7912320", "0123", "123456789", "12 34", ""])
def test_a_wrong_pmid_is_noticed(pmid: str) -> None:
    assert _identifier_faults(GOOD | {"pmid": "9740204"}) == []
    assert _identifier_faults(GOOD | {"pmid": pmid})


@pytest.mark.parametrize(
    "wrong",
    [
        {"completeness": "unidentified", "ENTRYTYPE": "misc"},
        {"completeness": "no identifier"},
        {"completeness": "nearly"},
        {"author": ""},
        {"author": "Anonymous"},
        {"year": "198"},
        {"doi_unconfirmed": "10.1000/183"},
    ],
)
def test_a_wrong_state_is_noticed(wrong: Entry) -> None:
    assert _state_faults(GOOD) == []
    assert _state_faults(GOOD | wrong)


def test_an_unidentified_study_that_is_not_misc_is_noticed() -> None:
    bare = {field: text for field, text in GOOD.items() if field != "doi"} | {"completeness": "unidentified"}
    assert _state_faults(bare)
    assert _state_faults(bare | {"ENTRYTYPE": "misc"}) == []


def test_a_basis_without_a_doi_is_noticed() -> None:
    explained = GOOD | {"doi_basis": "the address of the journal's page"}
    assert _state_faults(explained) == []
    bare = {field: text for field, text in explained.items() if field != "doi"} | {"completeness": "no identifier"}
    assert _state_faults(bare)


@pytest.mark.parametrize(
    "title", ["LyophilizaciÃ³n", "Milk &amp; cells", "In <i>vitro</i>", "Two  spaces", "Lost \ufffd sign"]
)
def test_a_spoilt_title_is_noticed(title: str) -> None:
    assert _text_faults(GOOD | {"title": "Żywność. Nauka — ÃO 冷凍"}) == []
    assert _text_faults(GOOD | {"title": title})


def test_the_same_doi_twice_is_noticed_unless_the_overlap_is_stated() -> None:
    twin = GOOD | {"ID": "twin2001entry", "doi": GOOD["doi"].upper()}
    assert _repeated([GOOD, twin], "doi", set())
    assert _repeated([GOOD, twin], "doi", {frozenset((GOOD["ID"], twin["ID"]))}) == []


def test_an_entry_with_an_open_brace_is_noticed() -> None:
    text = "@article{a1,\n  title = {One}\n}\n\n@article{b2,\n  title = {Two\n}\n"
    assert _written(text) == 2
    assert len(_parse(text)) < 2
