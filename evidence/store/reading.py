"""Reading the store: rows as typed objects, and as a pandas table for those who want to look."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, TypeVar

from sqlalchemy import delete, insert, select
from sqlalchemy.exc import OperationalError, ProgrammingError
from sqlmodel import Session, SQLModel, col

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
    "keep_shared_tau",
    "measurements_frame",
    "measurements_of",
    "sensitivity_payloads",
    "shared_tau_payloads",
]


def all_rows(store: Store, table: type[RowT]) -> list[RowT]:
    """Return all rows of a table, in the order of its primary key by code point."""
    with Session(store.engine, expire_on_commit=False) as session:
        rows = list(session.scalars(select(table)))
    keys = [column.key for column in SQLModel.metadata.tables[str(table.__tablename__)].primary_key.columns]
    return sorted(rows, key=lambda row: tuple(getattr(row, key) for key in keys))


def measurements_of(store: Store, component: str | None) -> list[Measurement]:
    """Return the measurements of a component (None: of all), in the order of their ids by code point."""
    if component is None:
        return all_rows(store, Measurement)
    with Session(store.engine, expire_on_commit=False) as session:
        rows = list(session.scalars(select(Measurement).where(col(Measurement.component) == component)))
    return sorted(rows, key=lambda row: row.id)


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


def shared_tau_payloads(store: Store) -> dict[str, str]:
    """Return the kept heterogeneity of the edition's classes, class -> payload."""
    return _payloads(store, "sharedtaurecord", None, key="pooled_class")


def keep_shared_tau(store: Store, edition_hash: str, payloads: dict[str, str]) -> None:
    """Keep the heterogeneity of an edition's classes in place of any that was there."""
    _keep(store, "sharedtaurecord", edition_hash, payloads, key="pooled_class")


def _payloads(store: Store, name: str, numbers: Sequence[str] | None, key: str = "number") -> dict[str, str]:
    table = SQLModel.metadata.tables[name]
    statement = select(table.c[key].label("key"), table.c.payload)
    if numbers is not None:
        statement = statement.where(table.c[key].in_(list(numbers)))
    with store.engine.connect() as connection:
        return {row.key: row.payload for row in connection.execute(statement)}


def _keep(store: Store, name: str, edition_hash: str, payloads: dict[str, str], key: str = "number") -> None:
    table = SQLModel.metadata.tables[name]
    rows = [{"edition": edition_hash, key: name, "payload": payload} for name, payload in payloads.items()]
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
