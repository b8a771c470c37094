"""Settings of the shared-heterogeneity mixture; the caller reads their values from the rules."""

import math
from dataclasses import dataclass

from evidence.synthesis.refusal import NoEstimate

__all__ = ["GridSettings", "TauPrior"]


@dataclass(frozen=True)
class TauPrior:
    """What is known of tau, the SD between studies, before the rows are seen: ln tau ~ N(ln median + shift, log_sd^2).

    Attributes:
        median: the fitted or given middle of tau, on the log-ratio scale, above 0.
        log_sd: standard deviation of ln tau, above 0.
        shift: added to ln median, because fitted medians come out low.
    """

    median: float
    log_sd: float
    shift: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a prior that is no distribution."""
        if not (math.isfinite(self.median) and self.median > 0.0):
            raise NoEstimate(f"The median of tau must be above zero, not {self.median!r}.")
        if not (math.isfinite(self.log_sd) and self.log_sd > 0.0):
            raise NoEstimate(f"The SD of ln tau must be above zero, not {self.log_sd!r}.")
        if not math.isfinite(self.shift):
            raise NoEstimate(f"The shift of ln tau must be a finite number, not {self.shift!r}.")

    @property
    def log_centre(self) -> float:
        """Mean of ln tau."""
        return math.log(self.median) + self.shift


@dataclass(frozen=True)
class GridSettings:
    """How fine the deterministic grid is, and what "no significant change" means.

    Attributes:
        mu_points: points in mu, used in panels of four; at least 80.
        tau_points: points in ln tau, at least 15.
        se_nodes: Gauss-Hermite nodes of ln(se), at least 1.
        not_significant_reach: half-width, in standard errors, of what a test calls no significant change.
    """

    mu_points: int
    tau_points: int
    se_nodes: int
    not_significant_reach: float

    def __post_init__(self) -> None:
        """Refuse a grid too coarse to be trusted."""
        if self.mu_points < 80 or self.tau_points < 15 or self.se_nodes < 1:
            raise NoEstimate("The grid needs at least 80 points of mu, 15 of tau and one node of the standard error.")
        if not (math.isfinite(self.not_significant_reach) and self.not_significant_reach > 0.0):
            raise NoEstimate(f"not_significant_reach must be above zero, not {self.not_significant_reach!r}.")
