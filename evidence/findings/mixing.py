"""How much water makes one bag of powder up to the milk it came from: a mass balance of the client's own weighings.

    water = bag x (mass in / mass out - 1)

What dries away is water, so powder and water together weigh what the milk weighed. Arithmetic, no finding: nothing in
it says whether water or powder is safe.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from evidence.model.problems import InputProblems, Problem, nearest_word
from evidence.model.rules import Rules

__all__ = ["Mass", "Mixing", "read_mixing"]

# as written -> as pint knows it
_MASSES = {"g": "gram", "kg": "kilogram", "oz": "ounce", "lb": "pound"}
_VOLUMES = ("ml", "l", "cl", "dl", "floz", "fl oz", "cup", "cups", "pint", "pints")
_WRITTEN = re.compile(r"(?P<number>\d{1,9}(?:\.\d{1,6})?)\s*(?P<unit>[A-Za-z][A-Za-z ]{0,8})")
_ALLOWED = "a mass: a number and g, kg, oz or lb, as in 4800g or 4.8 kg"


@dataclass(frozen=True)
class Mass:
    """A mass as it was written, and in grams."""

    number: str
    unit: str
    grams: float


@dataclass(frozen=True)
class Mixing:
    """Milk put in, powder that came out, powder in one bag."""

    milk: Mass
    powder: Mass
    bag: Mass

    @property
    def milk_for_powder(self) -> float:
        """Parts of milk that one part of powder came from, by mass."""
        return self.milk.grams / self.powder.grams

    @property
    def water_g(self) -> float:
        """Grams of water that make one bag up to the milk it came from."""
        return self.bag.grams * (self.milk_for_powder - 1)

    @property
    def made_up_g(self) -> float:
        """Grams of milk that one bag came from."""
        return self.bag.grams + self.water_g


@lru_cache(maxsize=1)
def _registry() -> Any:
    import pint

    return pint.UnitRegistry()


def _read(option: str, text: str) -> Mass | Problem:
    found = _WRITTEN.fullmatch(text.strip())
    unit = "" if found is None else found["unit"].strip().lower()
    if unit in _VOLUMES:
        return Problem(option, None, None, text, f"{_ALLOWED}; a volume is not a mass: weigh it")
    if found is None or unit not in _MASSES:
        return Problem(option, None, None, text, _ALLOWED, nearest_word(unit, _MASSES) if unit else None)
    grams = float(_registry().Quantity(float(found["number"]), _MASSES[unit]).to("gram").magnitude)
    if grams <= 0:
        return Problem(option, None, None, text, "more than nothing")
    return Mass(found["number"], unit, grams)


def read_mixing(mass_in: str | None, mass_out: str | None, bag: str | None, rules: Rules) -> Mixing | None:
    """Return the three masses read, None where none is given. Raises InputProblems with all that is wrong with them."""
    given = {"--mass-in": mass_in, "--mass-out": mass_out, "--bag": bag}
    written = {option: text for option, text in given.items() if text is not None}
    if not written:
        return None
    lacking = [option for option in given if option not in written]
    if lacking:
        allowed = f"together with {' and '.join(lacking)}: water for a bag needs all three masses"
        raise InputProblems([Problem(option, None, None, text, allowed) for option, text in written.items()])
    read = {option: _read(option, text) for option, text in written.items()}
    problems = [found for found in read.values() if isinstance(found, Problem)]
    milk, powder, portion = (found if isinstance(found, Mass) else None for found in read.values())
    problems += _implausible(milk, powder, portion, written, rules)
    if problems or milk is None or powder is None or portion is None:
        raise InputProblems(problems)
    return Mixing(milk, powder, portion)


def _implausible(
    milk: Mass | None, powder: Mass | None, bag: Mass | None, written: dict[str, str], rules: Rules
) -> list[Problem]:
    """Return what cannot be right about the masses that were read."""
    problems = []
    if milk is not None and powder is not None:
        share = 100 * powder.grams / milk.grams
        low, high = rules.client.lowest_yield_percent, rules.client.highest_yield_percent
        if share >= 100:
            allowed = f"less than --mass-in ({written['--mass-in']}): what dries away is water"
            problems.append(Problem("--mass-out", None, None, written["--mass-out"], allowed))
        elif not low <= share <= high:
            read = f"{written['--mass-out']} out of {written['--mass-in']} ({share:.3g} of 100)"
            allowed = (
                f"from {low:g} to {high:g} of every 100 parts of milk left as powder, as milk is mostly water "
                "(a container weighed with it, or powder still moist, would show like this)"
            )
            problems.append(Problem("--mass-out", None, None, read, allowed))
    if powder is not None and bag is not None and bag.grams > powder.grams:
        allowed = f"no more than all the powder (--mass-out {written['--mass-out']})"
        problems.append(Problem("--bag", None, None, written["--bag"], allowed))
    return problems
