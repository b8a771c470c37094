"""The Study sheet of a spreadsheet: one row a paper, read as the bibliography is, and held against what is there."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from evidence.intake.bundle import Known
from evidence.model.problems import Problem, nearest_word

__all__ = ["KINDS", "STUDY_COLUMNS", "Holdings", "StudyColumn", "entry_of", "holdings", "study_problems"]

KINDS = ("primary study", "review", "thesis", "conference abstract", "laboratory report")


@dataclass(frozen=True)
class StudyColumn:
    """One column of the Study sheet: its BibTeX field, what may stand in it, and an example."""

    name: str
    bibtex: str
    meaning: str
    example: str
    required: bool = False
    pattern: str = ""
    allowed: str = ""


STUDY_COLUMNS = (
    StudyColumn(
        "key", "ID", "short name of the paper: first author, year, first telling word; small letters and digits",
        "inventedexample2027freeze", True, r"^[a-z0-9]+$", "small letters a to z and digits, such as miller2027freeze",
    ),
    StudyColumn("authors", "author", "Family, Given; the word and between two", "Example, Ann and Sample, Bo", True),
    StudyColumn(
        "year", "year", "year of publication", "2027", True, r"^(18|19|20)\d\d$", "a year of four digits, such as 2027"
    ),
    StudyColumn("title", "title", "as printed", "INVENTED EXAMPLE: what stays in milk that nobody dried", True),
    StudyColumn("journal", "journal", "full name", "Invented Journal of Examples"),
    StudyColumn("volume", "volume", "as printed", "1"),
    StudyColumn("number", "number", "issue, as printed", "2"),
    StudyColumn("pages", "pages", "first and last page, such as 12--19", "12--19"),
    StudyColumn(
        "doi", "doi", "digital object identifier, begins with 10.", "", False, r"^10\.\d{4,9}/\S+$",
        "a DOI such as 10.1234/abc.567, without an address before it",
    ),
    StudyColumn(
        "pmid", "pmid", "PubMed's number of the paper, if it has one", "", False, r"^[1-9]\d{0,7}$",
        "one to eight digits, such as 12345678",
    ),
    StudyColumn("language", "language", "language of the paper, in English", "English"),
    StudyColumn("kind", "keywords", "kind of publication", "primary study"),
    StudyColumn("notice", "notice", "correction, erratum or retraction, if there is one", ""),
)  # fmt: skip
_ADDRESS = re.compile(r"^(https?://)?(dx\.)?doi\.org/|^doi:\s*", re.IGNORECASE)


@dataclass(frozen=True)
class Holdings:
    """What is held already: keys and components, and which paper has which DOI or PMID (small letters -> key)."""

    known: Known
    dois: dict[str, str] = field(default_factory=dict)
    pmids: dict[str, str] = field(default_factory=dict)


def holdings(studies: Iterable[Mapping[str, str]], outcomes: Mapping[str, str]) -> Holdings:
    """Return the holdings of study rows (key, doi, pmid) and components (id -> outcome class)."""
    rows = list(studies)
    return Holdings(
        Known(frozenset(row["key"] for row in rows), dict(outcomes)),
        {row["doi"].lower(): row["key"] for row in rows if row["doi"]},
        {row["pmid"]: row["key"] for row in rows if row["pmid"]},
    )


def _cell_problem(column: StudyColumn, text: str) -> tuple[str, str | None] | None:
    """Return what is allowed instead and the nearest word, or None where the cell is good."""
    if not text:
        return ("something; this column may not be empty", None) if column.required else None
    if len(text.splitlines()) > 1 or "\t" in text:
        return "one line of text", None
    if text.count("{") != text.count("}") or "\\" in text or re.search(r"^[^{]*\}", text):
        return "text without backslashes, and braces only in pairs", None
    if column.pattern and not re.match(column.pattern, text, re.ASCII):
        return column.allowed, None
    if column.name == "kind" and text not in KINDS:
        return ", ".join(KINDS), nearest_word(text, KINDS)
    return None


def study_problems(file: str, lines: list[int], rows: list[dict[str, str]], held: Holdings) -> list[Problem]:
    """Return what is wrong on the Study sheet; an address before a DOI is taken off the rows (column -> text)."""
    problems: list[Problem] = []
    seen: dict[tuple[str, str], int] = {}
    for line, row in zip(lines, rows, strict=True):
        row["doi"] = _ADDRESS.sub("", row["doi"])
        for column in STUDY_COLUMNS:
            wrong = _cell_problem(column, row[column.name])
            if wrong is not None:
                problems.append(Problem(file, line, column.name, row[column.name] or "nothing", *wrong))
        for name in ("key", "doi", "pmid"):
            text = row[name].lower()
            first = seen.setdefault((name, text), line)
            if text and first != line:
                problems.append(Problem(file, line, name, row[name], f"each {name} once; row {first} has it too"))
        for name, of in (("doi", held.dois), ("pmid", held.pmids)):
            owner = of.get(row[name].lower())
            if owner is not None and owner != row["key"]:
                allowed = (
                    f"the {name.upper()} of this paper; it belongs to {owner} of the bibliography: "
                    f"if that is the paper, take its row out of sheet Study and write {owner} on sheet Measurements"
                )
                problems.append(Problem(file, line, name, row[name], allowed, owner))
    return problems


def entry_of(row: Mapping[str, str]) -> dict[str, str]:
    """Return the BibTeX entry of a row of the Study sheet."""
    entry = {column.bibtex: row[column.name] for column in STUDY_COLUMNS if row[column.name]}
    kind = "article" if row["journal"] else "misc"
    complete = "full" if row["doi"] or row["pmid"] else "no identifier"
    return {"ENTRYTYPE": kind, "completeness": complete} | entry
