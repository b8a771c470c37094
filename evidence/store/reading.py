"""Reading the store: rows as typed objects, and as a pandas table for those who want to look."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, TypeVar

from sqlalchemy import delete, insert, select
from sqlalchemy.exc import OperationalError, ProgrammingError
from sqlmodel import Session, SQLModel

from evidence.model.tables import EditionRecord, FindingRecord, Measurement
from evidence.store.connection import Store

if TYPE_CHECKING:
    import pandas

RowT = TypeVar("RowT", bound=SQLModel)

__all__ = [
    "all_rows",
    "edition",
    "findings_kept",
    "findings_payloads",
    "keep_findings",
    "keep_sensitivity",
    "measurements_frame",
    "sensitivity_payloads",
]


def all_rows(store: Store, table: type[RowT]) -> list[RowT]:
    """Return all rows of a table, in the order of its primary key by code point."""
    with Session(store.engine, expire_on_commit=False) as session:
        rows = list(session.scalars(select(table)))
    keys = [column.key for column in SQLModel.metadata.tables[str(table.__tablename__)].primary_key.columns]
    return sorted(rows, key=lambda row: tuple(getattr(row, key) for key in keys))


def edition(store: Store) -> EditionRecord | None:
    """Return the store's edition, or None before the first import."""
    # asked at every start: a table that is not there is told by one refused query, sooner than by inspection
    table = SQLModel.metadata.tables["editionrecord"]
    try:
        with store.engine.connect() as connection:
            row = connection.execute(select(table)).mappings().first()
    except (OperationalError, ProgrammingError):
        if store.is_empty:
            return None
        raise
    return None if row is None else EditionRecord(**row)


def findings_payloads(store: Store, numbers: Sequence[str] | None = None) -> dict[str, str]:
    """Return the kept findings of the edition, number -> payload; all of them, or those asked for."""
    return _payloads(store, "findingrecord", numbers)


def keep_findings(store: Store, edition_hash: str, payloads: dict[str, str]) -> None:
    """Keep the findings of an edition in place of any that were there."""
    _keep(store, "findingrecord", edition_hash, payloads)


def sensitivity_payloads(store: Store) -> dict[str, str]:
    """Return the kept sensitivity of the edition's findings, number -> payload."""
    return _payloads(store, "sensitivityrecord", None)


def keep_sensitivity(store: Store, edition_hash: str, payloads: dict[str, str]) -> None:
    """Keep the sensitivity of an edition's findings in place of any that was there."""
    _keep(store, "sensitivityrecord", edition_hash, payloads)


def _payloads(store: Store, name: str, numbers: Sequence[str] | None) -> dict[str, str]:
    table = SQLModel.metadata.tables[name]
    statement = select(table.c.number, table.c.payload)
    if numbers is not None:
        statement = statement.where(table.c.number.in_(list(numbers)))
    with store.engine.connect() as connection:
        return {row.number: row.payload for row in connection.execute(statement)}


def _keep(store: Store, name: str, edition_hash: str, payloads: dict[str, str]) -> None:
    table = SQLModel.metadata.tables[name]
    rows = [{"edition": edition_hash, "number": number, "payload": payload} for number, payload in payloads.items()]
    with store.transaction() as connection:
        connection.execute(delete(table))
        if rows:
            connection.execute(insert(table), rows)


def measurements_frame(store: Store) -> pandas.DataFrame:
    """Return the measurements as a pandas table, one row a measurement, figures as printed (text)."""
    import pandas

    columns = list(Measurement.model_fields)
    rows = all_rows(store, Measurement)
    return pandas.DataFrame([[getattr(row, column) for column in columns] for row in rows], columns=columns)


def findings_kept(store: Store) -> bool:
    """Return whether the findings of the store's edition have been computed and kept."""
    with store.engine.connect() as connection:
        return connection.execute(select(FindingRecord.number).limit(1)).first() is not None  # type: ignore[call-overload]
