"""Import: one transaction that brings everything or leaves the store as it was."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sqlalchemy import BindParameter, Column, Connection, Table, bindparam, delete, func, insert, select, update
from sqlalchemy.exc import DBAPIError
from sqlmodel import SQLModel

from evidence.model.problems import InputProblems, Problem
from evidence.store.connection import Store, create_tables
from evidence.store.edition import evidence_hash

if TYPE_CHECKING:
    from evidence.model.rules import Rules

__all__ = ["Imported", "import_rows"]

Row = dict[str, Any]
# rows that are replaced whole, children first; studies, components and questions stay, as own rows may refer to them
_REPLACED = (
    "handlingstep", "measurement", "overlap", "override", "appraisal", "composition", "intake", "guidance", "caution",
    "componentname",
)  # fmt: skip
_INSERT_ORDER = (
    "study", "component", "componentname", "measurement", "handlingstep", "overlap", "override", "appraisal",
    "composition", "intake", "guidance", "caution",
)  # fmt: skip

# question numbers: A-0412 of the shipped evidence, B-0001 of rows a user brought
_SHIPPED_SERIES, _OWN_SERIES = "A-", "B-"


@dataclass(frozen=True)
class Imported:
    """What an import did: the edition's hash, rows and studies in the store, and whether anything changed."""

    edition: str
    rows: int
    studies: int
    changed: bool


def _table(name: str) -> Table:
    return SQLModel.metadata.tables[name]


def _key(table: Table, row: Row) -> tuple[Any, ...]:
    return tuple(row[column.key] for column in table.primary_key.columns)


def _clear(connection: Connection, origin_like: str) -> None:
    steps, measurements = _table("handlingstep"), _table("measurement")
    mine = select(measurements.c.id).where(measurements.c.origin.like(origin_like))
    connection.execute(delete(steps).where(steps.c.measurement.in_(mine)))
    for name in _REPLACED[1:]:
        table = _table(name)
        connection.execute(delete(table).where(table.c.origin.like(origin_like)))


def _clear_own(connection: Connection, tables: dict[str, list[Row]]) -> None:
    """Take away the own rows that these rows replace: those of the same key, and all names of the same components."""
    steps, measurements, names = _table("handlingstep"), _table("measurement"), _table("componentname")
    # one value at a time: databases limit how many stand in one list
    wanted: BindParameter[str] = bindparam("wanted")
    mine = select(measurements.c.id).where((measurements.c.id == wanted) & measurements.c.origin.like("own%"))
    for name, statement in (
        ("measurement", delete(steps).where(steps.c.measurement.in_(mine))),
        ("component", delete(names).where((names.c.component == wanted) & names.c.origin.like("own%"))),
    ):
        rows = tables.get(name, [])
        if rows:
            connection.execute(statement, [{"wanted": row["id"]} for row in rows])
    for name in _REPLACED[1:]:
        table, rows = _table(name), tables.get(name, [])
        if rows and name != "override":  # signed rows are never taken back
            statement = delete(table).where(table.c.origin.like("own%"))
            for column in table.primary_key.columns:
                statement = statement.where(column == bindparam(f"key_{column.key}"))
            keys = [{f"key_{c.key}": row[c.key] for c in table.primary_key.columns} for row in rows]
            connection.execute(statement, keys)


def _clashes(connection: Connection, name: str, rows: Sequence[Row], origin: str) -> list[Problem]:
    """Return a problem for every row whose key a row of another kind of origin holds."""
    table = _table(name)
    keys = list(table.primary_key.columns)
    there = {tuple(row)[:-1]: row[-1] for row in connection.execute(select(*keys, table.c.origin))}
    return [
        Problem(
            name, None, ", ".join(column.name for column in keys), ", ".join(map(str, _key(table, row))),
            f"a key that {there[_key(table, row)]} does not use",
        )
        for row in rows
        if _key(table, row) in there and there[_key(table, row)].split(" ")[0] != origin.split(" ")[0]
    ]  # fmt: skip


def _unsigned_yet(connection: Connection, rows: Sequence[Row]) -> list[Row]:
    """Return the signed rows that are not there yet. Raises InputProblems where one would change what was signed."""
    table = _table("override")
    there = {row["id"]: dict(row) for row in connection.execute(select(table)).mappings()}
    problems = [
        Problem(
            "overrides.csv", None, "id", row["id"], "a new id: what was signed is never edited, a newer row replaces it"
        )
        for row in rows
        if row["id"] in there and any(there[row["id"]][column] != row[column] for column in row if column != "origin")
    ]
    if problems:
        raise InputProblems(problems)
    return [row for row in rows if row["id"] not in there]


def _merge(connection: Connection, name: str, rows: Sequence[Row]) -> None:
    table = _table(name)
    keys = list(table.primary_key.columns)
    there = {tuple(row) for row in connection.execute(select(*keys))}
    new = [row for row in rows if _key(table, row) not in there]
    old = [row for row in rows if _key(table, row) in there]
    if new:
        connection.execute(insert(table), new)
    if old:
        statement = update(table)
        for column in keys:
            statement = statement.where(column == bindparam(f"key_{column.key}"))
        values: dict[str, Any] = {column.key: bindparam(column.key) for column in table.columns if column.key in old[0]}
        changed = [row | {f"key_{column.key}": row[column.key] for column in keys} for row in old]
        connection.execute(statement.values(**values), changed)


def _number_questions(connection: Connection, rows: Sequence[Row], series: str) -> list[Row]:
    """Give numbers to questions that have none, after the highest of the series in use; those in the store keep theirs.

    Own questions count in a series of their own, so that a later shipped edition never meets their numbers.
    """
    table = _table("question")
    columns = (table.c.component, table.c.form, table.c.measured_as, table.c.handling)

    def asks(row: Row) -> tuple[Any, ...]:
        return tuple(row[column.key] for column in columns)

    found = connection.execute(select(table.c.number, *columns))
    have: dict[tuple[Any, ...], str] = {tuple(row)[1:]: row[0] for row in found}
    numbered = [row for row in rows if row["number"] and not have.get(asks(row), "").startswith(_OWN_SERIES)]
    have |= {asks(row): row["number"] for row in numbered}
    used = [int(number.removeprefix(series)) for number in have.values() if number.startswith(series)]
    highest = max(used, default=0)
    for row in rows:
        if not row["number"] and asks(row) not in have:
            highest += 1
            numbered.append(row | {"number": f"{series}{highest:04d}"})
    return numbered


def _clear_renumbered(connection: Connection, rows: Sequence[Row]) -> None:
    """Take away shipped questions to which the edition gives another number, or whose number it gives to another."""
    table = _table("question")
    columns = (table.c.component, table.c.form, table.c.measured_as, table.c.handling)
    numbers = {row["number"]: tuple(row[column.key] for column in columns) for row in rows if row["number"]}
    asked = set(numbers.values())
    there = connection.execute(select(table.c.number, *columns).where(table.c.origin.like("shipped%"))).all()
    gone = [
        number
        for number, *question in there
        if numbers.get(number) != tuple(question) and (number in numbers or tuple(question) in asked)
    ]
    if gone:
        connection.execute(delete(_table("findingrecord")))  # they name the numbers, and are made again
        connection.execute(delete(table).where(table.c.number.in_(gone)))


def _write(connection: Connection, tables: dict[str, list[Row]], origin: str) -> None:
    marked = {
        name: [{"origin": origin} | row for row in rows] for name, rows in tables.items() if name != "handlingstep"
    }
    clashes = [found for name in marked if name != "question"
               for found in _clashes(connection, name, marked[name], origin)]  # fmt: skip
    if clashes:
        raise InputProblems(clashes)
    if "override" in marked:
        marked["override"] = _unsigned_yet(connection, marked["override"])
    for name in ("study", "component"):
        _merge(connection, name, marked.get(name, []))
    for name in _INSERT_ORDER[2:]:
        rows = tables.get(name, []) if name == "handlingstep" else marked.get(name, [])
        if rows:
            connection.execute(insert(_table(name)), rows)
    series = _SHIPPED_SERIES if origin.startswith("shipped") else _OWN_SERIES
    if origin.startswith("shipped"):
        _clear_renumbered(connection, tables.get("question", []))
    asked = _number_questions(connection, tables.get("question", []), series)
    questions = [{"origin": origin} | row for row in asked]
    _merge(connection, "question", questions)


def _referred_to(connection: Connection, key: Column[Any]) -> set[Any]:
    """Return the values of a key that rows of other tables refer to: own rows, and questions with their numbers."""
    columns = [c for table in SQLModel.metadata.tables.values() for c in table.columns if c.references(key)]
    return {value for column in columns for value in connection.execute(select(column).distinct()).scalars()}


def _drop_stale(connection: Connection, tables: dict[str, list[Row]], origin_like: str) -> None:
    # a question keeps its number for ever; components and studies go when the edition no longer brings them
    for name in ("component", "study"):
        table = _table(name)
        key = next(iter(table.primary_key.columns))
        keep = {row[key.key] for row in tables.get(name, [])} | _referred_to(connection, key)
        there = connection.execute(select(key).where(table.c.origin.like(origin_like))).scalars()
        stale = [value for value in there if value not in keep]
        if stale:
            connection.execute(delete(table).where(key.in_(stale)))


def _stamp(connection: Connection, rules: Rules, name: str, evidence_of: str, shipped: str) -> Imported:
    editions, findings = _table("editionrecord"), _table("findingrecord")
    digest = evidence_hash(connection, rules)
    measurements = _table("measurement")
    rows = connection.execute(select(func.count()).select_from(measurements)).scalar_one()
    studies = connection.execute(select(func.count(func.distinct(measurements.c.study)))).scalar_one()
    there = connection.execute(select(editions.c.hash)).scalars().all()
    changed = list(there) != [digest]
    if changed:
        connection.execute(delete(_table("sensitivityrecord")))
        connection.execute(delete(findings))
        connection.execute(delete(editions))
        record = {"hash": digest, "name": name, "evidence_of": evidence_of, "rule_version": rules.rule_version}
        counts = {"rows": rows, "studies": studies, "shipped_digest": shipped}
        connection.execute(insert(editions), record | counts)
    elif shipped:
        stale = connection.execute(select(editions.c.shipped_digest)).scalar_one() != shipped
        if stale:  # the rows are the same, the code that reads them is not: answer again
            connection.execute(delete(_table("sensitivityrecord")))
            connection.execute(delete(findings))
            connection.execute(update(editions).values(shipped_digest=shipped))
    return Imported(digest, rows, studies, changed)


def import_rows(
    store: Store,
    tables: dict[str, list[Row]],
    rules: Rules,
    *,
    origin: str,
    edition_name: str,
    evidence_of: str,
    shipped_digest: str = "",
) -> Imported:
    """Bring rows into the store in one transaction; rows of the same origin kind are replaced, others stay.

    tables maps table names to rows; origin begins with "shipped" or "own", and is that of every row which brings none
    of the same kind with it. Raises InputProblems where rows clash with
    another origin's or the database refuses one; the store then stays as it was.
    """
    kind = origin.split(" ")[0]
    try:
        with store.transaction() as connection:
            create_tables(connection)
            if kind == "shipped":
                _clear(connection, "shipped%")
            else:
                _clear_own(connection, tables)
            _write(connection, tables, origin)
            if kind == "shipped":
                _drop_stale(connection, tables, "shipped%")
            return _stamp(connection, rules, edition_name, evidence_of, shipped_digest)
    except DBAPIError as error:
        reason = str(error.orig).strip().splitlines()[0]
        raise InputProblems([Problem("import", None, None, reason, "rows that the store's checks allow")]) from None
