"""Everything an import brings, checked as a whole before a single row is written."""

from __future__ import annotations

from collections.abc import Iterable, Sequence, Set
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from evidence.handling import baseline_class, contrast, extent, fresh_limit_hours, handling_key, parse_chain
from evidence.intake.checks import measurement_notices, measurement_problems
from evidence.intake.overrides import override_problems
from evidence.intake.reading import Table, read_csv_lines, read_table
from evidence.intake.references import read_references
from evidence.intake.schema import TableSchema, load_schemas
from evidence.model.entries import study_row
from evidence.model.problems import InputProblems, Problem, nearest_word
from evidence.model.rules import Rules, load_rules
from evidence.model.shipped import bibliography_folder, data_folder

__all__ = ["Bundle", "Known", "assemble", "read_files", "read_shipped"]

Row = dict[str, Any]
_LANGUAGES = ("en", "fr", "es")
# columns that hold a study's key, and tables whose component must be known
_STUDY_COLUMNS = {"overlaps": ("key_a", "key_b", "keep"), "appraisals": ("study",)}
_COMPONENT_TABLES = ("questions", "composition", "intake")


@dataclass(frozen=True)
class Known:
    """What rows may refer to beyond the files being read: study keys, and components with their outcome class.

    taken: keys that rows of the shipped edition hold, by table ("study", "measurement", "component"); own rows need
    keys of their own. numbers: of answers that a reviewer may speak of.
    """

    studies: frozenset[str] = frozenset()
    outcomes: dict[str, str] = field(default_factory=dict)
    taken: dict[str, frozenset[str]] = field(default_factory=dict)
    numbers: frozenset[str] = frozenset()


@dataclass(frozen=True)
class Bundle:
    """Rows by store table, in an order that satisfies foreign keys, and the notices that came with them."""

    tables: dict[str, list[Row]]
    notices: tuple[Problem, ...]

    def rows(self, table: str) -> list[Row]:
        """Return the rows of one table, empty if it brought none."""
        return self.tables.get(table, [])


def _component_names(row: Row) -> list[Row]:
    names: list[Row] = []
    for language in _LANGUAGES:
        written = [row[f"name_{language}"], *row.pop(f"synonyms_{language}").split(";")]
        names += [
            {"component": row["id"], "language": language, "name": name}
            for name in dict.fromkeys(part.strip() for part in written if part.strip())
        ]
    return names


def _steps(measurement: str, chain_name: str, text: str) -> list[Row]:
    rows: list[Row] = []
    for position, step in enumerate(parse_chain(text).steps, start=1):
        warmth = extent(step.measure("temperature"), "degree_Celsius")
        days = extent(step.measure("duration"), "day")
        rows.append(
            {
                "measurement": measurement,
                "chain": chain_name,
                "position": position,
                "step": step.name,
                "method": step.method or "",
                "text": str(step),
                "temperature_low_c": warmth.low,
                "temperature_high_c": warmth.high,
                "duration_low_days": days.low,
                "duration_high_days": days.high,
            }
        )
    return rows


def _measurement(row: dict[str, str], outcomes: dict[str, str], rules: Rules) -> tuple[Row, str | None]:
    made: Row = dict(row)
    for column in ("n", "n_mothers"):
        made[column] = int(row[column]) if row[column] else None
    baseline = parse_chain(row["baseline"])
    limit = fresh_limit_hours(row["component"], outcomes[row["component"]], rules.fresh)
    made["baseline_class"] = baseline_class(baseline, row["baseline_said"], limit, rules.fresh)
    return made, handling_key(contrast(parse_chain(row["handling"]), baseline), rules.bands)


def _table_of(path: Path, schemas: dict[str, TableSchema]) -> TableSchema:
    by_name = next((schema for schema in schemas.values() if schema.path == path.name), None)
    if by_name is not None:
        return by_name
    heading = {cell.strip() for cell in read_csv_lines(path)[0][1]}
    shared = {name: len(heading & set(schema.names())) for name, schema in schemas.items()}
    best = max(shared, key=lambda name: shared[name])
    if shared[best] * 2 < len(heading) or best not in ("measurements", "components", "overlaps"):
        allowed = (
            "a table of measurements, components or overlaps (columns as in data/datapackage.json), or a .bib file"
        )
        read = ", ".join(sorted(heading))
        raise InputProblems([Problem(path.name, 1, None, read, allowed, nearest_word(path.stem, schemas))])
    return schemas[best]


def _reference_problems(table: Table, columns: Sequence[str], known: set[str], where: str) -> list[Problem]:
    return [
        Problem(table.file, line, column, row[column], where, nearest_word(row[column], known))
        for line, row in zip(table.lines, table.rows, strict=True)
        for column in columns
        if row[column] not in known
    ]


def _taken_problems(file: str, column: str, keys: Iterable[tuple[int | None, str]], taken: Set[str]) -> list[Problem]:
    allowed = "a key of your own: the shipped evidence uses this one"
    return [Problem(file, line, column, key, allowed) for line, key in keys if key in taken]


def _read(bibs: Sequence[Path], csvs: Sequence[Path], known: Known) -> Bundle:
    schemas = load_schemas()
    problems: list[Problem] = []
    references: list[dict[str, str]] = []
    for path in bibs:
        try:
            entries = read_references(path)
            named = [(None, entry["ID"]) for entry in entries]
            problems += _taken_problems(path.name, "key", named, known.taken.get("study", frozenset()))
            references += entries
        except InputProblems as found:
            problems += found.problems
    tables: dict[str, list[Table]] = {}
    for path in csvs:
        try:
            schema = _table_of(path, schemas)
            table, wrong = read_table(path, schema)
        except InputProblems as found:
            problems += found.problems
        else:
            problems += wrong
            taken = known.taken.get(schema.name.removesuffix("s"), frozenset())
            keys = [(line, row.get("id", "")) for line, row in zip(table.lines, table.rows, strict=True)]
            problems += _taken_problems(table.file, "id", keys, taken)
            tables.setdefault(schema.name, []).append(table)
    return assemble(references, tables, known, problems)


def assemble(
    references: list[dict[str, str]], tables: dict[str, list[Table]], known: Known, problems: Sequence[Problem] = ()
) -> Bundle:
    """Check what was read across its tables and make the rows of the store, however they were written down.

    Raises InputProblems with the problems found so far and all that are found here.
    """
    problems = list(problems)
    studies = {entry["ID"] for entry in references} | known.studies
    outcomes = known.outcomes | {r["id"]: r["outcome"] for t in tables.get("components", []) for r in t.rows}
    notices: list[Problem] = []
    for table in tables.get("measurements", []):
        problems += measurement_problems(table, studies, set(outcomes))
        notices += measurement_notices(table)
    for name, columns in _STUDY_COLUMNS.items():
        for table in tables.get(name, []):
            problems += _reference_problems(table, columns, studies, "a key of the bibliography")
    numbers = {row["number"] for table in tables.get("questions", []) for row in table.rows} | known.numbers
    for table in tables.get("overrides", []):
        problems += override_problems(table, numbers)
    for name in _COMPONENT_TABLES:
        for table in tables.get(name, []):
            problems += _reference_problems(table, ("component",), set(outcomes), "an id of components.csv")
    if problems:
        raise InputProblems(problems)
    return Bundle(_made(references, tables, outcomes, load_rules()), tuple(notices))


def _made(
    references: list[dict[str, str]], tables: dict[str, list[Table]], outcomes: dict[str, str], rules: Rules
) -> dict[str, list[Row]]:
    def rows(name: str) -> list[dict[str, str]]:
        return [dict(row) for table in tables.get(name, []) for row in table.rows]

    components, names = [dict[str, Any](row) for row in rows("components")], []
    for row in components:
        names += _component_names(row)
    measurements, steps, asked = [], [], set()
    for row in rows("measurements"):
        measurement, handling = _measurement(row, outcomes, rules)
        measurements.append(measurement)
        steps += _steps(row["id"], "treated", row["handling"]) + _steps(row["id"], "baseline", row["baseline"])
        if handling is not None:
            asked.add((row["component"], row["form"], row["measured_as"], handling))
    cautions: list[Row] = [
        {column: row[column] for column in ("id", "text_en", "text_fr", "text_es", "topics", "guidance")}
        | {"position": position}
        for position, row in enumerate(rows("cautions"), start=1)
    ]
    numbered: list[Row] = list(rows("questions"))
    have = {(q["component"], q["form"], q["measured_as"], q["handling"]) for q in numbered}
    unnumbered = [
        {"number": "", "component": c, "form": f, "measured_as": m, "handling": h}
        for c, f, m, h in sorted(asked - have)
    ]
    return {
        "study": [study_row(entry) for entry in references],
        "component": components,
        "componentname": names,
        "measurement": measurements,
        "handlingstep": steps,
        "overlap": rows("overlaps"),
        "override": rows("overrides"),
        "appraisal": rows("appraisals"),
        "composition": rows("composition"),
        "intake": rows("intake"),
        "guidance": rows("guidance"),
        "caution": cautions,
        "question": numbered + unnumbered,
    }


def read_shipped(data: Path | None = None, bibliography: Path | None = None) -> Bundle:
    """Read the shipped tables and bibliography.

    Raises InputProblems with everything that is wrong in any of the files.
    """
    folder = data or data_folder()
    csvs = [folder / schema.path for name, schema in load_schemas().items() if name != "handlings"]
    return _read([(bibliography or bibliography_folder()) / "studies.bib"], csvs, Known())


def read_files(paths: Sequence[Path], known: Known) -> Bundle:
    """Read a user's own tables (.csv) and references (.bib); rows may refer to what is known already.

    Raises InputProblems with everything that is wrong in any of the files.
    """
    bibs = [path for path in paths if path.suffix.lower() == ".bib"]
    return _read(bibs, [path for path in paths if path not in bibs], known)
