"""A reader's own effects pooled: rows of one study first made one, then the classical line or the shared mixture."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from evidence.synthesis.classical import PooledEstimate, pool
from evidence.synthesis.dependence import StudyEstimates, combine_within_studies
from evidence.synthesis.heterogeneity import heterogeneity
from evidence.synthesis.refusal import NoEstimate, as_effects
from evidence.synthesis.settings import GridSettings, TauPrior
from evidence.synthesis.shared import posterior

__all__ = ["EffectRows", "OwnPool", "as_own_pool", "pool_own_rows", "pool_own_rows_shared", "retained_percent"]

_LARGEST_LOG = 700.0  # exp of more overflows


class EffectRows(Protocol):
    """What is pooled here: study, log ratio and variance of each row, equally long."""

    @property
    def study(self) -> Sequence[str]:
        """Name of the study of each row."""

    @property
    def log_ratio(self) -> Sequence[float]:
        """Natural logarithm of treated over baseline."""

    @property
    def variance(self) -> Sequence[float]:
        """Its variance, above 0."""


@dataclass(frozen=True)
class OwnPool:
    """Pooled own rows, on the log-ratio scale except retained_percent.

    Attributes:
        estimate: pooled log ratio (for interval_kind "shared" the median of mu).
        se: its standard error (for "shared" the SD of mu).
        ci_low, ci_high: its interval.
        tau2: variance between studies; None for one study, and for "shared", where tau is a mixture.
        tau2_low, tau2_high: Q-profile interval of tau2; None as tau2.
        i2: share from 0 to 1, from q and its degrees of freedom; None for one study.
        q, q_p: Cochran's Q and its upper-tail probability; None for one study.
        prediction_low, prediction_high: where the true log ratio of a new study may lie; None below three studies,
            except for "shared", which always has it.
        k_studies: studies pooled.
        k_rows: rows they came from.
        retained_percent: 100 exp(estimate), what is left of 100.
        estimator: reml, dl or pm; None for one study and for "shared".
        interval_kind: hk-floor, hk, wald, shared, three-level or robust.
        df: degrees of freedom of the interval's t; None where it has none (wald, shared).
        tau2_within: variance between rows of one study; None where it does not exist.
    """

    estimate: float
    se: float
    ci_low: float
    ci_high: float
    tau2: float | None
    tau2_low: float | None
    tau2_high: float | None
    i2: float | None
    q: float | None
    q_p: float | None
    prediction_low: float | None
    prediction_high: float | None
    k_studies: int
    k_rows: int
    retained_percent: float
    estimator: str | None
    interval_kind: str
    df: float | None = None
    tau2_within: float | None = None


def pool_own_rows(
    effects: EffectRows,
    *,
    rho: float,
    estimator: str = "reml",
    interval: str = "hk-floor",
    level: float = 0.95,
) -> OwnPool:
    """Pool own rows by the classical line; rho is the correlation between rows of one study. Raises NoEstimate."""
    studies, k_rows = _one_a_study(effects, rho)
    pooled = pool(studies.log_ratio, studies.se**2, estimator=estimator, interval=interval, level=level)
    return as_own_pool(pooled, k_rows)


def as_own_pool(pooled: PooledEstimate, k_rows: int) -> OwnPool:
    """Return pooled studies as an OwnPool; k_rows: the rows they came from. Raises NoEstimate."""
    return OwnPool(
        estimate=pooled.estimate,
        se=pooled.se,
        ci_low=pooled.ci_low,
        ci_high=pooled.ci_high,
        tau2=pooled.tau2,
        tau2_low=pooled.tau2_low,
        tau2_high=pooled.tau2_high,
        i2=pooled.i2,
        q=pooled.q,
        q_p=pooled.q_p,
        prediction_low=pooled.prediction_low,
        prediction_high=pooled.prediction_high,
        k_studies=pooled.k,
        k_rows=k_rows,
        retained_percent=retained_percent(pooled.estimate),
        estimator=pooled.estimator,
        interval_kind=pooled.interval,
        df=None if pooled.interval == "wald" else float(pooled.k - 1),
    )


def pool_own_rows_shared(
    effects: EffectRows, *, rho: float, prior: TauPrior, grid: GridSettings, level: float = 0.95
) -> OwnPool:
    """Pool own rows with a given prior of tau, their variances taken as known (u = 0). Raises NoEstimate."""
    studies, k_rows = _one_a_study(effects, rho)
    k = len(studies.study)
    nothing = np.zeros(k)
    found = posterior(("figure",) * k, studies.log_ratio, studies.se, nothing, prior=prior, grid=grid, level=level)
    spread = heterogeneity(studies.log_ratio, studies.se**2) if k >= 2 else None
    return OwnPool(
        estimate=found.estimate,
        se=found.sd,
        ci_low=found.ci_low,
        ci_high=found.ci_high,
        tau2=None,
        tau2_low=None,
        tau2_high=None,
        i2=spread.i2 if spread else None,
        q=spread.q if spread else None,
        q_p=spread.q_p if spread else None,
        prediction_low=found.new_low,
        prediction_high=found.new_high,
        k_studies=k,
        k_rows=k_rows,
        retained_percent=retained_percent(found.estimate),
        estimator=None,
        interval_kind="shared",
    )


def _one_a_study(effects: EffectRows, rho: float) -> tuple[StudyEstimates, int]:
    as_effects(effects.log_ratio, effects.variance)
    se = np.sqrt(np.asarray(effects.variance, dtype=np.float64))
    rows = combine_within_studies(effects.study, effects.log_ratio, se, np.zeros(se.size), rho=rho)
    return rows, se.size


def retained_percent(log_ratio: float) -> float:
    """Return 100 exp(log_ratio), what is left of 100. Raises NoEstimate where that cannot be written down."""
    if log_ratio > _LARGEST_LOG:
        raise NoEstimate(f"A pooled log ratio of {log_ratio:g} is no share of 100 that can be written down.")
    return 100.0 * math.exp(log_ratio)
