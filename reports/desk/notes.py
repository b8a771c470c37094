"""What the desk reads, kept beside the findings of a SQLite store or made anew from any other.

Reading kept notes needs the standard library alone; they are used only while the store, the shipped files and the code
that worded them are unchanged.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Mapping
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from evidence.model.digest import files_digest, shipped_digest

if TYPE_CHECKING:
    from evidence.store.connection import Store

__all__ = ["KeptNotes", "MadeNotes", "Notes", "kept_notes", "notes_for", "words_digest"]

_STAMP = "stamp"


class Notes(Protocol):
    """Notes by name, as plain values; {} where there are none of that name."""

    def read(self, name: str) -> Any:
        """Return a note."""
        ...


def words_digest() -> str:
    """Return a hash of the sentences and of the code that makes replies: whether kept notes are up to date."""
    desk = Path(__file__).resolve().parent
    folders = (desk.parent / "words", desk)
    return files_digest(sorted(path for folder in folders for path in folder.glob("*.*") if path.is_file()))


def _stamp(edition_hash: str) -> str:
    return f"{edition_hash} {shipped_digest()} {words_digest()}"


class KeptNotes:
    """Notes kept in a SQLite file."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._connection: sqlite3.Connection | None = None

    def read(self, name: str) -> Any:
        """Return a note."""
        if self._connection is None:
            self._connection = _opened(self.path)
        row = self._connection.execute("SELECT payload FROM desknote WHERE name = ?", (name,)).fetchone()
        return {} if row is None else json.loads(row[0])

    def close(self) -> None:
        """Let go of the file."""
        if self._connection is not None:
            self._connection.close()
            self._connection = None


class MadeNotes:
    """Notes held in memory."""

    def __init__(self, notes: Mapping[str, str]) -> None:
        self._notes = notes

    def read(self, name: str) -> Any:
        """Return a note."""
        found = self._notes.get(name)
        return {} if found is None else json.loads(found)


def _opened(path: Path) -> sqlite3.Connection:
    return sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True, check_same_thread=False)


def kept_notes(path: Path) -> KeptNotes | None:
    """Return the notes kept in a store's file, or None where there are none or they are out of date."""
    if not path.is_file():
        return None
    try:
        with closing(_opened(path)) as connection:
            edition = connection.execute("SELECT hash, shipped_digest FROM editionrecord").fetchone()
            stamp = connection.execute("SELECT payload FROM desknote WHERE name = ?", (_STAMP,)).fetchone()
    except sqlite3.Error:
        return None
    if edition is None or stamp is None or edition[1] != shipped_digest() or stamp[0] != _stamp(edition[0]):
        return None
    return KeptNotes(path)


def _keep(path: Path, stamp: str, notes: Mapping[str, str]) -> bool:
    try:
        with closing(sqlite3.connect(path)) as connection, connection:
            connection.execute("CREATE TABLE IF NOT EXISTS desknote (name TEXT PRIMARY KEY, payload TEXT NOT NULL)")
            connection.execute("DELETE FROM desknote")
            connection.executemany("INSERT INTO desknote VALUES (?, ?)", [*notes.items(), (_STAMP, stamp)])
    except sqlite3.Error:  # a store that may only be read: the answer does not wait for that
        return False
    return True


def notes_for(store: Store) -> Notes:
    """Return a store's notes: kept ones, or made now and kept where the store is a SQLite file."""
    from evidence.findings import ensure_evidence
    from evidence.store.reading import edition
    from reports.desk.making import notes_of

    ensure_evidence(store)
    url = store.engine.url
    path = Path(url.database) if url.get_backend_name() == "sqlite" and url.database else None
    kept = kept_notes(path) if path is not None else None
    if kept is not None:
        return kept
    notes = dict(notes_of(store))
    there = edition(store)
    assert there is not None
    if path is not None and _keep(path, _stamp(there.hash), notes):
        return KeptNotes(path)
    return MadeNotes(notes)
