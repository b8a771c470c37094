"""What every composer of the family starts from: the edition's findings and rows, words, foot, cautions and sources."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from evidence.findings.finding import Finding
from evidence.model.tables import Component
from reports.charts.marks import Bar
from reports.settings import PLAIN, Settings
from reports.sheets.compose import SheetMaker
from reports.sheets.content import Source
from reports.sheets.family.content import Line
from reports.words.answers import component_words, parts
from reports.words.brief import short_answer
from reports.words.catalogue import Catalogue
from reports.words.compared import hundred_is
from reports.words.handlings import handling_words
from reports.words.named import caution_text, component_name, page_name

__all__ = ["FamilyMaker"]


@dataclass(frozen=True)
class FamilyMaker:
    """Makes the pages beside the sheets; sheets is the maker of the same edition's sheets, pages their file names.

    folder is where the pages of this language stand below the settings' address, as in "fr/".
    """

    sheets: SheetMaker
    words: Catalogue
    findings: Mapping[str, Sequence[Finding]]
    pages: Mapping[str, str]
    unbranded: bool = False
    settings: Settings = PLAIN
    folder: str = ""

    @property
    def say(self) -> Catalogue:
        """The main catalogue."""
        return self.sheets.say

    def frame(self, slug: str, key: str, **values: object) -> dict[str, Any]:
        """Return what every page of the family carries; key names its section in the catalogue."""
        library = self.sheets.library
        return {
            "slug": slug,
            "title": self.words.say(f"{key}/title", **values),
            "eyebrow": self.words.say(f"{key}/eyebrow", **values),
            "keeping_safe": tuple(caution_text(caution, self.say) for caution in library.cautions),
            "foot": self.sheets.foot(self.unbranded),
            "language": self.words.language,
            "unbranded": self.unbranded,
            "banner": self.sheets.banner,
        }

    def component(self, key: str) -> Component:
        """Return a component by its id."""
        return self.sheets.library.components[key]

    def line(self, finding: Finding, *, named: bool = False, ranged: bool = False) -> Line:
        """Return one answer, led by its handling; named: and its component; ranged: with the bar of what fits."""
        library, say = self.sheets.library, self.say
        component, after = library.components[finding.component], handling_words(finding.handling, say).after
        name = component_words(finding, library, say)
        variant = named or name != component_name(component, say)
        lead = self.words.say("line/lead_variant" if variant else "line/lead", after=after, component=name)
        told = short_answer(finding, library, say)
        return Line(
            lead=lead,
            answer=self.words.say("line/answer", answer=told),
            sure="" if finding.state == "listed_only" else say.say(f"sure/{finding.certainty.level}", because=""),
            number=finding.number,
            bar=self.range_bar(finding) if ranged else None,
        )

    def page_address(self, component: str) -> str:
        """Return where a component's sheet stands on the web, "" where no address is set."""
        base = self.settings.pages_at
        return (
            f"{base.rstrip('/')}/{self.folder}{self.pages[component]}.html" if base and component in self.pages else ""
        )

    def named(self, components: Iterable[str]) -> tuple[tuple[str, str], ...]:
        """Return the names of components with their sheets' file names, "" on unbranded pages and without a sheet."""
        library = self.sheets.library
        return tuple(
            (page_name(library.components[key], self.say), "" if self.unbranded else self.pages.get(key, ""))
            for key in components
        )

    def range_bar(self, finding: Finding) -> Bar | None:
        """Return the bar of what fits, without a mark for the middle: on a page of many answers nobody shall rank them.

        None where a figure has no range of its own, and for what is no part of 100.
        """
        pooled = finding.pooled
        if pooled is None or finding.group not in ("bulk", "fragile"):
            return None
        if pooled.k_studies == 1:
            study = finding.figure_studies[0]
            if study.ci_low is None or study.ci_high is None:
                return None
            low, high = study.ci_low, study.ci_high
        elif finding.state == "spread":
            low, high = pooled.new_low, pooled.new_high
        else:
            low, high = pooled.ci_low, pooled.ci_high
        words = self.say.say("bar/anything", low=parts(low, self.say), high=parts(high, self.say))
        return Bar(None, low, high, hundred_is(finding, self.say), words)

    def sources(self, findings: Iterable[Finding]) -> tuple[Source, ...]:
        """Return the sources of findings, numbered as they are met."""
        numbers = self.sheets.source_numbers(tuple(findings), [])
        return tuple(self.sheets.source(key, number) for key, number in numbers.items())
