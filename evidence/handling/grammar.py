"""One line of text for what was done to a milk, parsed into ordered steps and printed back the same.

    expressed > frozen -18..-20C 30d [bag] > thawed [fridge] > freeze-dried [shelf 40C] > kept 25C <=90d [dark, sealed]

A step is a word of data/vocabulary/steps.csv, then a method of that step (methods.csv) where it has one, then measures,
then conditions in square brackets (conditions.csv). A measure is a number or a range with its unit, with <=, >=, < or >
in front where the source prints a bound and "about" where it prints an approximation. What is absent was not stated.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from evidence.handling.vocabulary import Vocabulary, load_vocabulary
from evidence.model.problems import nearest_word

__all__ = ["Chain", "Condition", "HandlingError", "Measure", "Step", "parse_chain"]

_MEASURE = re.compile(
    r"^(?P<bound><=|>=|<|>)?(?P<low>-?\d+(?:\.\d+)?)(?:\.\.(?P<high>-?\d+(?:\.\d+)?))?(?P<unit>[A-Za-z%][A-Za-z/0-9]*)$"
)
# a ">" with room around it parts two steps; one glued to a number is a bound
_SEPARATOR = re.compile(r"\s+>\s+")
# unit as written -> (quantity, unit as pint knows it)
UNITS: dict[str, tuple[str, str]] = {
    "C": ("temperature", "degree_Celsius"),
    "F": ("temperature", "degree_Fahrenheit"),
    "s": ("duration", "second"),
    "min": ("duration", "minute"),
    "h": ("duration", "hour"),
    "d": ("duration", "day"),
    "wk": ("duration", "week"),
    "mo": ("duration", "month"),
    "y": ("duration", "year"),
    "MPa": ("pressure", "megapascal"),
    "bar": ("pressure", "bar"),
    "kGy": ("dose", "kilogray"),
    "J/L": ("dose", "joule/liter"),
    "kJ/L": ("dose", "kilojoule/liter"),
    "J/mL": ("dose", "joule/milliliter"),
    "W": ("power", "watt"),
    "mL/h": ("flow", "milliliter/hour"),
    "%": ("percent", "percent"),
    "x": ("repeats", ""),
}


class HandlingError(ValueError):
    """A handling that cannot be read: what was read, what is allowed, the nearest known word."""

    def __init__(self, read: str, allowed: str, nearest: str | None = None) -> None:
        self.read, self.allowed, self.nearest = read, allowed, nearest
        super().__init__(f"read {read!r}; allowed: {allowed}" + (f"; nearest known: {nearest}" if nearest else ""))


@dataclass(frozen=True)
class Measure:
    """A printed quantity: one number or a range, its unit, and whether it is a bound or an approximation."""

    low: str
    high: str | None
    unit: str
    bound: str | None = None
    about: bool = False

    @property
    def quantity(self) -> str:
        """What is measured: temperature, duration, pressure, dose, power, flow, percent or repeats."""
        return UNITS[self.unit][0]

    def __str__(self) -> str:
        text = f"{self.bound or ''}{self.low}" + (f"..{self.high}" if self.high is not None else "") + self.unit
        return f"about {text}" if self.about else text


@dataclass(frozen=True)
class Condition:
    """A word of the controlled list, with a measure where that word takes one (shelf 40C)."""

    name: str
    measure: Measure | None = None

    def __str__(self) -> str:
        return self.name if self.measure is None else f"{self.name} {self.measure}"


@dataclass(frozen=True)
class Step:
    """One thing done to the milk."""

    name: str
    method: str | None = None
    measures: tuple[Measure, ...] = ()
    conditions: tuple[Condition, ...] = ()

    def measure(self, quantity: str) -> Measure | None:
        """Return the step's measure of that quantity (temperature, duration, ...), or None where not stated."""
        return next((measure for measure in self.measures if measure.quantity == quantity), None)

    def __str__(self) -> str:
        parts = [self.name, *([self.method] if self.method else []), *map(str, self.measures)]
        if self.conditions:
            parts.append("[" + ", ".join(map(str, self.conditions)) + "]")
        return " ".join(parts)


@dataclass(frozen=True)
class Chain:
    """The ordered steps a milk went through before it was analysed."""

    steps: tuple[Step, ...]

    def __str__(self) -> str:
        return " > ".join(map(str, self.steps))

    def names(self) -> tuple[str, ...]:
        """Return the step words in order."""
        return tuple(step.name for step in self.steps)


def _parse_measure(token: str, about: bool) -> Measure | None:
    found = _MEASURE.match(token)
    if found is None or found["unit"] not in UNITS:
        return None
    return Measure(found["low"], found["high"], found["unit"], found["bound"], about)


def _parse_measures(tokens: list[str]) -> tuple[Measure, ...]:
    measures: list[Measure] = []
    about = False
    for token in tokens:
        if token == "about" and not about:
            about = True
            continue
        measure = _parse_measure(token, about)
        if measure is None:
            unit = re.sub(r"^[<>=]*[-\d.]*", "", token)
            allowed = "a number or range with a unit (" + ", ".join(UNITS) + "), as in -20C, 30d, <=90d, 2..4h"
            raise HandlingError(token, allowed, nearest_word(unit, UNITS) if unit else None)
        if any(measure.quantity == earlier.quantity for earlier in measures):
            raise HandlingError(token, f"one {measure.quantity} a step")
        measures.append(measure)
        about = False
    if about:
        raise HandlingError("about", "a measure after the word about, as in about 25C")
    return tuple(measures)


def _parse_condition(text: str, vocabulary: Vocabulary) -> Condition:
    name, *rest = text.split()
    if name not in vocabulary.conditions:
        raise HandlingError(text, "a condition of vocabulary/conditions.csv", nearest_word(name, vocabulary.conditions))
    takes = vocabulary.conditions[name]
    measures = _parse_measures(rest)
    if [measure.quantity for measure in measures] != ([takes] if takes else []):
        raise HandlingError(text, f"{name} with one {takes}" if takes else f"{name} alone")
    return Condition(name, measures[0] if measures else None)


def _parse_step(text: str, vocabulary: Vocabulary) -> Step:
    body, bracket, inside = text.partition("[")
    conditions: tuple[Condition, ...] = ()
    if bracket:
        if not inside.endswith("]") or not inside[:-1].strip():
            raise HandlingError(text, "conditions between one pair of square brackets at the end of the step")
        conditions = tuple(
            _parse_condition(part.strip(), vocabulary) for part in inside[:-1].split(",") if part.strip()
        )
    name, *tokens = body.split() or [""]
    if name not in vocabulary.steps:
        raise HandlingError(name, "a step of vocabulary/steps.csv", vocabulary.nearest_step(text))
    method = None
    methods = vocabulary.methods.get(name, ())
    if tokens and tokens[0].isascii() and tokens[0].replace("-", "").isalpha() and tokens[0] != "about":
        method = tokens.pop(0)
        if method not in methods:
            raise HandlingError(
                method, f"a method of {name} ({', '.join(methods) or 'none'})", nearest_word(method, methods)
            )
    return Step(name, method, _parse_measures(tokens), conditions)


def parse_chain(text: str, vocabulary: Vocabulary | None = None) -> Chain:
    """Parse a handling chain.

    Raises HandlingError (read, allowed, nearest) at the first unknown step, method, unit or condition.
    """
    words = vocabulary or load_vocabulary()
    if not text.strip():
        raise HandlingError(text, "at least one step, as in expressed > frozen -20C 30d")
    return Chain(tuple(_parse_step(part.strip(), words) for part in _SEPARATOR.split(text.strip())))
