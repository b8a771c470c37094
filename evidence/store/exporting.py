"""The open package out of a store: tables as they are shipped, a spreadsheet, the bibliography in three formats.

Everything is written into a temporary folder beside the target and moved into place whole.
"""

from __future__ import annotations

import csv
import json
import re
import shutil
import tempfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, select
from sqlmodel import SQLModel

from evidence.model.entries import study_entry
from evidence.model.problems import InputProblems, Problem
from evidence.model.shipped import bibliography_folder, data_folder
from evidence.store.connection import Store
from evidence.store.edition import EVIDENCE_TABLES
from evidence.store.reading import edition
from evidence.store.references import as_bibtex, as_csl_json, as_ris, entries_of
from evidence.store.workbook import Sheet, write_workbook

__all__ = ["Exported", "export_package"]

Row = Mapping[str, Any]
_TOP = {"data", "bibliography", "evidence.xlsx"}
_LANGUAGES = ("en", "fr", "es")
_ORIGINS = ("table", "key", "origin")


@dataclass(frozen=True)
class Exported:
    """What was written: the folder, the edition's hash, rows by table, references, and rows of the user's own."""

    folder: Path
    edition: str
    rows: dict[str, int]
    references: int
    own_rows: int


@dataclass(frozen=True)
class _Resource:
    """A table of the package: its name, its file, its fields as in datapackage.json, and its rows as text."""

    name: str
    path: str
    title: str
    fields: tuple[dict[str, Any], ...]
    rows: tuple[dict[str, str], ...]

    @property
    def columns(self) -> tuple[str, ...]:
        return tuple(str(field["name"]) for field in self.fields)


def _natural(text: str) -> tuple[tuple[int, str], ...]:
    # lytle2020-9 before lytle2020-10
    return tuple((int(part), "") if part.isdecimal() else (-1, part) for part in re.split(r"(\d+)", text))


def _text(value: object) -> str:
    return "" if value is None else str(value)


def _shipped_rows(path: Path) -> list[dict[str, str]]:
    if not path.is_file():
        return []
    with path.open(encoding="utf-8-sig", newline="") as file:
        return list(csv.DictReader(file))


def _store_table(resource: str) -> str | None:
    return next((name for name in (resource, resource.removesuffix("s")) if name in SQLModel.metadata.tables), None)


def _synonyms(connection: Connection) -> dict[tuple[str, str], list[str]]:
    table = SQLModel.metadata.tables["componentname"]
    found: dict[tuple[str, str], list[str]] = {}
    for component, language, name in connection.execute(select(table.c.component, table.c.language, table.c.name)):
        found.setdefault((component, language), []).append(name)
    return found


def _with_synonyms(rows: Sequence[dict[str, Any]], connection: Connection, shipped: Path) -> None:
    names, before = _synonyms(connection), {row["id"]: row for row in _shipped_rows(shipped)}
    for row in rows:
        for language in _LANGUAGES:
            column = f"synonyms_{language}"
            written = before.get(row["id"], {}).get(column, "").split(";")
            place = {name.strip(): at for at, name in enumerate(written)}
            given = [name for name in names.get((row["id"], language), []) if name != row[f"name_{language}"]]
            row[column] = ";".join(name for _, name in sorted((place.get(name, len(place)), name) for name in given))


def _rows_of(connection: Connection, table_name: str, columns: Sequence[str], shipped: Path) -> list[dict[str, str]]:
    table = SQLModel.metadata.tables[table_name]
    rows = [dict(row) for row in connection.execute(select(table)).mappings()]
    if table_name == "component":
        _with_synonyms(rows, connection, shipped)
    missing = [column for column in columns if rows and column not in rows[0]]
    if missing:
        raise LookupError(f"the store's table {table_name} does not keep {', '.join(missing)}")
    keys = [column.key for column in table.primary_key.columns]

    def key(row: Row) -> tuple[str, ...]:
        return tuple(_text(row[name]) for name in keys)

    # the order of the shipped file where it has the row, so that two exports can be compared line by line
    place = {key(row): at for at, row in enumerate(_shipped_rows(shipped)) if all(name in row for name in keys)}
    rows.sort(key=lambda row: (place.get(key(row), len(place)), tuple(map(_natural, key(row)))))
    return [{column: _text(row[column]) for column in columns} for row in rows]


def _resources(connection: Connection, package: Mapping[str, Any]) -> list[_Resource]:
    found = []
    for raw in package["resources"]:
        fields = tuple(raw["schema"]["fields"])
        columns = [str(field["name"]) for field in fields]
        shipped = data_folder() / raw["path"]
        table = _store_table(raw["name"])
        rows = _shipped_rows(shipped) if table is None else _rows_of(connection, table, columns, shipped)
        title = str(raw.get("title", raw["name"]))
        found.append(_Resource(raw["name"], raw["path"], title, fields, tuple(rows)))
    return found


def _origins(connection: Connection) -> list[dict[str, str]]:
    """Return whose the rows are that the shipped edition did not bring, as their tables have no column for it."""
    own = []
    for name in EVIDENCE_TABLES:
        table = SQLModel.metadata.tables[name]
        keys = list(table.primary_key.columns)
        statement = select(*keys, table.c.origin).where(table.c.origin.like("own%"))
        for *key, origin in connection.execute(statement):
            own.append({"table": name, "key": ";".join(map(str, key)), "origin": origin})
    return sorted(own, key=lambda row: (row["table"], _natural(row["key"])))


def _entries(connection: Connection) -> list[dict[str, str]]:
    table = SQLModel.metadata.tables["study"]
    rows = connection.execute(select(table)).mappings()
    return [
        study_entry({key: str(value) for key, value in row.items()}) for row in sorted(rows, key=lambda r: r["key"])
    ]


def _write_csv(path: Path, columns: Sequence[str], rows: Sequence[Mapping[str, str]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, columns, lineterminator="\n", extrasaction="ignore")
        writer.writeheader()
        writer.writerows(rows)


def _write_references(folder: Path, name: str, bibtex: str, entries: Sequence[Mapping[str, str]]) -> None:
    (folder / f"{name}.bib").write_text(bibtex, encoding="utf-8", newline="")
    (folder / f"{name}.ris").write_text(as_ris(entries), encoding="utf-8", newline="")
    (folder / f"{name}.csl.json").write_text(as_csl_json(entries), encoding="utf-8", newline="")


def _other_references(folder: Path) -> None:
    for path in sorted(bibliography_folder().glob("*.bib")):
        if path.name != "studies.bib":
            text = path.read_text(encoding="utf-8")
            _write_references(folder, path.stem, text, entries_of(text))


def _copy_the_rest(folder: Path, written: set[str]) -> None:
    # rules, vocabulary and descriptions belong to the package; the invented demo does not mix with what was measured
    for source in sorted(data_folder().iterdir()):
        if source.name in written or source.name == "demo" or source.name.startswith((".", "_")):
            continue
        if source.is_dir():
            shutil.copytree(source, folder / source.name)
        else:
            shutil.copyfile(source, folder / source.name)


def _refuse_folder(folder: Path) -> None:
    allowed = "a new or empty folder, or one that holds nothing but an earlier export"
    if folder.is_dir():
        there = {path.name for path in folder.iterdir()}
        ours = (folder / "data" / "datapackage.json").is_file() and there <= _TOP
        if there and not ours:
            read = f"{folder} with {', '.join(sorted(there)[:3])} in it"
            raise InputProblems([Problem("export", None, None, read, allowed)])
    elif folder.exists():
        raise InputProblems([Problem("export", None, None, f"{folder}, a file", allowed)])


def _move_into_place(made: Path, folder: Path) -> None:
    aside = made.with_name(made.name + "-before")
    if folder.exists():
        folder.rename(aside)
    try:
        made.rename(folder)
    except OSError:
        if aside.exists():
            aside.rename(folder)
        raise
    shutil.rmtree(aside, ignore_errors=True)


def _sheets(resources: Sequence[_Resource], studies: Sequence[Mapping[str, str]]) -> list[Sheet]:
    sheets = [
        Sheet(
            resource.name,
            resource.title,
            tuple((str(field["name"]), str(field.get("description", ""))) for field in resource.fields),
            tuple(resource.rows),
            frozenset(str(field["name"]) for field in resource.fields if field["type"] == "integer"),
        )
        for resource in resources
    ]
    names = list(dict.fromkeys(name for entry in studies for name in entry if name not in ("ID", "ENTRYTYPE")))
    columns = (("key", "key in every table"), ("type", "type of entry"), *((name, "") for name in sorted(names)))
    rows = tuple({"key": entry["ID"], "type": entry["ENTRYTYPE"], **entry} for entry in studies)
    return [*sheets, Sheet("studies", "References", columns, rows, frozenset())]


def export_package(store: Store, folder: Path) -> Exported:
    """Write the package of a store's evidence into a folder: data/, bibliography/ and evidence.xlsx.

    Read again with evidence.intake.bundle.read_shipped it gives the same evidence hash. Raises InputProblems where the
    folder cannot be written, or the store changed meanwhile; nothing is then left behind.
    """
    folder = folder.absolute()
    _refuse_folder(folder)
    there = edition(store)
    assert there is not None, "ensure_evidence comes first"
    package = json.loads((data_folder() / "datapackage.json").read_text(encoding="utf-8"))
    with store.transaction() as connection:
        resources, studies, own = _resources(connection, package), _entries(connection), _origins(connection)
    after = edition(store)
    if after is None or after.hash != there.hash:
        raise InputProblems([Problem("--store", None, None, "a store that changed meanwhile", "a store at rest")])
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(prefix=f".{folder.name}-", dir=folder.parent) as temporary:
            made = Path(temporary) / "package"
            _write(made, package, resources, studies, own, there.model_dump())
            _move_into_place(made, folder)
    except OSError as error:
        read = f"{folder} ({error.strerror or error})"
        raise InputProblems([Problem("export", None, None, read, "a folder that can be written")]) from None
    rows = {resource.name: len(resource.rows) for resource in resources}
    return Exported(folder, there.hash, rows, len(studies), len(own))


def _write(
    made: Path,
    package: dict[str, Any],
    resources: Sequence[_Resource],
    studies: Sequence[Mapping[str, str]],
    own: Sequence[Mapping[str, str]],
    stamp: Mapping[str, Any],
) -> None:
    data, bibliography = made / "data", made / "bibliography"
    data.mkdir(parents=True)
    bibliography.mkdir()
    for resource in resources:
        _write_csv(data / resource.path, resource.columns, resource.rows)
    package = package | {"edition": {key: stamp[key] for key in ("name", "evidence_of", "hash")}}
    if own:
        _write_csv(data / "origins.csv", _ORIGINS, own)
        package["resources"] = [*package["resources"], _origins_resource()]
    text = json.dumps(package, ensure_ascii=False, indent=1) + "\n"
    (data / "datapackage.json").write_text(text, encoding="utf-8", newline="")
    _copy_the_rest(data, {path.name for path in data.iterdir()})
    _write_references(bibliography, "studies", as_bibtex(studies), studies)
    _other_references(bibliography)
    about = (
        ("Title", str(package["title"])),
        ("Edition", f"{stamp['name']}, evidence of {stamp['evidence_of']}"),
        ("Evidence hash", str(stamp["hash"])),
        ("Terms", "; ".join(str(each.get("title", each["name"])) for each in package["licenses"])),
        ("Figures", "as printed, kept as text so that no digit is lost; empty means not printed"),
        ("To import", "take the CSV tables beside this file; this workbook is for reading"),
    )
    write_workbook(made / "evidence.xlsx", about, _sheets(resources, studies))


def _origins_resource() -> dict[str, Any]:
    words = ("table of the store", "its key, parts joined by semicolons", "own, who and when")
    fields = [
        {"name": name, "type": "string", "description": text, "constraints": {"required": True}}
        for name, text in zip(_ORIGINS, words, strict=True)
    ]
    return {
        "name": "origins", "path": "origins.csv", "title": "Rows that the shipped edition did not bring",
        "profile": "tabular-data-resource", "format": "csv", "mediatype": "text/csv", "encoding": "utf-8",
        "schema": {"fields": fields, "primaryKey": ["table", "key"]},
    }  # fmt: skip
