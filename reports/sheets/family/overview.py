"""All components on one page: what stays, what falls, what rises, what we can't tell and what nobody knows."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from typing import Literal

from evidence.findings.finding import Finding
from reports.sheets.family.content import Line, Overview, Section
from reports.sheets.family.maker import FamilyMaker
from reports.words.brief import short_answer
from reports.words.choose import DRYING, FREEZING, leading
from reports.words.compared import against_phrase
from reports.words.named import page_name
from reports.words.told import EDITION, Told

__all__ = ["Outcome", "outcome_of", "overview"]

Outcome = Literal["stays", "falls", "rises", "unclear", "unknown"]
_OUTCOMES: tuple[Outcome, ...] = ("stays", "falls", "rises", "unclear", "unknown")
_SAID: dict[str, Outcome] = {
    "fall": "falls", "at_most": "falls", "no_change": "stays", "at_least": "stays", "rise": "rises", "mixed": "unclear",
}  # fmt: skip


def outcome_of(finding: Finding | None) -> Outcome:
    """Return what an answer lets anyone say: only an interval that leaves out "no change" falls or rises.

    Studies in words count where all of them say the same.
    """
    if finding is None or finding.state == "listed_only":
        return "unknown"
    pooled = finding.pooled
    if pooled is None:
        told = {_SAID[each.kind] for each in finding.every_study if each.kind in _SAID}
        return told.pop() if len(told) == 1 else "unclear"
    if finding.state in ("about_the_same", "little_less", "no_loss_seen"):
        return "stays"
    low, high = (pooled.new_low, pooled.new_high) if finding.state == "spread" else (pooled.ci_low, pooled.ci_high)
    return "falls" if high < 100 else "rises" if low > 100 else "unclear"


def overview(maker: FamilyMaker) -> Overview:
    """Return the page over all components that have a sheet."""
    words = maker.words
    return Overview(
        **maker.frame("overview", "overview"),
        intro=(words.say("overview/intro"), words.say("overview/words")),
        sections=tuple(
            Section(name, words.say(f"overview/{name}"), sections=_outcomes(name, kind, maker))
            for name, kind in (("dried", DRYING), ("frozen", FREEZING))
        ),
    )


def _outcomes(name: str, kind: str, maker: FamilyMaker) -> tuple[Section, ...]:
    found: dict[Outcome, dict[str, Finding | None]] = defaultdict(dict)
    library = maker.sheets.library
    for key in sorted(maker.pages, key=lambda key: page_name(library.components[key], maker.say).lower()):
        ranked = leading(maker.findings.get(key, ()), kind)
        first = ranked[0] if ranked else None
        found[outcome_of(first)][key] = first
    sections = []
    for outcome in _OUTCOMES:
        asked = {
            key: finding for key, finding in found[outcome].items() if library.components[key].question_worthy == "1"
        }
        lines = _unknown(asked, maker) if outcome == "unknown" else _told(asked, maker)
        others = len(found[outcome]) - len(asked)
        if others:
            lines.append(Line("", Told(maker.words.count("overview/others", others), EDITION)))
        if lines:
            heading = maker.words.say(f"overview/{outcome}")
            sections.append(Section(f"{name}-{outcome}", heading, lines=tuple(lines)))
    return tuple(sections)


def _told(found: Mapping[str, Finding | None], maker: FamilyMaker) -> list[Line]:
    """Return a line for each component with a number, then one for all that share the same words."""
    lines: list[Line] = []
    shared: dict[str, list[tuple[str, Finding]]] = defaultdict(list)
    for key, finding in found.items():
        assert finding is not None, "only what nobody knows has no finding"
        if finding.pooled is not None:
            answer = maker.words.say("line/answer", answer=short_answer(finding, maker.sheets.library, maker.say))
            lines.append(Line("", Told(answer, finding.number), names=maker.named([key])))
        else:
            shared[_in_words(finding, maker)].append((key, finding))
    for answer, mine in shared.items():
        names = maker.named(key for key, _ in mine)
        lines.append(Line(Told(answer, *(finding.number for _, finding in mine)), "", names=names))
    return lines


def _in_words(finding: Finding, maker: FamilyMaker) -> str:
    kinds: set[str] = {each.kind for each in finding.every_study}
    key = kinds.pop() if len(kinds) == 1 else "mixed"
    key = "limit" if key in ("at_most", "at_least", "figure") else key
    return maker.words.say(f"overview/{key}", against=against_phrase(finding.every_study, maker.say))


def _unknown(found: Iterable[str], maker: FamilyMaker) -> list[Line]:
    names = maker.named(found)
    return [Line(maker.words.say("overview/unknown_none"), "", names=names)] if names else []
