"""Opening the store: a SQLite file by default, PostgreSQL by URL, the same code for both."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, String, create_engine, event, inspect, text
from sqlalchemy.exc import ArgumentError, SQLAlchemyError
from sqlmodel import SQLModel

from evidence.model import tables as tables
from evidence.model.problems import InputProblems, Problem
from evidence.model.shipped import default_store_path

__all__ = ["Store", "default_store_path", "open_store"]


def _foreign_keys_on(connection: Any, _record: Any) -> None:
    cursor = connection.cursor()
    cursor.execute("PRAGMA foreign_keys = ON")
    cursor.close()


def _url(target: str | None) -> str:
    if target is not None and "://" in target:
        scheme, rest = target.split("://", 1)
        if scheme in ("postgres", "postgresql"):
            return f"postgresql+psycopg://{rest}"
        if scheme in ("sqlite", "postgresql+psycopg"):
            return target
        allowed = "a path to a SQLite file, or a URL that begins with postgresql:// or sqlite://"
        raise InputProblems([Problem("--store", None, None, f"{scheme}://", allowed)])
    path = Path(target) if target is not None else default_store_path()
    if path.is_dir():
        raise InputProblems([Problem("--store", None, None, str(path), "a file, not a folder")])
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        read = f"{path} ({error.strerror or 'no access'})"
        raise InputProblems([Problem("--store", None, None, read, "a file in a folder that can be made")]) from None
    return f"sqlite:///{path}"


def _without_password(target: str) -> str:
    return re.sub(r"(://[^:/@]*):[^@]*@", r"\1:***@", target)


class Store:
    """A store that is open: its engine, and transactions that hold or leave everything as it was."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine

    @contextmanager
    def transaction(self) -> Iterator[Connection]:
        """Give a connection whose work is kept whole, or not at all when an exception leaves the block."""
        with self.engine.begin() as connection:
            yield connection

    @property
    def is_empty(self) -> bool:
        """Whether no evidence has been imported yet."""
        return not inspect(self.engine).has_table(str(tables.EditionRecord.__tablename__))

    def close(self) -> None:
        """Let go of all connections."""
        self.engine.dispose()


def open_store(target: str | None = None) -> Store:
    """Open a store by path or URL; None opens the default file in the user's data folder.

    Raises InputProblems where the target is neither, or cannot be reached.
    """
    url = _url(target)
    try:
        engine = create_engine(url)
        if url.startswith("sqlite"):
            event.listen(engine, "connect", _foreign_keys_on)
        with engine.connect() as connection:
            inspect(connection).has_table(str(tables.EditionRecord.__tablename__))  # no other file pretends to be one
    except (SQLAlchemyError, ArgumentError, OSError, ValueError) as error:
        reason = (str(getattr(error, "orig", None) or error).strip() or type(error).__name__).splitlines()[0]
        read = f"{_without_password(target or url)} ({reason})"
        raise InputProblems([Problem("--store", None, None, read, "a store that can be opened")]) from None
    return Store(engine)


def create_tables(connection: Connection) -> None:
    """Create the tables that are missing, and the columns that a store of an earlier version lacks."""
    SQLModel.metadata.create_all(connection)
    there = inspect(connection)
    for table in SQLModel.metadata.sorted_tables:
        have = {column["name"] for column in there.get_columns(table.name)}
        for column in table.columns:
            if column.name not in have:
                kind = column.type.compile(connection.dialect)
                empty = "''" if isinstance(column.type, String) else "0"
                rest = "" if column.nullable else f" DEFAULT {empty} NOT NULL"
                name = connection.dialect.identifier_preparer.quote(column.name)
                connection.execute(text(f"ALTER TABLE {table.name} ADD COLUMN {name} {kind}{rest}"))
