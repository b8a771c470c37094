"""The evidence hash: the same rows and rules give the same hash on every database and machine."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable
from typing import TYPE_CHECKING

from sqlalchemy import Connection, RowMapping, Table, select
from sqlmodel import SQLModel

if TYPE_CHECKING:
    from evidence.model.rules import Rules

__all__ = ["EVIDENCE_TABLES", "canonical_rows", "evidence_hash"]

# what counts as evidence; steps and findings are computed from it, and origin tells whose a row is, not what it says
EVIDENCE_TABLES = (
    "study", "component", "componentname", "measurement", "overlap", "override", "appraisal", "composition", "intake",
    "guidance", "caution", "question",
)  # fmt: skip
# rules that order a reading list, guard a spreadsheet, judge copy, dress or date a page change no answer
_NOT_ABOUT_EVIDENCE = {"claims", "pages", "reading", "reading_list", "settings", "spreadsheet"}
# translations say the same again: a better word in French is no new evidence
_TRANSLATED = {
    f"{column}_{language}"
    for column in ("sentence_name", "grammar", "what_it_does", "text", "statement")
    for language in ("fr", "es")
}
_NOT_EVIDENCE = {"origin", "baseline_class"} | _TRANSLATED


def _canonical(table: Table, row: RowMapping) -> list[str]:
    return ["" if row[c.key] is None else str(row[c.key]) for c in table.columns if c.key not in _NOT_EVIDENCE]


def canonical_rows(connection: Connection) -> Iterable[tuple[str, list[list[str]]]]:
    """Yield each evidence table with its rows as text, sorted by code point, as no database's collation would."""
    for name in EVIDENCE_TABLES:
        table = SQLModel.metadata.tables[name]
        rows = connection.execute(select(table)).mappings()
        yield name, sorted(_canonical(table, row) for row in rows)


def evidence_hash(connection: Connection, rules: Rules) -> str:
    """Return the SHA-256 (hex) over canonical rows, rules and rule version."""
    digest = hashlib.sha256()
    for name, rows in canonical_rows(connection):
        digest.update(json.dumps([name, rows], ensure_ascii=False, separators=(",", ":")).encode())
    told = rules.model_dump(mode="json", exclude=_NOT_ABOUT_EVIDENCE)
    digest.update(json.dumps(told, sort_keys=True).encode())
    return digest.hexdigest()
