"""Invented studies, rows and tables for tests: nothing here was measured, and no name is a real study's."""

from __future__ import annotations

import csv
import itertools
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from evidence.findings.compute import Evidence, compute_findings
from evidence.findings.edition import shipped_digest
from evidence.findings.finding import Finding
from evidence.handling import baseline_class, contrast, fresh_limit_hours, handling_key, parse_chain
from evidence.intake.bundle import read_shipped
from evidence.intake.schema import TableSchema, load_schemas
from evidence.model.rules import Rules, load_rules
from evidence.model.tables import Component, Measurement, Overlap, Question
from evidence.store import import_rows, open_store

__all__ = ["FRESH", "cells", "component", "evidence_of", "finding_of", "measured", "overlap", "write_tables"]

# a baseline that the page itself calls fresh
FRESH = {"baseline": "expressed", "baseline_said": "fresh milk"}
_MAKER = {"dried": "expressed > freeze-dried > reconstituted", "frozen": "expressed > frozen -20C 30d > thawed"}
_COUNTER = itertools.count(1)
_OUTCOMES = {
    "total-fat": "bulk", "lactose": "bulk", "vitamin-c": "fragile", "lactoferrin": "fragile", "total-bacteria": "count",
    "free-fatty-acids": "marker", "cell-viability": "share", "ph": "physical",
}  # fmt: skip
_WANTED = {"total-bacteria": "germs", "free-fatty-acids": "a rise is unwelcome", "ph": "neither"}


def component(identity: str) -> Component:
    """Return an invented entry of one of a few component ids, of each statistical class."""
    return Component(
        id=identity, name_en=identity, sentence_name_en=identity.replace("-", " "), group="invented", kind="amount",
        wanted=_WANTED.get(identity, "keep"), outcome=_OUTCOMES[identity], origin="shipped 1",
    )  # fmt: skip


def cells(**given: object) -> dict[str, str]:
    """Return the cells of a row of measurements as text: a figure of 80 % of a component after freeze-drying.

    The study is new each time unless named; treated "dried" and "frozen" stand for whole chains.
    """
    number = next(_COUNTER)
    row = {field.name: "" for field in load_schemas()["measurements"].fields}
    row |= {
        "study": "alpha2031milk", "component": "vitamin-c", "measured_as": "amount", "basis": "milk",
        "handling": "dried",
        "baseline": "expressed > not-stated", "n_kind": "not stated", "design": "same milk", "locator": "table 1",
        "read_from": "full text", "words_scope": "this component", "second_read": "2026-11-24", "number_is": "value",
    }  # fmt: skip
    row |= {name: str(value) for name, value in given.items()}
    row["handling"] = _MAKER.get(row["handling"], row["handling"])
    row["id"] = row["id"] or f"{row['study']}-{number}"
    has_figure = any(row[name] for name in ("retained_percent", "change_percent", "treated_mean", "diff_mean"))
    if not has_figure and not row["interval_low"] and not given.get("number_is"):
        row["number_is"] = ""
    return row


def measured(**given: object) -> Measurement:
    """Return a row as the store holds it, its baseline class computed as the import computes it."""
    row: dict[str, Any] = dict(cells(**given))
    rules = load_rules()
    limit = fresh_limit_hours(row["component"], _OUTCOMES[row["component"]], rules.fresh)
    row["baseline_class"] = baseline_class(parse_chain(row["baseline"]), row["baseline_said"], limit, rules.fresh)
    for name in ("n", "n_mothers"):
        row[name] = int(row[name]) if row[name] else None
    return Measurement(**row, origin="shipped 1")


def overlap(key_a: str, key_b: str, keep: str, certainty: str = "certain") -> Overlap:
    """Return a pair of studies that report the same milk."""
    return Overlap(key_a=key_a, key_b=key_b, certainty=certainty, why="invented", keep=keep, origin="shipped 1")


def evidence_of(
    rows: Sequence[Measurement], overlaps: Sequence[Overlap] = (), uncitable: Sequence[str] = ()
) -> Evidence:
    """Return evidence with every question its rows ask, numbered in a fixed order."""
    bands = load_rules().bands
    asked = set()
    for row in rows:
        key = handling_key(contrast(parse_chain(row.handling), parse_chain(row.baseline)), bands)
        if key is not None:
            asked.add((row.component, row.form, row.measured_as, key))
    questions = [
        Question(number=f"A-{n:04d}", component=c, form=f, measured_as=m, handling=h, origin="shipped 1")
        for n, (c, f, m, h) in enumerate(sorted(asked), start=1)
    ]
    names = sorted({row.component for row in rows})
    return Evidence([component(name) for name in names], rows, overlaps, questions, frozenset(uncitable))


def finding_of(rows: Sequence[Measurement], rules: Rules | None = None, **more: Any) -> Finding:
    """Return the finding of rows that all ask one question."""
    found, _ = compute_findings(evidence_of(rows, **more), rules or load_rules())
    assert len(found) == 1, [each.handling for each in found]
    return found[0]


def _smallest(schema: TableSchema, row: Mapping[str, object]) -> dict[str, str]:
    """Return a row with something allowed in every column that may not be empty."""
    filled = {field.name: "" for field in schema.fields}
    for field in schema.fields:
        if field.required:
            words = (*field.enum, "x", "1", "a-1", "2031-05-03", "A-0001", "full text")
            filled[field.name] = next(word for word in words if word and field.refuse("", 0, word) is None)
    return filled | {name: str(value) for name, value in row.items()}


_ONE_ROW: dict[str, dict[str, str]] = {
    "overlaps": {"key_a": "alpha2031milk", "key_b": "beta2032milk", "keep": "alpha2031milk", "certainty": "possible"},
    "appraisals": {"study": "alpha2031milk"},
    "composition": {"component": "vitamin-c"},
    "intake": {"component": "vitamin-c"},
    "questions": {"number": "A-0001", "component": "vitamin-c", "measured_as": "amount", "handling": "freeze-dried"},
    "cautions": {"id": "general", "text_en": "Not medical advice."},
}
_STUDIES = ("alpha2031milk", "beta2032milk", "gamma2033milk", "delta2034milk")


def write_tables(folder: Path, **rows: Sequence[Mapping[str, object]]) -> tuple[Path, Path]:
    """Write every shipped table and a bibliography, invented; return the two folders.

    rows replace those of a table by its name; measurements given as cells().
    """
    data, bibliography = folder / "data", folder / "bibliography"
    data.mkdir(parents=True, exist_ok=True)
    bibliography.mkdir(exist_ok=True)
    given: dict[str, Sequence[Mapping[str, object]]] = {
        "components": [
            {
                "id": name, "name_en": name, "sentence_name_en": name.replace("-", " "), "group": "invented",
                "kind": "amount", "wanted": _WANTED.get(name, "keep"), "outcome": outcome,
            }
            for name, outcome in _OUTCOMES.items()
        ],
        "measurements": [cells(retained_percent=80, n=5, n_kind="donors", id="alpha2031milk-1")],
        "overrides": [],
        **rows,
    }  # fmt: skip
    for name, schema in load_schemas().items():
        if name == "handlings":
            continue
        table = [_smallest(schema, row) for row in given.get(name, [_ONE_ROW.get(name, {})])]
        with (data / schema.path).open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, [field.name for field in schema.fields], lineterminator="\n")
            writer.writeheader()
            writer.writerows(table)
    entries = [
        f"@article{{{key},\n  author = {{{key[:-8].title()}, A}},\n  title = {{An invented study}},\n"
        f"  year = {{{key[-8:-4]}}},\n  journal = {{Invented journal}}\n}}\n"
        for key in _STUDIES
    ]  # fmt: skip
    (bibliography / "studies.bib").write_text("\n".join(entries), encoding="utf-8")
    return data, bibliography


def passing_for_shipped(
    folder: Path, evidence_of: str, components: Sequence[Mapping[str, object]], **tables: Sequence[Mapping[str, object]]
) -> Path:
    """Return a store in the folder with a small invented edition that passes for the shipped one."""
    bundle = read_shipped(*write_tables(folder, components=components, **tables))
    store = open_store(str(folder / "store.sqlite"))
    import_rows(
        store, bundle.tables, load_rules(), origin="shipped 1", edition_name="1", evidence_of=evidence_of,
        shipped_digest=shipped_digest(),
    )  # fmt: skip
    store.close()
    return folder / "store.sqlite"
