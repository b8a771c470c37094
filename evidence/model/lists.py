"""The closed lists of the evidence table; the store's checks and data/datapackage.json both hold to them."""

from __future__ import annotations

from typing import Literal, get_args

__all__ = [
    "APPRAISAL_QUESTIONS",
    "BASELINE_CLASSES",
    "CLOSED_LISTS",
    "INTAKE_KINDS",
    "BaselineClass",
    "EffectKind",
    "Outcome",
    "PooledClass",
]

BaselineClass = Literal["fresh", "chilled", "frozen", "heat-treated", "dried", "otherwise treated", "not stated"]
Outcome = Literal["bulk", "fragile", "count", "share", "marker", "physical"]
# what one row says: a figure, a bound, or a direction in words
EffectKind = Literal["figure", "no_change", "fall", "rise", "at_most", "at_least", "mixed"]
# which questions share their heterogeneity
PooledClass = Literal["bulk", "fragile", "count", "marker"]

BASELINE_CLASSES: tuple[BaselineClass, ...] = get_args(BaselineClass)

_SPREAD_KINDS = ("", "SD", "SE", "CI95", "IQR", "range", "not stated")
_RANGE_KINDS = tuple(
    f"{what}, {of}"
    for what in (
        "CI95",
        "range of milks",
        "range of settings",
        "range of times",
        "range of analytes",
        "range, of what not stated",
        "not stated",
    )
    for of in ("retained", "change")
)

# how sure anyone can be, surest first (data/overrides.csv)
CERTAINTY_LEVELS = ("high", "moderate", "low", "very low")

# asked of every study (data/appraisals.csv)
APPRAISAL_QUESTIONS = (
    "same-milk",
    "baseline-stated",
    "n-mothers-stated",
    "handling-stated",
    "spread-printed",
    "assay-named",
    "funding-stated",
)
# kinds of an authority's figure (data/intake.csv)
INTAKE_KINDS = ("AI", "RDA", "PRI", "RNI", "AR", "RI", "LRNI", "UL", "other")

# column of data/measurements.csv -> words allowed; '' where the paper may be silent
CLOSED_LISTS: dict[str, tuple[str, ...]] = {
    "measured_as": ("amount", "activity", "count", "share", "capacity", "marker", "physical"),
    "basis": ("milk", "powder", "solids", "fat", "protein", "not stated"),
    "n_kind": ("donors", "pools", "samples", "replicates", "not stated"),
    "design": ("same milk", "separate milk", "not stated"),
    "stage": ("", "colostrum", "transitional", "mature", "preterm", "term", "mixed", "not stated"),
    "spread_kind": _SPREAD_KINDS,
    "percent_spread_kind": _SPREAD_KINDS,
    "diff_kind": _SPREAD_KINDS,
    "spread_of": ("", "milks", "replicates", "settings", "not stated"),
    "number_is": ("", "value", "about", "at least", "at most", "up to", "range", "unclear"),
    "percent_of": ("", "mean of percents", "ratio of means", "median"),
    "interval_kind": ("", *_RANGE_KINDS),
    "p_of": ("", "this contrast", "all arms", "other", "not stated"),
    "in_words": ("", "decrease", "increase", "no change", "mixed", "not detected", "not tested"),
    "words_scope": ("", "this component", "a list", "all nutrients"),
}
