"""Side 2, for the curious and for clinicians: chart, rows as printed, pooled facts, what was left out and why."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from evidence.findings.finding import NO_SOURCE, CertaintyStep, Finding, Pooled, Said, StudyEstimate
from evidence.findings.sensitivity import Sensitivity
from evidence.model.rules import Rules
from evidence.model.tables import Measurement
from reports.charts.marks import ChartLine, WhatStaysChart
from reports.sheets.content import ClinicianBlock, StudyRow
from reports.words.answers import component_words, parts, what_they_saw
from reports.words.brief import brief_answer
from reports.words.catalogue import Catalogue
from reports.words.chains import chain_words
from reports.words.compared import compared_phrase
from reports.words.handlings import family, handling_words
from reports.words.library import Library
from reports.words.otherwise import sensitivity_facts
from reports.words.printed import (
    as_printed,
    class_words,
    n_words,
    read_in,
    reason_words,
    recipe_words,
    stage_words,
)
from reports.words.references import short_name
from reports.words.reviews import review_lines
from reports.words.told import Told

__all__ = ["clinician_blocks", "other_handlings_block", "other_rows_block", "step_words"]

# limits beyond this are told as over it
_MOST = 10_000


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
            short_name(library.studies[study.study], say), numbers[study.study], study.baseline, study.retained_percent,
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
            (short_name(library.studies[each.study], say), numbers[each.study], each.baseline, _short(each, say))
            for each in words
        ),
    )


def _short(each: StudyEstimate | Said, say: Catalogue) -> str:
    if isinstance(each, StudyEstimate):
        return say.say(f"clinician/short_{each.kind}", kept=parts(each.retained_percent, say))
    return say.say(f"clinician/short_{each.kind}")


def _effect(row: Measurement, finding: Finding, say: Catalogue) -> tuple[str, str]:
    for study in finding.studies:
        if row.id in study.rows:
            ratio, se = say.number(study.log_ratio, 3), say.number(study.se, 3)
            if len(study.rows) > 1:
                told = say.count("clinician/effect_rows", len(study.rows), ratio=ratio, se=se)
            else:
                told = say.say("clinician/effect", ratio=ratio, se=se)
            return told, recipe_words(study.recipe, study.flags, say)
    return (say.say("clinician/in_words"), "") if any(row.id in said.rows for said in finding.said) else ("", "")


def _row(
    row: Measurement, finding: Finding | None, reason: str, number: int, library: Library, say: Catalogue
) -> StudyRow:
    effect, how = ("", "") if finding is None or reason else _effect(row, finding, say)
    handling = chain_words(row.handling, say)
    if row.stage and row.stage != "not stated":
        handling = say.say("clinician/with_stage", handling=handling, stage=stage_words(row.stage, say))
    compared = class_words(row.baseline_class, say)
    if finding is None:
        compared = say.say("clinician/baseline_of", baseline=chain_words(row.baseline, say), compared=compared)
    return StudyRow(
        study=short_name(library.studies[row.study], say),
        source_number=number,
        handling=handling,
        n=n_words(row, say),
        compared_with=compared,
        baseline_said=row.baseline_said,
        as_printed=as_printed(row, say),
        effect=effect,
        spread_how=how,
        read_from=read_in(row, say),
        used=not reason,
        left_out_why=reason_words(reason, say) if reason else "",
        row=row.id,
    )


def _pooled_facts(finding: Finding, pooled: Pooled, say: Catalogue) -> list[tuple[str, str]]:
    limits = {"low": say.number(pooled.ci_low), "high": say.number(pooled.ci_high)}
    if pooled.k_studies == 1:
        facts = [(say.say("clinician/pooled_label"), say.say("clinician/single", **limits))]
    else:
        value = _pooled_value(pooled, say)
        facts = [
            (say.say("clinician/pooled_words" if finding.headline == "with_words" else "clinician/pooled_label"), value)
        ]
    if pooled.k_studies >= 3:
        spread = say.say("clinician/new_study_value", low=say.number(pooled.new_low), high=say.number(pooled.new_high))
        facts.append((say.say("clinician/new_study"), spread))
    levels = [pooled.level, pooled.new_level] if pooled.k_studies >= 3 else [pooled.level]
    told = [say.say("clinician/percent", percent=say.number(100 * level, 1)) for level in levels]
    facts.append((say.say("clinician/levels" if len(told) > 1 else "clinician/level"), say.joined(told)))
    facts.append((say.say("clinician/tau"), say.number(pooled.tau, 2)))
    facts.append(
        (say.say("clinician/own_weight"), say.say("clinician/percent", percent=say.number(100 * pooled.own_weight)))
    )
    return facts


def _facts(finding: Finding, say: Catalogue) -> tuple[tuple[str, str], ...]:
    facts: list[tuple[str, str]] = []
    if finding.pooled is not None:
        facts += _pooled_facts(finding, finding.pooled, say)
        other = finding.figures if finding.headline == "with_words" else finding.with_words
        if other is not None and other.k_studies >= 2:
            label = "clinician/pooled_label" if finding.headline == "with_words" else "clinician/pooled_words"
            facts.append((say.say(label), _pooled_value(other, say)))
    if finding.fresh is not None and finding.fresh.k_studies >= 1:
        facts.append((say.say("clinician/fresh_only"), _pooled_value(finding.fresh, say)))
    line = finding.classical
    if line is not None:
        value = say.say(
            "clinician/classical_value", kept=say.number(line.retained_percent), low=_limit(line.ci_low, say),
            high=_limit(line.ci_high, say),
            i2="–" if line.i2 is None else say.say("clinician/percent", percent=say.number(100 * line.i2)),
            tau2="–" if line.tau2 is None else say.number(line.tau2, 3),
        )  # fmt: skip
        facts.append((say.say("clinician/classical"), value))
    if finding.flags:
        facts.append((say.say("clinician/flags"), say.apart([say.say(f"flag/{flag}") for flag in finding.flags])))
    return tuple(facts)


def _pooled_value(pooled: Pooled, say: Catalogue) -> str:
    return say.say(
        "clinician/pooled", kept=say.number(pooled.retained_percent), low=say.number(pooled.ci_low),
        high=say.number(pooled.ci_high), studies=say.count("clinician/k_studies", pooled.k_studies),
        rows=say.count("clinician/k_rows", pooled.k_rows),
    )  # fmt: skip


def _limit(percent: float, say: Catalogue) -> str:
    if percent > _MOST:
        return say.say("clinician/over", limit=say.number(_MOST))
    return say.number(percent) if percent >= 1 else say.say("clinician/below", limit=say.number(1))


def _steps(finding: Finding, rules: Rules, say: Catalogue) -> tuple[str, ...]:
    told = [step_words(step, rules, say) for step in finding.certainty.steps]
    return (say.say("step/start"), *told, *review_lines(finding, say))


def step_words(step: CertaintyStep, rules: Rules, say: Catalogue) -> str:
    """Return one step down in certainty with the limits it rests on."""
    limits = rules.certainty
    values = {
        "wide_low": _plain(limits.wide_low_percent, say), "wide_high": _plain(limits.wide_high_percent, say),
        "wide_factor": _plain(limits.wide_factor, say),
        "disagreement_factor": _plain(limits.disagreement_factor, say),
    }  # fmt: skip
    return say.say(f"step/{step.reason}", down=say.count("clinician/steps_down", step.down), **values)


def _plain(value: float, say: Catalogue) -> str:
    return say.number(value, 0 if value == round(value) else 1)


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
    name, words = component_words(finding, library, say), handling_words(finding.handling, say)
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
        label = say.say("clinician/words_fact", component=component_words(finding, library, say), after=words.after)
        bounds = [_short(each, say) for each in finding.studies]
        told = say.joined([*bounds, *([what_they_saw(finding.said, say)] if finding.said else [])])
        value = say.say("clinician/words_value", told=told, compared=compared_phrase(finding, say))
        named = say.say("clinician/numbered", number=finding.number, label=label)
        facts.append((named, Told(value, finding.number)))
    unknown = sum(each.reason == NO_SOURCE for finding in findings for each in finding.not_pooled)
    if unknown:
        left_out = say.count("clinician/unidentified", unknown)
        facts.append((say.say("clinician/left_out"), Told(left_out, *(f.number for f in findings))))
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
