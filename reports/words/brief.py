"""An answer in one short line, for lists: still with its comparison in the same sentence as its number."""

from __future__ import annotations

from evidence.findings.finding import Finding
from reports.words.answers import component_words, k_words, parts, share_words, what_they_saw
from reports.words.catalogue import Catalogue
from reports.words.compared import against_phrase
from reports.words.handlings import handling_words
from reports.words.library import Library
from reports.words.named import component_name

__all__ = ["brief_answer", "short_answer"]


def brief_answer(finding: Finding, library: Library, say: Catalogue, lead: Finding | None = None) -> str:
    """Return one line: figure or words, against what, how many studies; empty where nothing may be said in one line.

    The component is named where it is another form or kind of measure than the lead answer's.
    """
    name, after = component_words(finding, library, say), handling_words(finding.handling, say).after
    plain = component_name(library.components[finding.component], say)
    variant = name != (plain if lead is None else component_words(lead, library, say))
    values = {"component": name, "after": after}
    key = "variant" if variant else "figure"
    pooled, figures = finding.pooled, finding.figure_studies
    if finding.group in ("count", "marker"):
        return ""
    if pooled is not None and len(figures) == 2:
        return say.say(
            "brief/variant_two" if variant else "brief/two", against=against_phrase(figures, say),
            kept_1=parts(figures[0].retained_percent, say), kept_2=parts(figures[1].retained_percent, say),
            k_words=k_words(finding, say), **values,
        )  # fmt: skip
    if pooled is not None:
        kept = figures[0].retained_percent if len(figures) == 1 else pooled.retained_percent
        return say.say(
            f"brief/{key}",
            kept=parts(kept, say),
            against=against_phrase(figures, say),
            k_words=k_words(finding, say),
            **values,
        )
    if finding.shares is not None:
        first = finding.shares.studies[0]
        return say.say(
            "brief/share", studies=say.count("studies", len({each.study for each in finding.shares.studies})),
            before=share_words(first.before, say), then=share_words(first.after, say), unit=first.unit,
            against=against_phrase(finding.every_study, say), **values,
        )  # fmt: skip
    if finding.said:
        return say.say(
            "brief/variant_words" if variant else "brief/words", studies=say.count("studies", len(finding.said)),
            what_they_saw=what_they_saw(finding.said, say), against=against_phrase(finding.said, say), **values,
        )  # fmt: skip
    return ""


def short_answer(finding: Finding | None, library: Library, say: Catalogue) -> str:
    """Return an answer for a table cell, comparison included: "about 69 of 100, against ... (one study)"."""
    if finding is None or finding.state == "listed_only":
        return say.say("cell/none" if finding is None else "cell/listed")
    pooled, figures = finding.pooled, finding.figure_studies
    if pooled is None:
        told = what_they_saw(finding.said, say) if finding.said else say.say("cell/bound")
        seen = finding.said or finding.every_study
        return say.say(
            "cell/words", what_they_saw=told, k_words=say.count("studies", len({each.study for each in seen})),
            against=against_phrase([*finding.studies, *finding.said], say),
        )  # fmt: skip
    ranged = finding.group not in ("count", "marker") and finding.state in ("cant_tell", "spread")  # these are ranges
    studies = say.count("studies", len(figures)) if ranged else k_words(finding, say)
    values = {"against": against_phrase(figures, say), "k_words": studies}
    kept = figures[0].retained_percent if len(figures) == 1 else pooled.retained_percent
    if finding.group in ("count", "marker"):
        key = "level"
    elif finding.state == "cant_tell":
        return say.say("cell/range", low=parts(pooled.ci_low, say), high=parts(pooled.ci_high, say), **values)
    elif finding.state == "spread":
        return say.say("cell/spread", low=parts(pooled.new_low, say), high=parts(pooled.new_high, say), **values)
    elif len(figures) == 2:
        one, two = sorted(study.retained_percent for study in figures)
        return say.say("cell/two", one=parts(one, say), two=parts(two, say), **values)
    else:
        key = "level" if round(kept) > 100 else "figure"  # 110 of 100 cannot be still there
    return say.say(f"cell/{key}", kept=parts(kept, say), **values)
