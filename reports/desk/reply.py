"""Replies: the answer to what was understood, with figures, baselines, flags, sources and cautions."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any, Literal

from sqlmodel import Session, col, select

from evidence.findings import ensure_evidence
from evidence.findings.finding import Finding
from evidence.findings.kept import finding_from_json
from evidence.model.tables import Component, ComponentName, Measurement, Question
from evidence.store.connection import Store
from evidence.store.reading import findings_payloads
from reports.desk.understand import (
    Redirect,
    Understood,
    Vocabulary,
    find_redirects,
    handling_phrases,
    normalised,
    understand,
)
from reports.words.answers import answer_sentences, how_sure, no_evidence_sentence
from reports.words.brief import brief_answer
from reports.words.catalogue import Catalogue, load_catalogue
from reports.words.choose import DRYING, FREEZING, leading, studies_between
from reports.words.handlings import handling_words
from reports.words.library import Library, load_library
from reports.words.references import reference_line

__all__ = ["SCHEMA", "Reply", "StudyCited", "covers", "reply_to", "vocabulary_of"]

SCHEMA = "whatstays-answer-1"
Status = Literal["answered", "words_only", "no_evidence", "not_understood", "redirect"]
_MOST_OF_ALL = 12
# the time window at the end of a handling key, as evidence.handling.bands writes it
_WINDOW = re.compile(r":(?P<low>to|over|\d+)-(?P<high>[\d.]+)(?P<unit>[dh])$")


@dataclass(frozen=True)
class StudyCited:
    """A source of an answer."""

    key: str
    reference: str
    doi: str | None
    pmid: str | None
    baseline: str


@dataclass(frozen=True)
class Reply:
    """One answer, as --json prints it; every key is always there, null where it does not exist.

    retained_percent and ci_* in percent (a germ count: treated per 100 before); interval_kind "shared": with the
    heterogeneity that similar questions lend. baselines counts the studies behind it by what they compared with.
    """

    schema: str
    status: Status
    number: str | None
    component: str | None
    handling: str | None
    retained_percent: float | None
    ci_low: float | None
    ci_high: float | None
    interval_kind: str | None
    k_studies: int
    k_rows: int
    baselines: dict[str, int]
    flags: tuple[str, ...]
    certainty: str | None
    how_sure: str | None
    sentence: str
    others: tuple[str, ...]
    studies: tuple[StudyCited, ...]
    cautions: tuple[str, ...]
    edition: str
    evidence_of: str
    redirect_to: str | None = None
    alternatives: tuple[str, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """Return the reply as plain values."""
        return asdict(self)


def vocabulary_of(store: Store) -> Vocabulary:
    """Return the names by which a store's components and the handlings are asked for."""
    with store.engine.connect() as connection:
        names = connection.execute(select(ComponentName.component, ComponentName.language, ComponentName.name)).all()
        known = connection.execute(select(Component.id, Component.question_worthy, Component.sentence_name_en)).all()
    worthy = {identity: asked for identity, asked, _ in known}
    spoken = [(identity, name) for identity, _, name in known]
    components: dict[str, str] = {}
    # where two components share a name, the one a parent would ask for has it
    ranked = sorted((tongue != "en", worthy[component] != "1", component, name) for component, tongue, name in names)
    for *_, component, name in ranked:
        components.setdefault(normalised(name), component)
    # our own questions name a component as sentences do
    for identity, name in sorted(spoken):
        components.setdefault(normalised(name), identity)
    for identity in worthy:
        components.setdefault(normalised(identity), identity)
    return Vocabulary(components, handling_phrases())


def _findings(store: Store, components: Sequence[str] | None) -> list[Finding]:
    with store.engine.connect() as connection:
        wanted = select(Question.number)
        if components is not None:
            wanted = wanted.where(col(Question.component).in_(components))
        numbers = connection.execute(wanted).scalars().all()
    payloads = findings_payloads(store, numbers)
    return [finding_from_json(payloads[number]) for number in sorted(payloads)]


@dataclass(frozen=True)
class _Desk:
    store: Store
    library: Library
    say: Catalogue

    def blank(self, status: Status, sentence: str, **more: Any) -> Reply:
        """Return a reply that carries no finding."""
        values: dict[str, Any] = {
            "number": None, "component": None, "handling": None, "retained_percent": None, "ci_low": None,
            "ci_high": None, "interval_kind": None, "k_studies": 0, "k_rows": 0, "baselines": {}, "flags": (),
            "certainty": None, "how_sure": None, "others": (), "studies": (),
        } | more  # fmt: skip
        edition = self.library.edition
        return Reply(
            schema=SCHEMA, status=status, sentence=sentence, cautions=tuple(c.text_en for c in self.library.cautions),
            edition=edition.hash[:12], evidence_of=edition.evidence_of, **values,
        )  # fmt: skip

    def answer(self, component: Component, found: Sequence[Finding], kind: str, days: float | None) -> Reply:
        """Return the answer for one component and kind of handling."""
        choices = leading(found, kind)
        chosen = [finding for finding in choices if covers(finding.handling, days)] or choices
        if not chosen:
            words = handling_words(kind, self.say)
            after = words.after if kind != FREEZING else self.say.say("title/after_freezing")
            between = studies_between(self.unused_rows(component.id, found), kind)
            others = tuple(brief_answer(finding, self.library, self.say) for finding in found if finding.figure_studies)
            return self.blank(
                "no_evidence", no_evidence_sentence(component.sentence_name_en, after, words.noun, between, self.say),
                component=component.id, handling=kind, others=others[:3],
            )  # fmt: skip
        first = chosen[0]
        lines = [brief_answer(finding, self.library, self.say, first) for finding in choices if finding is not first]
        pooled, figures = first.pooled, first.figure_studies
        behind = first.behind
        kept = figures[0].retained_percent if len(figures) == 1 else pooled.retained_percent if pooled else None
        status: Status = (
            "answered" if pooled is not None else "no_evidence" if first.state == "listed_only" else "words_only"
        )
        cited = {each.study: each for each in first.every_study}
        return self.blank(
            status,
            " ".join(answer_sentences(first, self.library, self.say)),
            number=first.number,
            component=component.id,
            handling=first.handling,
            retained_percent=None if kept is None else round(kept, 2),
            ci_low=None if pooled is None else round(pooled.ci_low, 2),
            ci_high=None if pooled is None else round(pooled.ci_high, 2),
            interval_kind=None if pooled is None else "shared",
            k_studies=len(behind),
            k_rows=sum(len(each.rows) for each in behind),
            baselines=dict(Counter(each.baseline for each in behind)),
            flags=tuple(self.say.say(f"flag/{flag}") for flag in first.flags),
            certainty=first.certainty.level,
            how_sure=how_sure(first, self.say),
            others=tuple(line for line in lines if line)[:4],
            studies=tuple(self.cite(key, each.baseline) for key, each in cited.items()),
        )

    def unused_rows(self, component: str, found: Sequence[Finding]) -> list[Measurement]:
        """Return the rows of a component that no finding uses: comparisons of two handled milks."""
        used = {row for finding in found for each in finding.every_study for row in each.rows}
        used |= {each.measurement for finding in found for each in finding.not_pooled}
        with Session(self.store.engine, expire_on_commit=False) as session:
            rows = session.exec(select(Measurement).where(col(Measurement.component) == component))
            return [row for row in rows if row.id not in used]

    def cite(self, key: str, baseline: str) -> StudyCited:
        """Return a study as a source."""
        study = self.library.studies[key]
        return StudyCited(key, reference_line(study), study.doi or None, study.pmid or None, baseline)


def covers(handling: str, days: float | None) -> bool:
    """Return whether a time asked for falls into a handling's window; without a time, anything does."""
    window = _WINDOW.search(handling)
    if days is None or window is None:
        return days is None
    asked = days if window["unit"] == "d" else days * 24
    if window["low"] == "to":
        return asked <= float(window["high"])
    if window["low"] == "over":
        return asked > float(window["high"])
    return float(window["low"]) - 1 < asked <= float(window["high"])


def _redirected(desk: _Desk, redirect: Redirect) -> Reply:
    return desk.blank("redirect", redirect.say, redirect_to=redirect.to_whom)


def _kinds(asked: Understood) -> list[str]:
    kinds = list(asked.handlings) or [DRYING]
    if {DRYING, FREEZING} <= set(kinds) and kinds[0] == FREEZING:
        return ["frozen+freeze-dried", FREEZING, DRYING]
    return kinds


def reply_to(text: str, store: Store, language: str = "en") -> list[Reply]:
    """Return the replies to a question: one a component and handling it asks about, redirects about harm first."""
    ensure_evidence(store)
    say = load_catalogue(language)
    asked = understand(text, vocabulary_of(store))
    redirects = find_redirects(text)
    everything = asked.everything and not asked.components
    found = _findings(store, None if everything else asked.components)
    desk = _Desk(store, load_library(store, found), say)
    replies = [_redirected(desk, redirect) for redirect in redirects]
    components: list[str] = list(asked.components)
    if everything:
        kind = _kinds(asked)[0]
        nutrients = leading([finding for finding in found if finding.group in ("bulk", "fragile")], kind)
        # figures where there are any, else words, else what is only listed
        told = [finding for finding in nutrients if finding.figure_studies] or [
            finding for finding in nutrients if finding.every_study
        ]
        components = list(dict.fromkeys(finding.component for finding in told or nutrients))[:_MOST_OF_ALL]
        if not components:
            words = handling_words(kind, say)
            sentence = no_evidence_sentence(say.say("desk/any_nutrient"), words.after, words.noun, 0, say)
            return [*replies, desk.blank("no_evidence", sentence, handling=kind)]
    elif not asked.components and not redirects:
        return [desk.blank("not_understood", say.say("desk/not_understood"), alternatives=_alternatives(store))]
    by_id = desk.library.components if everything else _components(store, components)
    for component in components:
        mine = [finding for finding in found if finding.component == component]
        replies += [desk.answer(by_id[component], mine, kind, asked.days) for kind in _kinds(asked)]
    return replies


def _components(store: Store, ids: Sequence[str]) -> dict[str, Component]:
    with Session(store.engine, expire_on_commit=False) as session:
        return {each.id: each for each in session.exec(select(Component).where(col(Component.id).in_(ids)))}


def _alternatives(store: Store) -> tuple[str, ...]:
    """Return three questions that have answers."""
    say = load_catalogue()
    found = [finding for finding in _findings(store, None) if finding.figure_studies and finding.handling == DRYING]
    library = load_library(store, found)
    first = sorted(found, key=lambda finding: (-len(finding.figure_studies), finding.number))
    names = dict.fromkeys(library.components[finding.component].sentence_name_en for finding in first)
    return tuple(say.say("title/question_freeze_dried", component=name) for name in list(names)[:3])
