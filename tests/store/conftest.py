"""A store that holds a small invented edition."""

from __future__ import annotations

from pathlib import Path

import pytest

from evidence.findings.edition import shipped_digest
from evidence.store import Store
from tests.store.small_editions import ROWS, bring, small


@pytest.fixture
def filled(store: Store, tmp_path: Path) -> Store:
    """A store with a small invented edition that passes for the shipped one."""
    bring(store, small(tmp_path, measurements=ROWS), digest=shipped_digest())
    return store
