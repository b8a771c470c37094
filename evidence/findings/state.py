"""Which sentence an answer may carry, and how sure anyone can be (STATISTICS, section 5; thresholds in rules.toml)."""

from __future__ import annotations

from collections.abc import Sequence

from evidence.findings.finding import Certainty, CertaintyStep, Level, Pooled, Said, State, StudyEstimate
from evidence.model.lists import BaselineClass, PooledClass
from evidence.model.rules import Rules

__all__ = ["certainty", "inside_margin", "more_cautious", "state_of"]

# from claiming least to reassuring most; the earlier one wins where figures alone and figures with words differ
_CAUTION: tuple[State, ...] = (
    "spread", "cant_tell", "two_studies", "one_study", "amount", "no_loss_seen", "little_less", "about_the_same",
)  # fmt: skip
_LEVELS: tuple[Level, ...] = ("high", "moderate", "low", "very low")


def inside_margin(pooled: Pooled, rules: Rules) -> bool:
    """Return whether the whole interval lies within the margin of no change, and a new study would not be far off."""
    printing = rules.printing
    margin = 100 * printing.same_margin
    near = pooled.new_low >= printing.same_new_study_low_percent
    return pooled.ci_low >= 100 - margin and pooled.ci_high <= 100 + margin and near


def state_of(pooled: Pooled, studies: Sequence[StudyEstimate], stretched: Pooled | None, rules: Rules) -> State:
    """Return the state of a pooled figure; stretched is the same pool with every borrowed spread made wider."""
    printing = rules.printing
    if pooled.k_studies == 1:
        return "one_study"
    if pooled.k_studies == 2:
        return "two_studies"
    if pooled.new_high / pooled.new_low > printing.spread_headline_factor:
        return "spread"
    margin = 100 * printing.same_margin
    own = any(study.own_spread for study in studies if study.kind == "figure")
    if (
        inside_margin(pooled, rules)
        and pooled.k_studies >= printing.same_studies
        and own
        and stretched is not None
        and inside_margin(stretched, rules)
    ):
        return "little_less" if pooled.ci_high < 100 else "about_the_same"
    includes = pooled.ci_low <= 100 <= pooled.ci_high
    if includes and pooled.ci_low < printing.cant_tell_below_percent:
        return "cant_tell"
    if includes and pooled.ci_high > 100 + margin:
        return "no_loss_seen"
    return "amount"


def more_cautious(one: tuple[State, Pooled], other: tuple[State, Pooled]) -> bool:
    """Return whether one is more cautious than the other: it claims less, or only its interval includes no change."""
    a, b = _CAUTION.index(one[0]), _CAUTION.index(other[0])
    if a != b:
        return a < b
    includes = [figure.ci_low <= 100 <= figure.ci_high for _, figure in (one, other)]
    return includes[0] and not includes[1]


def certainty(
    pooled: Pooled | None,
    group: PooledClass | None,
    baselines: Sequence[tuple[BaselineClass, int]],
    said: Sequence[Said],
    infrared_only: bool,
    rules: Rules,
    shares_only: bool = False,
) -> Certainty:
    """Return the level and each step down from high; without a pooled figure the level is very low."""
    limits = rules.certainty
    if pooled is None:
        return Certainty("very low", (CertaintyStep("shares only" if shares_only else "no figure", 3),))
    steps: list[CertaintyStep] = []
    amount = {1: limits.one_study_steps, 2: limits.two_studies_steps}.get(pooled.k_studies, 0)
    if amount:
        steps.append(CertaintyStep("one study" if pooled.k_studies == 1 else "two studies", amount))
    both_ways = pooled.ci_low < limits.wide_low_percent and pooled.ci_high > limits.wide_high_percent
    wide = limits.both_sides_steps if both_ways else int(pooled.ci_high / pooled.ci_low > limits.wide_factor)
    wide = max(min(wide, limits.amount_and_interval_steps - amount), 0)
    if wide:
        steps.append(CertaintyStep("interval on both sides" if both_ways else "wide interval", wide))
    disagree = pooled.new_high / pooled.new_low > limits.disagreement_factor
    if disagree and not wide and pooled.k_studies > 1:
        steps.append(CertaintyStep("studies disagree", 1))
    total = sum(count for _, count in baselines)
    fresh = sum(count for word, count in baselines if word in ("fresh", "chilled"))
    if total and fresh < limits.fresh_share * total:
        steps.append(CertaintyStep("few compared with fresh", 1))
    if len(said) >= pooled.k_studies or pooled.own_weight < limits.own_spread_share:
        steps.append(CertaintyStep("reported without spread", 1))
    down = sum(step.down for step in steps)
    if infrared_only and down < limits.infrared_only_steps:
        steps.append(CertaintyStep("infrared only", limits.infrared_only_steps - down))
        down = limits.infrared_only_steps
    return Certainty(_LEVELS[min(down, 3)], tuple(steps))
