"""The heterogeneity of an edition is fitted once and kept; a path that reads one component finds what all rows give."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import delete

from evidence.findings.compute import ask, shared_tau
from evidence.findings.edition import _evidence, ensure_evidence, kept_tau
from evidence.findings.path_store import _read, path_evidence
from evidence.handling import parse_chain
from evidence.model.rules import Rules
from evidence.model.tables import SharedTauRecord
from evidence.store import Store, open_store
from evidence.store.reading import shared_tau_payloads


def test_what_is_kept_is_what_the_rows_give(shipped_store: Store, rules: Rules) -> None:
    assert shared_tau_payloads(shipped_store)
    assert kept_tau(shipped_store) == shared_tau(ask(_evidence(shipped_store), rules), rules)


def test_it_is_fitted_and_kept_where_it_was_not(tmp_path: Path) -> None:
    store = open_store(str(tmp_path / "new.sqlite"))
    ensure_evidence(store)
    assert not shared_tau_payloads(store)
    first = kept_tau(store)
    assert shared_tau_payloads(store) and kept_tau(store) == first
    with store.transaction() as connection:
        connection.execute(delete(SharedTauRecord))
    assert kept_tau(store) == first
    store.close()


def test_one_components_rows_give_the_answer_that_all_rows_give(shipped_store: Store, rules: Rules) -> None:
    chain = parse_chain(rules.path.standard_chain)
    alone = _read(shipped_store, rules, "total-fat")
    assert set(alone.rows) == {"total-fat"}
    whole = path_evidence(shipped_store)
    assert alone.answer("total-fat", chain, thorough=False) == whole.answer("total-fat", chain, thorough=False)
