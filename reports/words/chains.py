"""Handling chains in words: expressed > frozen -20C 60d is "expressed → frozen, −20 °C, 60 days"."""

from __future__ import annotations

from evidence.handling import parse_chain
from evidence.handling.grammar import Measure, Step
from reports.words.catalogue import Catalogue, load_catalogue

__all__ = ["chain_steps", "chain_words"]


def chain_words(text: str, say: Catalogue) -> str:
    """Return a chain as one line, its steps parted by arrows; raises HandlingError where it cannot be read."""
    return " → ".join(chain_steps(text, say))


def chain_steps(text: str, say: Catalogue) -> tuple[str, ...]:
    """Return the steps of a chain in words, one text each."""
    words = load_catalogue(say.language, "chains")
    return tuple(_step(step, words) for step in parse_chain(text).steps)


def _step(step: Step, words: Catalogue) -> str:
    key = f"step/{step.name}:{step.method}" if step.method else f"step/{step.name}"
    told = [words.say(key), *(_measure(measure, words) for measure in step.measures)]
    line = ", ".join(told)
    if not step.conditions:
        return line
    conditions = []
    for condition in step.conditions:
        name = words.say(f"condition/{condition.name}")
        if condition.measure is not None:
            name = f"{name} {_measure(condition.measure, words)}"
        conditions.append(name)
    return words.say("line/with_conditions", step=line, conditions=", ".join(conditions))


def _measure(measure: Measure, words: Catalogue) -> str:
    low = _figure(measure.low, words)
    value = low if measure.high is None else words.say("line/range", low=low, high=_figure(measure.high, words))
    plain = measure.high is None and measure.low.isdigit()
    told = words.count(f"unit/{measure.unit.replace('/', ' per ')}", int(measure.low) if plain else 2, value=value)
    if measure.bound:
        told = words.say(f"bound/{measure.bound}", value=told)
    return words.say("bound/about", value=told) if measure.about else told


def _figure(text: str, words: Catalogue) -> str:
    return words.number(float(text), len(text.partition(".")[2]))
