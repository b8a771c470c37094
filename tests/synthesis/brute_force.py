"""The posterior of a question by plain Simpson quadrature on a dense grid: slow, and written from the formulas."""

from collections.abc import Sequence

import numpy as np
from scipy import integrate, optimize, stats

from tests.synthesis.published_data import Floats

Row = tuple[str, float, float, float]


def row_likelihood(row: Row, mu: Floats, tau: Floats, reach: float, nodes: int) -> Floats:
    """Return the averaged likelihood of one row, tau down and mu across."""
    kind, y, se, u = row
    places, weights = np.polynomial.hermite.hermgauss(nodes)
    total = np.zeros((tau.size, mu.size))
    for place, weight in zip(places, weights / np.sqrt(np.pi), strict=True):
        at_node = se * np.exp(np.sqrt(2.0) * u * place)
        spread = np.sqrt(at_node**2 + tau[:, None] ** 2)
        if kind == "figure":
            part = stats.norm.pdf((y - mu) / spread) / spread
        elif kind == "no_change":
            part = stats.norm.cdf((reach * at_node - mu) / spread) - stats.norm.cdf((-reach * at_node - mu) / spread)
        elif kind == "fall":
            part = stats.norm.cdf(-mu / spread)
        elif kind == "rise":
            part = 1.0 - stats.norm.cdf(-mu / spread)
        elif kind == "at_most":
            part = stats.norm.cdf((y - mu) / spread)
        else:
            part = 1.0 - stats.norm.cdf((y - mu) / spread)
        total += weight * part
    return total


def quantiles(
    rows: Sequence[Row], log_centre: float, log_sd: float, reach: float = 2.1, nodes: int = 5
) -> dict[str, float]:
    """Return median, 2.5 and 97.5 % of mu, and 2.5 and 97.5 % of a new study."""
    scores = np.linspace(-6.0, 7.0, 131)
    tau = np.exp(log_centre + log_sd * scores)
    centre = float(np.median([row[1] for row in rows if row[0] == "figure"]))
    # Even in asinh: fine where the rows are, wide enough for the heavy flanks.
    steps = np.linspace(-np.arcsinh(400.0), np.arcsinh(400.0), 3001)
    mu = centre + 0.1 * np.sinh(steps)
    slope = 0.1 * np.cosh(steps)
    joint = stats.norm.pdf(scores)[:, None] * np.ones_like(mu)
    for row in rows:
        joint = joint * row_likelihood(row, mu, tau, reach, nodes)
    marginal = integrate.simpson(joint, x=scores, axis=0) * slope
    below = integrate.cumulative_simpson(marginal, x=steps, initial=0.0)
    below /= below[-1]
    found = {
        name: float(np.interp(p, below, mu)) for name, p in (("estimate", 0.5), ("ci_low", 0.025), ("ci_high", 0.975))
    }
    cells = joint * slope
    whole = float(integrate.simpson(integrate.simpson(cells, x=steps, axis=1), x=scores))

    def new_below(value: float) -> float:
        inner = integrate.simpson(cells * stats.norm.cdf((value - mu) / tau[:, None]), x=steps, axis=1)
        return float(integrate.simpson(inner, x=scores)) / whole

    for name, p in (("new_low", 0.025), ("new_high", 0.975)):
        found[name] = float(optimize.brentq(lambda x, p=p: new_below(x) - p, -30.0, 30.0, xtol=1e-7))
    return found
