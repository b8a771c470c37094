"""Imports: all or nothing, twice is once, the same hash on every database."""

from __future__ import annotations

import csv
import random
from pathlib import Path

import pytest
from sqlalchemy import text

from evidence.findings.edition import ensure_evidence, import_shipped, shipped_digest
from evidence.intake.bundle import Bundle
from evidence.model.problems import InputProblems
from evidence.model.rules import load_rules
from evidence.model.shipped import bibliography_folder, data_folder
from evidence.store import Store, import_rows, open_store
from evidence.store.edition import canonical_rows
from evidence.store.reading import edition
from tests.store.small_editions import ROWS, bring, everything, numbers, small


def test_importing_the_same_files_twice_changes_nothing(store: Store, tmp_path: Path) -> None:
    bundle = small(tmp_path, measurements=ROWS)
    first = bring(store, bundle)
    before = everything(store)
    second = bring(store, bundle)
    assert (first.changed, second.changed) == (True, False)
    assert first.edition == second.edition
    assert everything(store) == before
    assert (second.rows, second.studies) == (4, 3)


def test_the_shipped_evidence_has_one_hash_on_both_databases_and_twice_is_once(
    shipped_store: Store, postgres_url: str
) -> None:
    there = edition(shipped_store)
    assert there is not None
    other = open_store(postgres_url)
    first, second = import_shipped(other), import_shipped(other)
    assert first.edition == second.edition == there.hash
    assert (first.changed, second.changed) == (True, False)
    with shipped_store.engine.connect() as one, other.engine.connect() as two:
        assert list(canonical_rows(one)) == list(canonical_rows(two))
    other.close()


def test_the_order_of_rows_in_the_files_does_not_matter(tmp_path: Path) -> None:
    hashes = set()
    for number in range(3):
        rows = random.Random(number).sample(ROWS, len(ROWS))
        store = open_store(str(tmp_path / f"{number}.sqlite"))
        hashes.add(bring(store, small(tmp_path, str(number), measurements=rows)).edition)
        store.close()
    assert len(hashes) == 1


@pytest.mark.parametrize(
    "change", [{"retained_percent": "71"}, {"notes": "looked at again"}, {"baseline_said": "fresh"}]
)
def test_any_changed_cell_changes_the_hash(tmp_path: Path, store: Store, change: dict[str, str]) -> None:
    first = bring(store, small(tmp_path, "a", measurements=ROWS))
    second = bring(store, small(tmp_path, "b", measurements=[ROWS[0] | change, *ROWS[1:]]))
    assert second.changed
    assert first.edition != second.edition


def test_a_changed_threshold_changes_the_hash(tmp_path: Path, store: Store) -> None:
    bundle = small(tmp_path, measurements=ROWS)
    first = bring(store, bundle)
    rules = load_rules()
    other = rules.model_copy(update={"printing": rules.printing.model_copy(update={"same_margin": 0.2})})
    second = import_rows(store, bundle.tables, other, origin="shipped 1", edition_name="1", evidence_of="2031-05-03")
    assert first.edition != second.edition


def test_whose_a_row_is_does_not_change_the_hash(tmp_path: Path) -> None:
    hashes = set()
    for name in ("1", "2"):
        store = open_store(str(tmp_path / f"{name}.sqlite"))
        hashes.add(bring(store, small(tmp_path, name, measurements=ROWS), name).edition)
        store.close()
    assert len(hashes) == 1


def _broken(bundle: Bundle) -> Bundle:
    """Return the bundle with one row that only the database can refuse, after many that it takes."""
    rows = [*bundle.rows("measurement"), bundle.rows("measurement")[0] | {"id": "alpha2031milk-99", "n": -1}]
    return Bundle(bundle.tables | {"measurement": rows}, ())


def test_an_import_that_fails_late_leaves_every_row_as_it_was(filled: Store, tmp_path: Path) -> None:
    before = everything(filled)
    changed = small(tmp_path, "b", measurements=[row | {"notes": "new"} for row in ROWS])
    with pytest.raises(InputProblems):
        bring(filled, _broken(changed), "2")
    assert everything(filled) == before


def test_an_import_that_fails_leaves_a_sqlite_file_as_it_was_byte_for_byte(tmp_path: Path) -> None:
    path = tmp_path / "store.sqlite"
    store = open_store(str(path))
    bundle = small(tmp_path, measurements=ROWS)
    bring(store, bundle)
    before = path.read_bytes()
    with pytest.raises(InputProblems):
        bring(store, _broken(bundle), "2")
    store.close()
    assert path.read_bytes() == before
    assert sorted(each.name for each in tmp_path.iterdir() if each.is_file()) == ["store.sqlite"]


def test_a_first_import_that_fails_leaves_no_row(store: Store, tmp_path: Path) -> None:
    with pytest.raises(InputProblems):
        bring(store, _broken(small(tmp_path, measurements=ROWS)))
    assert edition(store) is None
    if not store.is_empty:
        assert not any(everything(store).values())


def test_numbers_in_use_stay_when_questions_are_added(store: Store, tmp_path: Path) -> None:
    bring(store, small(tmp_path, "a", measurements=ROWS[:2]))
    before = numbers(store)
    bring(store, small(tmp_path, "b", measurements=ROWS))
    after = numbers(store)
    assert {key: after[key] for key in before} == before
    assert len(after) > len(before)
    assert len(set(after.values())) == len(after)


def test_an_edition_that_numbers_its_questions_anew_is_taken_whole(filled: Store, tmp_path: Path) -> None:
    before = numbers(filled)
    bundle = small(tmp_path, "b", measurements=ROWS)
    turned = dict(zip(before, reversed(before.values()), strict=True))
    rows = [row | {"number": turned[row["component"], row["handling"]]} for row in bundle.rows("question")]
    bring(filled, Bundle(bundle.tables | {"question": rows}, ()), "2", shipped_digest())
    assert numbers(filled) == turned != before


def test_a_new_edition_may_drop_a_study_and_a_component_that_nothing_refers_to(store: Store, tmp_path: Path) -> None:
    bundle = small(tmp_path, measurements=ROWS)
    bring(store, bundle)
    fewer = bundle.tables | {
        "study": [row for row in bundle.rows("study") if row["key"] != "delta2034milk"],
        "component": [row for row in bundle.rows("component") if row["id"] != "lactose"],
        "componentname": [row for row in bundle.rows("componentname") if row["component"] != "lactose"],
    }
    bring(store, Bundle(fewer, ()), "2")
    rows = everything(store)
    assert "delta2034milk" not in {row[0] for row in rows["study"]}
    assert "lactose" not in {row[0] for row in rows["component"]}


def test_a_store_of_another_edition_is_brought_up_to_date_before_it_answers(
    tmp_path: Path, shipped_store: Store
) -> None:
    store = open_store(str(tmp_path / "old.sqlite"))
    bring(store, small(tmp_path, measurements=ROWS), digest="of another version")
    ensure_evidence(store)
    now, there = edition(store), edition(shipped_store)
    assert now is not None and there is not None
    assert now.shipped_digest == shipped_digest()
    with store.engine.connect() as connection:
        assert connection.execute(text("SELECT count(*) FROM measurement")).scalar() == there.rows
    store.close()


def test_the_files_that_are_shipped_are_those_that_are_hashed(shipped_store: Store) -> None:
    with (data_folder() / "measurements.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    held = everything(shipped_store)
    assert {row[0] for row in held["measurement"]} == {row["id"] for row in rows}
    keys = (bibliography_folder() / "studies.bib").read_text(encoding="utf-8").count("\n@")
    assert len(held["study"]) >= keys
