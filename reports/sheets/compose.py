"""A component's sheet, worded: findings and rows in, content ready for layout out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date

from evidence.findings.finding import NO_SOURCE, Finding
from evidence.findings.sensitivity import Sensitivity
from evidence.handling import contrast, parse_chain
from evidence.model.rules import Rules
from evidence.model.tables import Component, Measurement
from reports.charts.marks import Bar
from reports.sheets.clinician import clinician_blocks, other_handlings_block, other_rows_block
from reports.sheets.content import AnswerBlock, Foot, SheetContent, Source
from reports.sheets.in_a_day import DayPart
from reports.words.answers import (
    answer_sentences,
    how_sure,
    no_evidence_sentence,
    own_milk,
    parts,
)
from reports.words.brief import brief_answer
from reports.words.catalogue import Catalogue
from reports.words.choose import DRYING, FREEZING, in_page_order, leading, on_drying_or_freezing, rows_between
from reports.words.compared import against_phrase, hundred_is
from reports.words.dates import look_again
from reports.words.handlings import family, handling_words
from reports.words.library import Library
from reports.words.named import caution_text, component_name, group_name, page_name, what_it_does
from reports.words.references import reference_line, short_name
from reports.words.told import Told

__all__ = ["SheetMaker"]

# side 1 has room for so many answers at other times; the rest stands on side 2
_MOST_BRIEF = 1


@dataclass(frozen=True)
class SheetMaker:
    """Makes sheets of one edition in one language."""

    library: Library
    rules: Rules
    say: Catalogue
    banner: str = ""
    otherwise: Mapping[str, Sensitivity] = field(default_factory=dict)
    day: DayPart | None = None

    def sheet(
        self, component: Component, findings: Sequence[Finding], rows: Sequence[Measurement], *, unbranded: bool = False
    ) -> SheetContent:
        """Return the sheet of one component from its findings and all its rows."""
        dried, frozen = leading(findings, DRYING), leading(findings, FREEZING)
        others = [(row, why) for row, why in _other_rows(rows, findings) if self._citable(row)]
        between = {kind: rows_between([row for row, _ in others], kind) for kind in (DRYING, FREEZING)}
        numbers = self.source_numbers(in_page_order(findings), [row for row, _ in others])
        ours = [finding for finding in in_page_order(findings) if on_drying_or_freezing(finding)]
        blocks = clinician_blocks(ours, numbers, self.library, self.rules, self.say, self.otherwise)
        beside = other_handlings_block(
            [finding for finding in in_page_order(findings) if finding not in ours], numbers, self.library, self.say
        )
        blocks += [beside] if beside else []
        led = [*dried[:1], *frozen[:1]]
        worked = self.day.block(component, led) if self.day else None
        blocks += [worked] if worked else []
        if others:
            blocks.append(other_rows_block(others, numbers, self.library, self.say))
        return SheetContent(
            slug=component.id,
            component=page_name(component, self.say),
            group=group_name(component, self.say),
            title=self.say.say("title/sheet", component=page_name(component, self.say)),
            what_it_does=what_it_does(component, self.say),
            answers=(
                self._answer(component, dried, DRYING, [*dried[1:], *leading(findings, "kept:freeze-dried")], between),
                self._answer(component, frozen, FREEZING, frozen[1:], between),
            ),
            from_fresh=self._from_fresh(component, dried, findings),
            in_a_day=self.day.side_one(component, led) if self.day else (),
            more_or_less=self._more_or_less(dried),
            nobody_knows=self._nobody_knows(component, dried, frozen, findings),
            keeping_safe=tuple(caution_text(caution, self.say) for caution in self.library.cautions),
            what_to_do=(self.say.say("what_to_do/nothing"),) if component.wanted == "keep" else (),
            foot=self.foot(unbranded),
            clinician=tuple(blocks),
            sources=tuple(self.source(key, number) for key, number in numbers.items()),
            unbranded=unbranded,
            banner=self.banner,
            language=self.say.language,
        )

    def _citable(self, row: Measurement) -> bool:
        return self.library.studies[row.study].completeness != "unidentified"

    def _question(self, component: Component, kind: str) -> str:
        noun, name = handling_words(kind, self.say).noun, component_name(component, self.say)
        if component.outcome == "marker" or component.wanted == "a rise is unwelcome":
            key = "marker"
        elif component.outcome in ("count", "share", "physical") or component.sentence_name_en.startswith("the "):
            key = "the"
        else:
            key = "freeze_dried" if kind == DRYING else "other"
        return self.say.say(f"title/question_{key}", noun=noun, component=name)

    def _answer(
        self,
        component: Component,
        findings: Sequence[Finding],
        kind: str,
        more: Sequence[Finding],
        between: Mapping[str, Sequence[Measurement]],
    ) -> AnswerBlock:
        heading = self._question(component, kind)
        if not findings:
            after = self.say.say("title/after_freezing") if kind == FREEZING else handling_words(kind, self.say).after
            told = tuple(Told(brief_answer(f, self.library, self.say), f.number) for f in more[:_MOST_BRIEF])
            noun = handling_words(kind, self.say).noun
            apart = len({row.study for row in between[kind]})
            told_none = no_evidence_sentence(component_name(component, self.say), after, noun, apart, self.say)
            sentence = Told(told_none, *(row.id for row in between[kind]))
            return AnswerBlock("", heading, (sentence,), "", "", "", None, tuple(line for line in told if line))
        first = findings[0]
        told = tuple(Told(brief_answer(each, self.library, self.say, first), each.number) for each in more)
        return AnswerBlock(
            number=first.number,
            heading=heading,
            sentences=answer_sentences(first, self.library, self.say),
            how_sure=how_sure(first, self.say),
            own_milk=own_milk(first, self.say) if kind == DRYING else "",
            compared_with="",  # it stands in the sentence of the number, and the bar says what its 100 is
            bar=self._bar(first),
            more=tuple(line for line in told if line)[:_MOST_BRIEF],
        )

    def _bar(self, finding: Finding) -> Bar | None:
        pooled = finding.pooled
        if pooled is None or finding.group not in ("bulk", "fragile"):
            return None
        hundred = hundred_is(finding, self.say)
        if finding.state in ("spread", "cant_tell", "two_studies"):
            wide = finding.state == "spread"
            low, high = (pooled.new_low, pooled.new_high) if wide else (pooled.ci_low, pooled.ci_high)
            return Bar(
                None,
                low,
                high,
                hundred,
                self.say.say("bar/anything", low=parts(low, self.say), high=parts(high, self.say)),
            )
        if pooled.k_studies == 1:
            study = finding.figure_studies[0]
            kept = study.retained_percent
            if study.ci_low is None or study.ci_high is None:
                return Bar(kept, None, None, hundred, self.say.say("bar/no_range", kept=parts(kept, self.say)))
            low, high = study.ci_low, study.ci_high
        else:
            low, high, kept = pooled.ci_low, pooled.ci_high, pooled.retained_percent
        words = self.say.say(
            "bar/range", kept=parts(kept, self.say), low=parts(low, self.say), high=parts(high, self.say)
        )
        return Bar(kept, low, high, hundred, words)

    def _from_fresh(self, component: Component, dried: Sequence[Finding], findings: Sequence[Finding]) -> str:
        if component.outcome in ("count", "marker", "share", "physical"):
            return ""
        from_fresh = any(study.baseline == "fresh" for finding in dried for study in finding.figure_studies)
        whole_way = any(f.handling.startswith("frozen+freeze-dried") and f.figure_studies for f in findings)
        if from_fresh or whole_way:
            return self.say.say("from_fresh/whole_way")
        told = self.say.say("from_fresh/none_drying", component=component_name(component, self.say))
        return " ".join([told, self.say.say("from_fresh/drying_other")])

    def _more_or_less(self, dried: Sequence[Finding]) -> tuple[str, ...]:
        told: list[str] = []
        for finding in dried:
            for study in finding.figure_studies:
                rows = [self.library.measurements[row] for row in study.rows]
                shelves = {_shelf(row, self.say) for row in rows}
                if len(shelves) > 1:
                    figures = self.say.joined([self._shelf_figure(row) for row in sorted(rows, key=lambda row: row.id)])
                    name = short_name(self.library.studies[study.study], self.say)
                    against = against_phrase([study], self.say)
                    text = self.say.say("more_or_less/shelf", study=name, figures=figures, against=against)
                    told.append(Told(text, finding.number))
        return tuple(told)

    def _shelf_figure(self, row: Measurement) -> str:
        shelf = _shelf(row, self.say)
        key = "shelf_where" if shelf else "shelf_where_not_stated"
        kept = float(row.retained_percent) if row.retained_percent else 100 + float(row.change_percent or 0)
        return self.say.say(
            "more_or_less/shelf_figure",
            kept=parts(kept, self.say),
            where=self.say.say(f"more_or_less/{key}", shelf=shelf),
        )

    def _nobody_knows(
        self, component: Component, dried: Sequence[Finding], frozen: Sequence[Finding], findings: Sequence[Finding]
    ) -> tuple[str, ...]:
        name, told = component_name(component, self.say), []
        kept = [finding for finding in findings if family(finding.handling) == "kept:freeze-dried"]
        if component.outcome in ("bulk", "fragile") and not any(finding.figure_studies for finding in kept):
            key = "powder_time_words" if any(finding.said for finding in kept) else "powder_time"
            told.append(self.say.say(f"nobody_knows/{key}", component=name))
        if dried and not any(study.baseline == "fresh" for finding in dried for study in finding.studies):
            told.append(self.say.say("nobody_knows/fresh_baseline"))
        if not any(finding.figure_studies for finding in frozen):
            told.append(self.say.say("nobody_knows/freezing"))
        return tuple(told)

    def foot(self, unbranded: bool) -> Foot:
        """Return the foot of every page of this edition."""
        edition = self.library.edition
        read = date.fromisoformat(edition.evidence_of)
        return Foot(
            interest=self.say.say("foot/unbranded" if unbranded else "foot/interest"),
            evidence_of=self.say.say("foot/evidence_of", date=self.say.date(read)),
            edition=self.say.say("foot/edition", edition=edition.hash[:12]),
            look_again=self.say.say("foot/look_again", date=self.say.date(look_again(read, self.rules))),
        )

    def source_numbers(self, findings: Sequence[Finding], others: Sequence[Measurement]) -> dict[str, int]:
        """Return the sources of findings and of further rows, numbered as they are met."""
        order: dict[str, int] = {}
        for finding in findings:
            keys = [each.study for each in (*finding.figure_studies, *finding.every_study)]
            for key in [*keys, *(each.study for each in finding.not_pooled if each.reason != NO_SOURCE)]:
                order.setdefault(key, len(order) + 1)
        for row in others:
            order.setdefault(row.study, len(order) + 1)
        return order

    def source(self, key: str, number: int) -> Source:
        """Return a numbered source."""
        study = self.library.studies[key]
        return Source(
            number, reference_line(study, self.say), study.doi or None, study.pmid or None, study.notice or None
        )


def _shelf(row: Measurement, say: Catalogue) -> str:
    for step in parse_chain(row.handling).steps:
        for condition in step.conditions:
            if condition.name in ("shelf", "chamber", "inlet") and condition.measure is not None:
                measure = condition.measure
                key = "below" if measure.bound in ("<", "<=") else "one" if measure.high is None else "from_to"
                return say.say(f"degrees/{key}", low=measure.low, high=measure.high, unit=measure.unit)
    return ""


def _other_rows(rows: Sequence[Measurement], findings: Sequence[Finding]) -> list[tuple[Measurement, str]]:
    told = {row for f in findings for each in f.every_study for row in each.rows}
    told |= {each.measurement for finding in findings for each in finding.not_pooled}
    others: list[tuple[Measurement, str]] = []
    for row in sorted(rows, key=lambda row: row.id):
        if row.id not in told:
            found = contrast(parse_chain(row.handling), parse_chain(row.baseline))
            others.append((row, found.refused or "listed"))
    return others
