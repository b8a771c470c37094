"""What is left over storage time in one store: a first-order fit where times carry it, else the times measured."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from evidence.findings.path_rows import HELD, Strand, store_of
from evidence.model.lists import BaselineClass
from evidence.model.rules import Rules, StorageRules
from evidence.synthesis import GridSettings, TauPrior
from evidence.synthesis.kinetics import (
    Arrhenius,
    Curve,
    Reached,
    arrhenius,
    fit_storage,
    other_orders,
    reached,
    storage_curve,
)

__all__ = ["StoreAnswer", "TimedFigure", "may_fit", "over_temperatures", "store_answer", "stores_of", "timed_figures"]

_ZERO_C_IN_K = 273.15


@dataclass(frozen=True)
class TimedFigure:
    """One study's figure in one store: days in it (net of the baseline's), and how often it went in (0 or 1)."""

    study: str
    days: float
    times_in: int
    log_ratio: float
    se: float
    u: float
    times: tuple[float, ...]
    baseline: BaselineClass


@dataclass(frozen=True)
class StoreAnswer:
    """What is known of a component over time in one store.

    measured_days: the times with a figure; said_days: those looked at in words only; curve, left and other are None
    where nothing was fitted. left: when rules.storage.left_percent of 100 are left, never beyond the measured times.
    other: parts of 100 left at the longest time had the loss been of another order (zero, first, weibull); figures:
    those behind it.
    """

    component: str
    form: str
    measured_as: str
    store: str
    fitted: bool
    measured_days: tuple[float, ...]
    studies: tuple[str, ...]
    curve: Curve | None
    left: Reached | None
    other: dict[str, float] | None
    figures: tuple[TimedFigure, ...] = ()


def timed_figures(strand: Strand, store: str) -> tuple[TimedFigure, ...]:
    """Return the figures of a store whose days are exact and that set nothing else apart."""
    found = []
    for each in strand.timed:
        if each.days is not None and all(store_of(key) == store for key, _ in each.counts):
            times_in = sum(count for _, count in each.counts)
            found += [
                TimedFigure(
                    study.study, each.days, times_in, study.log_ratio, study.se, study.u, each.times, study.baseline
                )
                for study in each.figures
            ]
    return tuple(found)


def may_fit(figures: Iterable[TimedFigure], rules: StorageRules) -> bool:
    """Return whether times carry a rate: two studies of two or more times each, or four times over three studies."""
    known = tuple(figures)
    times: dict[str, set[float]] = defaultdict(set)
    for figure in known:
        times[figure.study] |= set(figure.times)
    starts = {figure.days for figure in known if figure.times_in == 1}
    several = sum(len(each) >= rules.times_each for each in times.values())
    in_all = set().union(*times.values()) if times else set()
    enough = len(times) >= rules.studies_in_all and len(in_all) >= rules.times_in_all
    # comparisons of two times in the store tell of the rate alone: the curve needs figures from its start as well
    return len(starts) > 1 and (several >= rules.studies_with_times or enough)


def stores_of(strand: Strand) -> tuple[str, ...]:
    """Return the stores a strand has rows in, in order."""
    keys = {key for each in strand.contrasts for key, _ in each.counts}
    return tuple(sorted({store_of(key) for key in keys if key.split(":")[0] in HELD}))


def store_answer(strand: Strand, store: str, prior: TauPrior, rules: Rules) -> StoreAnswer:
    """Return what is known of a store; the curve only where rules.storage allows it."""
    figures = timed_figures(strand, store)
    studies = tuple(sorted({figure.study for figure in figures}))
    days = tuple(sorted({time for figure in figures for time in figure.times}))
    curve, left, other = None, None, None
    fitted = may_fit(figures, rules.storage)
    if fitted:
        grid = GridSettings(**rules.likelihood.model_dump())
        fit = fit_storage(
            [figure.study for figure in figures], [figure.days for figure in figures],
            [figure.log_ratio for figure in figures], [figure.se for figure in figures],
            [figure.u for figure in figures], entered=[figure.times_in for figure in figures],
            rho=rules.spread.between_row_correlation, prior=prior, grid=grid,
        )  # fmt: skip
        curve = storage_curve(fit)
        left = reached(curve, rules.storage.left_percent / 100)
        if len(days) >= rules.storage.sensitivity_times:
            longest = max(figure.days for figure in figures)
            orders = other_orders(fit, prior.median, longest)
            other = {order: 100 * share for order, share in orders.items()}
    return StoreAnswer(
        strand.component, strand.form, strand.measured_as, store, fitted, days, studies, curve, left, other, figures
    )


def over_temperatures(rates: Sequence[tuple[float, float]], rules: StorageRules) -> Arrhenius | None:
    """Return how the rate of loss follows temperature: pairs (degrees C, rate a day), None below three temperatures.

    Rates that are not above zero show no loss to follow and are left out.
    """
    usable = [(cold + _ZERO_C_IN_K, rate) for cold, rate in rates if rate > 0.0 and math.isfinite(rate)]
    if len({kelvin for kelvin, _ in usable}) < rules.arrhenius_temperatures:
        return None
    return arrhenius([kelvin for kelvin, _ in usable], [rate for _, rate in usable])
