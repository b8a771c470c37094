"""The store's tables: the same classes on SQLite and PostgreSQL, foreign keys and checks on in both.

Printed figures are kept as text, exactly as the paper prints them: the digits show the rounding, and text is the same
on both databases. Reading them as numbers is the work of evidence.effects.
"""

from __future__ import annotations

from pydantic import ConfigDict
from sqlalchemy import CheckConstraint, Column, ForeignKey, Text, UniqueConstraint
from sqlmodel import Field, SQLModel

from evidence.model.lists import APPRAISAL_QUESTIONS, CERTAINTY_LEVELS, CLOSED_LISTS, INTAKE_KINDS

__all__ = [
    "Appraisal",
    "Caution",
    "Component",
    "ComponentName",
    "Composition",
    "EditionRecord",
    "FindingRecord",
    "Guidance",
    "HandlingStep",
    "Intake",
    "Measurement",
    "Overlap",
    "Override",
    "Question",
    "SensitivityRecord",
    "Study",
    "check_name",
]


def check_name(column: str) -> str:
    """Return the name under which a column's closed list is checked in the store."""
    return f"closed_{column}"


def _one_of(column: str, words: tuple[str, ...]) -> CheckConstraint:
    allowed = ", ".join("'" + word.replace("'", "''") + "'" for word in words)
    return CheckConstraint(f"{column} IN ({allowed})", name=check_name(column))


class _Row(SQLModel):
    # rows are checked on the way in and by the store itself; building pydantic's validators too costs every start
    model_config = ConfigDict(defer_build=True)  # type: ignore[assignment]


class Study(_Row, table=True):
    """A publication; its details come from bibliography/studies.bib and stand nowhere else."""

    key: str = Field(primary_key=True)
    authors: str
    year: str
    title: str
    journal: str
    volume: str = ""
    number: str = ""
    pages: str = ""
    doi: str = ""
    pmid: str = ""
    kind: str = ""
    language: str = ""
    completeness: str = ""
    notice: str = ""
    extra: str = ""  # BibTeX fields without a column of their own, as JSON with sorted keys
    origin: str


class Component(_Row, table=True):
    """Something measured in milk: its plain name, its kind, and whether less or more of it is the harm."""

    __table_args__ = (
        _one_of("outcome", ("bulk", "fragile", "count", "share", "marker", "physical")),
        _one_of("wanted", ("keep", "a rise is unwelcome", "germs", "neither")),
    )
    id: str = Field(primary_key=True)
    name_en: str
    name_fr: str = ""
    name_es: str = ""
    sentence_name_en: str
    sentence_name_fr: str = ""
    sentence_name_es: str = ""
    grammar_fr: str = ""
    grammar_es: str = ""
    group: str
    kind: str
    wanted: str
    outcome: str
    unit: str = ""
    infoods_tagname: str = ""
    question_worthy: str = ""
    what_it_does_en: str = ""
    what_it_does_fr: str = ""
    what_it_does_es: str = ""
    origin: str


class ComponentName(_Row, table=True):
    """A name or synonym of a component in one language."""

    component: str = Field(foreign_key="component.id", primary_key=True)
    language: str = Field(primary_key=True)
    name: str = Field(primary_key=True)
    origin: str


class Measurement(_Row, table=True):
    """One printed result about one component in one study: treated milk against baseline milk."""

    __table_args__ = (
        *(_one_of(column, words) for column, words in CLOSED_LISTS.items()),
        CheckConstraint("n IS NULL OR n > 0", name="n_positive"),
        CheckConstraint("n_mothers IS NULL OR n_mothers > 0", name="n_mothers_positive"),
    )
    id: str = Field(primary_key=True)
    study: str = Field(foreign_key="study.key", index=True)
    component: str = Field(foreign_key="component.id", index=True)
    form: str = ""
    measured_as: str
    assay: str = ""
    basis: str = "not stated"
    handling: str
    baseline: str
    baseline_said: str = ""
    n: int | None = None
    n_kind: str = "not stated"
    n_mothers: int | None = None
    design: str = "not stated"
    stage: str = ""
    unit: str = ""
    baseline_mean: str = ""
    baseline_spread: str = ""
    treated_mean: str = ""
    treated_spread: str = ""
    spread_kind: str = ""
    spread_of: str = ""
    retained_percent: str = ""
    change_percent: str = ""
    number_is: str = ""
    percent_of: str = ""
    percent_spread: str = ""
    percent_spread_kind: str = ""
    diff_mean: str = ""
    diff_spread: str = ""
    diff_kind: str = ""
    interval_low: str = ""
    interval_high: str = ""
    interval_kind: str = ""
    p: str = ""
    p_of: str = ""
    in_words: str = ""
    words_scope: str = ""
    locator: str
    read_from: str
    statement: str = ""
    second_read: str = ""
    held: str = ""
    notes: str = ""
    origin: str
    baseline_class: str = ""


class HandlingStep(_Row, table=True):
    """One step of a measurement's treated or baseline chain, in order; empty limits were not stated."""

    __table_args__ = (_one_of("chain", ("treated", "baseline")),)
    measurement: str = Field(sa_column=Column(Text, ForeignKey("measurement.id", ondelete="CASCADE"), primary_key=True))
    chain: str = Field(primary_key=True)
    position: int = Field(primary_key=True)
    step: str
    method: str = ""
    text: str
    temperature_low_c: float | None = None
    temperature_high_c: float | None = None
    duration_low_days: float | None = None
    duration_high_days: float | None = None


class Overlap(_Row, table=True):
    """Two studies that may report the same milk: it is counted once, as the study in keep."""

    __table_args__ = (_one_of("certainty", ("certain", "almost certain", "probable", "possible")),)
    key_a: str = Field(foreign_key="study.key", primary_key=True)
    key_b: str = Field(foreign_key="study.key", primary_key=True)
    certainty: str
    why: str
    keep: str = Field(foreign_key="study.key")
    origin: str


class Override(_Row, table=True):
    """How sure anyone can be, set by hand: signed, dated, never edited; the newest of an answer's rows counts."""

    __table_args__ = (_one_of("certainty", CERTAINTY_LEVELS), _one_of("computed", CERTAINTY_LEVELS))
    id: str = Field(primary_key=True)
    number: str
    computed: str
    certainty: str
    by: str
    reason: str
    date: str
    second: str = ""
    second_no_interest: str = ""
    origin: str


class Guidance(_Row, table=True):
    """What an authority says, in our words, with the document; shown side by side, none as the truth."""

    id: str = Field(primary_key=True)
    topic: str
    statement_in_own_words: str
    statement_fr: str = ""
    statement_es: str = ""
    figure: str = ""
    unit: str = ""
    applies_to: str = ""
    authority: str
    country: str = ""
    document_title: str
    year: str = ""
    url_of_authority: str = ""
    source_seen: str
    bib_key: str
    origin: str


class Caution(_Row, table=True):
    """A caution that every sheet and answer carries; no setting removes one."""

    id: str = Field(primary_key=True)
    position: int
    text_en: str
    text_fr: str = ""
    text_es: str = ""
    topics: str = ""
    guidance: str = ""
    origin: str


class Appraisal(_Row, table=True):
    """One of seven questions asked of every study, with where the answer was read."""

    __table_args__ = (
        _one_of("question", APPRAISAL_QUESTIONS),
        _one_of("answer", ("yes", "no", "not stated")),
    )
    study: str = Field(foreign_key="study.key", primary_key=True)
    question: str = Field(primary_key=True)
    answer: str
    read_where: str
    note: str = ""
    origin: str


class Composition(_Row, table=True):
    """How much of a component human milk holds, as a source prints it."""

    id: str = Field(primary_key=True)
    component: str = Field(foreign_key="component.id")
    value: str
    unit: str
    basis: str = ""
    spread_low: str = ""
    spread_high: str = ""
    spread_kind: str = ""
    population: str = ""
    stage: str = ""
    n: str = ""
    reference: str
    doi: str = ""
    locator: str = ""
    notes: str = ""
    origin: str


class Intake(_Row, table=True):
    """An authority's figure for a day, with its kind; authorities stand side by side, none as the truth."""

    __table_args__ = (_one_of("kind", INTAKE_KINDS),)
    id: str = Field(primary_key=True)
    component: str = Field(foreign_key="component.id")
    authority: str
    country: str = ""
    kind: str
    value: str
    unit: str
    age_from_months: str = ""
    age_to_months: str = ""
    sex: str = ""
    document: str
    year: str = ""
    doi_or_url: str = ""
    source_seen: str = ""
    notes: str = ""
    origin: str


class Question(_Row, table=True):
    """A question and its number, which stays the same as long as the question does."""

    __table_args__ = (UniqueConstraint("component", "form", "measured_as", "handling", name="one_number_a_question"),)
    number: str = Field(primary_key=True)
    component: str = Field(foreign_key="component.id")
    form: str = ""
    measured_as: str
    handling: str
    origin: str


class EditionRecord(_Row, table=True):
    """The state of the evidence in this store: the hash over its canonical rows and the rules."""

    hash: str = Field(primary_key=True)
    name: str
    evidence_of: str
    rule_version: str
    rows: int
    studies: int
    shipped_digest: str = ""


class SensitivityRecord(_Row, table=True):
    """What a finding would be if one choice were made otherwise; kept as findings are."""

    edition: str = Field(sa_column=Column(Text, ForeignKey("editionrecord.hash", ondelete="CASCADE"), primary_key=True))
    number: str = Field(foreign_key="question.number", primary_key=True)
    payload: str


class FindingRecord(_Row, table=True):
    """A computed finding of one edition, kept so that an answer needs no arithmetic; made again when evidence does."""

    edition: str = Field(sa_column=Column(Text, ForeignKey("editionrecord.hash", ondelete="CASCADE"), primary_key=True))
    number: str = Field(foreign_key="question.number", primary_key=True)
    payload: str


class SharedTauRecord(_Row, table=True):
    """The heterogeneity a class of questions shares in one edition; kept as findings are."""

    edition: str = Field(sa_column=Column(Text, ForeignKey("editionrecord.hash", ondelete="CASCADE"), primary_key=True))
    pooled_class: str = Field(primary_key=True)
    payload: str
