"""What an answer would be if one choice were made otherwise: pure, rows in, one answer a choice out.

Each choice changes one thing and keeps the rest, also the heterogeneity that the class shares. Codes of the choices:

    without_study          once for each study that speaks to the question (about: its key)
    own_spread_only        without borrowed spreads, bounds and words
    fresh_only             only what was compared with fresh milk
    low_concern_only       only studies whose appraisals answer yes to the questions in rules.toml
    correlation            another paired correlation between two printed means (about: it)
    common_effect          one true figure for all studies
    rows_first, rows_apart where a study has several rows: its first row; each row as a study of its own
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from evidence.findings.compute import Answer, Asked, Evidence, SharedTau, answer, share
from evidence.findings.finding import Pooled, State, StudyEstimate
from evidence.findings.gather import Gathered, gather
from evidence.model.lists import PooledClass
from evidence.model.rules import Rules
from evidence.model.tables import Appraisal
from evidence.synthesis import NoEstimate
from evidence.synthesis.small_studies import SmallStudies, small_study_regression

__all__ = ["Choice", "Code", "Sensitivity", "Why", "low_concern_studies", "sensitivities", "sensitivity_of"]

Code = Literal[
    "without_study", "own_spread_only", "fresh_only", "low_concern_only", "correlation", "common_effect", "rows_first",
    "rows_apart",
]  # fmt: skip
Why = Literal[
    "",  # the sentence stays
    "nothing_left",  # no figure would be left
    "claim",  # another claim: a loss, a rise, about the same, can't tell
    "amount",  # the same claim, but the figure leaves the interval printed now
]


@dataclass(frozen=True)
class Choice:
    """One choice made otherwise, and what the answer would then be.

    code: which choice; about: the study or the value it is about, or empty; label: key of its words in the catalogue;
    pooled: the figure behind the sentence, None where no figure is left; state: the sentence; why the sentence changes.
    """

    code: Code
    about: str
    label: str
    pooled: Pooled | None
    state: State
    why: Why

    @property
    def changes_sentence(self) -> bool:
        """Whether the sentence on the page would be another one."""
        return self.why != ""


@dataclass(frozen=True)
class Sensitivity:
    """Every choice for one finding (by its number); small_studies is None below the number of studies in rules.toml."""

    number: str
    choices: tuple[Choice, ...]
    small_studies: SmallStudies | None = None

    @property
    def changing(self) -> tuple[Choice, ...]:
        """The choices under which a figure is left and its sentence is another one."""
        return tuple(choice for choice in self.choices if choice.why in ("claim", "amount"))

    @property
    def leaving_nothing(self) -> tuple[Choice, ...]:
        """The choices that leave no figure at all."""
        return tuple(choice for choice in self.choices if choice.why == "nothing_left")


def _claim(state: State, pooled: Pooled) -> str:
    if state in ("spread", "about_the_same", "little_less", "no_loss_seen"):
        return state
    if pooled.ci_high < 100:
        return "loss"
    if pooled.ci_low > 100:
        return "rise"
    return "about" if state == "amount" else "open"


def _why(main: Answer, other: Answer) -> Why:
    """Say how a sentence changes; one study's sentence claims its figure only, whatever the interval."""
    if main.pooled is None or other.pooled is None:
        return "nothing_left"
    both_single = main.state == other.state == "one_study"
    if not both_single and _claim(main.state, main.pooled) != _claim(other.state, other.pooled):
        return "claim"
    inside = main.pooled.ci_low <= other.pooled.retained_percent <= main.pooled.ci_high
    return "" if inside else "amount"


def low_concern_studies(appraisals: Sequence[Appraisal], rules: Rules) -> frozenset[str]:
    """Return the studies whose appraisals answer yes to every question that rules.toml asks for."""
    yes: dict[str, set[str]] = defaultdict(set)
    for each in appraisals:
        if each.answer == "yes":
            yes[each.study].add(each.question)
    needed = set(rules.sensitivity.low_concern)
    return frozenset(study for study, answered in yes.items() if needed <= answered)


def _only(gathered: Gathered, studies: Collection[str]) -> Gathered:
    return replace(
        gathered,
        studies=tuple(study for study in gathered.studies if study.study in studies),
        said=tuple(said for said in gathered.said if said.study in studies),
    )


def _with_correlation(rules: Rules, correlation: float) -> Rules:
    spread = rules.spread.model_copy(
        update={"paired_correlation_bulk": correlation, "paired_correlation_fragile": correlation}
    )
    return rules.model_copy(update={"spread": spread})


def _in_the_paper(row: str) -> tuple[str, int]:
    # ids end in a running number, which follows the order of the paper: key-2 comes before key-10
    name, number = re.fullmatch(r"(.*?)(\d*)", row).groups()  # type: ignore[union-attr]
    return name, int(number or 0)


def _single_row(asked: Asked, row: str, evidence: Evidence, rules: Rules) -> StudyEstimate:
    only = [each for each in asked.rows if each.id == row]
    (study,) = gather(only, asked.group, evidence.overlaps, evidence.uncitable, rules).studies
    return study


def _other_rows(asked: Asked, evidence: Evidence, rules: Rules) -> Iterator[tuple[Code, Gathered]]:
    """Yield the two other ways to count several rows of a study, where there are several."""
    gathered = asked.gathered
    first: list[StudyEstimate] = []
    apart: list[StudyEstimate] = []
    for study in gathered.studies:
        if study.kind != "figure" or len(study.rows) == 1:
            first.append(study)
            apart.append(study)
            continue
        rows = [_single_row(asked, row, evidence, rules) for row in sorted(study.rows, key=_in_the_paper)]
        first.append(rows[0])
        apart += [replace(each, study=f"{study.study} {each.rows[0]}") for each in rows]
    if len(apart) > len(gathered.studies):
        yield "rows_first", replace(gathered, studies=tuple(first))
        yield "rows_apart", replace(gathered, studies=tuple(apart))


def _variants(
    asked: Asked, evidence: Evidence, low_concern: Collection[str] | None, rules: Rules
) -> Iterator[tuple[Code, str, Gathered]]:
    """Yield code, subject and studies of every choice that changes the studies or their errors."""
    gathered = asked.gathered
    figures = [study for study in gathered.studies if study.kind == "figure"]
    if len(figures) > 1 or len(gathered.every) > len(figures):
        everyone = [each.study for each in gathered.every if each.kind != "mixed"]
        for study in everyone:
            if [study] == [each.study for each in figures]:
                continue  # the only figure: its sentence already says that it rests on one study
            yield "without_study", study, _only(gathered, {each.study for each in gathered.every} - {study})
    own = [study.study for study in figures if study.own_spread]
    if len(own) < len(gathered.every):
        yield "own_spread_only", "", _only(gathered, own)
    fresh = [each.study for each in gathered.every if each.baseline == "fresh"]
    if len(fresh) < len(gathered.every):
        yield "fresh_only", "", _only(gathered, fresh)
    if low_concern is not None and any(each.study not in low_concern for each in gathered.every):
        yield "low_concern_only", "", _only(gathered, low_concern)
    if any("two means with SD" in study.recipe for study in figures):
        for correlation in rules.sensitivity.correlations:
            again = gather(
                asked.rows, asked.group, evidence.overlaps, evidence.uncitable, _with_correlation(rules, correlation)
            )
            yield "correlation", f"{correlation:g}", again
    for code, again in _other_rows(asked, evidence, rules):
        yield code, "", again


def _common_effect(tau: SharedTau, rules: Rules) -> SharedTau:
    return replace(tau, median=rules.sensitivity.common_effect_tau, shift=0.0)


def sensitivity_of(
    asked: Asked,
    shared: Mapping[PooledClass, SharedTau],
    evidence: Evidence,
    rules: Rules,
    low_concern: Collection[str] | None = None,
) -> Sensitivity | None:
    """Return the answer under every other choice; None where the question has no pooled figure.

    low_concern: studies of low concern, None where no study has been appraised (the choice is then left out).
    """
    tau = None if asked.group is None else shared[asked.group]
    main = answer(asked.gathered, tau, rules)
    if main.pooled is None or tau is None:
        return None
    choices = []
    for code, about, gathered in _variants(asked, evidence, low_concern, rules):
        other = answer(gathered, tau, rules)
        choices.append(Choice(code, about, f"sensitivity/{code}", other.pooled, other.state, _why(main, other)))
    if len(asked.gathered.every) > 1:
        other = answer(asked.gathered, _common_effect(tau, rules), rules)
        choices.append(
            Choice("common_effect", "", "sensitivity/common_effect", other.pooled, other.state, _why(main, other))
        )
    return Sensitivity(asked.question.number, tuple(choices), _small_studies(asked, rules))


def _small_studies(asked: Asked, rules: Rules) -> SmallStudies | None:
    figures = [study for study in asked.gathered.studies if study.kind == "figure"]
    if len(figures) < rules.sensitivity.small_studies_from:
        return None
    try:
        return small_study_regression(
            [study.log_ratio for study in figures],
            [study.se for study in figures],
            fewest=rules.sensitivity.small_studies_from,
        )
    except NoEstimate:
        return None


def sensitivities(evidence: Evidence, rules: Rules, numbers: Collection[str] | None = None) -> list[Sensitivity]:
    """Return the sensitivity of every finding with a figure, in the order of their numbers.

    numbers: only these findings; the heterogeneity is that of the whole evidence all the same.
    """
    asked, shared, rules = share(evidence, rules)
    low_concern = low_concern_studies(evidence.appraisals, rules) if evidence.appraisals else None
    found = (
        sensitivity_of(each, shared, evidence, rules, low_concern)
        for each in asked
        if numbers is None or each.question.number in numbers
    )
    return [each for each in found if each is not None]
