"""Editions: the shipped evidence brought into a store, findings computed once an edition and kept there."""

from __future__ import annotations

import getpass
import json
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from evidence.model.digest import shipped_digest
from evidence.model.shipped import data_folder
from evidence.store.connection import Store
from evidence.store.reading import (
    all_rows,
    edition,
    findings_payloads,
    keep_findings,
    keep_sensitivity,
    keep_shared_tau,
    sensitivity_payloads,
    shared_tau_payloads,
)

if TYPE_CHECKING:
    from evidence.findings.compute import Evidence, SharedTau
    from evidence.findings.finding import Finding
    from evidence.findings.sensitivity import Sensitivity
    from evidence.model.lists import PooledClass
    from evidence.model.tables import Component, Measurement, Study
    from evidence.store.importing import Imported

__all__ = [
    "ensure_evidence",
    "findings",
    "import_alone",
    "import_own",
    "import_shipped",
    "kept_tau",
    "other_choices",
    "shipped_digest",
]


def _stamp() -> dict[str, str]:
    raw = tomllib.loads((data_folder() / "edition.toml").read_text(encoding="utf-8"))
    return {"edition_name": str(raw["name"]), "evidence_of": str(raw["evidence_of"])}


def import_shipped(store: Store) -> Imported:
    """Bring the shipped edition into the store; own rows stay. Raises InputProblems."""
    from evidence.intake.bundle import read_shipped
    from evidence.model.rules import load_rules
    from evidence.store.importing import import_rows

    stamp = _stamp()
    origin = f"shipped {stamp['edition_name']}"
    return import_rows(
        store, read_shipped().tables, load_rules(), origin=origin, shipped_digest=shipped_digest(), **stamp
    )


def _who() -> str:
    try:
        return getpass.getuser()
    except (KeyError, OSError):  # an account without a name, as in some containers
        return "unnamed"


def _shipped(rows: Iterable[Study | Measurement | Component], key: str) -> frozenset[str]:
    return frozenset(getattr(row, key) for row in rows if row.origin.startswith("shipped"))


def import_own(store: Store, paths: Sequence[Path]) -> Imported:
    """Bring a user's own tables and references into the store. Raises InputProblems; the store then stays as it was."""
    from evidence.intake.bundle import Known, read_files
    from evidence.model.rules import load_rules
    from evidence.model.tables import Component, Measurement, Question, Study
    from evidence.store.importing import import_rows

    ensure_evidence(store)
    studies, components = all_rows(store, Study), all_rows(store, Component)
    known = Known(
        frozenset(study.key for study in studies),
        {component.id: component.outcome for component in components},
        {
            "study": _shipped(studies, "key"),
            "measurement": _shipped(all_rows(store, Measurement), "id"),
            "component": _shipped(components, "id"),
        },
        frozenset(question.number for question in all_rows(store, Question)),
    )
    bundle = read_files(paths, known)
    origin = f"own {_who()} {date.today().isoformat()}"
    return import_rows(store, bundle.tables, load_rules(), origin=origin, shipped_digest=shipped_digest(), **_stamp())


def import_alone(store: Store, paths: Sequence[Path]) -> Imported:
    """Bring tables into an empty store with the shipped components and cautions, and none of the shipped rows."""
    from evidence.intake.bundle import Known, read_files, read_shipped
    from evidence.model.rules import load_rules
    from evidence.store.importing import import_rows

    shipped = read_shipped()
    known = Known(outcomes={row["id"]: row["outcome"] for row in shipped.rows("component")})
    tables = read_files(paths, known).tables
    for name in ("component", "componentname", "caution"):
        tables[name] = shipped.rows(name)
    return import_rows(store, tables, load_rules(), origin="own alone", shipped_digest=shipped_digest(), **_stamp())


def ensure_evidence(store: Store) -> None:
    """Bring in the shipped edition where the store is empty or holds an older one."""
    there = edition(store)
    if there is None or there.shipped_digest != shipped_digest():
        import_shipped(store)


def findings(store: Store) -> list[Finding]:
    """Return all findings of the store's edition, computed now if they were not kept; in order of their numbers."""
    from evidence.findings.kept import finding_from_json, finding_to_json

    there = edition(store)
    assert there is not None, "ensure_evidence comes first"
    kept = findings_payloads(store)
    if kept:
        return [finding_from_json(kept[number]) for number in sorted(kept)]
    computed, shared = _compute(store)
    keep_findings(store, there.hash, {each.number: finding_to_json(each) for each in computed})
    _keep_tau(store, there.hash, shared)
    return computed


def kept_tau(store: Store) -> dict[PooledClass, SharedTau]:
    """Return what each class shares in the store's edition, fitted now if it was not kept."""
    from evidence.findings.compute import SharedTau, share
    from evidence.model.rules import load_rules

    there = edition(store)
    assert there is not None, "ensure_evidence comes first"
    kept = [json.loads(payload) for payload in shared_tau_payloads(store).values()]
    if kept:
        lists = ("fitted_on", "spread_fitted_on")
        return {raw["group"]: SharedTau(**raw | {name: tuple(raw[name]) for name in lists}) for raw in kept}
    _, shared, _ = share(_evidence(store), load_rules())
    _keep_tau(store, there.hash, shared)
    return shared


def _keep_tau(store: Store, edition_hash: str, shared: Mapping[PooledClass, SharedTau]) -> None:
    keep_shared_tau(store, edition_hash, {group: json.dumps(asdict(each)) for group, each in shared.items()})


def other_choices(store: Store) -> dict[str, Sensitivity]:
    """Return what findings of two or more studies would be if one choice were made otherwise, by their numbers.

    Computed now if it was not kept. Of a single study there is nothing to choose.
    """
    from pydantic import TypeAdapter

    from evidence.findings.sensitivity import Sensitivity, sensitivities
    from evidence.model.rules import load_rules

    adapter = TypeAdapter(Sensitivity)
    there = edition(store)
    assert there is not None, "ensure_evidence comes first"
    kept = sensitivity_payloads(store)
    if kept:
        return {number: adapter.validate_json(payload) for number, payload in kept.items()}
    several = {finding.number for finding in findings(store) if len(finding.figure_studies) >= 2}
    computed = sensitivities(_evidence(store), load_rules(), several)
    keep_sensitivity(store, there.hash, {each.number: adapter.dump_json(each).decode() for each in computed})
    return {each.number: each for each in computed}


def _compute(store: Store) -> tuple[list[Finding], dict[PooledClass, SharedTau]]:
    from evidence.findings.compute import compute_findings
    from evidence.model.rules import load_rules

    return compute_findings(_evidence(store), load_rules())


def _evidence(store: Store) -> Evidence:
    from evidence.findings.compute import Evidence
    from evidence.model.tables import Appraisal, Component, Measurement, Overlap, Override, Question, Study

    return Evidence(
        all_rows(store, Component),
        all_rows(store, Measurement),
        all_rows(store, Overlap),
        all_rows(store, Question),
        frozenset(study.key for study in all_rows(store, Study) if study.completeness == "unidentified"),
        all_rows(store, Appraisal),
        all_rows(store, Override),
    )
