"""What the evidence holds for a claim: findings by component and handling, their figures, and our own sentences."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, field

from sqlmodel import select

from evidence.findings import ensure_evidence, findings
from evidence.findings.finding import Finding
from evidence.model.lists import BaselineClass
from evidence.model.tables import Component, ComponentName, Composition
from evidence.store.connection import Store
from reports.claims.signs import Names
from reports.claims.vocabulary import LANGUAGES, ClaimWords, Phrases, load_claim_words, tokens_of
from reports.words.answers import answer_sentences
from reports.words.brief import brief_answer
from reports.words.catalogue import load_catalogue
from reports.words.choose import DRYING, by_component, leading
from reports.words.handlings import load_handlings
from reports.words.library import Library, load_library

__all__ = [
    "Holdings", "Measured", "covers", "may_stand", "measured", "open_holdings", "own_sentences",
    "said_in", "shows_loss",
]  # fmt: skip

_SHORT = 3  # letters; a longer acronym is no common word
_WINDOW = re.compile(r":(?P<low>to|over|\d+)-(?P<high>[\d.]+)(?P<unit>[dh])$")


@dataclass(frozen=True)
class Measured:
    """A figure that a finding lets stand: parts of 100 kept, its limits, how many studies, against what."""

    finding: Finding
    kept: tuple[float, ...]
    limits: tuple[float, ...]
    studies: int
    baselines: frozenset[BaselineClass]


@dataclass(frozen=True)
class Holdings:
    """The findings of a store, the look-ups behind them, the names of things, and the titles of papers it cites."""

    library: Library
    found: dict[str, list[Finding]]
    names: dict[str, Names]
    titles: tuple[str, ...] = ()
    _about: dict[tuple[str, str | None], list[Finding]] = field(default_factory=dict)
    _losing: dict[tuple[str | None, float], Finding | None] = field(default_factory=dict)

    def people(self, finding: Finding) -> frozenset[int]:
        """Return how many mothers or samples the rows of a finding name."""
        rows = self.library.rows_of(finding)
        return frozenset(n for row in rows for n in (row.n, row.n_mothers) if n)

    def about(self, component: str, handling: str | None) -> list[Finding]:
        """Return the findings on a component that a claim is held against; without a handling those on drying."""
        if (component, handling) not in self._about:
            self._about[component, handling] = self._held_against(component, handling)
        return self._about[component, handling]

    def _held_against(self, component: str, handling: str | None) -> list[Finding]:
        mine = self.found.get(component, [])
        chosen = leading(mine, handling or DRYING)
        if chosen or handling is not None:
            return chosen
        return sorted((f for f in mine if f.every_study), key=lambda f: (-len(f.figure_studies), f.number))

    def losing(self, handling: str | None, fewer_than: float) -> Finding | None:
        """Return a finding that shows something lost, fewer than so many of 100 kept: the most telling one."""
        if (handling, fewer_than) not in self._losing:
            self._losing[handling, fewer_than] = self._most_telling_loss(handling or DRYING, fewer_than)
        return self._losing[handling, fewer_than]

    def _most_telling_loss(self, kind: str, fewer_than: float) -> Finding | None:
        lost = [
            finding
            for mine in self.found.values()
            for finding in leading(mine, kind)
            if finding.group in ("bulk", "fragile") and shows_loss(finding, fewer_than) and finding.figure_studies
        ]
        return min(
            lost,
            key=lambda f: (f.component not in _TELLING, f.pooled is None or f.pooled.ci_high >= _ALL, f.number),
            default=None,
        )


_ALL = 100.0
# the one that people ask about most, before any other
_TELLING = ("vitamin-c",)


def shows_loss(finding: Finding, fewer_than: float) -> bool:
    """Return whether a finding says that some was lost: by figure, or in words that nobody contradicts."""
    if finding.figure_studies and finding.pooled is not None:
        kept = [study.retained_percent for study in finding.figure_studies]
        return max(kept) < fewer_than if len(kept) < 3 else finding.pooled.retained_percent < fewer_than
    said = {each.kind for each in finding.said}
    return bool(said) and said <= {"fall", "mixed"}


def measured(finding: Finding) -> list[Measured]:
    """Return the figures that a finding lets stand: its own, and that of the studies that began with fresh milk."""
    pooled, figures = finding.pooled, finding.figure_studies
    if pooled is None or not figures or finding.group not in ("bulk", "fragile", "count", "marker"):
        return []
    own = tuple(study.retained_percent for study in figures)
    limits = () if len(figures) == 1 else (pooled.ci_low, pooled.ci_high, pooled.new_low, pooled.new_high)
    kept = own if len(figures) < 3 else (pooled.retained_percent,)
    classes = frozenset(study.baseline for study in figures)
    told = [Measured(finding, kept, limits, len(figures), classes)]
    if finding.fresh is not None and len(figures) > 2:
        fresh = finding.fresh
        fresh_limits = (fresh.ci_low, fresh.ci_high, fresh.new_low, fresh.new_high)
        told.append(Measured(finding, (fresh.retained_percent,), fresh_limits, fresh.k_studies, frozenset({"fresh"})))
    return told


def covers(handling: str, days: float | None) -> bool:
    """Return whether a time told lies in a handling's window; one with a window needs a time, others take none."""
    window = _WINDOW.search(handling)
    if window is None:
        return days is None
    if days is None:
        return False
    asked = days if window["unit"] == "d" else days * 24
    if window["low"] == "to":
        return asked <= float(window["high"])
    if window["low"] == "over":
        return asked >= float(window["high"])
    return float(window["low"]) - 1 < asked <= float(window["high"])


def said_in(language: str) -> str:
    """Return the language in which findings can be worded: English where the tables have no names in another."""
    return language if hasattr(Component, f"sentence_name_{language}") else "en"


def own_sentences(finding: Finding, library: Library, language: str) -> list[str]:
    """Return what the project itself says of a finding, in the first words of its pages."""
    say = load_catalogue(said_in(language))
    return [*answer_sentences(finding, library, say), brief_answer(finding, library, say)]


def may_stand(finding: Finding, library: Library, language: str) -> str:
    """Return the shortest wording of a finding that carries its comparison, its studies and its range."""
    say = load_catalogue(said_in(language))
    told = answer_sentences(finding, library, say)
    return " ".join(told[: 2 if finding.state == "two_studies" else 1])


def _counts_studies(text: str, words: ClaimWords) -> bool:
    return bool(words.phrases.find(tokens_of(text)).get("studies/words"))


def _names(store: Store, library: Library, found: dict[str, list[Finding]]) -> dict[str, Names]:
    with store.engine.connect() as connection:
        rows = connection.execute(select(ComponentName.component, ComponentName.language, ComponentName.name)).all()
    worthy = {identity: component.question_worthy == "1" for identity, component in library.components.items()}
    ranked = sorted((not worthy[component], component, language, name) for component, language, name in rows)
    told: dict[str, Names] = {}
    for language in LANGUAGES:
        words = load_claim_words(language)
        components: dict[str, str] = {}
        acronyms: set[str] = set()
        mine = [(name, component) for _, component, tongue, name in ranked if tongue == language]
        if language == "en":
            mine += [(each.sentence_name_en, each.id) for each in library.components.values()]
        # a form in brackets belongs to the name: "bacteria added as a test (left after treatment)"
        forms = {identity: {each.form for each in all_of if each.form} for identity, all_of in found.items()}
        with_form = [(f"{name} ({form})", each) for name, each in mine for form in forms.get(each, ())]
        outers = Counter(name.partition("(")[0] for name, _ in mine)
        for name, component in mine:
            # "vitamin B1 (thiamin)" is called by either name; "antibodies (IgA)" is not the only one called antibodies
            outer, _, inner = name.partition("(")
            sole = "," not in inner and "(" not in inner and not _counts_studies(inner, words)
            for part in (name, outer if outers[outer] == 1 else "", inner.rstrip(") ") if sole else ""):
                phrase = " ".join(tokens_of(part))
                if not phrase or phrase in words.stop or phrase in words.units:
                    continue
                components.setdefault(phrase, component)
                if len(phrase) <= _SHORT and part.strip().isupper():
                    acronyms.add(phrase)
        for name, component in with_form:
            components.setdefault(" ".join(tokens_of(name)), component)
        for phrase, component in list(components.items()):
            if phrase not in acronyms and not phrase.endswith("s") and len(phrase) > 4:
                components.setdefault(f"{phrase}s", component)
        handlings: dict[str, list[str]] = {kind: list(phrases) for kind, phrases in words.handlings.items()}
        for kind in load_handlings(language).values():
            handlings.setdefault(kind.id, []).extend(
                # "-80" is a temperature where people ask, and a figure in copy
                name
                for name in (str(kind.noun), *kind.synonyms)
                if any(letter.isalpha() for letter in name)
            )
        longest = max((phrase.count(" ") + 1 for phrase in components), default=1)
        told[language] = Names(components, frozenset(acronyms), longest, Phrases(handlings))
    return told


def open_holdings(store: Store) -> Holdings:
    """Return what a store holds, brought up to date first."""
    ensure_evidence(store)
    library = load_library(store)
    found = by_component(findings(store))
    with store.engine.connect() as connection:
        cited = connection.execute(select(Composition.reference)).scalars().all()
    titles = {study.title for study in library.studies.values()} | set(cited)
    return Holdings(library, found, _names(store, library, found), tuple(sorted(titles - {""})))
