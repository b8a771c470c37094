"""Times convert as the unit library has it, without loading that library."""

from __future__ import annotations

from itertools import permutations

import pint
import pytest

from evidence.handling.grammar import UNITS
from evidence.handling.meaning import _SECONDS, _converted

REGISTRY = pint.UnitRegistry()
TIMES = [unit for quantity, unit in UNITS.values() if quantity == "duration"]


@pytest.mark.parametrize(("unit", "target"), list(permutations(TIMES, 2)))
def test_every_unit_of_time_converts_as_pint_has_it(unit: str, target: str) -> None:
    # pint: its own definitions of minute to year (a month is a twelfth of a year of 365.25 days)
    assert unit in _SECONDS
    expected = REGISTRY.Quantity(7.0, unit).to(target).magnitude
    assert _converted(7.0, unit, target) == pytest.approx(expected, rel=1e-12)
