"""One strand as a network of steps: what a path, or any part of it, comes to, and whether direct and indirect agree."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from evidence.findings.finding import StudyEstimate
from evidence.findings.path_rows import HELD, Contrasted, StepAsked, Strand, store_of
from evidence.findings.storage import may_fit, timed_figures
from evidence.model.rules import Rules
from evidence.synthesis import GridSettings, TauPrior
from evidence.synthesis.consistency import GlobalConsistency, global_consistency
from evidence.synthesis.identify import is_identified, smallest_measurement
from evidence.synthesis.network import Network, PathEstimate, make_network, part_touched, path_posterior
from evidence.synthesis.refusal import Floats

__all__ = ["Amount", "Consistency", "Part", "PathModel"]

# a step key, how often, and for how many days (asked of a fitted store)
Part = tuple[str, float, float | None]


@dataclass(frozen=True)
class Amount:
    """Parts still there of every 100: middle and interval."""

    retained_percent: float
    ci_low: float
    ci_high: float


@dataclass(frozen=True)
class Consistency:
    """Direct over indirect, as a ratio in percent (100: they agree), with its interval; all None without a loop."""

    ratio_percent: float | None
    ci_low: float | None
    ci_high: float | None

    @property
    def tested(self) -> bool:
        """Whether there is a loop to test."""
        return self.ratio_percent is not None


def _amount(found: PathEstimate) -> Amount:
    return Amount(100 * math.exp(found.estimate), 100 * math.exp(found.ci_low), 100 * math.exp(found.ci_high))


@dataclass(frozen=True)
class PathModel:
    """The network of a strand; stores whose times carry a rate have two columns, their jump and their days."""

    strand: Strand
    prior: TauPrior
    rules: Rules
    _known: dict[tuple[Part, ...], PathEstimate] = field(default_factory=dict, repr=False, compare=False)

    @cached_property
    def fitted(self) -> frozenset[str]:
        """The stores whose loss over time is fitted."""
        keys = {key for each in self.strand.contrasts for key, _ in each.counts}
        stores = {store_of(key) for key in keys if key.split(":")[0] in HELD}
        return frozenset(store for store in stores if may_fit(timed_figures(self.strand, store), self.rules.storage))

    def _in_fitted(self, each: Contrasted) -> bool:
        return any(store_of(key) in self.fitted for key, _ in each.counts)

    @cached_property
    def _rows(self) -> tuple[Contrasted, ...]:
        timed = [each for each in self.strand.timed if self._in_fitted(each)]
        others = [each for each in self.strand.contrasts if not self._in_fitted(each)]
        return tuple(each for each in (*others, *timed) if each.figures)

    def _columns_of(self, each: Contrasted) -> dict[str, float]:
        """Return a contrast's numbers by column; a time that is not exact keeps its window's own column."""
        found: dict[str, float] = {}
        for key, count in each.counts:
            column = key
            if store_of(key) in self.fitted and each.days is not None:
                column = f"{store_of(key)}:jump"
                found[f"{store_of(key)}:day"] = each.days
            found[column] = found.get(column, 0.0) + count
        return {column: number for column, number in found.items() if number}

    @cached_property
    def columns(self) -> tuple[str, ...]:
        """The columns of the design, in order."""
        return tuple(sorted({column for each in self._rows for column in self._columns_of(each)}))

    @cached_property
    def network(self) -> Network | None:
        """The network of all figures, or None without any."""
        return self._network(self._rows)

    def _network(self, contrasts: Sequence[Contrasted]) -> Network | None:
        rows = [(self._columns_of(each), study) for each in contrasts for study in each.figures]
        if not rows:
            return None
        design = [[numbers.get(column, 0.0) for column in self.columns] for numbers, _ in rows]
        return make_network(
            design,
            [study.log_ratio for _, study in rows],
            [study.se for _, study in rows],
            [study.u for _, study in rows],
            [study.study for _, study in rows],
            rho=self.rules.spread.between_row_correlation,
            random_scale=[self._scale(column) for column in self.columns],
        )

    def _scale(self, column: str) -> float:
        # tau^2 split evenly between jump and rate at the longest time, as in kinetics.random_scale
        if column.endswith(":jump"):
            return math.sqrt(0.5)
        return math.sqrt(0.5) / self.longest_fitted(column.removesuffix(":day")) if column.endswith(":day") else 1.0

    def longest_fitted(self, store: str) -> float:
        """Return the longest time, in days, with a figure in a fitted store."""
        return max(time for figure in timed_figures(self.strand, store) for time in figure.times)

    def part(self, step: StepAsked) -> Part:
        """Return what a step asks of the model: in a fitted store its days, else its window."""
        fitted = store_of(step.key) in self.fitted and step.days is not None
        return step.key, 1.0, step.days if fitted else None

    def target(self, parts: Sequence[Part]) -> Floats | None:
        """Return the target of a sum of parts, shape (p,), or None where a part has no column at all."""
        wanted = np.zeros(len(self.columns))
        for key, count, days in parts:
            numbers = {key: count}
            if days is not None:
                numbers = {f"{store_of(key)}:jump": count, f"{store_of(key)}:day": count * days}
            for column, number in numbers.items():
                if column not in self.columns:
                    return None
                wanted[self.columns.index(column)] += number
        return wanted

    def identified(self, parts: Sequence[Part]) -> bool:
        """Return whether the figures identify a sum of parts."""
        wanted = self.target(parts)
        return self.network is not None and wanted is not None and is_identified(self.network.design, wanted)

    def amount(self, parts: Sequence[Part]) -> Amount | None:
        """Return what is still there after these parts, or None where it is not identified."""
        asked = tuple(sorted(parts, key=str))
        if not self.identified(asked) or self.network is None:
            return None
        wanted = self.target(asked)
        assert wanted is not None
        if asked not in self._known:
            grid = GridSettings(**self.rules.likelihood.model_dump())
            level = self.rules.printing.path_level
            self._known[asked] = path_posterior(self.network, wanted, prior=self.prior, grid=grid, level=level)
        return _amount(self._known[asked])

    def tau_of(self, part: Part) -> tuple[float, float]:
        """Return the variance of a step's log ratio and the median of tau behind it; the step must be identified."""
        self.amount([part])
        found = self._known[(part,)]
        return found.sd**2, found.tau_median

    def studies_behind(self, step: StepAsked) -> tuple[StudyEstimate, ...]:
        """Return the studies of just this step; in a fitted store, of all its times."""
        if self.part(step)[2] is None:
            return self.strand.direct(step.key)
        store = store_of(step.key)
        own = [each for each in self.strand.timed if each.days is not None]
        return tuple(
            study for each in own if all(store_of(key) == store for key, _ in each.counts) for study in each.figures
        )

    def smallest(self, steps: Sequence[StepAsked]) -> tuple[int, int] | None:
        """Return first and last place of the shortest run of steps whose measurement would identify them all."""
        names = [str(place) if self.target([self.part(step)]) is None else None for place, step in enumerate(steps)]
        extra = [name for name in names if name is not None]

        def wide(places: range) -> Floats:
            known = [self.part(steps[place]) for place in places if names[place] is None]
            base = self.target(known)
            assert base is not None
            return np.concatenate([base, [float(name in {names[place] for place in places}) for name in extra]])

        design = self.network.design if self.network is not None else np.zeros((0, len(self.columns)))
        design = np.hstack([design, np.zeros((design.shape[0], len(extra)))])
        runs = [range(a, b + 1) for a in range(len(steps)) for b in range(a, len(steps))]
        runs.sort(key=lambda run: (len(run), run.start))
        at = smallest_measurement(design, wide(range(len(steps))), [wide(run) for run in runs])
        return None if at is None else (runs[at].start, runs[at].stop - 1)

    def consistency(self, step: StepAsked) -> Consistency:
        """Compare what studies of just this step found with what the others imply (dias2010, node-splitting).

        An extra column for the direct rows is their difference from the rest; it is identified where a loop exists.
        """
        nothing = Consistency(None, None, None)
        part = self.part(step)
        if part[2] is not None or self.network is None:
            return nothing
        order = [(self._columns_of(each), study) for each in self._rows for study in each.figures]
        column = np.array([float(set(numbers) == {step.key}) for numbers, _ in order])
        if not np.any(column):
            return nothing
        design = [[numbers.get(name, 0.0) for name in self.columns] for numbers, _ in order]
        widened = np.column_stack([design, column])
        wanted = np.zeros(widened.shape[1])
        wanted[-1] = 1.0
        if not is_identified(widened, wanted):
            return nothing
        network = make_network(
            widened, [study.log_ratio for _, study in order], [study.se for _, study in order],
            [study.u for _, study in order], [study.study for _, study in order],
            rho=self.rules.spread.between_row_correlation,
            # the extra column is no step of its own: it adds no departure of the study
            random_scale=[*(self._scale(name) for name in self.columns), 0.0],
        )  # fmt: skip
        found = _amount(
            path_posterior(network, wanted, prior=self.prior, grid=GridSettings(**self.rules.likelihood.model_dump()))
        )
        return Consistency(found.retained_percent, found.ci_low, found.ci_high)

    def agreement(self, steps: Sequence[StepAsked]) -> GlobalConsistency | None:
        """Test whether all figures that touch these steps agree with one another; None where nothing can tell."""
        if self.network is None:
            return None
        columns = {
            column
            for step in steps
            for key, _, days in [self.part(step)]
            for column in ([key] if days is None else [f"{store_of(key)}:jump", f"{store_of(key)}:day"])
        }
        touched = part_touched(self.network, [float(column in columns) for column in self.columns])
        if touched is None:
            return None
        days = [place for place, column in enumerate(self.columns) if column.endswith(":day")]
        grid = GridSettings(**self.rules.likelihood.model_dump())
        return global_consistency(touched, prior=self.prior, grid=grid, lines=days)
