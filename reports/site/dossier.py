"""The dossier for an inspector or an ethics reader: everything that one edition rests on, chapter by chapter."""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from evidence import __version__
from evidence.findings.finding import Finding
from evidence.findings.wanted import read_wanted
from evidence.model.lists import APPRAISAL_QUESTIONS, CERTAINTY_LEVELS
from evidence.model.rule_sources import thresholds
from evidence.model.shipped import data_folder
from evidence.model.tables import Appraisal, Measurement, Study
from evidence.store.connection import Store
from evidence.store.reading import all_rows
from reports.charts.labels import whole
from reports.charts.marks import WhatStaysChart
from reports.charts.what_stays import draw_what_stays, what_stays_in_words
from reports.sheets.clinician import clinician_blocks, step_words
from reports.sheets.family.content import Dossier, Drawing, Section, Table
from reports.sheets.family.maker import FamilyMaker
from reports.sheets.layout import LayoutWords, layout_words
from reports.site.calibration_page import calibration_page
from reports.site.dossier_counts import answered, read_from, rows_counted
from reports.words.answers import answer_sentences, component_words, parts
from reports.words.catalogue import load_catalogue
from reports.words.choose import DRYING, FREEZING, in_page_order, leading, on_drying_or_freezing
from reports.words.compared import against_phrase
from reports.words.handlings import handling_words
from reports.words.printed import reason_words
from reports.words.told import CAMPAIGN, EDITION, Told

__all__ = ["LONGEST", "dossier"]

_FEW = 3  # reasons that hold back fewer rows than this share a line


@dataclass(frozen=True)
class _Dossier:
    """The composer: one method a chapter."""

    maker: FamilyMaker
    store: Store
    findings: tuple[Finding, ...]
    rows: tuple[Measurement, ...]

    def say(self, key: str, **values: object) -> str:
        return self.maker.words.say(f"dossier/{key}", **values)

    def table(self, caption: str, columns: Sequence[str], rows: Sequence[Sequence[str]], trail: str = EDITION) -> Table:
        """Return a table; cells without a trail of their own have that of the whole."""
        told = tuple(tuple(cell if isinstance(cell, Told) else Told(cell, trail) for cell in row) for row in rows)
        return Table(self.say(caption), tuple(self.say(name) for name in columns), told)

    def what(self) -> Section:
        edition, rules = self.maker.sheets.library.edition, self.maker.sheets.rules
        facts = [
            (self.say("edition_date"), self.maker.say.date(date.fromisoformat(edition.evidence_of))),
            (self.say("edition_hash"), edition.hash),
            (self.say("edition_rules"), rules.rule_version),
            (self.say("edition_program"), __version__),
        ]
        return Section(
            "what", self.say("what"), said=(self.say("what_said"), self.say("not_said")),
            tables=(self.table("edition", ("fact", "value"), facts),),
        )  # fmt: skip

    def search(self) -> Section:
        studies = all_rows(self.store, Study)
        counted = [(self._read(kind), str(rows), str(among)) for kind, (rows, among) in read_from(self.rows).items()]
        known = Counter(study.completeness.replace(" ", "_") for study in studies)
        wanted = len(read_wanted(self.maker.sheets.library.components))
        papers = [(self.say(f"paper_{kind}"), str(known[kind])) for kind in ("full", "no_identifier", "unidentified")]
        papers.append((self.say("paper_wanted"), str(wanted)))
        years = sorted(study.year for study in studies if study.year.isdigit())
        second = sum(bool(row.second_read) for row in self.rows)
        said = [self.say("search_said"), self.say("search_gaps")]
        said.append(Told(self.say("search_second", rows=second, all=len(self.rows), points=_readings()), EDITION))
        if years:
            said.append(Told(self.say("years_said", first=years[0], last=years[-1]), EDITION))
        return Section(
            "search", self.say("search"), said=tuple(said),
            tables=(
                self.table("read_caption", ("read_where", "rows", "studies"), counted),
                self.table("paper_caption", ("paper_kind", "studies"), papers),
            ),
        )  # fmt: skip

    def _read(self, kind: str) -> str:
        if kind == "review":
            return self.say("read_review")
        rows = load_catalogue(self.maker.words.language, "rows")
        key = f"printed/read_from/{kind}"
        return rows.say(key) if rows.has(key) else kind

    def counts(self) -> Section:
        counted, library = rows_counted(self.rows, self.findings), self.maker.sheets.library

        def line(label: str, ids: frozenset[str]) -> tuple[str, str, str]:
            return label, str(len(ids)), str(len({library.measurements[row].study for row in ids}))

        few = frozenset(row for _, ids in counted.listed if len(ids) < _FEW for row in ids)
        lines = [line(self.say("counts_all"), frozenset(row.id for row in self.rows))]
        lines.append(line(self.say("counts_between"), counted.between))
        lines += [
            line(self.say("counts_listed", reason=reason_words(reason, self.maker.say)), ids)
            for reason, ids in counted.listed
            if len(ids) >= _FEW
        ]
        lines += [line(self.say("counts_listed_other"), few)] if few else []
        lines.append(line(self.say("counts_said_row"), counted.words))
        lines.append(line(self.say("counts_bound"), counted.bounds))
        lines.append(line(self.say("counts_figure"), counted.figures))
        figures = sum(finding.pooled is not None for finding in self.findings)
        listed = sum(finding.state == "listed_only" for finding in self.findings)
        told = self.say(
            "questions_said", questions=len(self.findings), figures=figures, listed=listed,
            words=len(self.findings) - figures - listed,
        )  # fmt: skip
        return Section(
            "counts", self.say("counts"), said=(self.say("counts_said"), Told(told, EDITION)),
            tables=(self.table("counts_caption", ("counts_step", "rows", "studies"), lines),),
        )  # fmt: skip

    def method(self) -> Section:
        return Section("method", self.say("method"), points=tuple(self.say(f"method_{place}") for place in range(1, 9)))

    def sure(self) -> Section:
        say, rules = self.maker.say, self.maker.sheets.rules
        with_number = [finding for finding in self.findings if finding.pooled is not None]
        touched = Counter(step for finding in with_number for step in finding.certainty.steps)
        reasons = [(step_words(step, rules, say), str(count)) for step, count in touched.most_common()]
        levels: Counter[str] = Counter(finding.certainty.level for finding in with_number)
        by_level = [
            (say.say(f"clinician_level/{level}"), str(levels[level])) for level in CERTAINTY_LEVELS
        ]  # fmt: skip
        return Section(
            "sure", self.say("sure"), said=(self.say("sure_said"), self.say("sure_by_hand")),
            tables=(
                self.table("sure_caption", ("sure_reason", "sure_answers"), reasons),
                self.table("levels_caption", ("level", "sure_answers"), by_level),
            ),
        )  # fmt: skip

    def rules(self) -> Section:
        lines = [(each.key, each.value, each.source) for each in thresholds().values() if len(each.value) <= LONGEST]
        table = self.table("rules_caption", ("rule", "value", "source"), lines)
        return Section("rules", self.say("rules"), said=(self.say("rules_said"),), tables=(table,))

    def answers(self) -> Section:
        numbered = [finding for finding in self._by_name() if finding.pooled is not None]
        columns = ("number", "component", "handling", "still_there", "fits", "compared", "studies_rows", "certainty")
        table = self.table("answers_caption", columns, [self._answer(finding) for finding in numbered])
        return Section("answers", self.say("answers"), said=(Told(self.say("answers_said"), EDITION),), tables=(table,))

    def _by_name(self) -> list[Finding]:
        library, say = self.maker.sheets.library, self.maker.say
        names = {finding.number: component_words(finding, library, say).lower() for finding in self.findings}
        return sorted(in_page_order(self.findings), key=lambda finding: names[finding.number])

    def _answer(self, finding: Finding) -> tuple[str, ...]:
        pooled, say = finding.pooled, self.maker.say
        assert pooled is not None, "only answers with a number stand in this table"
        kept = parts(pooled.retained_percent, say)
        low, high = pooled.ci_low, pooled.ci_high
        if pooled.k_studies == 1:
            study = finding.figure_studies[0]
            kept = parts(study.retained_percent, say)
        elif finding.state in ("two_studies", "cant_tell", "spread"):
            kept = self.say("no_average")
            low, high = (pooled.new_low, pooled.new_high) if finding.state == "spread" else (low, high)
        cells = (
            finding.number,
            component_words(finding, self.maker.sheets.library, say),
            handling_words(finding.handling, say).after,
            kept,
            self.say("interval", low=parts(low, say), high=parts(high, say)),
            against_phrase(finding.figure_studies, say),
            self.say("k_rows", studies=pooled.k_studies, rows=pooled.k_rows),
            say.say(f"clinician_level/{finding.certainty.level}"),
        )
        return tuple(Told(cell, finding.number) for cell in cells)

    def charts(self, numbers: dict[str, int]) -> Section:
        chosen = [
            finding
            for finding in in_page_order(self.findings)
            if len(finding.figure_studies) > 2 or (len(finding.figure_studies) > 1 and on_drying_or_freezing(finding))
        ]
        sheets, layout = self.maker.sheets, layout_words(self.maker.words.language)
        labels = layout.chart
        drawings = []
        for finding in chosen:
            for block in clinician_blocks([finding], numbers, sheets.library, sheets.rules, sheets.say, {}):
                drawing = draw_what_stays(block.chart, labels) if block.chart else None
                if block.chart is not None and drawing is not None:
                    words = Told(what_stays_in_words(block.chart, labels), finding.number)
                    title, table = block.chart.title, _chart_table(block.chart, finding.number, layout)
                    drawings.append(Drawing(title, drawing.for_page, drawing.for_print, words, "", table))
        said = (self.say("charts_said"), layout["chart_marks"], layout["chart_band"], layout["chart_bracket"])
        return Section("charts", self.say("charts"), said=said, drawings=tuple(drawings))

    def left_out(self) -> Section:
        listed = rows_counted(self.rows, self.findings).listed
        lines = [(reason_words(reason, self.maker.say), str(len(ids))) for reason, ids in listed]
        table = self.table("left_caption", ("why", "rows"), lines)
        return Section("left", self.say("left"), said=(self.say("left_said"),), tables=(table,))

    def appraisal(self) -> Section:
        found = answered(all_rows(self.store, Appraisal), self.maker.sheets.library.studies)
        lines = [
            (
                self.maker.say.say(f"appraisal/{question}"),
                *(str(found.get(question, Counter())[answer]) for answer in ("yes", "no", "not stated")),
            )
            for question in APPRAISAL_QUESTIONS
        ]
        table = self.table("appraisal_caption", ("question", "yes", "no", "not_stated"), lines)
        return Section("appraisal", self.say("appraisal"), said=(self.say("appraisal_said"),), tables=(table,))

    def claims(self) -> Section:
        library, say = self.maker.sheets.library, self.maker.say
        points = []
        for component in self.maker.pages:
            for kind in (DRYING, FREEZING):
                first = next(iter(leading(self.maker.findings.get(component, ()), kind)), None)
                asked = library.components[component].question_worthy == "1"
                if first is not None and asked and first.state != "listed_only":
                    sentences = " ".join(answer_sentences(first, library, say))
                    text = self.maker.words.say("dossier/claim", number=first.number, sentences=sentences)
                    points.append(Told(text, first.number))
        return Section("claims", self.say("claims"), said=(self.say("claims_said"),), points=tuple(points))

    def calibration(self) -> Section:
        page = calibration_page(self.maker.say)
        said = Told(
            self.say(
                "calibration_said", worlds=page.worlds, seed=page.seed,
                date=self.maker.say.date(date.fromisoformat(page.date)),
            ),
            CAMPAIGN,
        )  # fmt: skip
        rows = tuple(tuple(Told(cell, CAMPAIGN) for cell in (world, *cells)) for world, cells in page.rows)
        table = Table(self.say("calibration_caption"), (self.say("calibration_world"), *page.measures), rows)
        return Section(
            "calibration",
            self.say("calibration"),
            said=(said, Told(self.maker.say.say("calibration/missed_why"), CAMPAIGN)),
            tables=(table,),
        )


LONGEST = 60  # letters; a rule that is a long list of words is no threshold


def _chart_table(chart: WhatStaysChart, number: str, layout: LayoutWords) -> Table:
    """Return a chart's figures as a table, as a sheet shows them."""
    rows = []
    for line in chart.lines:
        own = line.own_spread and line.low is not None and line.high is not None
        fits = layout.chart.range.format(low=whole(line.low), high=whole(line.high)) if own else layout["no_interval"]  # type: ignore[arg-type]
        study = layout.chart.study.format(study=line.label, source=line.source_number)
        cells = (study, layout.chart.baselines[line.baseline], whole(line.retained_percent), fits)
        rows.append(tuple(Told(cell, number) for cell in cells))
    return Table(
        chart.title, tuple(layout[name] for name in ("study", "compared_with", "percent", "interval")), tuple(rows)
    )


def _readings() -> int:
    """Return on how many points two readings differed (data/readings.csv)."""
    with (data_folder() / "readings.csv").open(encoding="utf-8", newline="") as file:
        return sum(1 for _ in csv.DictReader(file))


def dossier(maker: FamilyMaker, store: Store) -> Dossier:
    """Return the whole of an edition; the store must hold evidence (ensure_evidence)."""
    findings = tuple(finding for found in maker.findings.values() for finding in found)
    rows = tuple(maker.sheets.library.measurements.values())
    made = _Dossier(maker, store, findings, rows)
    numbered = [finding for finding in made._by_name() if finding.pooled is not None]
    numbers = maker.sheets.source_numbers(numbered, [])
    return Dossier(
        **maker.frame("dossier", "dossier"),
        intro=(maker.words.say("dossier/intro"),),
        contents=maker.words.say("dossier/contents"),
        chapters=(
            made.what(), made.search(), made.counts(), made.method(), made.sure(), made.answers(),
            made.charts(numbers), made.left_out(), made.appraisal(), made.claims(), made.calibration(), made.rules(),
        ),
        sources=tuple(maker.sheets.source(key, number) for key, number in numbers.items()),
    )  # fmt: skip
