"""A mean from a median, as papers print it beside its quartiles or its range.

Luo, Wan, Liu and Tong 2018 (luo2018): with the middle of the pair, mid = (low + high) / 2, and n values,

    mean = w mid + (1 - w) median,    w = 0.7 + 0.39 / n         of quartiles, equation 15
                                      w = 4 / (4 + n^0.75)       of a range, equation 7

The SD of the same figures is that of Wan, Wang, Liu and Tong 2014 (printed.py).
"""

from __future__ import annotations

__all__ = ["mean_from_median"]


def mean_from_median(median: float, low: float, high: float, kind: str, n: float | None) -> float | None:
    """Return the mean of n values behind a median and its pair, in their unit.

    kind: IQR or range. None where the pair is of another kind, n is not known or below 2, or the median lies outside.
    """
    if kind not in ("IQR", "range") or n is None or n < 2 or not low <= median <= high:
        return None
    weight = 0.7 + 0.39 / n if kind == "IQR" else 4 / (4 + n**0.75)
    return weight * (low + high) / 2 + (1 - weight) * median
