"""The pages that whatstays build writes, once for all tests that walk them."""

from __future__ import annotations

from pathlib import Path

import pytest

from reports.command.main import main


@pytest.fixture(scope="session")
def built_pages(shipped_path: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder that build wrote from the shipped evidence; read it, change nothing."""
    out = tmp_path_factory.mktemp("built") / "sheets"
    assert main(["build", "--language", "all", "--out", str(out), "--store", str(shipped_path)]) == 0
    return out
