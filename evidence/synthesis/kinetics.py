"""Loss over storage time: first order with a jump, its temperature, and other orders to see what hangs on the order.

    first order     ln R = -a - k t       a: what freezing and thawing take at once; k: the rate
    zero order      R = 1 - a - k t
    Weibull         ln R = -a - (k t)^shape
    Arrhenius       ln k = ln A - Ea / (r T)

half-life ln 2 / k; decimal reduction time ln 10 / k; time until a share p is left (ln(1/p) - a) / k. Models of loss in
food: vanboekel2008. Several studies: the two columns (1, t) of network.py; a study departs in its jump and in its rate,
tau^2 split evenly between the two, so that at the longest measured time it departs by tau, as in one window.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from evidence.synthesis.network import Network, generalised_least_squares, make_network, path_posteriors
from evidence.synthesis.refusal import Floats, NoEstimate, as_numbers
from evidence.synthesis.settings import GridSettings, TauPrior

__all__ = [
    "GAS_CONSTANT",
    "Arrhenius",
    "CourseFit",
    "Curve",
    "Reached",
    "StorageFit",
    "arrhenius",
    "decimal_reduction_time",
    "fit_course",
    "fit_storage",
    "half_life",
    "other_orders",
    "random_scale",
    "rate_factor",
    "reached",
    "share_left",
    "storage_curve",
    "time_until",
]

GAS_CONSTANT = 8.314462618  # J / (mol K), the exact product of two SI constants (CODATA 2018)
_SHAPES = np.linspace(0.3, 3.0, 55)  # of the Weibull curve
_CURVE_POINTS = 13


def _positive(value: float, name: str) -> float:
    if not (math.isfinite(value) and value > 0.0):
        raise NoEstimate(f"{name} must be above zero, not {value!r}.")
    return value


def half_life(rate: float) -> float:
    """Return ln 2 / rate, in the time unit of the rate. Raises NoEstimate for a rate that is not above zero."""
    return math.log(2.0) / _positive(rate, "A rate")


def decimal_reduction_time(rate: float) -> float:
    """Return ln 10 / rate, in the time unit of the rate. Raises NoEstimate for a rate that is not above zero."""
    return math.log(10.0) / _positive(rate, "A rate")


def time_until(rate: float, share: float, jump: float = 0.0) -> float:
    """Return when the share (0 to 1) is left: (ln(1/share) - jump) / rate, 0 where the jump alone took more.

    Raises NoEstimate for a rate that is not above zero or a share outside 0 to 1.
    """
    if not 0.0 < share <= 1.0:
        raise NoEstimate(f"A share lies above 0 and at most 1, not {share!r}.")
    return max(0.0, (-math.log(share) - jump) / _positive(rate, "A rate"))


def share_left(rate: float, time: float, jump: float = 0.0) -> float:
    """Return exp(-jump - rate time), a share of 1."""
    return math.exp(-jump - rate * time)


@dataclass(frozen=True)
class CourseFit:
    """One course of amounts over time, fitted by ordinary least squares.

    Attributes:
        order: 0 or 1.
        rate: loss per time unit, of the amount (order 0) or of its logarithm (order 1).
        start: the fitted amount at time 0.
        r2: share of the variance that the line explains.
    """

    order: int
    rate: float
    start: float
    r2: float


def _line(x: Floats, y: Floats) -> tuple[float, float, float]:
    """Return intercept, slope and r2 of an ordinary least-squares line."""
    if np.ptp(x) == 0.0:
        raise NoEstimate("A line needs two different values to run through.")
    centred = x - np.mean(x)
    slope = float(centred @ y / (centred @ centred))
    intercept = float(np.mean(y)) - slope * float(np.mean(x))
    apart = float(np.sum((y - np.mean(y)) ** 2))
    left = float(np.sum((y - intercept - slope * x) ** 2))
    return intercept, slope, 1.0 - left / apart if apart > 0.0 else 1.0


def fit_course(time: ArrayLike, amount: ArrayLike, order: int = 1) -> CourseFit:
    """Fit amounts, shape (n,), at times, shape (n,); order 0 or 1. Raises NoEstimate."""
    times, amounts = as_numbers(time, "time"), as_numbers(amount, "amount")
    if times.shape != amounts.shape:
        raise NoEstimate("time and amount must be equally many.")
    if order not in (0, 1):
        raise NoEstimate(f"The order is 0 or 1, not {order!r}.")
    if order == 1 and np.any(amounts <= 0.0):
        raise NoEstimate("A first-order loss needs amounts above zero.")
    intercept, slope, r2 = _line(times, np.log(amounts) if order else amounts)
    return CourseFit(order, -slope, math.exp(intercept) if order else intercept, r2)


@dataclass(frozen=True)
class Arrhenius:
    """ln k = log_frequency - activation_energy / (gas constant x T).

    Attributes:
        activation_energy: J per mol (with another gas constant, in its unit of energy).
        log_frequency: ln A, A in the unit of the rates.
        r2: share of the variance of ln k that the line explains.
        temperatures: how many different ones.
    """

    activation_energy: float
    log_frequency: float
    r2: float
    temperatures: int

    def rate(self, temperature_k: float, gas_constant: float = GAS_CONSTANT) -> float:
        """Return the rate at a temperature in kelvin."""
        return math.exp(self.log_frequency - self.activation_energy / (gas_constant * temperature_k))


def arrhenius(temperature_k: ArrayLike, rate: ArrayLike, gas_constant: float = GAS_CONSTANT) -> Arrhenius:
    """Fit ln(rate) on 1 / temperature by ordinary least squares: both shape (n,), temperatures in kelvin.

    Raises NoEstimate: one temperature only, or a rate or temperature not above zero.
    """
    kelvin, rates = as_numbers(temperature_k, "temperature_k"), as_numbers(rate, "rate")
    if kelvin.shape != rates.shape or np.any(kelvin <= 0.0) or np.any(rates <= 0.0):
        raise NoEstimate("Temperatures in kelvin and rates must be above zero and equally many.")
    intercept, slope, r2 = _line(1.0 / kelvin, np.log(rates))
    return Arrhenius(-slope * gas_constant, intercept, r2, int(np.unique(kelvin).size))


def rate_factor(activation_energy: float, from_k: float, to_k: float, gas_constant: float = GAS_CONSTANT) -> float:
    """Return how many times faster the loss runs at to_k than at from_k (kelvin)."""
    return math.exp(activation_energy / gas_constant * (1.0 / from_k - 1.0 / to_k))


@dataclass(frozen=True)
class StorageFit:
    """Several studies' losses in one store over time, first order with a jump; needs two different times.

    Attributes:
        network: two columns: 1 (0 where a row compares two times in the store) and days.
        days: shape (r,), the times in the network's order.
        prior, grid: of tau.
    """

    network: Network
    days: Floats
    prior: TauPrior
    grid: GridSettings


def fit_storage(
    study: Sequence[str],
    days: ArrayLike,
    log_ratio: ArrayLike,
    se: ArrayLike,
    u: ArrayLike,
    *,
    rho: float,
    prior: TauPrior,
    grid: GridSettings,
    entered: ArrayLike | None = None,
) -> StorageFit:
    """Set up the fit; all of length r, one row a study and time. Raises NoEstimate where the times do not differ.

    entered: 1 (the default) where the row starts before the store, 0 where it compares two times in it and so tells
    of the rate alone; days is then the time between them.
    """
    times = as_numbers(days, "days")
    starts = np.ones(times.size) if entered is None else as_numbers(entered, "entered")
    if np.unique(times[starts == 1.0]).size < 2:
        raise NoEstimate("A rate needs two different times.")
    if np.any(times < 0.0):
        raise NoEstimate("A time in a store is not below zero.")
    design = np.column_stack((starts, times))
    network = make_network(design, log_ratio, se, u, study, rho=rho, random_scale=random_scale(times))
    return StorageFit(network, network.design[:, 1], prior, grid)


def random_scale(days: Floats) -> Floats:
    """Return what the columns (1, days) are multiplied by in Z, shape (2,): tau^2 split evenly at the longest time."""
    return np.array([1.0, 1.0 / float(np.max(np.abs(days)))]) / math.sqrt(2.0)


@dataclass(frozen=True)
class Curve:
    """What is left over time, as ln ratios with their interval.

    Attributes:
        days: shape (m,), from 0 to the longest measured time.
        middle, low, high: shape (m,).
        rate: -slope per day, with rate_low and rate_high.
        jump: a, what goes at once; with jump_low and jump_high.
    """

    days: Floats = field(repr=False)
    middle: Floats = field(repr=False)
    low: Floats = field(repr=False)
    high: Floats = field(repr=False)
    rate: float = 0.0
    rate_low: float = 0.0
    rate_high: float = 0.0
    jump: float = 0.0
    jump_low: float = 0.0
    jump_high: float = 0.0


def storage_curve(fit: StorageFit) -> Curve:
    """Return the curve with its band, drawn only where data lie: from 0 to the longest measured time."""
    days = np.linspace(0.0, float(np.max(fit.days)), _CURVE_POINTS)

    targets = [(1.0, float(day)) for day in days] + [(0.0, 1.0)]
    found = path_posteriors(fit.network, targets, prior=fit.prior, grid=fit.grid)
    *points, slope = np.array([(each.estimate, each.ci_low, each.ci_high) for each in found])
    jump, band = points[0], np.array(points)
    return Curve(
        days, band[:, 0], band[:, 1], band[:, 2], -float(slope[0]), -float(slope[2]), -float(slope[1]),
        -float(jump[0]), -float(jump[2]), -float(jump[1]),
    )  # fmt: skip


@dataclass(frozen=True)
class Reached:
    """When a share is left: days, and the times between which that may be; None beyond the measured times."""

    days: float | None
    low: float | None
    high: float | None


def reached(curve: Curve, share: float) -> Reached:
    """Return when the share (0 to 1) is left, read off the curve and off both edges of its band; never beyond them."""
    level = math.log(_positive(share, "A share"))

    def first(values: Floats) -> float | None:
        below = np.flatnonzero(values <= level)
        if below.size == 0:
            return None
        at = int(below[0])
        if at == 0:
            return 0.0
        part = (values[at - 1] - level) / (values[at - 1] - values[at])
        return float(curve.days[at - 1] + part * (curve.days[at] - curve.days[at - 1]))

    return Reached(first(curve.middle), first(curve.low), first(curve.high))


def other_orders(fit: StorageFit, tau: float, days: float) -> dict[str, float]:
    """Return what is left after days, a share of 1, had the loss been of zero order, first order or Weibull's shape.

    Weighted least squares at one tau, over the rows that start before the store; the Weibull shape is the best of a
    row of them. Keys zero, first, weibull.
    """
    fit = _from_the_start(fit)
    network = fit.network
    ratio = np.exp(network.log_ratio)

    def fitted(times: Floats, at: float, values: Floats, scale: Floats) -> tuple[float, float]:
        design = np.column_stack((network.design[:, 0], times))
        spread = network.covariance + tau**2 * _same_study(network, fit.days)
        covariance = spread * np.outer(scale, scale)
        found = generalised_least_squares(design, values, covariance)
        apart = values - design @ found.estimate
        return float(found.estimate @ np.array([1.0, at])), float(apart @ np.linalg.solve(covariance, apart))

    ones = np.ones(ratio.size)
    shaped = [fitted(fit.days**shape, days**shape, network.log_ratio, ones) for shape in _SHAPES]
    return {
        "zero": fitted(fit.days, days, ratio, ratio)[0],
        "first": math.exp(fitted(fit.days, days, network.log_ratio, ones)[0]),
        "weibull": math.exp(min(shaped, key=lambda found: found[1])[0]),
    }


def _from_the_start(fit: StorageFit) -> StorageFit:
    whole = np.flatnonzero(fit.network.design[:, 0] == 1.0)
    network = fit.network
    kept = Network(
        network.design[whole], network.log_ratio[whole], tuple(network.study[row] for row in whole),
        network.covariance[np.ix_(whole, whole)], network.u[whole], network.random_scale,
    )  # fmt: skip
    return StorageFit(kept, kept.design[:, 1], fit.prior, fit.grid)


def _same_study(network: Network, days: Floats) -> Floats:
    names = np.array(network.study)
    rows = np.column_stack((network.design[:, 0], days)) * network.random_scale
    return np.asarray((names[:, None] == names[None, :]) * (rows @ rows.T), dtype=np.float64)
