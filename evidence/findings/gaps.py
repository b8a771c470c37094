"""What to measure next: how much one more study would narrow each step of the usual path, and how large to make it.

The next study has n mothers, each milk measured before and after (paired). With the class's SD between milks s_d and
tau, its log ratio has variance tau^2 + s_d^2 / n, and a known step of variance v narrows to 1 / (1/v + 1/that). Widths
are in parts still there of 100, cut at no loss; a step nobody measured is rules.path.widest_points wide.

Mothers for a half-width h (parts of 100) of the mean of paired percents R: the smallest n with
t(0.975, n-1) s / sqrt(n) <= h, s = R s_d (delta method); the usual interval of a mean, solved for n (common practice,
no source).
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from scipy.special import ndtri

from evidence.effects import Effect, effect_of
from evidence.effects.recipes import t_quantile
from evidence.findings.path import asked_steps, lead_strand
from evidence.findings.path_model import PathModel
from evidence.findings.path_store import PathEvidence
from evidence.handling import parse_chain
from evidence.handling.vocabulary import load_vocabulary
from evidence.model.lists import PooledClass
from evidence.model.rules import Rules
from evidence.model.tables import Measurement

__all__ = ["Gap", "MothersNeeded", "gaps", "mothers_for", "mothers_needed", "pooled_sd"]

_UPPER = 0.975
_MOST_MOTHERS = 100_000


@dataclass(frozen=True)
class Gap:
    """One component and step: how wide the answer is now and would be after one more study, in parts of 100.

    k_figures: studies with a figure for the step; k_words: in words only; most_asked: among what parents ask most.
    """

    component: str
    step: str
    k_figures: int
    k_words: int
    width_now: float
    width_after: float
    most_asked: bool

    @property
    def gain(self) -> float:
        """By how many parts of 100 the answer would narrow."""
        return self.width_now - self.width_after


@dataclass(frozen=True)
class MothersNeeded:
    """How many mothers' milks a paired study needs: n, for a half-width in parts of 100, at s_d and retention used.

    own_sd: whether s_d comes from the component's own studies (with how many) or from its class.
    """

    component: str
    half_width: float
    mothers: int
    sd_between_milks: float
    own_sd: bool
    k_rows: int
    retained_percent: float


def _width(log_middle: float, sd: float, rules: Rules) -> float:
    reach = float(ndtri(_UPPER)) * sd
    low, high = 100 * math.exp(log_middle - reach), 100 * math.exp(log_middle + reach)
    most = rules.path.widest_points
    # what lies above no loss at all is no question of loss: it widens nothing
    return min(high, most) - low if low < most else min(high - low, most)


def _class_sd(group: PooledClass, rules: Rules) -> float:
    return rules.spread.bulk_sd if group == "bulk" else rules.spread.fragile_sd


def gaps(evidence: PathEvidence, *, only_worthy: bool = True) -> tuple[Gap, ...]:
    """Return every component and step of the usual path, the largest gain first, the most asked before others."""
    rules = evidence.rules
    asked = asked_steps(parse_chain(rules.path.standard_chain), rules)
    found: list[Gap] = []
    for component in evidence.components.values():
        if only_worthy and component.question_worthy != "1":
            continue
        strand = lead_strand(evidence.strands(component.id), asked)
        if strand is None:
            continue
        prior = evidence.priors[strand.group]
        model = PathModel(strand, prior, rules)
        next_error = _class_sd(strand.group, rules) ** 2 / rules.path.usual_study_mothers
        for step in asked:
            part = model.part(step)
            amount = model.amount([part])
            studies = {study.study for study in model.studies_behind(step)}
            if amount is None:
                tau = math.exp(prior.log_centre)
                now = rules.path.widest_points
                after = _width(0.0, math.sqrt(tau**2 + next_error), rules)
            else:
                variance, tau = model.tau_of(part)
                middle = math.log(amount.retained_percent / 100)
                now = _width(middle, math.sqrt(variance), rules)
                after = _width(middle, (1 / variance + 1 / (tau**2 + next_error)) ** -0.5, rules)
            most_asked = component.id in rules.path.most_asked
            said = len(strand.said(step.key))
            found.append(Gap(component.id, step.text, len(studies), said, now, min(now, after), most_asked))
    return tuple(sorted(found, key=lambda gap: (not gap.most_asked, -gap.gain, gap.component, gap.step)))


def pooled_sd(effects: Iterable[Effect]) -> tuple[float, int] | None:
    """Return the SD between milks of the ln ratio, pooled over rows with a spread of their own, and how many rows.

    s^2 = sum((n - 1) s_i^2) / sum(n - 1), s_i = se sqrt(n); None where no row has one.
    """
    own = [(effect.se**2 * effect.n, effect.n - 1) for effect in effects if effect.own_spread and effect.n]
    freedom = sum(each for _, each in own)
    if not own or freedom <= 0:
        return None
    return math.sqrt(sum(variance * each for variance, each in own) / freedom), len(own)


def mothers_for(sd: float, half_width: float) -> int:
    """Return the smallest n >= 2 with t(0.975, n-1) sd / sqrt(n) <= half_width; both in one unit, above zero."""
    low, high = 2, 2
    while t_quantile(_UPPER, high - 1) * sd / math.sqrt(high) > half_width and high < _MOST_MOTHERS:
        high *= 2
    while low < high:
        middle = (low + high) // 2
        if t_quantile(_UPPER, middle - 1) * sd / math.sqrt(middle) <= half_width:
            high = middle
        else:
            low = middle + 1
    return low


def _on_path(row: Measurement) -> bool:
    """Return whether a row says how far milks differ in cold and drying; heat spreads them in its own way."""
    words = load_vocabulary().steps
    return all(words[step.name].does not in ("heats", "treats") for step in parse_chain(row.handling).steps)


def mothers_needed(evidence: PathEvidence, component: str, half_width: float) -> MothersNeeded | None:
    """Return how many mothers' milks must be measured before and after; None for what has no parts of 100.

    The spread between milks is the component's own where studies print one, else its class's; retention is taken as
    100, the least favourable for a loss.
    """
    strand = lead_strand(
        evidence.strands(component), asked_steps(parse_chain(evidence.rules.path.standard_chain), evidence.rules)
    )
    if strand is None:
        return None
    form = (strand.form, strand.measured_as)
    rows = [row for row in evidence.rows.get(component, ()) if (row.form, row.measured_as) == form and _on_path(row)]
    effects = [effect_of(row, strand.group, evidence.rules) for row in rows]
    own = pooled_sd(effect for effect in effects if isinstance(effect, Effect))
    sd = own[0] if own is not None else _class_sd(strand.group, evidence.rules)
    retained = 100.0
    return MothersNeeded(
        component,
        half_width,
        mothers_for(retained * sd, half_width),
        sd,
        own is not None,
        own[1] if own else 0,
        retained,
    )
