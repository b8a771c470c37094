"""One world through the product: findings computed, the sentence read back, and each held against the truth."""

from __future__ import annotations

import math
from dataclasses import astuple, dataclass, fields

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from evidence.findings.compute import compute_findings
from evidence.findings.finding import Finding, Pooled
from evidence.model.lists import PooledClass
from evidence.model.rules import Rules
from tests.calibration.worlds import Process, Scenario, Truth, make_world

__all__ = ["COLUMNS", "STATES", "Answer", "answer_of", "run_world"]

GROUPS: tuple[PooledClass, ...] = ("bulk", "fragile")
STATES = (
    "words_only", "listed_only", "one_study", "two_studies", "about_the_same", "little_less", "no_loss_seen",
    "cant_tell", "amount", "spread",
)  # fmt: skip
_NAN = math.nan


@dataclass(frozen=True)
class Answer:
    """One question's answer against its truth; shares are 0 or 1, NaN where there is nothing to judge.

    group: index in GROUPS; k: studies with a figure; state: index in STATES; truth: percent; covered, width (ln of high
    over low) of the interval behind the sentence; new_covered: probability that another study's true figure lies in the
    new-study interval; figures_covered and words_covered: of the two lines before one is chosen; sentence: a range or
    margin is told (two studies and more), false: it does not hold the truth; says_loss: what is told leaves out 100
    from below; direction: more or less is told and that is not so; classical_*: REML with Hartung-Knapp (floor) on the
    same effects; single_*: intervals of single studies with their own spread, how many, how many cover mu, the sum of
    their widths.
    """

    group: float
    k: float
    state: float
    truth: float
    covered: float
    width: float
    new_covered: float
    figures_covered: float
    words_covered: float
    sentence: float
    false: float
    says_loss: float
    direction: float
    classical_covered: float
    classical_width: float
    classical_new_covered: float
    single: float
    single_covered: float
    single_width: float


COLUMNS = tuple(each.name for each in fields(Answer))


def _covers(pooled: Pooled | None, truth: float) -> float:
    return _NAN if pooled is None else float(pooled.ci_low <= truth <= pooled.ci_high)


def _new_covers(low: float | None, high: float | None, truth: Truth) -> float:
    """Return how often the true figure of another study, N(mu, tau^2) on the log scale, lies between two percents."""
    if low is None or high is None:
        return _NAN
    below, above = (math.log(each / 100) - truth.mu for each in (low, high))
    if truth.tau == 0:
        return float(below <= 0 <= above)
    return float(ndtr(above / truth.tau) - ndtr(below / truth.tau))


def _told(finding: Finding, pooled: Pooled | None, percent: float, rules: Rules) -> tuple[float, float, float, float]:
    """Return whether a range or margin is told, whether it is false, whether it says loss, and a false direction."""
    if pooled is None or finding.state == "one_study":
        return 0.0, _NAN, 0.0, _NAN
    margin = 100 * rules.printing.same_margin
    state, low, high = finding.state, pooled.ci_low, pooled.ci_high
    if state == "about_the_same":
        return 1.0, float(abs(percent - 100) > margin), 0.0, _NAN
    if state == "little_less":
        return 1.0, float(not 100 - margin <= percent < 100), 1.0, float(percent >= 100)
    if state == "no_loss_seen":
        return 1.0, float(percent < rules.printing.cant_tell_below_percent), 0.0, _NAN
    if state == "spread":
        return 1.0, float(not pooled.new_low <= percent <= pooled.new_high), 0.0, _NAN
    wrong = float(percent >= 100) if high < 100 else float(percent <= 100) if low > 100 else _NAN
    return 1.0, float(not low <= percent <= high), float(high < 100), wrong


def answer_of(finding: Finding, truth: Truth, rules: Rules) -> Answer:
    """Hold one finding against its truth."""
    percent = 100 * math.exp(truth.mu)
    pooled, classical = finding.pooled, finding.classical
    sentence, false, says_loss, direction = _told(finding, pooled, percent, rules)
    own = [
        (study.ci_low, study.ci_high)
        for study in finding.figure_studies
        if study.ci_low is not None and study.ci_high is not None
    ]
    return Answer(
        group=GROUPS.index(truth.group),
        k=len(finding.figure_studies),
        state=STATES.index(finding.state),
        truth=percent,
        covered=_covers(pooled, percent),
        width=_NAN if pooled is None else math.log(pooled.ci_high / pooled.ci_low),
        new_covered=_NAN if pooled is None else _new_covers(pooled.new_low, pooled.new_high, truth),
        figures_covered=_covers(finding.figures, percent),
        words_covered=_covers(finding.with_words, percent),
        sentence=sentence,
        false=false,
        says_loss=says_loss,
        direction=direction,
        classical_covered=_NAN if classical is None else float(classical.ci_low <= percent <= classical.ci_high),
        classical_width=_NAN if classical is None else math.log(classical.ci_high / classical.ci_low),
        classical_new_covered=(
            _NAN if classical is None else _new_covers(classical.prediction_low, classical.prediction_high, truth)
        ),
        single=len(own),
        single_covered=sum(low <= percent <= high for low, high in own),
        single_width=sum(math.log(high / low) for low, high in own),
    )


def run_world(scenario: Scenario, seed: int, index: int, rules: Rules, process: Process) -> NDArray[np.float64]:
    """Make world number index and answer it; shape (questions that have rows, len(COLUMNS)).

    The stream of a world depends on seed and index alone, so that scenarios are compared on the same studies.
    """
    random = np.random.default_rng(np.random.SeedSequence(seed, spawn_key=(index,)))
    world = make_world(scenario, rules, process, random)
    found, _ = compute_findings(world.evidence, rules)
    return np.array([astuple(answer_of(each, world.truths[each.component], rules)) for each in found])
