"""The answer to one question: numbers, rows, rows left out and why, flags, certainty. Frozen, and kept as JSON."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from evidence.model.lists import BaselineClass, EffectKind, PooledClass

__all__ = [
    "NO_SOURCE",
    "Certainty",
    "CertaintyStep",
    "Classical",
    "Finding",
    "Level",
    "NotPooled",
    "Points",
    "Pooled",
    "Review",
    "Said",
    "ShareStudy",
    "Shares",
    "State",
    "StudyEstimate",
]

# why a row is listed that cannot be cited; pages leave such rows out and say how many
NO_SOURCE = "the paper behind it has not been identified, so it cannot be cited"

State = Literal[
    "words_only",  # no figure that may be pooled; directions in words, bounds or listed figures
    "listed_only",  # only rows that are listed and not pooled
    "one_study",
    "two_studies",
    "about_the_same",
    "little_less",
    "no_loss_seen",
    "cant_tell",
    "amount",
    "spread",  # the next study could lie almost anywhere: the spread is the headline
]
Level = Literal["high", "moderate", "low", "very low"]


@dataclass(frozen=True)
class Pooled:
    """A pooled figure in percent still there (of a count: treated per 100 of baseline).

    ci_*: where the average may lie; new_*: where another study's true figure may lie; tau: SD between studies on the
    log scale; own_weight: share of weight from rows with their own spread; level, new_level: of the two intervals.
    """

    retained_percent: float
    ci_low: float
    ci_high: float
    new_low: float
    new_high: float
    tau: float
    k_studies: int
    k_rows: int
    own_weight: float
    level: float
    new_level: float


@dataclass(frozen=True)
class Classical:
    """The classical line beside it: REML with Hartung-Knapp and the floor, in percent; None where it does not exist."""

    retained_percent: float
    ci_low: float
    ci_high: float
    tau2: float | None
    tau2_low: float | None
    tau2_high: float | None
    i2: float | None
    q: float | None
    q_p: float | None
    prediction_low: float | None
    prediction_high: float | None


@dataclass(frozen=True)
class StudyEstimate:
    """What one study says about the question: a figure or a bound, in percent, its rows taken together.

    ci_*: the study's own interval where it printed a spread of its own, else None. weight_share: of the pooled figure.
    """

    study: str
    kind: EffectKind
    retained_percent: float
    log_ratio: float
    se: float
    u: float
    ci_low: float | None
    ci_high: float | None
    own_spread: bool
    recipe: str
    n: float | None
    baseline: BaselineClass
    already_frozen: bool
    rows: tuple[str, ...]
    flags: tuple[str, ...]
    weight_share: float | None = None


@dataclass(frozen=True)
class Said:
    """What one study says in words only; se and u are lent by similar milk.

    smallest_loss_percent: the smallest loss it would probably have seen.
    """

    study: str
    kind: EffectKind
    se: float
    u: float
    n: float | None
    baseline: BaselineClass
    already_frozen: bool
    rows: tuple[str, ...]
    smallest_loss_percent: float | None


@dataclass(frozen=True)
class NotPooled:
    """A row that is listed and not pooled, and why."""

    measurement: str
    study: str
    reason: str


@dataclass(frozen=True)
class ShareStudy:
    """One study's share by one assay: before and after in percent, means of its rows."""

    study: str
    assay: str
    unit: str
    before: float
    after: float
    baseline: BaselineClass
    rows: tuple[str, ...]


@dataclass(frozen=True)
class Points:
    """The mean difference in percentage points over studies that used one assay, and its interval."""

    assay: str
    k_studies: int
    points: float
    low: float
    high: float


@dataclass(frozen=True)
class Shares:
    """What studies say of a share: each by itself, and together where three or more used one assay."""

    studies: tuple[ShareStudy, ...]
    together: tuple[Points, ...]


@dataclass(frozen=True)
class CertaintyStep:
    """One reason to be less sure: its code (worded in reports), and how many steps down."""

    reason: str
    down: int


@dataclass(frozen=True)
class Review:
    """What a named reviewer set by hand, and what the figures alone gave when it was signed (computed).

    date as YYYY-MM-DD; second is empty where nobody else signed, else someone who gains nothing from sales. counts: it
    is the newest, and level is what it says.
    """

    certainty: Level
    computed: Level
    by: str
    reason: str
    date: str
    second: str
    counts: bool


@dataclass(frozen=True)
class Certainty:
    """How sure anyone can be, and every step down from high.

    steps lead to computed, what the figures alone give; reviews are all that were signed, oldest first. Where nobody
    set anything by hand, computed is None, and level is what the steps give.
    """

    level: Level
    steps: tuple[CertaintyStep, ...]
    computed: Level | None = None
    reviews: tuple[Review, ...] = ()

    @property
    def in_force(self) -> Review | None:
        """The review that counts, or None."""
        return next((review for review in self.reviews if review.counts), None)


@dataclass(frozen=True)
class Finding:
    """The answer to one question.

    headline is figures or with_words, whichever carries the more cautious sentence; fresh the same question answered
    from studies that compared with fresh milk only. baselines counts studies by the class of what they compared with.
    shares: of a share, what its studies print of it; such a finding has no pooled figure.
    """

    number: str
    component: str
    form: str
    measured_as: str
    handling: str
    group: PooledClass | None
    state: State
    headline: Literal["figures", "with_words"] | None
    figures: Pooled | None
    with_words: Pooled | None
    fresh: Pooled | None
    fresh_state: State | None
    classical: Classical | None
    studies: tuple[StudyEstimate, ...]
    said: tuple[Said, ...]
    not_pooled: tuple[NotPooled, ...]
    baselines: tuple[tuple[BaselineClass, int], ...]
    flags: tuple[str, ...]
    certainty: Certainty
    shares: Shares | None = None

    @property
    def pooled(self) -> Pooled | None:
        """The pooled figure behind the headline, or None without one."""
        return self.with_words if self.headline == "with_words" else self.figures

    @property
    def figure_studies(self) -> tuple[StudyEstimate, ...]:
        """The studies with a figure (not only a bound)."""
        return tuple(study for study in self.studies if study.kind == "figure")

    @property
    def every_study(self) -> tuple[StudyEstimate | Said, ...]:
        """The studies that speak to the question at all, by figure, bound or words."""
        return (*self.studies, *self.said)

    @property
    def behind(self) -> tuple[StudyEstimate | Said, ...]:
        """The studies behind the headline: those with figures where there are any, else all that speak."""
        return self.figure_studies or self.every_study
