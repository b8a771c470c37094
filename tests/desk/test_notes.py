"""What the desk keeps: the same replies as without keeping, made anew whenever the evidence changes."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from evidence.findings.edition import import_own, shipped_digest
from evidence.store import Store, open_store
from reports.desk import Desk, notes_for, reply_to
from reports.desk.making import notes_of
from reports.desk.notes import KeptNotes, MadeNotes, kept_notes
from tests.store.small_editions import OWN, ROWS, bring, own_file, small

MESSAGES = (
    "does freeze-drying cost vitamin C?",
    "lactoferrin and fat, and is it safe?",
    "¿queda hierro?",
    "nutrients after drying",
    "plutonium",
)


@pytest.fixture
def filled(store: Store, tmp_path: Path) -> Store:
    """A store with a small invented edition that passes for the shipped one."""
    bring(store, small(tmp_path, measurements=ROWS), digest=shipped_digest())
    return store


def test_kept_notes_say_what_made_ones_say(filled: Store) -> None:
    made = Desk(MadeNotes(dict(notes_of(filled))))
    kept = Desk(notes_for(filled))
    for message in MESSAGES:
        assert kept.replies(message) == made.replies(message)


def test_own_rows_change_the_answer_at_once(filled: Store, tmp_path: Path) -> None:
    before = reply_to("does freeze-drying cost vitamin C?", filled)[0]
    import_own(filled, [own_file(tmp_path / "own.csv", OWN)])
    after = reply_to("does freeze-drying cost vitamin C?", filled)[0]
    # beta2032milk said 75, and 66 in its own second row: one study, one estimate between the two
    assert (before.k_rows, after.k_rows) == (2, 3)
    assert before.edition != after.edition
    assert before.sentence != after.sentence


def test_notes_out_of_date_are_not_used(tmp_path: Path) -> None:
    path = tmp_path / "evidence.sqlite"
    store = open_store(str(path))
    bring(store, small(tmp_path, measurements=ROWS), digest=shipped_digest())
    assert kept_notes(path) is None
    assert isinstance(notes_for(store), KeptNotes)
    assert kept_notes(path) is not None
    for statement in (
        "UPDATE desknote SET payload = 'older' WHERE name = 'stamp'",
        "DELETE FROM desknote",
        "DROP TABLE desknote",
    ):
        with sqlite3.connect(path) as connection:
            connection.execute(statement)
        assert kept_notes(path) is None
    store.close()


def test_a_file_that_is_no_store_keeps_no_notes(tmp_path: Path) -> None:
    path = tmp_path / "notes.txt"
    path.write_text("not a database, but long enough to be taken for one" * 40, encoding="utf-8")
    assert kept_notes(path) is None
    assert kept_notes(tmp_path / "nowhere.sqlite") is None
