"""The closed lists of the store and those of the data package are the same words."""

from __future__ import annotations

import pytest

from evidence.intake.schema import load_schemas
from evidence.model.lists import CLOSED_LISTS
from evidence.model.tables import Measurement


@pytest.mark.parametrize("column", sorted(CLOSED_LISTS))
def test_the_data_package_allows_what_the_store_allows(column: str) -> None:
    field = next(field for field in load_schemas()["measurements"].fields if field.name == column)
    assert set(field.enum) | ({""} if not field.required else set()) == set(CLOSED_LISTS[column])


def test_the_store_has_every_column_of_the_table() -> None:
    columns = {field.name for field in load_schemas()["measurements"].fields}
    assert columns == set(Measurement.model_fields) - {"origin", "baseline_class"}
