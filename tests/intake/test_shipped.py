"""The shipped tables: no problems, enough rows, every one with a study that can be found."""

from __future__ import annotations

import csv

import bibtexparser
import pytest
from bibtexparser.bparser import BibTexParser

from evidence.handling import contrast, handling_key, parse_chain
from evidence.intake.bundle import Bundle, read_shipped
from evidence.intake.schema import load_schemas
from evidence.model.rules import load_rules
from evidence.model.shipped import bibliography_folder, data_folder


@pytest.fixture(scope="module")
def shipped() -> Bundle:
    return read_shipped()


def _rows(name: str) -> list[dict[str, str]]:
    with (data_folder() / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_the_shipped_tables_have_no_problem(shipped: Bundle) -> None:
    assert len(shipped.rows("measurement")) == len(_rows("measurements.csv"))


def test_there_are_sixty_studies_and_four_hundred_rows_at_least(shipped: Bundle) -> None:
    rows = shipped.rows("measurement")
    assert len(rows) >= 400
    assert len({row["study"] for row in rows}) >= 60


def test_every_row_s_study_stands_in_the_bibliography() -> None:
    parser = BibTexParser(common_strings=True, ignore_nonstandard_types=False)
    with (bibliography_folder() / "studies.bib").open(encoding="utf-8") as file:
        keys = {entry["ID"] for entry in bibtexparser.load(file, parser).entries}
    assert {row["study"] for row in _rows("measurements.csv")} <= keys


def test_every_component_of_a_row_is_known() -> None:
    known = {row["id"] for row in _rows("components.csv")}
    assert {row["component"] for row in _rows("measurements.csv")} <= known


def test_every_question_asked_has_its_number_and_each_number_one_question() -> None:
    bands, columns = load_rules().bands, ("component", "form", "measured_as", "handling")
    questions = _rows("questions.csv")
    asked = set()
    for row in _rows("measurements.csv"):
        key = handling_key(contrast(parse_chain(row["handling"]), parse_chain(row["baseline"])), bands)
        if key is not None:
            asked.add((row["component"], row["form"], row["measured_as"], key))
    assert asked <= {tuple(row[column] for column in columns) for row in questions}
    assert len({row["number"] for row in questions}) == len(questions)


OWED = {
    "fat": {"total-fat"}, "protein": {"protein"}, "lactose": {"lactose", "carbohydrate"}, "energy": {"energy"},
    "vitamin C": {"vitamin-c"}, "vitamin E": {"vitamin-e"}, "antioxidants": {"total-antioxidant-capacity"},
    "lysozyme": {"lysozyme"}, "lactoferrin": {"lactoferrin"}, "IgA": {"iga", "secretory-iga"},
    "lipase": {"lipase", "bile-salt-stimulated-lipase"}, "bacteria": {"total-bacteria"},
}  # fmt: skip


@pytest.mark.parametrize("step", ["frozen", "chilled", "pasteurised"])
@pytest.mark.parametrize("name", list(OWED))
def test_what_parents_ask_about_has_rows_for_cold_and_heat(step: str, name: str) -> None:
    assert [
        row["id"] for row in _rows("measurements.csv") if row["component"] in OWED[name] and step in row["handling"]
    ]


def test_drying_and_powder_have_rows() -> None:
    dried = {row["component"] for row in _rows("measurements.csv") if "freeze-dried" in row["handling"]}
    assert {"vitamin-c", "lysozyme", "total-antioxidant-capacity"} <= dried
    assert [row for row in _rows("measurements.csv") if "kept" in row["handling"]]


def test_a_fresh_baseline_always_has_the_page_s_own_word(shipped: Bundle) -> None:
    fresh = [row for row in shipped.rows("measurement") if row["baseline_class"] == "fresh"]
    assert fresh
    assert all(row["baseline_said"] for row in fresh)


def test_every_table_of_the_data_package_is_there_with_its_columns() -> None:
    for schema in load_schemas().values():
        with (data_folder() / schema.path).open(encoding="utf-8", newline="") as file:
            heading = next(csv.reader(file))
        assert set(heading) <= set(schema.names()), schema.path
        assert {field.name for field in schema.fields if field.required} <= set(heading), schema.path


def test_no_shipped_text_carries_a_byte_order_mark_or_a_control_character() -> None:
    for path in [*data_folder().glob("*.*"), *bibliography_folder().glob("*.bib")]:
        text = path.read_text(encoding="utf-8")
        assert not text.startswith("\ufeff"), path.name
        assert all(character.isprintable() or character in "\n\t" for character in text), path.name
