"""Invented worlds: whole evidence tables whose truth is known, made row by row as papers print them.

A question q of a class has a true ln ratio mu_q and heterogeneity tau_q. Study i of it has

    theta_i = mu_q + tau_q z_i,   ln s_i ~ N(ln s_class, 0.6^2),   r_i ~ U(0.55, 0.95),   c_i = s_i / sqrt(2 (1 - r_i))

and n_i mothers, whose baseline and treated values deviate by e_b and e_t (normal, SD c_i, correlation r_i, on the log
scale). It finds y_i = theta_i + mean(e_t - e_b), tests it with a paired t test, and prints what its reporting allows.
The questions, rules and recipes are those of the product: a world is an Evidence for evidence.findings.
"""

from __future__ import annotations

import math
import tomllib
from dataclasses import dataclass, make_dataclass
from dataclasses import field as dataclass_field
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal, cast

import numpy as np
from numpy.random import Generator
from scipy.special import stdtr

from evidence.findings.compute import Evidence
from evidence.model.lists import PooledClass
from evidence.model.rules import Rules
from evidence.model.tables import Component, Measurement, Question

__all__ = [
    "EXTRA",
    "SCENARIOS",
    "Process",
    "Scenario",
    "Truth",
    "World",
    "load_process",
    "make_world",
    "scenario_named",
]

_HANDLING = "expressed > frozen -20C 30d > thawed"
_KEY = "frozen:home:9-45d"  # what that chain isolates (evidence.handling.bands)
_CLASSES: tuple[PooledClass, ...] = ("bulk", "fragile")
_MEAN = 10.0  # of a baseline, in no unit: ratios do not depend on it


@dataclass(frozen=True)
class Scenario:
    """One way in which the world may be.

    selective: a figure is printed mostly for significant results; truth_percent: of every question, None for many
    truths; tau: its distribution between questions; spread_factor: s_class over that of the rules.
    """

    name: str
    selective: bool = False
    truth_percent: float | None = None
    tau: Literal["log-normal", "half-normal", "half none, half double"] = "log-normal"
    spread_factor: float = 1.0


SCENARIOS = (
    Scenario("all printed"),
    Scenario("selective", selective=True),
    Scenario("tau half-normal", tau="half-normal"),
    Scenario("tau none or double", tau="half none, half double"),
    Scenario("truth 88, selective", selective=True, truth_percent=88.0),
    Scenario("truth 100", truth_percent=100.0),
    Scenario("spread x 1.5", spread_factor=1.5),
)
# beside the seven: the hardest case for false alarms
EXTRA = (Scenario("truth 100, selective", selective=True, truth_percent=100.0),)


def scenario_named(name: str) -> Scenario:
    """Return the scenario of that name. Raises ValueError with the names there are."""
    known = {scenario.name: scenario for scenario in (*SCENARIOS, *EXTRA)}
    if name not in known:
        raise ValueError(f"There is no scenario {name!r}; known are {', '.join(known)}.")
    return known[name]


# a row of the evidence table without its store: the same columns and empty cells, made forty times as fast
_Cells = make_dataclass(
    "_Cells",
    [
        (name, Any) if field.is_required() else (name, Any, dataclass_field(default=field.default))
        for name, field in sorted(Measurement.model_fields.items(), key=lambda item: not item[1].is_required())
    ],
    frozen=True,
)

Process = dict[str, Any]
"""The content of process.toml."""


def load_process() -> Process:
    """Return how worlds are made and what is asked of the answers (process.toml, each number with its source)."""
    return tomllib.loads(Path(__file__).with_name("process.toml").read_text(encoding="utf-8"))


@dataclass(frozen=True)
class Truth:
    """What is true of one question: mu and tau on the log scale."""

    component: str
    group: PooledClass
    mu: float
    tau: float


@dataclass(frozen=True)
class World:
    """One whole evidence table and its truths, by component."""

    evidence: Evidence
    truths: dict[str, Truth]


@dataclass(frozen=True)
class _Result:
    """What one study found: ln ratio, its SD and those of the two arms between n mothers, and its two-sided P."""

    y: float
    sd: float
    sd_baseline: float
    sd_treated: float
    n: int
    p: float


def _truth(
    name: str, group: PooledClass, scenario: Scenario, process: Process, random: Generator, second: bool
) -> Truth:
    given = process["world"][group]
    mu = math.log(given["truth_percent"] / 100) + given["truth_log_sd"] * random.standard_normal()
    if scenario.truth_percent is not None:
        mu = math.log(scenario.truth_percent / 100)
    score = random.standard_normal()
    if scenario.tau == "log-normal":
        tau = given["tau_median"] * math.exp(given["tau_log_sd"] * score)
    elif scenario.tau == "half-normal":
        # the half-normal with the same median: median of |z| is 0.6745
        tau = given["tau_median"] / 0.6744897501960817 * abs(score)
    else:
        tau = 2 * given["tau_median"] * math.exp(given["tau_log_sd"] * score) if second else 0.0
    return Truth(name, group, mu, tau)


def _study(truth: Truth, class_sd: float, process: Process, random: Generator) -> _Result:
    world = process["world"]
    n = int(random.choice(world[truth.group]["mothers"]))
    sd = class_sd * math.exp(world["spread_log_sd"] * random.standard_normal())
    r = random.uniform(world["correlation_low"], world["correlation_high"])
    arm = sd / math.sqrt(2 * (1 - r))
    shared, own_b, own_t = random.standard_normal((3, n))
    e_b = arm * (math.sqrt(r) * shared + math.sqrt(1 - r) * own_b)
    e_t = arm * (math.sqrt(r) * shared + math.sqrt(1 - r) * own_t)
    difference = e_t - e_b
    y = truth.mu + truth.tau * random.standard_normal() + float(np.mean(difference))
    seen = float(np.std(difference, ddof=1))
    p = float(2 * stdtr(n - 1, -abs(y) / (seen / math.sqrt(n))))
    return _Result(y, seen, float(np.std(e_b, ddof=1)), float(np.std(e_t, ddof=1)), n, p)


def _printed_p(p: float, alpha: float, exact: bool) -> str:
    if exact:
        return f"{p:.3f}"
    return next((f"<{limit}" for limit in (0.001, 0.01, alpha) if p < limit), f">{alpha}")


def _row(
    study: str, component: str, found: _Result, scenario: Scenario, process: Process, random: Generator
) -> Measurement:
    """Print a result as a paper would; every draw is made, used or not, so that scenarios share their studies."""
    world = process["world"]
    alpha = world["significant_below"]
    significant = found.p < alpha
    prints, says_n, says_spread, by_means, says_p, exact, says_nothing = random.uniform(size=7)
    cells: dict[str, Any] = {
        "id": f"{study}-1", "study": study, "component": component, "measured_as": "amount", "basis": "milk",
        "handling": _HANDLING, "baseline": "expressed", "baseline_said": "fresh milk", "baseline_class": "fresh",
        "design": "same milk", "locator": "abstract", "read_from": "abstract", "words_scope": "this component",
        "second_read": "2026-11-25", "origin": "invented", "in_words": "decrease" if found.y < 0 else "increase",
    }  # fmt: skip
    gives_n = says_n < world["gives_n"]
    gives_spread = gives_n and says_spread < world["gives_spread"]
    if gives_n:
        cells |= {"n": found.n, "n_kind": "donors"}
    if scenario.selective and prints >= world["figure_if_significant" if significant else "figure_otherwise"]:
        return _measurement(cells | ({} if significant else {"in_words": "no change"}))
    if not significant and says_nothing < world["no_change_said"]:
        cells["in_words"] = "no change"
    cells |= {"number_is": "value", "retained_percent": f"{100 * math.exp(found.y):.1f}"}
    if gives_spread and by_means < world["two_means"]:
        treated = _MEAN * math.exp(found.y)
        cells |= {
            "retained_percent": "", "baseline_mean": f"{_MEAN:.3f}", "treated_mean": f"{treated:.3f}",
            "baseline_spread": f"{_MEAN * found.sd_baseline:.3f}",
            "treated_spread": f"{treated * found.sd_treated:.3f}",
            "spread_kind": "SD", "spread_of": "milks",
        }  # fmt: skip
    elif gives_spread:
        cells |= {
            "percent_spread": f"{100 * math.exp(found.y) * found.sd:.2f}", "percent_spread_kind": "SD",
            "spread_of": "milks", "percent_of": "mean of percents",
        }  # fmt: skip
    if says_p < world["p_own_spread" if gives_spread else "p_n_only" if gives_n else "p_no_n"]:
        cells |= {"p": _printed_p(found.p, alpha, exact < world["p_exact"]), "p_of": "this contrast"}
    return _measurement(cells)


def _measurement(cells: dict[str, Any]) -> Measurement:
    return cast(Measurement, _Cells(**cells))


@lru_cache(maxsize=256)
def _asked(name: str, group: PooledClass) -> tuple[Component, Question]:
    component = Component(
        id=name, name_en=name, sentence_name_en=name, group="invented", kind="amount", wanted="keep", outcome=group,
        origin="invented",
    )  # fmt: skip
    return component, Question(number=name, component=name, measured_as="amount", handling=_KEY, origin="invented")


def make_world(scenario: Scenario, rules: Rules, process: Process, random: Generator) -> World:
    """Return one world of a scenario; the same generator state gives the same world."""
    components, questions, rows, truths = [], [], [], {}
    class_sd = {"bulk": rules.spread.bulk_sd, "fragile": rules.spread.fragile_sd}
    for group in _CLASSES:
        counts = np.array(process["world"][group]["studies"])
        for number in range(process["world"][f"{group}_questions"]):
            name = f"{group}-{number:02d}"
            truth = _truth(name, group, scenario, process, random, number % 2 == 1)
            truths[name] = truth
            component, question = _asked(name, group)
            components.append(component)
            questions.append(question)
            studies = int(random.choice(counts[:, 0], p=counts[:, 1] / counts[:, 1].sum()))
            for unit in range(studies):
                found = _study(truth, class_sd[group] * scenario.spread_factor, process, random)
                rows.append(_row(f"{name}-study{unit:02d}", name, found, scenario, process, random))
    return World(Evidence(components, rows, (), questions), truths)
