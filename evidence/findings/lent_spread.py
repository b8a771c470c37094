"""The SD between milks that rows without a spread are lent, fitted once per edition from the rows that print their own.

    s_class = exp(mean over studies of ln s_i),   s_i the geometric mean of a study's own SDs of the ln ratio

A class with few such studies keeps the value of rules.toml, and the fitted one stays inside its limits.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from evidence.effects import Effect, effect_of, pooled_class
from evidence.model.lists import PooledClass
from evidence.model.rules import Rules
from evidence.model.tables import Component, Measurement

__all__ = ["LentSpread", "lent_spread", "with_spreads"]

_LENDING: tuple[PooledClass, ...] = ("bulk", "fragile")


@dataclass(frozen=True)
class LentSpread:
    """The SD of the ln ratio between milks lent within a class, and the studies it was fitted on.

    fitted_on is empty where the value is that of rules.toml; studies counts those that print a spread of their own.
    """

    group: PooledClass
    sd: float
    studies: int
    fitted_on: tuple[str, ...]


def _own_sds(
    components: Sequence[Component], measurements: Sequence[Measurement], uncitable: frozenset[str], rules: Rules
) -> dict[PooledClass, dict[str, list[float]]]:
    """Return ln SD of every row with its own spread, by class and study; an SD behind a P is none of them."""
    kind = {each.id: each for each in components}
    found: dict[PooledClass, dict[str, list[float]]] = defaultdict(lambda: defaultdict(list))
    for row in sorted(measurements, key=lambda each: each.id):
        about = kind[row.component]
        group = pooled_class(row.measured_as, about.outcome, about.wanted)
        if group not in _LENDING or row.study in uncitable:
            continue
        effect = effect_of(row, group, rules)
        if isinstance(effect, Effect) and effect.own_spread and effect.n and "P" not in effect.recipe.split():
            found[group][row.study].append(math.log(effect.se * math.sqrt(effect.n)))
    return found


def lent_spread(
    components: Sequence[Component], measurements: Sequence[Measurement], uncitable: frozenset[str], rules: Rules
) -> dict[PooledClass, LentSpread]:
    """Return what is lent in the classes that lend a fitted spread."""
    own = _own_sds(components, measurements, uncitable, rules)
    spread = rules.spread
    given: dict[PooledClass, tuple[float, float, float]] = {
        "bulk": (spread.bulk_sd, spread.bulk_sd_low, spread.bulk_sd_high),
        "fragile": (spread.fragile_sd, spread.fragile_sd_low, spread.fragile_sd_high),
    }
    lent: dict[PooledClass, LentSpread] = {}
    for group, (sd, low, high) in given.items():
        studies = own.get(group, {})
        on: tuple[str, ...] = ()
        if len(studies) >= spread.refit_from_studies:
            logs = [sum(values) / len(values) for _, values in sorted(studies.items())]
            fitted = math.exp(math.fsum(logs) / len(logs))
            # four digits: enough for any sentence, and the same on every machine
            sd, on = round(min(max(fitted, low), high), 4), tuple(sorted(studies))
        lent[group] = LentSpread(group, sd, len(studies), on)
    return lent


def with_spreads(rules: Rules, spreads: Mapping[PooledClass, float]) -> Rules:
    """Return the rules with other lent SDs; spreads: of bulk and of fragile components, others are not read."""
    fitted = {f"{group}_sd": spreads[group] for group in _LENDING if group in spreads}
    return rules.model_copy(update={"spread": rules.spread.model_copy(update=fitted)})
