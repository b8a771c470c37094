"""The smell and taste sheet: what splits off from fat in stored milk, what was measured, what nobody knows."""

from __future__ import annotations

from collections.abc import Sequence

from evidence.findings.finding import Finding
from reports.sheets.family.content import Leaflet, Line, Section
from reports.sheets.family.maker import FamilyMaker
from reports.sheets.family.order import in_order_of_time
from reports.words.handlings import family
from reports.words.named import component_name, what_it_does

__all__ = ["smell_and_taste"]

_SPLIT_OFF = ("free-fatty-acids", "lipolysis")
_ENZYMES = ("lipase", "lipoprotein-lipase", "bile-salt-stimulated-lipase")
_AIR = ("lipid-peroxides", "malondialdehyde", "fat-oxidation-products", "lipid-oxidation")
_TASTE = ("volatile-compounds", "dornic-acidity")
# what a parent does to the milk; laboratories' other treatments stay on side 2 of the sheets
_AT_HOME = ("room", "chilled", "frozen", "thawed", "warmed", "scalded", "freeze-dried", "kept", "pasteurised", "light")


def smell_and_taste(maker: FamilyMaker) -> Leaflet | None:
    """Return the sheet, or None where nothing was measured of what splits off from fat."""
    split = _findings(_SPLIT_OFF, maker)
    if not split:
        return None
    words, say = maker.words, maker.say
    parts = {
        "rises": split, "splits": _findings(_ENZYMES, maker, briefly=True), "air": _findings(_AIR, maker, briefly=True),
        "taste": _findings(_TASTE, maker, briefly=True),
    }  # fmt: skip
    said = {
        key: tuple(
            words.say("smell/does", component=component_name(each, say), what_it_does=what_it_does(each, say))
            for each in map(maker.component, dict.fromkeys(finding.component for finding in found))
        )
        for key, found in parts.items()
    }
    told = [
        Section(key, words.say(f"smell/{key}"), said=said[key], lines=_lines(found, maker))
        for key, found in parts.items()
        if found
    ]
    sections = told[:1]
    sections.append(Section("notice", words.say("smell/notice"), said=(words.say("smell/notice_said"),)))
    sections.append(Section("unknown", words.say("smell/unknown"), points=_unknown(split, maker)))
    return Leaflet(
        **maker.frame("smell-and-taste", "smell"),
        intro=(words.say("smell/intro"), words.say("smell/safety")),
        sections=tuple(sections),
        details=tuple(told[1:]),
        sources=maker.sources(finding for found in parts.values() for finding in found),
    )


def _findings(components: Sequence[str], maker: FamilyMaker, *, briefly: bool = False) -> list[Finding]:
    """Return the answers of components in order of handling and time: one a time, briefly one a handling.

    Of a component that has been measured and not counted, one says so.
    """
    found = []
    for component in components:
        mine = [
            finding
            for finding in maker.findings.get(component, ())
            if "+" not in finding.handling and finding.handling.split(":")[0] in _AT_HOME
        ]
        told = [finding for finding in mine if finding.state != "listed_only"]
        best: dict[str, Finding] = {}
        for finding in sorted(told or mine[:1], key=_most_first):
            best.setdefault(finding.handling.split(":")[0] if briefly else finding.handling, finding)
        found += in_order_of_time(best.values())
    return found


def _most_first(finding: Finding) -> tuple[bool, int, int, str]:
    return finding.form != "", -len(finding.figure_studies), -len(finding.every_study), finding.number


def _lines(found: Sequence[Finding], maker: FamilyMaker) -> tuple[Line, ...]:
    return tuple(maker.line(finding, named=True) for finding in found)


def _unknown(split: Sequence[Finding], maker: FamilyMaker) -> tuple[str, ...]:
    """Return what no answer speaks of: drying, keeping the powder, scalding; and what no paper asks at all."""
    kinds = {family(finding.handling).split(":")[0] for finding in split}
    asked = (("drying", "freeze-dried"), ("powder", "kept"), ("scalding", "scalded"))
    missing = [key for key, kind in asked if kind not in kinds]
    return tuple(maker.words.say(f"smell/unknown_{key}") for key in (*missing, "harm"))
