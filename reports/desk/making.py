"""Makes ready what the desk reads: cards of all findings, names, redirects and cautions, in every language.

Made once an edition and kept beside the store's findings, so that an answer loads neither tables nor statistics.
"""

from __future__ import annotations

import json
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import asdict
from datetime import date
from typing import Any

from sqlmodel import Session, select

from evidence.findings import ensure_evidence, findings
from evidence.findings.finding import Finding, StudyEstimate
from evidence.findings.reading_sources import reading_list
from evidence.model.problems import InputProblems
from evidence.model.rules import load_rules
from evidence.model.tables import Caution, Component, Measurement
from evidence.store.connection import Store
from reports.desk.cards import Card, Figure, Lead
from reports.desk.language import language_values
from reports.desk.naming import names_of
from reports.desk.vocabulary import LANGUAGES, lexicon_values, load_redirects
from reports.words.answers import answer_sentences, component_words, how_sure, no_evidence_sentence
from reports.words.brief import brief_answer
from reports.words.catalogue import Catalogue, load_catalogue
from reports.words.choose import FREEZING, leading, studies_between
from reports.words.compared import compared_phrase
from reports.words.handlings import family, handling_words
from reports.words.lengths import email_text, phone_text
from reports.words.library import Library, load_library
from reports.words.named import caution_text, component_name
from reports.words.names import Name
from reports.words.references import reference_line, short_name

__all__ = ["notes_of"]


UNSTATED_FREEZER = "frozen:not-stated"


class _Maker:
    """Cards of one store in one language."""

    def __init__(
        self, language: str, found: Sequence[Finding], library: Library, papers: dict[str, dict[str, str]]
    ) -> None:
        self.language = language
        self.say: Catalogue = load_catalogue(spoken(language))
        self.library = library
        self.papers = papers
        self.by_component: dict[str, list[Finding]] = defaultdict(list)
        for finding in found:
            self.by_component[finding.component].append(finding)
        self.names: dict[str, list[tuple[str, Finding]]] = defaultdict(list)
        for finding in found:
            name = component_words(finding, library, self.say)
            if all(name != other for other, _ in self.names[finding.component]):
                self.names[finding.component].append((name, finding))

    def card(self, finding: Finding) -> Card:
        """Return the card of a finding."""
        pooled, figures, behind = finding.pooled, finding.figure_studies, finding.behind
        kept = figures[0].retained_percent if len(figures) == 1 else pooled.retained_percent if pooled else None
        words, name = handling_words(finding.handling, self.say), component_words(finding, self.library, self.say)
        status = "answered" if pooled is not None else "no_evidence" if finding.state == "listed_only" else "words_only"
        other = next((each for named, each in self.names[finding.component] if named != name), finding)
        cited = {each.study: each for each in finding.every_study}
        return Card(
            number=finding.number, component=finding.component, handling=finding.handling,
            kind=family(finding.handling), status=status, group=finding.group or "", name=name, noun=words.noun,
            after=words.after, sentence=" ".join(answer_sentences(finding, self.library, self.say)),
            phone=phone_text(finding, self.library, self.say), email=email_text(finding, self.library, self.say),
            line=brief_answer(finding, self.library, self.say, finding),
            line_named=brief_answer(finding, self.library, self.say, other),
            how_sure=how_sure(finding, self.say), certainty=finding.certainty.level,
            flags=[self.say.say(f"flag/{flag}") for flag in finding.flags], figures=len(figures),
            retained_percent=None if kept is None else round(kept, 2),
            ci_low=None if pooled is None else round(pooled.ci_low, 2),
            ci_high=None if pooled is None else round(pooled.ci_high, 2),
            interval_kind=None if pooled is None else "shared",
            interval_level=None if pooled is None else pooled.level,
            k_studies=len(behind), k_rows=sum(len(each.rows) for each in behind),
            baselines=dict(Counter(each.baseline for each in behind)),
            studies=[self.cited(key, each.baseline) for key, each in cited.items()],
        )  # fmt: skip

    def cited(self, key: str, baseline: str) -> dict[str, Any]:
        """Return a study as a source."""
        study = self.library.studies[key]
        return {
            "key": key, "reference": reference_line(study, self.say), "doi": study.doi or None,
            "pmid": study.pmid or None, "baseline": baseline,
        }  # fmt: skip

    def of_component(self, component: Component, rows: Sequence[Measurement]) -> dict[str, Any]:
        """Return what is said of a component: its cards, the leading one of each kind first, and how often two handled
        milks were compared."""
        mine = self.by_component[component.id]
        order = {
            finding.number: place for kind in _asked_kinds(mine) for place, finding in enumerate(leading(mine, kind))
        }
        ordered = sorted(mine, key=lambda finding: (order.get(finding.number, 0), finding.number))
        used = {row for finding in mine for each in finding.every_study for row in each.rows}
        used |= {each.measurement for finding in mine for each in finding.not_pooled}
        unused = [row for row in rows if row.id not in used]
        steps = {kind.split(":")[0] for kind in handling_kinds()}
        between = {step: count for step in sorted(steps) if (count := studies_between(unused, step))}
        name = component_name(component, self.say)
        return {
            "id": component.id,
            "name": name,
            "named": {
                each.study: short_name(self.library.studies[each.study], self.say)
                for finding in mine for each in finding.every_study
            },
            "cards": [vars(self.card(finding)) for finding in ordered],
            "between": {
                step: no_evidence_sentence(name, "{after}", _GAP, count, self.say, told=True)
                for step, count in between.items()
            },
            "papers": self.papers.get(component.id, {}),
        }  # fmt: skip

    def leads(self, components: dict[str, Component]) -> list[dict[str, Any]]:
        """Return every answer in short, the leading one of a component and kind of handling first."""
        made: list[Lead] = []
        for component, mine in sorted(self.by_component.items()):
            for kind in _asked_kinds(mine):
                for place, finding in enumerate(leading(mine, kind)):
                    made.append(self.lead(finding, components[component], first=place == 0))
        return [vars(lead) for lead in made]

    def lead(self, finding: Finding, component: Component, *, first: bool) -> Lead:
        """Return a finding in short."""
        status = (
            "answered"
            if finding.pooled is not None
            else ("no_evidence" if finding.state == "listed_only" else "words_only")
        )
        return Lead(
            finding.component, family(finding.handling), finding.handling, finding.number, status,
            finding.group or "", component.group,
            len(finding.figure_studies), component_name(component, self.say),
            handling_words(finding.handling, self.say).after, first,
        )  # fmt: skip

    def figures(self) -> list[dict[str, Any]]:
        """Return every study's printed figure on drying or freezing, for half-remembered numbers."""
        made: list[Figure] = []
        for mine in self.by_component.values():
            for finding in mine:
                after = handling_words(finding.handling, self.say).after
                for study in finding.figure_studies:
                    if finding.group not in ("count", "marker"):
                        made.append(self.figure(finding, study, after))
        return [vars(each) for each in made]

    def figure(self, finding: Finding, study: StudyEstimate, after: str) -> Figure:
        """Return one study's figure in words."""
        return Figure(
            finding.component, finding.number, family(finding.handling),
            short_name(self.library.studies[study.study], self.say),
            _forms(component_words(finding, self.library, self.say)), after,
            compared_phrase(finding, self.say, [study.baseline]),
            study.baseline == "fresh", round(100 - study.retained_percent, 2),
        )  # fmt: skip


def _asked_kinds(found: Sequence[Finding]) -> list[str]:
    """Return the kinds of handling; a freezer of unstated temperature stands among the household ones."""
    kinds = dict.fromkeys(family(finding.handling) for finding in found)
    return list(dict.fromkeys(FREEZING if kind == UNSTATED_FREEZER else kind for kind in kinds))


def handling_kinds() -> list[str]:
    """Return the kinds of handling there are words for."""
    from reports.words.handlings import load_handlings

    return list(load_handlings())


def spoken(language: str) -> str:
    """Return the language in which answers are worded: English until a language's names stand in the tables."""
    named = f"sentence_name_{language}" in Component.model_fields and f"text_{language}" in Caution.model_fields
    return language if named else "en"


def _forms(name: str) -> list[str]:
    """Return a name's forms as plain values: bare, with "of", with its article, with both."""
    made = name if isinstance(name, Name) else Name(name)
    return [str(made), made.of, made.the, made.of_the]


_GAP = Name("{noun}", "{of_noun}", "{the_noun}", "{of_the_noun}")


def _papers(store: Store, library: Library) -> dict[str, dict[str, str]]:
    """Return component -> kind of handling -> the paper whose full tables would tell most, as a reference."""
    papers: dict[str, dict[str, str]] = defaultdict(dict)
    try:
        entries = reading_list(store)
    except InputProblems:  # a store of own components alone: wanted.csv names shipped ones it does not hold
        return {}
    for entry in entries:
        reference = entry.reference or (
            reference_line(library.studies[entry.key]) if entry.key in library.studies else ""
        )
        link = f"https://doi.org/{entry.doi}" if entry.doi else f"PMID {entry.pmid}" if entry.pmid else ""
        for gain in entry.gains:
            kind = family(gain.handling)
            if gain.component and reference and entry.status != "not identified":
                papers[gain.component].setdefault(kind, f"{reference} {link}".strip())
    return papers


def notes_of(store: Store) -> Iterator[tuple[str, str]]:
    """Yield what the desk reads, name -> JSON; the store must be one that can be opened."""
    ensure_evidence(store)
    found = findings(store)
    library = load_library(store)
    rules = load_rules().bands
    names, worthy = names_of(store)
    with Session(store.engine, expire_on_commit=False) as session:
        components = {each.id: each for each in session.exec(select(Component))}
        rows: dict[str, list[Measurement]] = defaultdict(list)
        for row in session.exec(select(Measurement)):
            rows[row.component].append(row)
    papers = _papers(store, library)
    told = language_values(names)
    yield "told", _json(told)
    edges = {
        "frozen": rules.freezer_days,
        "chilled": rules.fridge_hours,
        "room": rules.room_hours,
        "kept": rules.powder_days,
    }
    for language in LANGUAGES:
        maker = _Maker(language, found, library, papers)
        day = date.fromisoformat(library.edition.evidence_of)
        yield f"lexicon/{language}", _json(lexicon_values(language, names, worthy))
        yield f"desk/{language}", _json({
            "words": load_catalogue(spoken(language), "desk").plain(), "language": spoken(language),
            "main": maker.say.plain(),
            "cautions": [caution_text(caution, maker.say) for caution in library.cautions],
            "redirects": [asdict(each) for each in load_redirects(language)],
            "edition": library.edition.hash[:12], "evidence_of": library.edition.evidence_of,
            "date": maker.say.date(day), "heat": {"edges": list(rules.heat_c), "kinds": list(rules.heat_banded)},
            "edges": {name: list(values) for name, values in edges.items()},
            "names": {each.id: _forms(component_name(each, maker.say)) for each in components.values()},
            "wanted": sorted(each.id for each in components.values() if each.wanted == "keep"),
            "families": {each.id: each.group for each in components.values()},
        })  # fmt: skip
        yield f"leads/{language}", _json(maker.leads(components))
        yield f"figures/{language}", _json(maker.figures())
        for component in components.values():
            yield f"component/{language}/{component.id}", _json(maker.of_component(component, rows[component.id]))


def _json(values: Any) -> str:
    return json.dumps(values, ensure_ascii=False, separators=(",", ":"))
