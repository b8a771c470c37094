"""A study's row and its BibTeX entry, one made from the other and back without loss."""

from __future__ import annotations

import json
from collections.abc import Mapping

__all__ = ["study_entry", "study_row"]

# BibTeX field -> column of the study table, where a field has a column of its own
_COLUMNS = {
    "author": "authors",
    "year": "year",
    "title": "title",
    "volume": "volume",
    "number": "number",
    "pages": "pages",
    "doi": "doi",
    "pmid": "pmid",
    "language": "language",
    "completeness": "completeness",
    "notice": "notice",
}
# columns that show the first of several fields; the fields themselves are kept whole unless the plain one stands alone
_FIRST_OF = {
    "journal": ("journal", "school", "booktitle", "howpublished"),
    "kind": ("keywords", "keyword"),
}


def study_row(entry: Mapping[str, str]) -> dict[str, str]:
    """Return the study row of a BibTeX entry (field -> text, with ID and ENTRYTYPE).

    Fields without a column are kept in extra as JSON with sorted keys, so that study_entry gives the entry back.
    """
    row = {"key": entry["ID"]} | {column: entry.get(field, "") for field, column in _COLUMNS.items()}
    kept = {field: text for field, text in entry.items() if field != "ID" and field not in _COLUMNS}
    for column, fields in _FIRST_OF.items():
        row[column] = next((entry[field] for field in fields if entry.get(field)), "")
        if [field for field in fields if field in kept] == [fields[0]]:
            del kept[fields[0]]
    row["extra"] = json.dumps(kept, ensure_ascii=False, sort_keys=True)
    return row


def study_entry(row: Mapping[str, str]) -> dict[str, str]:
    """Return the BibTeX entry of a study row, with ID and ENTRYTYPE; empty columns are left out."""
    kept: dict[str, str] = json.loads(row["extra"]) if row["extra"] else {}
    entry = {field: row[column] for field, column in _COLUMNS.items() if row[column]}
    for column, fields in _FIRST_OF.items():
        if row[column] and not any(field in kept for field in fields):
            entry[fields[0]] = row[column]
    return {"ENTRYTYPE": "misc"} | entry | kept | {"ID": row["key"]}
