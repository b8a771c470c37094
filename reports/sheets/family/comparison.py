"""A component's handlings side by side: each answer with its comparison, and which handlings one study compared."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

from evidence.findings.finding import Finding, Said, StudyEstimate
from evidence.findings.side_by_side import MeasuredTogether, measured_together
from reports.sheets.family.content import Leaflet, Line, Section
from reports.sheets.family.maker import FamilyMaker
from reports.sheets.family.order import handling_place
from reports.words.answers import component_words, parts
from reports.words.choose import in_page_order
from reports.words.compared import against_phrase
from reports.words.handlings import family, handling_words
from reports.words.named import component_name
from reports.words.references import short_name
from reports.words.told import Told

__all__ = ["KINDS", "comparison", "kind_of_handling"]

# ways of keeping milk in the order in which a parent meets them; spray-drying and rare treatments stay on side 2
KINDS = ("fridge", "freezer", "pasteurised", "dried", "powder")
_FAMILIES = {
    "chilled": "fridge", "frozen:home": "freezer", "frozen:not-stated": "freezer", "frozen:deep": "freezer",
    "freeze-dried": "dried", "frozen+freeze-dried": "dried", "kept:freeze-dried": "powder",
}  # fmt: skip


def kind_of_handling(handling: str) -> str | None:
    """Return which way of keeping milk a handling key is, None where it is none of those set side by side."""
    known = family(handling)
    if known.split(":")[0] == "pasteurised" and "+" not in known:
        return "pasteurised"
    return _FAMILIES.get(known)


def comparison(component: str, maker: FamilyMaker) -> Leaflet | None:
    """Return the page, or None where fewer than two ways of keeping the milk have an answer."""
    answered = [
        finding
        for finding in maker.findings.get(component, ())
        if finding.state != "listed_only" and kind_of_handling(finding.handling) is not None
    ]
    kinds = [kind for kind in KINDS if any(kind_of_handling(each.handling) == kind for each in answered)]
    if len(kinds) < 2:
        return None
    words, name = maker.words, component_name(maker.component(component), maker.say)
    form = _lead_form(answered)
    chosen = {}
    for kind in kinds:
        chosen[kind] = _chosen([each for each in answered if kind_of_handling(each.handling) == kind], form)
    sections = [
        Section(
            kind,
            words.say(f"comparison/{kind}"),
            said=(words.say("comparison/powder_counts"),) if kind == "powder" else (),
            lines=_lines(chosen[kind], maker),
        )
        for kind in kinds
    ]
    ordered = sorted(in_page_order(answered), key=lambda each: _place(each.handling))
    together = measured_together(ordered, maker.sheets.library.measurements)
    sections += _compared(kinds, together, maker)
    ranged = any(line.bar is not None for section in sections for line in section.lines)
    shown = [finding for kind in kinds for finding in chosen[kind]]
    beside = [finding for each in together for finding, _ in each.found if finding not in shown]
    return Leaflet(
        **maker.frame(f"{component}-ways", "comparison", component=name),
        intro=(
            words.say("comparison/intro"),
            words.say("comparison/sure"),
            *((words.say("comparison/ranges"),) if ranged else ()),
        ),
        sections=tuple(section for section in sections if section.slug != "unsure"),
        details=tuple(section for section in sections if section.slug == "unsure"),
        sources=maker.sources([*shown, *dict.fromkeys(beside)]),
    )


def _lead_form(findings: Sequence[Finding]) -> tuple[str, str]:
    """Return the form and kind of measure that most ways of keeping the milk were measured in."""

    def reach(form: tuple[str, str]) -> tuple[int, int, str]:
        mine = [finding for finding in findings if (finding.form, finding.measured_as) == form]
        kinds = {kind_of_handling(finding.handling) for finding in mine}
        return -len(kinds), -sum(len(finding.every_study) for finding in mine), form[0]

    return min({(finding.form, finding.measured_as) for finding in findings}, key=reach)


def _chosen(findings: Sequence[Finding], form: tuple[str, str]) -> list[Finding]:
    """Return one finding for every handling key, of the lead form where there is one, shorter times first."""

    def rank(finding: Finding) -> tuple[bool, int, int, str]:
        other = (finding.form, finding.measured_as) != form
        return other, -len(finding.figure_studies), -len(finding.every_study), finding.number

    best: dict[str, Finding] = {}
    for finding in sorted(findings, key=rank):
        best.setdefault(finding.handling, finding)
    return sorted(best.values(), key=lambda finding: _place(finding.handling))


def _place(handling: str) -> tuple[int, tuple[int, float, str]]:
    """Return where a handling stands on the page: by way of keeping, then by kind, then by time."""
    way = kind_of_handling(handling)
    return KINDS.index(way) if way else len(KINDS), handling_place(handling)


def _lines(findings: Sequence[Finding], maker: FamilyMaker) -> tuple[Line, ...]:
    return tuple(maker.line(finding, ranged=True) for finding in findings)


def _compared(kinds: Sequence[str], together: Sequence[MeasuredTogether], maker: FamilyMaker) -> list[Section]:
    words = maker.words
    same = [each for each in together if each.same_milk]
    unsure = [each for each in together if not each.same_milk]
    said = words.say("comparison/direct_said" if same else "comparison/direct_none")
    points = tuple(_study(each, maker) for each in same)
    sections = [Section("direct", words.say("comparison/direct"), said=(said,), points=points)]
    if unsure:
        points = tuple(_study(each, maker) for each in unsure)
        heading, said = words.say("comparison/unsure"), words.say("comparison/unsure_said")
        sections.append(Section("unsure", heading, said=(said,), points=points))
    met = [{kind_of_handling(finding.handling) for finding, _ in each.found} for each in same]
    # powder counts from the new powder: no milk can be put through it and another way at once
    apart = [
        (one, two)
        for one, two in combinations([kind for kind in kinds if kind != "powder"], 2)
        if not any({one, two} <= each for each in met)
    ]
    if apart:
        pairs = [
            words.say("comparison/pair", first=words.say(f"kind/{one}"), second=words.say(f"kind/{two}"))
            for one, two in apart
        ]
        said = words.say("comparison/indirect_pairs", pairs=words.apart(pairs))
        sections.append(Section("indirect", words.say("comparison/indirect"), said=(said,)))
    return sections


def _study(each: MeasuredTogether, maker: FamilyMaker) -> str:
    words, library = maker.words, maker.sheets.library
    sentence = words.say(
        "comparison/study",
        study=short_name(library.studies[each.study], maker.say),
        component=component_words(each.found[0][0], library, maker.say),
        against=against_phrase([told for _, told in each.found], maker.say),
        found=words.apart([_found(finding, told, maker) for finding, told in each.found]),
    )
    return Told(sentence, *(row for _, told in each.found for row in told.rows))


def _found(finding: Finding, told: StudyEstimate | Said, maker: FamilyMaker) -> str:
    after = handling_words(finding.handling, maker.say).after
    if isinstance(told, Said):
        return maker.words.say(f"comparison/{told.kind}", after=after)
    key = "figure" if told.kind == "figure" else f"bound_{told.kind}"
    if key == "figure" and finding.group in ("count", "marker"):
        key = "level"
    return maker.words.say(f"comparison/{key}", kept=parts(told.retained_percent, maker.say), after=after)
