"""Volumes and temperatures in the reader's units; the units a settings file may ask for."""

from __future__ import annotations

import re
from typing import Literal

from reports.words.catalogue import Catalogue
from reports.words.told import Told

__all__ = ["ML_A_FLUID_OUNCE", "UNITS", "Units", "temperatures_in", "volume_words"]

Units = Literal["metric", "us"]
UNITS: tuple[Units, ...] = ("metric", "us")

# the US fluid ounce: a gallon is 231 cubic inches of 2.54 cm, and 128 fluid ounces (NIST Handbook 44, appendix C)
ML_A_FLUID_OUNCE = 231 * 2.54**3 / 128

_SIGNED = r"[-−–]?\d+(?:[.,]\d+)?"
# "5 °C", "70 to 76 °C", "−18 °C": what stands between two numbers of one range is at most a word
_CELSIUS = re.compile(
    rf"(?P<first>{_SIGNED})(?:(?P<between>[\s\u00a0\u202f]+\w{{1,3}}[\s\u00a0\u202f]+)(?P<last>{_SIGNED}))?(?P<gap>[\s\u00a0\u202f]?)°C"
)


def volume_words(ml: float, units: Units, say: Catalogue) -> str:
    """Return a volume in ml, or in US fluid ounces to the half; say: the part "in_a_day"."""
    if units == "metric":
        return say.say("volume/metric", value=say.number(ml))
    ounces = round(2 * ml / ML_A_FLUID_OUNCE) / 2
    return say.say("volume/us", value=say.number(ounces, 0 if ounces == int(ounces) else 1))


def temperatures_in(text: str, units: Units) -> str:
    """Return a sentence with its temperatures in the reader's units; its trail stays with it."""
    if units == "metric" or "°C" not in text:
        return text
    told = _CELSIUS.sub(_fahrenheit, text)
    return Told(told, *text.trail) if isinstance(text, Told) else told


def _fahrenheit(found: re.Match[str]) -> str:
    last = f"{found['between']}{_degrees(found['last'])}" if found["last"] else ""
    return f"{_degrees(found['first'])}{last}{found['gap']}°F"


def _degrees(celsius: str) -> str:
    sign = -1 if celsius[0] in "-−–" else 1
    value = sign * float(celsius.lstrip("-−–").replace(",", "."))
    fahrenheit = round(value * 9 / 5 + 32)
    return f"−{-fahrenheit}" if fahrenheit < 0 else str(fahrenheit)
