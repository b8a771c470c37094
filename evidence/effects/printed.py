"""Printed figures as numbers: value, rounding, spreads of every kind as a standard deviation, P values."""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy.special import ndtri, stdtrit

__all__ = ["PValue", "Printed", "parse_p", "parse_pair", "parse_printed", "sd_from_spread"]


@dataclass(frozen=True)
class Printed:
    """A printed number and the largest error its rounding can hide (half a unit of its last digit)."""

    value: float
    rounding: float


def parse_printed(text: str) -> Printed | None:
    """Read a printed figure; None where nothing was printed."""
    if not text:
        return None
    mantissa, _, exponent = text.lower().partition("e")
    decimals = len(mantissa.partition(".")[2])
    return Printed(float(text), 0.5 * 10.0 ** (-decimals + int(exponent or 0)))


def parse_pair(text: str) -> tuple[float, float] | None:
    """Read a pair such as 3..7; None where one number or nothing was printed."""
    low, dots, high = text.partition("..")
    return (float(low), float(high)) if dots else None


@dataclass(frozen=True)
class PValue:
    """A printed P: exact, or known only to lie below or above a limit; significant and not_significant: only words."""

    value: float | None = None
    below: float | None = None
    above: float | None = None
    not_significant: bool = False
    significant: bool = False

    def significant_below(self, alpha: float) -> float | None:
        """Return the limit below which P is known to lie, or None where it says no more than that P is below 1.

        An exact P below alpha is such a limit too, and the word "significant" puts it below alpha.
        """
        if self.significant:
            return alpha
        if self.below is not None:
            return self.below if self.below < 1 else None
        return self.value if self.value is not None and self.value < alpha else None

    def says_nothing_seen(self, alpha: float) -> bool:
        """Return whether a test at level alpha called the difference not significant."""
        known = self.above if self.above is not None else self.value
        return self.not_significant or (known is not None and known >= alpha)


def parse_p(text: str, zero_means_below: float) -> PValue | None:
    """Read P as printed, "ns" or "sig" where only words were; "0.000" is read as below zero_means_below."""
    if not text:
        return None
    if text == "sig":
        return PValue(significant=True)
    if text == "ns":
        return PValue(not_significant=True)
    number = float(text.lstrip("<>="))
    if text.startswith("<"):
        return PValue(below=number or zero_means_below)
    if text.startswith(">"):
        return PValue(above=number)
    return PValue(below=zero_means_below) if number == 0 else PValue(value=number)


def _wan_range_divisor(n: float) -> float:
    # Wan 2014, eq. 9: expected range of n standard normals, closed approximation
    return float(2 * ndtri((n - 0.375) / (n + 0.25)))


def _wan_quartile_divisor(n: float) -> float:
    # Wan 2014, eq. 16: expected interquartile range of n standard normals
    return float(2 * ndtri((0.75 * n - 0.125) / (n + 0.25)))


def sd_from_spread(text: str, kind: str, n: float | None) -> float | None:
    """Return the standard deviation behind a printed spread, in its unit; None where it cannot be had.

    SE: SD = SE sqrt(n). CI95: SD = sqrt(n) width / (2 t(0.975, n-1)). IQR and range: Wan, Wang, Liu and Tong 2014
    (wan2014), equations 16 and 9; all need n. Kind "not stated" is returned as printed: the caller decides.
    """
    if not text:
        return None
    pair = parse_pair(text)
    single = None if pair is not None else float(text)
    if single is not None and single < 0:
        return None
    if kind in ("SD", "not stated"):
        return single
    if n is None or n < 2:
        return None
    if kind == "SE":
        return None if single is None else single * math.sqrt(n)
    width = abs(pair[1] - pair[0]) if pair is not None else None
    if kind == "CI95":
        half = width / 2 if width is not None else single
        return None if half is None else math.sqrt(n) * half / float(stdtrit(n - 1, 0.975))
    width = width if width is not None else single
    if width is None:
        return None
    if kind == "IQR":
        return width / _wan_quartile_divisor(n)
    return width / _wan_range_divisor(n) if kind == "range" else None
