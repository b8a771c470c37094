"""References written out: BibTeX as it was read, RIS, and CSL-JSON.

RIS: tagged lines "XX  - text" from TY to ER (the format's published tag list, 2011). CSL-JSON: the Citation Style
Language's input data, version 1.0.2 (schema csl-data).
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from typing import Any

__all__ = ["as_bibtex", "as_csl_json", "as_ris", "entries_of"]

Entry = Mapping[str, str]
_ORDER = (
    "author", "title", "titleaddon", "year", "journal", "booktitle", "school", "howpublished", "type", "volume",
    "number", "pages", "pagetotal", "doi", "pmid", "url", "language", "keywords", "notice", "completeness",
    "doi_unconfirmed", "unchecked",
)  # fmt: skip
# entry type -> (RIS type, CSL type); what is not here is a document
_TYPES = {
    "article": ("JOUR", "article-journal"),
    "book": ("BOOK", "book"),
    "incollection": ("CHAP", "chapter"),
    "inproceedings": ("CPAPER", "paper-conference"),
    "mastersthesis": ("THES", "thesis"),
    "phdthesis": ("THES", "thesis"),
    "techreport": ("RPRT", "report"),
}
_NOTES = ("notice", "titleaddon", "howpublished")


def as_bibtex(entries: Sequence[Entry]) -> str:
    """Return entries as BibTeX, one after another, each field on a line of its own, braces around every value."""
    blocks = []
    for entry in entries:
        names = [name for name in _ORDER if name in entry]
        names += sorted(name for name in entry if name not in (*_ORDER, "ID", "ENTRYTYPE"))
        lines = ",\n".join(f"  {name} = {{{entry[name]}}}" for name in names)
        blocks.append(f"@{entry['ENTRYTYPE']}{{{entry['ID']},\n{lines}\n}}\n")
    return "\n".join(blocks)


def entries_of(bibtex: str) -> list[dict[str, str]]:
    """Return the entries of a BibTeX text as field -> text, with ID and ENTRYTYPE, in the order of the text."""
    import bibtexparser
    from bibtexparser.bparser import BibTexParser

    parser = BibTexParser(common_strings=True, ignore_nonstandard_types=False)
    entries: list[dict[str, str]] = bibtexparser.loads(bibtex, parser).entries
    return entries


def _plain(text: str) -> str:
    return re.sub(r"\s+", " ", text.replace("{", "").replace("}", "").replace("--", "–")).strip()


def _types(entry: Entry) -> tuple[str, str]:
    kind = entry["ENTRYTYPE"].lower()
    if kind == "misc" and "thesis" in entry.get("type", "").lower():
        return _TYPES["phdthesis"]
    if kind == "misc" and entry.get("url"):
        return ("ELEC", "webpage")
    return _TYPES.get(kind, ("GEN", "document"))


def _authors(entry: Entry) -> list[str]:
    # a name in braces is one name, whatever word stands in it
    parts = re.findall(r"(?:\{[^{}]*\}|[^{}])+?(?=\s+and\s+|$)", entry.get("author", ""))
    return [re.sub(r"^and\s+", "", part.strip()) for part in parts if part.strip()]


def _notes(entry: Entry) -> list[str]:
    notes = [_plain(entry[name]) for name in _NOTES if entry.get(name)]
    if entry.get("unchecked"):
        notes.append(f"not checked in print: {_plain(entry['unchecked'])}")
    if entry.get("completeness") == "unidentified":
        notes.append("the paper behind this record has not been identified: not to be cited")
    return notes


def as_ris(entries: Sequence[Entry]) -> str:
    """Return entries as RIS, UTF-8, lines ended by CR and LF as the format asks."""
    lines: list[str] = []
    for entry in entries:
        first, _, last = _plain(entry.get("pages", "")).partition("–")
        tags = [("TY", _types(entry)[0]), ("ID", entry["ID"]), ("TI", _plain(entry.get("title", "")))]
        tags += [("AU", _plain(author)) for author in _authors(entry)]
        tags += [
            ("PY", entry.get("year", "")),
            ("T2", _plain(entry.get("journal", "") or entry.get("booktitle", ""))),
            ("PB", _plain(entry.get("school", ""))),
            ("VL", _plain(entry.get("volume", ""))),
            ("IS", _plain(entry.get("number", ""))),
            ("SP", first),
            ("EP", last),
            ("DO", entry.get("doi", "")),
            ("AN", f"PMID {entry['pmid']}" if entry.get("pmid") else ""),
            ("UR", entry.get("url", "")),
            ("LA", _plain(entry.get("language", ""))),
            ("KW", _plain(entry.get("keywords", ""))),
        ]
        tags += [("N1", note) for note in _notes(entry)]
        lines += [f"{tag}  - {text}" for tag, text in tags if text] + ["ER  - ", ""]
    return "\r\n".join(lines)


def _csl_name(author: str) -> dict[str, str]:
    family, comma, given = (part.strip() for part in _plain(author).partition(","))
    if author.startswith("{") or not comma:
        return {"literal": _plain(author)}
    return {"family": family, "given": given} if given else {"family": family}


def _csl(entry: Entry) -> dict[str, Any]:
    year = entry.get("year", "")
    texts = {
        "title": entry.get("title", ""),
        "container-title": entry.get("journal", "") or entry.get("booktitle", ""),
        "publisher": entry.get("school", ""),
        "volume": entry.get("volume", ""),
        "issue": entry.get("number", ""),
        "page": entry.get("pages", ""),
        "language": entry.get("language", ""),
        "keyword": entry.get("keywords", ""),
        "note": "; ".join(_notes(entry)),
    }
    raw = {"DOI": entry.get("doi", ""), "PMID": entry.get("pmid", ""), "URL": entry.get("url", "")}
    made: dict[str, Any] = {"id": entry["ID"], "type": _types(entry)[1]}
    if names := [_csl_name(author) for author in _authors(entry)]:
        made["author"] = names
    if year:
        made["issued"] = {"date-parts": [[int(year)]]} if re.fullmatch(r"\d{4}", year, re.ASCII) else {"raw": year}
    made |= {name: _plain(text) for name, text in texts.items() if text}
    return made | {name: text for name, text in raw.items() if text}


def as_csl_json(entries: Sequence[Entry]) -> str:
    """Return entries as CSL-JSON."""
    return json.dumps([_csl(entry) for entry in entries], ensure_ascii=False, indent=1) + "\n"
