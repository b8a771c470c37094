"""Own rows: marked as own, kept through new editions, never overwriting and never overwritten."""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest
from sqlalchemy import text
from sqlmodel import SQLModel

from evidence.findings.edition import import_own, shipped_digest
from evidence.intake.bundle import Bundle
from evidence.model.problems import InputProblems
from evidence.store import Store
from tests.invented import cells
from tests.store.small_editions import OWN, ROWS, bring, everything, numbers, own_file, small


def test_own_rows_are_marked_as_own_and_survive_a_new_shipped_edition(filled: Store, tmp_path: Path) -> None:
    import_own(filled, [own_file(tmp_path / "own.csv", OWN)])
    newer = [ROWS[0] | {"retained_percent": "72"}, *ROWS[2:]]
    done = bring(filled, small(tmp_path, "b", measurements=newer), "2", shipped_digest())
    with filled.engine.connect() as connection:
        rows = {row.id: row for row in connection.execute(SQLModel.metadata.tables["measurement"].select())}
        steps = connection.execute(
            text("SELECT count(*) FROM handlingstep WHERE measurement = 'beta2032milk-700'")
        ).scalar()
    assert rows["beta2032milk-700"].origin.startswith("own ")
    assert rows["beta2032milk-700"].retained_percent == "66"
    assert rows["alpha2031milk-1"].retained_percent == "72"
    assert rows["alpha2031milk-1"].origin == "shipped 2"
    assert "alpha2031milk-2" not in rows
    assert done.rows == 4
    assert steps == 5


def test_own_rows_imported_twice_stand_once(filled: Store, tmp_path: Path) -> None:
    path = own_file(tmp_path / "own.csv", OWN)
    first = import_own(filled, [path])
    before = everything(filled)
    second = import_own(filled, [path])
    assert (first.changed, second.changed) == (True, False)
    assert everything(filled) == before


def test_a_corrected_own_row_replaces_the_own_row_of_its_id(filled: Store, tmp_path: Path) -> None:
    import_own(filled, [own_file(tmp_path / "own.csv", OWN)])
    done = import_own(filled, [own_file(tmp_path / "own.csv", OWN | {"retained_percent": "61"})])
    assert (done.changed, done.rows) == (True, len(ROWS) + 1)


OWN_COMPONENT = {
    "id": "examplin", "name_en": "examplin", "synonyms_en": "exampline;examplin E", "sentence_name_en": "examplin",
    "group": "invented", "kind": "amount", "wanted": "keep", "outcome": "fragile",
}  # fmt: skip


def test_own_components_and_overlaps_imported_twice_stand_once(filled: Store, tmp_path: Path) -> None:
    files = [
        own_file(tmp_path / "components.csv", OWN_COMPONENT),
        own_file(tmp_path / "own.csv", OWN | {"component": "examplin"}),
        own_file(
            tmp_path / "overlaps.csv",
            {
                "key_a": "gamma2033milk",
                "key_b": "delta2034milk",
                "certainty": "certain",
                "why": "x",
                "keep": "delta2034milk",
            },
        ),
    ]
    first = import_own(filled, files)
    before = everything(filled)
    second = import_own(filled, files)
    assert (first.changed, second.changed) == (True, False)
    assert everything(filled) == before


def test_a_name_taken_out_of_an_own_component_is_gone(filled: Store, tmp_path: Path) -> None:
    import_own(filled, [own_file(tmp_path / "components.csv", OWN_COMPONENT)])
    import_own(filled, [own_file(tmp_path / "components.csv", OWN_COMPONENT | {"synonyms_en": "exampline"})])
    with filled.engine.connect() as connection:
        names = connection.execute(text("SELECT name FROM componentname WHERE component = 'examplin'")).scalars()
        assert sorted(names) == ["examplin", "exampline"]


def test_an_own_row_with_a_shipped_id_is_told_and_overwrites_nothing(filled: Store, tmp_path: Path) -> None:
    before = everything(filled)
    with pytest.raises(InputProblems) as refused:
        import_own(filled, [own_file(tmp_path / "own.csv", OWN | {"id": "alpha2031milk-1", "study": "alpha2031milk"})])
    (problem,) = refused.value.problems
    assert problem.read == "alpha2031milk-1"
    assert problem.row == 2 and "the shipped evidence uses this one" in problem.allowed
    assert everything(filled) == before


def test_a_new_edition_whose_ids_clash_with_own_rows_tells_all_of_them(filled: Store, tmp_path: Path) -> None:
    import_own(
        filled, [own_file(tmp_path / "own.csv", OWN, OWN | {"id": "beta2032milk-701", "retained_percent": "64"})]
    )
    before = everything(filled)
    newer = [*ROWS, OWN, OWN | {"id": "beta2032milk-701"}]
    with pytest.raises(InputProblems) as refused:
        bring(filled, small(tmp_path, "b", measurements=newer), "2")
    assert {problem.read for problem in refused.value.problems} == {"beta2032milk-700", "beta2032milk-701"}
    assert everything(filled) == before


def _numbered(bundle: Bundle, known: dict[tuple[str, str], str]) -> Bundle:
    """Return the bundle as an edition ships it: numbers in use stay, new questions take the next ones."""
    kept = {key: number for key, number in known.items() if number.startswith("A-")}
    following = itertools.count(max(int(number[2:]) for number in kept.values()) + 1)
    rows = [
        row | {"number": kept.get((row["component"], row["handling"])) or f"A-{next(following):04d}"}
        for row in bundle.rows("question")
    ]
    return Bundle(bundle.tables | {"question": rows}, ())


def test_a_question_of_own_rows_keeps_its_number_when_a_new_edition_numbers_others(
    filled: Store, tmp_path: Path
) -> None:
    import_own(filled, [own_file(tmp_path / "own.csv", OWN | {"component": "ph", "measured_as": "physical"})])
    mine = numbers(filled)["ph", "freeze-dried"]
    # the next edition asks more, under the numbers that came next
    bundle = small(
        tmp_path, "b", measurements=[*ROWS, cells(id="delta2034milk-1", study="delta2034milk", component="lactose",
                                                  retained_percent=99)],
    )  # fmt: skip
    bring(filled, _numbered(bundle, numbers(filled)), "2", shipped_digest())
    assert numbers(filled)["ph", "freeze-dried"] == mine
    assert numbers(filled)["lactose", "freeze-dried"] != mine


def test_a_new_edition_that_asks_an_own_question_leaves_it_its_number(filled: Store, tmp_path: Path) -> None:
    import_own(filled, [own_file(tmp_path / "own.csv", OWN | {"component": "ph", "measured_as": "physical"})])
    mine = numbers(filled)["ph", "freeze-dried"]
    bundle = small(
        tmp_path,
        "b",
        measurements=[*ROWS, ROWS[0] | {"component": "ph", "measured_as": "physical", "id": "alpha2031milk-8"}],
    )
    bring(filled, _numbered(bundle, numbers(filled)), "2", shipped_digest())
    assert numbers(filled)["ph", "freeze-dried"] == mine


def test_a_study_that_own_rows_refer_to_stays_when_an_edition_drops_it(filled: Store, tmp_path: Path) -> None:
    import_own(filled, [own_file(tmp_path / "own.csv", OWN | {"study": "delta2034milk", "id": "delta2034milk-1"})])
    bundle = small(tmp_path, "b", measurements=ROWS)
    fewer = bundle.tables | {"study": [row for row in bundle.rows("study") if row["key"] != "delta2034milk"]}
    bring(filled, Bundle(fewer, ()), "2", shipped_digest())
    rows = everything(filled)
    assert "delta2034milk" in {row[0] for row in rows["study"]}
    assert "delta2034milk-1" in {row[0] for row in rows["measurement"]}


def test_own_files_with_a_problem_leave_the_store_as_it_was(filled: Store, tmp_path: Path) -> None:
    before = everything(filled)
    good = cells(id="alpha2031milk-500", retained_percent=60)
    with pytest.raises(InputProblems) as refused:
        import_own(filled, [own_file(tmp_path / "own.csv", good, good | {"id": "alpha2031milk-501", "n_kind": "x"})])
    assert [problem.row for problem in refused.value.problems] == [3]
    assert everything(filled) == before
