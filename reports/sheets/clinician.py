"""Side 2, for the curious and for clinicians: chart, rows as printed, pooled facts, what was left out and why."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from evidence.findings.finding import NO_SOURCE, Finding, Pooled, Said, StudyEstimate
from evidence.findings.sensitivity import Sensitivity
from evidence.model.rules import Rules
from evidence.model.tables import Measurement
from reports.charts.marks import ChartLine, WhatStaysChart
from reports.sheets.content import ClinicianBlock, StudyRow
from reports.words.answers import component_words, parts, what_they_saw
from reports.words.brief import brief_answer
from reports.words.catalogue import Catalogue, joined
from reports.words.compared import compared_phrase
from reports.words.handlings import family, handling_words
from reports.words.library import Library
from reports.words.otherwise import sensitivity_facts
from reports.words.printed import as_printed, n_words, read_in
from reports.words.references import short_name
from reports.words.told import Told

__all__ = ["clinician_blocks", "other_handlings_block", "other_rows_block"]


def _chart(
    finding: Finding, title: str, numbers: Mapping[str, int], library: Library, rules: Rules, say: Catalogue
) -> WhatStaysChart | None:
    figures = finding.figure_studies
    pooled = finding.pooled
    if not figures or pooled is None or finding.group in ("count", "marker"):
        return None
    banded = pooled if pooled.k_studies >= 2 else None
    lines = tuple(
        ChartLine(
            short_name(library.studies[study.study]), numbers[study.study], study.baseline, study.retained_percent,
            study.ci_low, study.ci_high, study.own_spread, study.weight_share,
        )
        for study in figures
    )  # fmt: skip
    bounds = [study for study in finding.studies if study.kind != "figure"]
    words: list[StudyEstimate | Said] = [*bounds, *finding.said]
    return WhatStaysChart(
        title=title,
        lines=lines,
        margin_low=100 * (1 - rules.printing.same_margin),
        margin_high=100 * (1 + rules.printing.same_margin),
        pooled=banded.retained_percent if banded else None,
        pooled_low=banded.ci_low if banded else None,
        pooled_high=banded.ci_high if banded else None,
        new_low=pooled.new_low if pooled.k_studies >= 3 else None,
        new_high=pooled.new_high if pooled.k_studies >= 3 else None,
        words_rows=tuple(
            (short_name(library.studies[each.study]), numbers[each.study], each.baseline, _short(each, say))
            for each in words
        ),
    )


def _short(each: StudyEstimate | Said, say: Catalogue) -> str:
    if isinstance(each, StudyEstimate):
        return say.say(f"clinician/short_{each.kind}", kept=parts(each.retained_percent))
    return say.say(f"clinician/short_{each.kind}")


def _effect(row: Measurement, finding: Finding, say: Catalogue) -> tuple[str, str]:
    for study in finding.studies:
        if row.id in study.rows:
            together = say.say("clinician/rows_together", rows=len(study.rows)) if len(study.rows) > 1 else ""
            text = f"ln ratio {study.log_ratio:.3f}, SE {study.se:.3f}{together}"
            return text.replace("-", "−"), study.recipe + (f" ({'; '.join(study.flags)})" if study.flags else "")
    return (say.say("clinician/in_words"), "") if any(row.id in said.rows for said in finding.said) else ("", "")


def _row(
    row: Measurement, finding: Finding | None, reason: str, number: int, library: Library, say: Catalogue
) -> StudyRow:
    effect, how = ("", "") if finding is None or reason else _effect(row, finding, say)
    stage = f" ({row.stage})" if row.stage and row.stage != "not stated" else ""
    return StudyRow(
        study=short_name(library.studies[row.study]),
        source_number=number,
        handling=row.handling + stage,
        n=n_words(row),
        compared_with=row.baseline_class if finding is not None else f"{row.baseline} ({row.baseline_class})",
        baseline_said=row.baseline_said,
        as_printed=as_printed(row),
        effect=effect,
        spread_how=how,
        read_from=read_in(row),
        used=not reason,
        left_out_why=reason,
        row=row.id,
    )


def _pooled_facts(finding: Finding, pooled: Pooled, say: Catalogue) -> list[tuple[str, str]]:
    limits = {"low": f"{pooled.ci_low:.0f}", "high": f"{pooled.ci_high:.0f}"}
    if pooled.k_studies == 1:
        facts = [(say.say("clinician/pooled_label"), say.say("clinician/single", **limits))]
    else:
        value = say.say(
            "clinician/pooled", kept=f"{pooled.retained_percent:.0f}", k=pooled.k_studies, rows=pooled.k_rows, **limits
        )
        facts = [
            (say.say("clinician/pooled_words" if finding.headline == "with_words" else "clinician/pooled_label"), value)
        ]
    if pooled.k_studies >= 3:
        spread = say.say("clinician/new_study_value", low=f"{pooled.new_low:.0f}", high=f"{pooled.new_high:.0f}")
        facts.append((say.say("clinician/new_study"), spread))
    facts.append((say.say("clinician/tau"), f"{pooled.tau:.2f}"))
    facts.append((say.say("clinician/own_weight"), f"{100 * pooled.own_weight:.0f} %"))
    return facts


def _facts(finding: Finding, say: Catalogue) -> tuple[tuple[str, str], ...]:
    facts: list[tuple[str, str]] = []
    if finding.pooled is not None:
        facts += _pooled_facts(finding, finding.pooled, say)
        other = finding.figures if finding.headline == "with_words" else finding.with_words
        if other is not None and other.k_studies >= 2:
            label = "clinician/pooled_label" if finding.headline == "with_words" else "clinician/pooled_words"
            value = say.say(
                "clinician/pooled", kept=f"{other.retained_percent:.0f}", low=f"{other.ci_low:.0f}",
                high=f"{other.ci_high:.0f}", k=other.k_studies, rows=other.k_rows,
            )  # fmt: skip
            facts.append((say.say(label), value))
    if finding.fresh is not None and finding.fresh.k_studies >= 1:
        fresh = finding.fresh
        value = say.say(
            "clinician/pooled", kept=f"{fresh.retained_percent:.0f}", low=f"{fresh.ci_low:.0f}",
            high=f"{fresh.ci_high:.0f}", k=fresh.k_studies, rows=fresh.k_rows,
        )  # fmt: skip
        facts.append((say.say("clinician/fresh_only"), value))
    line = finding.classical
    if line is not None:
        value = say.say(
            "clinician/classical_value", kept=f"{line.retained_percent:.0f}", low=_limit(line.ci_low),
            high=_limit(line.ci_high), i2="–" if line.i2 is None else f"{100 * line.i2:.0f} %",
            tau2="–" if line.tau2 is None else f"{line.tau2:.3f}",
        )  # fmt: skip
        facts.append((say.say("clinician/classical"), value))
    if finding.flags:
        facts.append((say.say("clinician/flags"), "; ".join(say.say(f"flag/{flag}") for flag in finding.flags)))
    return tuple(facts)


def _limit(percent: float) -> str:
    return "over 10,000" if percent > 10_000 else f"{percent:.0f}" if percent >= 1 else "below 1"


def _steps(finding: Finding, rules: Rules, say: Catalogue) -> tuple[str, ...]:
    limits = rules.certainty
    values = {
        "wide_low": f"{limits.wide_low_percent:g}", "wide_high": f"{limits.wide_high_percent:g}",
        "wide_factor": f"{limits.wide_factor:g}", "disagreement_factor": f"{limits.disagreement_factor:g}",
    }  # fmt: skip
    told = [say.say(f"step/{step.reason}", down=_down(step.down), **values) for step in finding.certainty.steps]
    return (say.say("step/start"), *told)


def _down(steps: int) -> str:
    return "one step" if steps == 1 else f"{steps} steps"


def clinician_blocks(
    findings: Sequence[Finding],
    numbers: Mapping[str, int],
    library: Library,
    rules: Rules,
    say: Catalogue,
    otherwise: Mapping[str, Sensitivity],
) -> list[ClinicianBlock]:
    """Return side 2 of a sheet: a block for each finding with a figure, one a kind of handling for the others.

    findings in page order; otherwise: what they would be under other choices, by number; numbers maps study keys to the
    sheet's source numbers.
    """
    blocks: list[ClinicianBlock] = []
    for kind in dict.fromkeys(family(finding.handling) for finding in findings):
        mine = [finding for finding in findings if family(finding.handling) == kind]
        blocks += [
            _figure_block(each, numbers, library, rules, say, otherwise.get(each.number))
            for each in mine
            if each.pooled is not None
        ]
        silent = [finding for finding in mine if finding.pooled is None]
        if silent:
            blocks.append(_words_block(kind, silent, numbers, library, say))
    return blocks


def _figure_block(
    finding: Finding,
    numbers: Mapping[str, int],
    library: Library,
    rules: Rules,
    say: Catalogue,
    otherwise: Sensitivity | None,
) -> ClinicianBlock:
    name, words = component_words(finding, library), handling_words(finding.handling, say)
    title = say.say("clinician/chart_title", component=name, after=words.after)
    return ClinicianBlock(
        number=finding.number,
        heading=say.say("clinician/heading", component=name, after=words.after),
        chart=_chart(finding, title, numbers, library, rules, say),
        facts=(*_facts(finding, say), *sensitivity_facts(otherwise, library, say)),
        certainty=say.say(f"clinician_level/{finding.certainty.level}"),
        certainty_steps=_steps(finding, rules, say),
        rows=_rows([finding], numbers, library, say),
    )


def _words_block(
    kind: str, findings: Sequence[Finding], numbers: Mapping[str, int], library: Library, say: Catalogue
) -> ClinicianBlock:
    facts: list[tuple[str, str]] = []
    for finding in findings:
        if not finding.every_study:
            continue
        words = handling_words(finding.handling, say)
        label = say.say("clinician/words_fact", component=component_words(finding, library), after=words.after)
        bounds = [_short(each, say) for each in finding.studies]
        told = joined([*bounds, *([what_they_saw(finding.said, say)] if finding.said else [])])
        facts.append((f"{finding.number}: {label}", Told(f"{told}, {compared_phrase(finding, say)}", finding.number)))
    unknown = sum(each.reason == NO_SOURCE for finding in findings for each in finding.not_pooled)
    if unknown:
        facts.append(
            (
                say.say("clinician/left_out"),
                Told(say.say("clinician/unidentified", rows=unknown), *(f.number for f in findings)),
            )
        )
    return ClinicianBlock(
        number="",
        heading=say.say("clinician/words_heading", noun=handling_words(kind, say).noun),
        chart=None,
        facts=tuple(facts),
        certainty="",
        certainty_steps=(),
        rows=_rows(findings, numbers, library, say),
    )


def _rows(
    findings: Sequence[Finding], numbers: Mapping[str, int], library: Library, say: Catalogue
) -> tuple[StudyRow, ...]:
    told: list[tuple[bool, int, str, StudyRow]] = []
    for finding in findings:
        reasons = {each.measurement: each.reason for each in finding.not_pooled}
        for row in library.rows_of(finding):
            reason = reasons.get(row.id, "")
            if reason != NO_SOURCE:
                made = _row(row, finding, reason, numbers[row.study], library, say)
                told.append((bool(reason), numbers[row.study], row.id, made))
    return tuple(made for *_, made in sorted(told, key=lambda each: each[:3]))


def other_handlings_block(
    findings: Sequence[Finding], numbers: Mapping[str, int], library: Library, say: Catalogue
) -> ClinicianBlock | None:
    """Return the other handlings in a line each, with their sources; None where none was measured."""
    facts: list[tuple[str, str]] = []
    for finding in findings:
        told = brief_answer(finding, library, say)
        cited = sorted({numbers[each.study] for each in finding.behind})
        if told and cited:
            facts.append((finding.number, Told(f"{told.rstrip('.')} [{', '.join(map(str, cited))}].", finding.number)))
    if not facts:
        return None
    return ClinicianBlock("", say.say("clinician/others_heading"), None, tuple(facts), "", (), ())


def other_rows_block(
    rows: Sequence[tuple[Measurement, str]], numbers: Mapping[str, int], library: Library, say: Catalogue
) -> ClinicianBlock:
    """Return the rows that compare two handled milks with each other: listed, and pooled nowhere."""
    return ClinicianBlock(
        number="",
        heading=say.say("clinician/other_heading"),
        chart=None,
        facts=((say.say("clinician/left_out"), say.say("clinician/other_why")),),
        certainty="",
        certainty_steps=(),
        rows=tuple(_row(row, None, reason, numbers.get(row.study, 0), library, say) for row, reason in rows),
    )
