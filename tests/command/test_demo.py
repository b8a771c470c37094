"""The invented demo is marked on every page and touches no published row."""

from __future__ import annotations

import re
from pathlib import Path

from pypdf import PdfReader

from evidence.model.tables import Measurement
from evidence.store import Store
from evidence.store.reading import all_rows
from reports.command.main import main


def test_every_page_of_the_demo_says_that_it_is_invented_and_holds_no_published_study(
    tmp_path: Path, shipped_store: Store
) -> None:
    out = tmp_path / "demo"
    assert main(["demo", "--out", str(out)]) == 0
    published = {row.study for row in all_rows(shipped_store, Measurement)}
    pages = sorted(out.glob("*.html"))
    assert len(pages) >= 6
    for page in pages:
        text = page.read_text(encoding="utf-8")
        assert "INVENTED DEMO" in text, page.name
        assert not any(f"study-{key}" in text for key in published), page.name
    texts = sorted(out.glob("*.txt"))
    assert texts
    assert all(path.read_text(encoding="utf-8").startswith("INVENTED DEMO") for path in texts)
    assert not (out / "dossier.html").exists()  # it tells of papers read and rows counted
    for path in out.glob("*.pdf"):
        for sheet in PdfReader(path).pages:
            assert "INVENTED DEMO" in re.sub(r"\s+", " ", sheet.extract_text()), path.name


def test_the_demo_is_in_no_shipped_table(shipped_store: Store) -> None:
    assert not any(row.study.startswith("invented") for row in all_rows(shipped_store, Measurement))
