"""From a printed row to an effect: the gate, the ratio or bound, its standard error and the recipe that made it."""

from __future__ import annotations

import math
from dataclasses import dataclass

from evidence.effects import recipes
from evidence.effects.medians import mean_from_median
from evidence.effects.printed import Printed, PValue, parse_p, parse_pair, parse_printed, sd_from_spread
from evidence.effects.recipes import StandardError
from evidence.model.lists import EffectKind, PooledClass
from evidence.model.rules import Rules
from evidence.model.tables import Measurement

__all__ = ["Effect", "LeftOut", "effect_of", "gate", "pooled_class"]


@dataclass(frozen=True)
class Effect:
    """What one row says: a figure, a bound, or a direction in words.

    log_ratio is ln(treated/baseline) of a figure or ln of a bound, None for words; se its standard error, u the SD of
    ln(se); n the mothers the recipe used (None: not known); flags say what a reader should know.
    """

    measurement: str
    study: str
    kind: EffectKind
    log_ratio: float | None
    se: float
    u: float
    recipe: str
    own_spread: bool
    n: float | None
    flags: tuple[str, ...] = ()

    @property
    def retained_percent(self) -> float | None:
        """What was still there, in percent; None for words."""
        return None if self.log_ratio is None else 100 * math.exp(self.log_ratio)


@dataclass(frozen=True)
class LeftOut:
    """A row that is listed and not pooled, and why."""

    measurement: str
    study: str
    reason: str


@dataclass(frozen=True)
class _Ratio:
    """The ratio a row prints, before its standard error."""

    value: float
    rounding_of_log: float
    from_means: bool
    flags: tuple[str, ...]


def pooled_class(measured_as: str, outcome: str, wanted: str) -> PooledClass | None:
    """Return the class a row is pooled in (STATISTICS, section 7); None for shares and physical properties."""
    if measured_as in ("share", "physical") or outcome in ("share", "physical"):
        return None
    if measured_as == "count" or outcome == "count":
        return "count"
    if measured_as == "marker" or outcome == "marker" or wanted == "a rise is unwelcome":
        return "marker"
    return "bulk" if outcome == "bulk" else "fragile"


def _mothers(row: Measurement, rules: Rules) -> tuple[float | None, bool]:
    """Return the number of mothers, and whether there is no more than pooled milk or replicates."""
    if row.n_kind == "pools":  # however many mothers went into a pool, its spread is not theirs
        return None, True
    if row.n_mothers is not None:
        return float(row.n_mothers), False
    if row.n_kind == "replicates":
        return None, True
    if row.n is None:
        return None, False
    return (float(row.n) if row.n_kind == "donors" else row.n * rules.gate.mothers_per_sample), False


def gate(row: Measurement, has_figure: bool, rules: Rules) -> str | None:
    """Return why a row may not be pooled, or None."""
    if row.read_from == "memory":
        return "from memory: never pooled"
    if row.held:
        return row.held
    if row.words_scope == "all nutrients" and not has_figure:
        return "a sentence about all nutrients counts for no single one"
    if row.design == "separate milk":
        return "two different milks were compared"
    if row.basis not in ("milk", "not stated"):
        return f"given per amount of {row.basis}, which is not what stays in the milk"
    if has_figure and not row.second_read and not rules.gate.use_unresolved_second_readings:
        return "the figure has not been read a second time yet"
    return None


def _log_units(row: Measurement) -> bool:
    return "log" in row.unit.lower()


def _means(row: Measurement) -> tuple[Printed, Printed] | None:
    baseline, treated, difference = map(parse_printed, (row.baseline_mean, row.treated_mean, row.diff_mean))
    if baseline is not None and treated is None and difference is not None:
        treated = Printed(baseline.value + difference.value, max(baseline.rounding, difference.rounding))
    return (baseline, treated) if baseline is not None and treated is not None else None


def _percent(row: Measurement) -> Printed | None:
    retained, change = parse_printed(row.retained_percent), parse_printed(row.change_percent)
    if retained is not None:
        return retained
    return None if change is None else Printed(100 + change.value, change.rounding)


# what a float carries; a count given as its logarithm never comes near
_MOST_LOG10 = 300


def _ratio(row: Measurement, rules: Rules) -> _Ratio | None:
    means, percent = _means(row), _percent(row)
    flags: list[str] = []
    if means is not None and row.measured_as == "count" and _log_units(row):
        d = means[1].value - means[0].value
        if abs(d) > _MOST_LOG10:
            return None
        return _Ratio(10**d, math.log(10) * (means[0].rounding + means[1].rounding), True, ())
    if means is not None and means[0].value > 0 and means[1].value >= 0:
        baseline, treated = means
        value = treated.value / baseline.value
        if percent is not None and abs(percent.value - 100 * value) > rules.gate.percent_against_means_points:
            flags.append("printed percent differs from the printed means")
        rounding = baseline.rounding / baseline.value + (treated.rounding / treated.value if treated.value else 0.0)
        return _Ratio(value, rounding, True, tuple(flags))
    if percent is not None and percent.value >= 0:
        rounding = percent.rounding / percent.value if percent.value else 0.0
        return _Ratio(percent.value / 100, rounding, False, ())
    return None


def _bound_kind(row: Measurement) -> EffectKind | None:
    """Return which bound a row prints.

    Of a change it is the size that is bounded: a loss of at least 20 % leaves at most 80 %.
    """
    if row.number_is not in ("at least", "at most", "up to"):
        return None
    lower = row.number_is == "at least"
    if row.change_percent and not row.retained_percent and float(row.change_percent) < 0:
        lower = not lower
    return "at_least" if lower else "at_most"


def _cv(row: Measurement, which: str, mean: float, n: float | None, rules: Rules) -> tuple[float | None, str | None]:
    if row.spread_of in ("replicates", "settings") or mean <= 0:
        return None, None
    text = row.baseline_spread if which == "baseline" else row.treated_spread
    sd = sd_from_spread(text, row.spread_kind, n)
    if sd is None:
        return None, None
    pair = parse_pair(text)
    if pair is not None and row.spread_kind in ("IQR", "range"):
        # the printed middle is a median, and SD over mean needs a mean
        behind = mean_from_median(mean, *pair, row.spread_kind, n)
        if behind is None or behind <= 0:
            return None, None
        mean = behind
    if row.spread_kind == "not stated" and n is not None:
        gate = rules.gate
        if sd / mean < gate.unlabelled_spread_fraction * gate.unlabelled_spread_cv:
            return sd * math.sqrt(n) / mean, "plus-minus without a label, read as a standard error"
    return sd / mean, None


def _own_spread(
    row: Measurement, ratio: _Ratio, n: float | None, correlation: float, rules: Rules
) -> tuple[StandardError | None, list[str]]:
    """Try the recipes that use the study's own spread, best first."""
    if n is None or n < 2:
        return None, []
    means, flags = _means(row), []
    printed_n = float(row.n) if row.n is not None else n
    cv_b = cv_t = None
    if means is not None:
        cv_b, said_b = _cv(row, "baseline", means[0].value, printed_n, rules)
        cv_t, said_t = _cv(row, "treated", means[1].value, printed_n, rules)
        flags += sorted({said for said in (said_b, said_t) if said})
    difference = sd_from_spread(row.diff_spread, row.diff_kind, printed_n)
    if difference is not None and means is not None and row.diff_kind != "not stated" and means[1].value > 0:
        found = recipes.from_difference(difference, means[0].value, means[1].value, cv_b or 0.0, n)
        if found is not None:
            return found, flags
    spread = sd_from_spread(row.percent_spread, row.percent_spread_kind, printed_n)
    if spread is not None and row.spread_of not in ("replicates", "settings"):
        found = recipes.from_percent_sd(spread, ratio.value, n)
        if found is not None:
            if row.percent_spread_kind == "not stated":
                flags.append("plus-minus without a label, read as a standard deviation")
            return found, flags
    if row.interval_kind.startswith(("CI95", "range of milks")) and row.interval_low and row.interval_high:
        shift = 100.0 if row.interval_kind.endswith("change") else 0.0
        low, high = sorted((float(row.interval_low) + shift, float(row.interval_high) + shift))
        if row.interval_kind.startswith("CI95"):
            found = recipes.from_interval(low / 100, high / 100, ratio.value, n, rules.spread)
        else:
            sd = sd_from_spread(f"{low}..{high}", "range", printed_n) if low > 0 else None
            found = None if sd is None else recipes.from_percent_sd(sd, ratio.value, n)
        if found is not None:
            return found, flags
    if cv_b is not None and cv_t is not None:
        return recipes.from_means(cv_b, cv_t, correlation, n, rules.spread), flags
    return None, flags


def _own_log_spread(row: Measurement, n: float | None, correlation: float, rules: Rules) -> StandardError | None:
    """Return the standard error behind the spread of counts given in log10; None where none is printed."""
    if n is None or n < 2 or not _log_units(row) or row.spread_of in ("replicates", "settings"):
        return None
    printed_n = float(row.n) if row.n is not None else n
    difference = sd_from_spread(row.diff_spread, row.diff_kind, printed_n) if row.diff_kind != "not stated" else None
    if difference is not None:
        return recipes.from_log_difference(difference, n)
    before, after = (
        sd_from_spread(text, row.spread_kind, printed_n) for text in (row.baseline_spread, row.treated_spread)
    )
    if before is None or after is None:
        return None
    return recipes.from_log_counts(before, after, correlation, n, rules.spread)


def _standard_error(
    row: Measurement, ratio: _Ratio, group: PooledClass, rules: Rules
) -> tuple[StandardError, list[str]]:
    n, pooled_only = _mothers(row, rules)
    spread = rules.spread
    correlation = spread.paired_correlation_bulk if group == "bulk" else spread.paired_correlation_fragile
    log_ratio = math.log(ratio.value)
    if group == "count":  # the spread of plain counts is no spread of their logarithms
        found, flags = _own_log_spread(row, n, correlation, rules), list[str]()
    else:
        found, flags = _own_spread(row, ratio, n, correlation, rules)
    p: PValue | None = parse_p(row.p, rules.gate.p_zero_means_below)
    of_this = p is not None and row.p_of == "this contrast"
    if found is None and of_this and p is not None and p.value is not None and n is not None:
        found = recipes.from_exact_p(log_ratio, p.value, n, ratio.rounding_of_log, spread)
    if found is None:
        found = recipes.borrowed(recipes.class_sd(group, spread), n, pooled_only, spread)
    below = p.significant_below(spread.p_assumed_if_significant) if of_this and p is not None else None
    nothing = row.in_words == "no change" or bool(
        p is not None and of_this and p.says_nothing_seen(spread.p_assumed_if_significant)
    )
    found = recipes.limited_by_p(
        found, log_ratio, n, below=below, not_significant=nothing, alpha=spread.p_assumed_if_significant
    )
    if "titre" in row.unit.lower() or "titre" in row.assay.lower():
        found = StandardError(max(found.se, spread.titre_lowest_se), found.u, found.recipe, found.own_spread)
    if pooled_only:
        flags.append("pooled milk or replicates: milks not told apart")
    return found, flags


_WORDS: dict[str, EffectKind] = {
    "decrease": "fall",
    "increase": "rise",
    "no change": "no_change",
    "not detected": "fall",
    "mixed": "mixed",
}


def _share_direction(row: Measurement) -> EffectKind | None:
    """Return which way a share went whose two values are printed without a word on it."""
    means = _means(row) if row.measured_as == "share" else None
    if means is None:
        return None
    before, after = means[0].value, means[1].value
    return "fall" if after < before else "rise" if after > before else "no_change"


def _words(row: Measurement, group: PooledClass | None, rules: Rules) -> Effect | LeftOut:
    kind = _WORDS.get(row.in_words) or _share_direction(row)
    if kind is None:
        return LeftOut(row.id, row.study, "no figure, and no direction in words")
    n, pooled_only = _mothers(row, rules)
    found = recipes.borrowed(recipes.class_sd(group, rules.spread), n, pooled_only, rules.spread)
    return Effect(row.id, row.study, kind, None, found.se, found.u, "in words", False, n)


def effect_of(row: Measurement, group: PooledClass | None, rules: Rules) -> Effect | LeftOut:
    """Return what a row says for pooling, or why it is listed only (STATISTICS, sections 1, 2 and 7)."""
    ratio = _ratio(row, rules)
    has_figure = ratio is not None or bool(row.interval_low or row.interval_high)
    refused = gate(row, has_figure, rules)
    if refused is not None:
        return LeftOut(row.id, row.study, refused)
    if ratio is None or group is None or row.number_is in ("range", "unclear"):
        if ratio is None and has_figure and not row.in_words:
            return LeftOut(row.id, row.study, "a range is listed, not pooled")
        if row.number_is == "unclear":
            return LeftOut(row.id, row.study, "the figure can be read in two ways")
        return _words(row, group, rules)
    if group == "bulk" and 100 * ratio.value > rules.gate.hold_bulk_above_percent:
        return LeftOut(row.id, row.study, "more than can be: water may have been lost; held back until looked at")
    if group == "count" and not _log_units(row) and _linear_spread_too_wide(row):
        return LeftOut(row.id, row.study, "the spread of the counts is wider than half their mean")
    bound = _bound_kind(row)
    tiny = 100 * ratio.value <= rules.gate.bound_at_or_below_percent and bound != "at_least"
    if tiny and group != "count":
        bound = "at_most"
        ratio = _Ratio(rules.gate.bound_at_or_below_percent / 100, 0.0, ratio.from_means, ratio.flags)
    if ratio.value <= 0:
        return _words(row, group, rules)
    found, flags = _standard_error(row, ratio, group, rules)
    kind: EffectKind = bound or "figure"
    n, _ = _mothers(row, rules)
    if row.number_is == "about":
        flags.append("printed as about")
    if row.percent_of == "median" or row.spread_kind in ("IQR", "range"):
        flags.append("medians")
    return Effect(
        row.id, row.study, kind, math.log(ratio.value), found.se, found.u, found.recipe, found.own_spread, n,
        (*ratio.flags, *flags),
    )  # fmt: skip


def _linear_spread_too_wide(row: Measurement) -> bool:
    means = _means(row)
    if means is None or row.spread_kind not in ("SD", "SE"):
        return False
    n = float(row.n) if row.n is not None else None
    for text, mean in ((row.baseline_spread, means[0].value), (row.treated_spread, means[1].value)):
        sd = sd_from_spread(text, row.spread_kind, n) if parse_pair(text) is None else None
        if sd is not None and sd > mean / 2:
            return True
    return False
