"""Panels of four Gauss-Legendre points: where a density is known, integrated and asked for its quantiles."""

from dataclasses import dataclass

import numpy as np

from evidence.synthesis.refusal import Floats

__all__ = ["PanelDistribution", "Panels", "is_resolved", "make_panels", "panel_polynomials", "place_edges"]

POINTS = 4
_ROOTS, _ROOT_WEIGHTS = np.polynomial.legendre.leggauss(POINTS)
_PLACES, _SHARES = (_ROOTS + 1.0) / 2.0, _ROOT_WEIGHTS / 2.0
# Values at the four places -> coefficients of the cubic through them, on [0, 1], already integrated once.
_INTEGRATED = np.linalg.inv(np.vander(_PLACES, increasing=True)) / np.arange(1.0, POINTS + 1.0)[:, None]
_TAIL_LEFT_OUT = 1e-10  # mass given up at each end of the range when edges are placed again
_HALVINGS = 60
_RESOLVED = 1.5


@dataclass(frozen=True)
class Panels:
    """A range cut into panels.

    Attributes:
        edges: shape (panels + 1,), rising.
        points: shape (4 * panels,), the Gauss-Legendre points.
        weights: shape (4 * panels,), so that sum(weights * f(points)) is the integral of f.
    """

    edges: Floats
    points: Floats
    weights: Floats


@dataclass(frozen=True)
class PanelDistribution:
    """A distribution on a line, kept as a cubic density in every panel.

    Attributes:
        edges: shape (panels + 1,), rising.
        below: shape (panels + 1,), probability below each edge, from 0 to 1.
        rise: shape (panels, 4); with s the place in the panel from 0 to 1, below + sum(rise[m] s^(m + 1)).
    """

    edges: Floats
    below: Floats
    rise: Floats

    def prob_below(self, value: float) -> float:
        """Return the probability below value."""
        if value <= self.edges[0]:
            return 0.0
        if value >= self.edges[-1]:
            return 1.0
        panel = int(np.searchsorted(self.edges, value, side="right")) - 1
        place = (value - self.edges[panel]) / (self.edges[panel + 1] - self.edges[panel])
        return min(1.0, max(0.0, self._at(panel, float(place))))

    def quantile(self, probability: float) -> float:
        """Return the value that has the given probability (0 to 1) below it."""
        panel = int(np.searchsorted(self.below, probability, side="right")) - 1
        panel = min(max(panel, 0), self.rise.shape[0] - 1)
        start = float(self.below[panel])
        first, second, third, fourth = self.rise[panel].tolist()
        low, high = 0.0, 1.0
        for _ in range(_HALVINGS):
            middle = 0.5 * (low + high)
            reached = start + middle * (first + middle * (second + middle * (third + middle * fourth)))
            if reached < probability:
                low = middle
            else:
                high = middle
        return float(self.edges[panel] + 0.5 * (low + high) * (self.edges[panel + 1] - self.edges[panel]))

    def _at(self, panel: int, s: float) -> float:
        first, second, third, fourth = (float(part) for part in self.rise[panel])
        return float(self.below[panel]) + s * (first + s * (second + s * (third + s * fourth)))


def make_panels(edges: Floats) -> Panels:
    """Return the panels between edges, shape (panels + 1,), which must rise."""
    widths = np.diff(edges)
    points = edges[:-1, None] + widths[:, None] * _PLACES
    return Panels(edges, points.ravel(), (widths[:, None] * _SHARES).ravel())


def panel_polynomials(panels: Panels, density: Floats) -> tuple[Floats, Floats]:
    """Return what lies below each edge, shape (..., panels + 1), and the rise in each panel, shape (..., panels, 4).

    density: shape (..., 4 * panels), at the points of the panels; it need not be normalised.
    """
    widths = np.diff(panels.edges)
    cells = density.reshape(*density.shape[:-1], widths.size, POINTS)
    masses = (cells @ _SHARES) * widths
    below = np.zeros((*density.shape[:-1], widths.size + 1))
    np.cumsum(masses, axis=-1, out=below[..., 1:])
    return below, (cells @ _INTEGRATED.T) * widths[:, None]


def is_resolved(panels: Panels, density: Floats) -> bool:
    """Return whether the points follow the density: giving each its higher neighbour's height adds less than half."""
    raised = float(np.sum(_raised(density) * panels.weights))
    return raised < _RESOLVED * float(np.sum(density * panels.weights))


def place_edges(panels: Panels, density: Floats, number: int, *, resolved: bool) -> Floats:
    """Return number + 1 edges that follow a density known at the points of older, coarser panels.

    Half of the edges share out the mass, so that narrow peaks get theirs; half follow density^(1/5), the spacing that
    evens out the error of a rule of fourth order, so that the flanks get theirs. The empty ends are dropped. A density
    not yet resolved must not decide what is empty: then the whole range is kept, wide cells beside a peak count with
    its height, and a third share of the edges goes evenly over the older panels.
    """
    heights = density if resolved else _raised(density)
    walls = np.concatenate((panels.edges[:1], panels.edges[0] + np.cumsum(panels.weights)))
    mass = np.concatenate(([0.0], np.cumsum(heights * panels.weights)))
    flank = np.concatenate(([0.0], np.cumsum((heights / np.max(heights)) ** 0.2 * panels.weights)))
    mass /= mass[-1]
    if not resolved:
        level = mass + flank / flank[-1] + np.linspace(0.0, 1.0, walls.size)
        return np.unique(np.interp(np.linspace(0.0, 3.0, number + 1), level, walls))
    first = max(0, int(np.searchsorted(mass, _TAIL_LEFT_OUT, side="right")) - 2)
    last = min(walls.size - 1, int(np.searchsorted(mass, 1.0 - _TAIL_LEFT_OUT, side="left")) + 1)
    kept = slice(first, last + 1)
    level = (mass[kept] - mass[first]) / (mass[last] - mass[first])
    level = level + (flank[kept] - flank[first]) / (flank[last] - flank[first])
    return np.unique(np.interp(np.linspace(0.0, 2.0, number + 1), level, walls[kept]))


def _raised(density: Floats) -> Floats:
    """Return the density at each point or at its higher neighbour."""
    raised = density.copy()
    np.maximum(raised[1:], density[:-1], out=raised[1:])
    np.maximum(raised[:-1], density[1:], out=raised[:-1])
    return raised
