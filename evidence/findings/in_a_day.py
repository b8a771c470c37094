"""What an answer means in a day: what milk holds x what is still there x what a child drinks; authorities' figures.

Ranges are multiplied end by end: the lowest average content with the lower end of what is still there, the highest with
the upper. Both are about averages; how far one mother's milk lies from another's is a range of its own (mothers).
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from evidence.findings.finding import Finding
from evidence.model.rules import InADayRules
from evidence.model.tables import Composition, Intake

__all__ = [
    "Content",
    "Figure",
    "InADay",
    "Kept",
    "LeftOut",
    "Mothers",
    "Reason",
    "content_of",
    "figures_for",
    "in_a_day",
    "kept_of",
    "usual_drinks_ml",
]

# why an amount cannot be given; worded in reports
Reason = Literal["no content", "unit", "form", "other measure", "no figure"]
MothersKind = Literal["most", "middle half", "lowest and highest"]

_GRAMS = {"g": 1.0, "mg": 1e-3, "ug": 1e-6, "ng": 1e-9, "kcal": 1.0}
_LITRES = {"L": 1.0, "dL": 0.1, "mL": 0.001, "100 mL": 0.1}
_UNIT = re.compile(r"(?P<mass>g|mg|ug|ng|kcal)(?: (?P<as_>RAE|RE|DFE|NE|alpha-TE))?/(?P<per>L|dL|mL|100 mL|day)")
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")
_ONLY = re.compile(r"([\w -]+?) only\b")


@dataclass(frozen=True)
class LeftOut:
    """A printed figure that is listed and not counted, and why: its unit, its form, or words beside it."""

    id: str
    why: str


@dataclass(frozen=True)
class Mothers:
    """How far mothers' milks lie apart, a litre, in the content's unit: which share of them, and the row it is from."""

    low: float
    high: float
    kind: MothersKind
    id: str


@dataclass(frozen=True)
class Content:
    """How much a litre of mothers' milk holds: the lowest and the highest of the averages that sources print.

    unit is a mass (g, mg, ug) or kcal, equivalent what it counts as ("RAE"), "" for the plain thing; ids the rows used.
    """

    unit: str
    equivalent: str
    low: float
    high: float
    ids: tuple[str, ...]
    mothers: Mothers | None
    left_out: tuple[LeftOut, ...]


@dataclass(frozen=True)
class Kept:
    """What is still there of 100: low and high alike where one study gave a number without a range."""

    finding: Finding
    low: float
    high: float


@dataclass(frozen=True)
class Figure:
    """An authority's figure for a day, in the content's unit; average_in_milk: it is itself the average in milk."""

    id: str
    authority: str
    country: str
    kind: str
    value: float
    note: str
    average_in_milk: bool


@dataclass(frozen=True)
class InADay:
    """The amounts of one component in what a child drinks in a day; amounts in unit.

    left holds, for each handling asked about, what is left of the amount; why says why one cannot be told: the finding,
    or None where milk's own amount is missing, and the reason. own_authority: the figures are those of the country
    asked for, and not all side by side.
    """

    component: str
    age_months: float
    drinks_ml: float
    content: Content | None
    fresh: tuple[float, float] | None
    mothers: tuple[float, float] | None
    left: tuple[tuple[Kept, float, float], ...]
    why: tuple[tuple[Finding | None, Reason], ...]
    figures: tuple[Figure, ...]
    own_authority: bool


def usual_drinks_ml(age_months: float, rules: InADayRules) -> float | None:
    """Return the usual amount of milk in a day at an age, in ml; None where no source gives one."""
    if age_months < rules.drinks_ml_from_months:
        return rules.drinks_ml
    return rules.drinks_ml_older if age_months <= rules.drinks_ml_until_months else None


def kept_of(finding: Finding) -> Kept | Reason:
    """Return what a finding says is still there of 100, as its page prints it, or why it cannot be multiplied.

    One study's own figure, with its own interval where it printed a spread; else the interval of the average, or the
    limits for another laboratory where those are the headline. Bounds and words give no amount.
    """
    pooled = finding.pooled
    if finding.measured_as != "amount" or finding.group not in ("bulk", "fragile"):
        return "other measure"
    if finding.form and not finding.form.startswith("total"):
        return "form"
    if pooled is None:
        return "no figure"
    if pooled.k_studies == 1:
        study = finding.figure_studies[0]
        low, high = study.ci_low, study.ci_high
        if low is None or high is None:
            return Kept(finding, study.retained_percent, study.retained_percent)
        return Kept(finding, low, high)
    if finding.state == "spread":
        return Kept(finding, pooled.new_low, pooled.new_high)
    return Kept(finding, pooled.ci_low, pooled.ci_high)


def _split(text: str) -> tuple[float, float] | None:
    ends = [float(part) for part in text.split("..") if _NUMBER.fullmatch(part.strip())]
    return (min(ends), max(ends)) if ends and len(ends) == len(text.split("..")) else None


def _why_not(row: Composition, forms: Sequence[str], rules: InADayRules) -> str:
    """Return why a row of composition is not counted, "" where it is."""
    milk = " ".join((row.population, row.stage, row.basis)).lower()
    words = next((word for word in rules.other_milks if word.lower() in milk), "")
    words = words or next((word for word in rules.doubts if word.lower() in row.notes.lower()), "")
    only = _ONLY.search(row.basis.replace(";", ","))
    if words:
        return words
    if only and not any(only[1].strip().lower() in form.lower() for form in forms):
        return f"{only[1].strip()} only"
    unit = _UNIT.fullmatch(row.unit)
    return row.unit if unit is None or unit["per"] == "day" or _split(row.value) is None else ""


def _per_litre(row: Composition) -> float:
    unit = _UNIT.fullmatch(row.unit)
    assert unit is not None
    return _GRAMS[unit["mass"]] / _LITRES[unit["per"]]


def _equivalent(unit: str) -> str:
    found = _UNIT.fullmatch(unit)
    return (found["as_"] or "") if found else ""


def _mothers(rows: Sequence[Composition], scale: float) -> Mothers | None:
    """Return the widest-known spread between mothers: two SDs either side first, then quartiles, then the extremes."""
    found: list[tuple[int, float, str, Mothers]] = []
    for row in rows:
        factor, size = _per_litre(row) / scale, float(row.n or 0)
        ends = (_split(row.spread_low), _split(row.spread_high)) if row.spread_low else (None, None)
        low, high = (end[0] if end else None for end in ends)
        middle = _split(row.value)
        if row.spread_kind == "mean minus and plus 2 SD" and low is not None and high is not None:
            found.append((0, -size, row.id, Mothers(low * factor, high * factor, "most", row.id)))
        elif row.spread_kind == "SD" and low is not None and middle is not None and middle[0] > 2 * low:
            spread = Mothers((middle[0] - 2 * low) * factor, (middle[0] + 2 * low) * factor, "most", row.id)
            found.append((0, -size, row.id, spread))
        elif row.spread_kind == "IQR" and low is not None and high is not None:
            found.append((1, -size, row.id, Mothers(low * factor, high * factor, "middle half", row.id)))
        elif row.spread_kind == "range" and row.n and low is not None and high is not None:
            found.append((2, -size, row.id, Mothers(low * factor, high * factor, "lowest and highest", row.id)))
    return min(found, key=lambda each: each[:3])[3] if found else None


def content_of(rows: Sequence[Composition], intake: Sequence[Intake], rules: InADayRules) -> Content | None:
    """Return how much a litre of mature milk holds by the averages that sources print; None where none can be used.

    Only figures a volume of milk, of the whole component (or of the form that an authority counts), and of one kind of
    equivalent: the one that most authorities use. A printed range without n is one of averages, with n one of mothers.
    """
    counted = [row for row in intake if row.kind in rules.kinds]
    refused = {row.id: _why_not(row, [each.notes for each in counted], rules) for row in rows}
    usable = [row for row in rows if not refused[row.id]]
    if not usable:
        return None
    asked = Counter(_equivalent(row.unit) for row in counted if _UNIT.fullmatch(row.unit))
    known = Counter(_equivalent(row.unit) for row in usable)
    equivalent = max(sorted(known), key=lambda each: (asked[each], known[each]))
    mine = [row for row in usable if _equivalent(row.unit) == equivalent]
    averages = [row for row in mine if not (row.spread_kind == "range" and row.n and ".." in row.value)]
    if not averages:
        return None
    units = [
        found["mass"] for row in counted if (found := _UNIT.fullmatch(row.unit)) and _equivalent(row.unit) == equivalent
    ]
    own = [found["mass"] for row in averages if (found := _UNIT.fullmatch(row.unit))]
    unit = Counter(units or own).most_common(1)[0][0]
    scale = _GRAMS[unit]
    ends = [end * _per_litre(row) / scale for row in averages for end in _split(row.value) or ()]
    left_out = [LeftOut(row.id, refused[row.id]) for row in rows if refused[row.id]]
    left_out += [LeftOut(row.id, row.unit) for row in usable if row not in mine]
    return Content(
        unit,
        equivalent,
        min(ends),
        max(ends),
        tuple(row.id for row in averages),
        _mothers(mine, scale),
        tuple(left_out),
    )


def _covers(row: Intake, age_months: float) -> bool:
    """Return whether an age falls into a figure's months: 0 to 6 ends where 7 begins, 7 to 12 with the first year."""
    if not row.age_from_months or not row.age_to_months:
        return False
    low, high = float(row.age_from_months), float(row.age_to_months)
    return low <= age_months < (high if high and high % 12 == 0 else high + 1)


def figures_for(
    rows: Sequence[Intake], age_months: float, country: str, content: Content | None, rules: InADayRules
) -> tuple[tuple[Figure, ...], bool]:
    """Return the authorities' figures for an age in the content's unit, and whether they are the country's own.

    Copies of one figure of an authority count once, the authority's own page first. Without a country, or where its
    authority has no figure, all stand side by side.
    """
    if content is None:
        return (), False
    scale = _GRAMS[content.unit]
    found: dict[tuple[str, str, float], Figure] = {}
    ranked = sorted(rows, key=lambda row: (row.source_seen != "authority page", row.id))
    for row in ranked:
        unit = _UNIT.fullmatch(row.unit)
        value = _split(row.value)
        if row.kind not in rules.kinds or unit is None or unit["per"] != "day" or value is None:
            continue
        if (unit["as_"] or "") != content.equivalent or (unit["mass"] == "kcal") != (content.unit == "kcal"):
            continue
        if _covers(row, age_months):
            amount = value[0] * _GRAMS[unit["mass"]] / scale
            milk = row.kind in rules.average_in_milk_kinds and age_months < rules.average_in_milk_below_months
            if (
                any(each.kind == row.kind and each.value == amount for each in found.values())
                and "identical" in row.notes
            ):
                continue  # an agency that prints another's figures
            figure = Figure(row.id, row.authority, row.country, row.kind, amount, row.notes, milk)
            found.setdefault((row.authority, row.kind, round(amount, 6)), figure)
    everyone = tuple(sorted(found.values(), key=lambda each: each.id))
    mine = tuple(each for each in everyone if country and country in rules.countries.get(each.country, ()))
    return (mine, True) if mine else (everyone, False)


def in_a_day(
    component: str,
    findings: Sequence[Finding],
    composition: Sequence[Composition],
    intake: Sequence[Intake],
    age_months: float,
    drinks_ml: float,
    country: str,
    rules: InADayRules,
) -> InADay:
    """Return what a component's answers mean in a day for a child born at term.

    findings: the answers of the page, one a handling; composition and intake: the component's rows; age in months of
    30.4 days; country: a code of two letters, or "" for all authorities.
    """
    content = content_of(composition, intake, rules)
    figures, own = figures_for(intake, age_months, country, content, rules)
    litres = drinks_ml / 1000
    left: list[tuple[Kept, float, float]] = []
    why: list[tuple[Finding | None, Reason]] = []
    for finding in findings:
        kept = kept_of(finding)
        if not isinstance(kept, Kept):
            why.append((finding, kept))
        elif content is not None:
            left.append((kept, content.low * litres * kept.low / 100, content.high * litres * kept.high / 100))
    if content is None:
        why.append((None, "unit" if composition else "no content"))
    mothers = content.mothers if content else None
    return InADay(
        component=component,
        age_months=age_months,
        drinks_ml=drinks_ml,
        content=content,
        fresh=None if content is None else (content.low * litres, content.high * litres),
        mothers=None if mothers is None else (mothers.low * litres, mothers.high * litres),
        left=tuple(left),
        why=tuple(why),
        figures=figures,
        own_authority=own,
    )
