"""What an answer means in a day, in sentences: amounts, what they rest on, and authorities' figures by their kind."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from evidence.findings.in_a_day import Content, Figure, InADay, Kept
from evidence.model.tables import Component, Composition
from reports.words.catalogue import Catalogue, load_catalogue
from reports.words.compared import compared_phrase
from reports.words.handlings import handling_words
from reports.words.library import Library
from reports.words.measures import Units, volume_words
from reports.words.named import component_name
from reports.words.told import Told

__all__ = ["Age", "DayWords", "amount_words"]

AgeUnit = Literal["days", "weeks", "months", "years"]
# days a month, so that ages in days and weeks can be compared: the length of a mean Gregorian month
DAYS_A_MONTH = 365.2425 / 12
_DAYS = {"days": 1.0, "weeks": 7.0, "months": DAYS_A_MONTH, "years": 12 * DAYS_A_MONTH}
_SIGNIFICANT = 2  # digits of an amount; the sources print hardly more


@dataclass(frozen=True)
class Age:
    """A child's age as it was given."""

    count: int
    unit: AgeUnit = "months"

    @property
    def months(self) -> float:
        """The age in months of 30.4 days."""
        return self.count * _DAYS[self.unit] / DAYS_A_MONTH

    def said(self, say: Catalogue) -> str:
        """Return the age in words; say: the part "in_a_day"."""
        return say.count(f"age/{self.unit}", self.count)


def amount_words(low: float, high: float, unit: str, say: Catalogue) -> str:
    """Return an amount, or a range of amounts, to two significant digits; say: the part "in_a_day"."""
    one, other = _rounded(low, say), _rounded(high, say)
    if one == other:
        return say.say("amount/one", value=one, unit=unit)
    return say.say("amount/range", low=one, high=other, unit=unit)


def _rounded(value: float, say: Catalogue) -> str:
    if value <= 0:
        return say.number(0)
    digits = _SIGNIFICANT - 1 - math.floor(math.log10(value))
    rounded = round(value, digits)
    digits = _SIGNIFICANT - 1 - math.floor(math.log10(rounded))  # 9.96 has become 10
    return say.number(rounded, max(0, digits))


def _unit(content: Content) -> str:
    mass = {"ug": "µg"}.get(content.unit, content.unit)
    return f"{mass} {content.equivalent}" if content.equivalent else mass


@dataclass(frozen=True)
class DayWords:
    """Words of one language and one choice of units around findings in a day."""

    library: Library
    main: Catalogue
    units: Units = "metric"

    @property
    def say(self) -> Catalogue:
        """The part that holds these sentences."""
        return load_catalogue(self.main.language, "in_a_day")

    def short(self, day: InADay, age: Age, component: Component) -> tuple[str, ...]:
        """Return the sentences of side 1, each with its trail; none for a component without any figure of amounts."""
        if day.content is None:
            return tuple(self.reasons(day, component)[-1:])
        if not day.left and not day.figures:
            return ()  # an amount that nothing can be said about stays on side 2
        told = [self.fresh(day, age, component), self._left_or_not(day)]
        told += self.figures(day)[:1]
        if day.mothers is not None:
            told.append(self.mothers(day))
        return tuple(told)

    def fresh(self, day: InADay, age: Age, component: Component) -> str:
        """Return what the day's milk holds before anything is done to it."""
        content, fresh = day.content, day.fresh
        assert content is not None and fresh is not None
        text = self.say.say(
            "day/fresh", age=age.said(self.say), volume=volume_words(day.drinks_ml, self.units, self.say),
            fresh=amount_words(*fresh, _unit(content), self.say), component=component_name(component, self.main),
            sources=self.say.count("sources/averages", len(content.ids)),
        )  # fmt: skip
        return Told(text, *content.ids)

    def left(self, day: InADay, kept: Kept, low: float, high: float) -> str:
        """Return what is left of it after one handling, with what that was compared with."""
        assert day.content is not None
        finding = kept.finding
        fresh = all(study.baseline == "fresh" for study in finding.behind)
        text = self.say.say(
            "day/left_fresh" if fresh else "day/left",
            after=handling_words(finding.handling, self.main).after,
            now=amount_words(low, high, _unit(day.content), self.say),
            studies=self.say.count("sources/studies", len(finding.figure_studies)),
            compared=compared_phrase(finding, self.main),
        )
        return Told(text, finding.number, *day.content.ids)

    def _left_or_not(self, day: InADay) -> str:
        assert day.content is not None
        if day.left:
            return self.left(day, *day.left[0])
        return self.say.say("day/nothing_left", unit=_unit(day.content))

    def mothers(self, day: InADay) -> str:
        """Return how far mothers' milks lie apart in the same amount of milk."""
        assert day.content is not None and day.content.mothers is not None and day.mothers is not None
        key = {"most": "most", "middle half": "half", "lowest and highest": "ends"}[day.content.mothers.kind]
        span = amount_words(*day.mothers, _unit(day.content), self.say)
        return Told(self.say.say(f"day/mothers_{key}", range=span), day.content.mothers.id)

    def figures(self, day: InADay) -> list[str]:
        """Return the authorities' figures for this age: one sentence for side 1, then one each."""
        content, found = day.content, day.figures
        if content is None or not found:
            return []
        unit = _unit(content)
        lines = [self._line(figure, unit) for figure in found]
        if len(found) == 1:
            key = "milk_average" if found[0].average_in_milk else "one"
            text = self.say.say(
                f"figure/{key}", value=self._value(found[0], unit), kind=self.say.say(f"kind/{found[0].kind}"),
                authority=found[0].authority,
            )  # fmt: skip
            return [Told(text, found[0].id), *lines]
        low, high = min(each.value for each in found), max(each.value for each in found)
        if low == high:
            text = self.say.say("figure/several_same", value=f"{_plain(low, self.say)} {unit}")
        else:
            text = self.say.say("figure/several", low=_plain(low, self.say), high=f"{_plain(high, self.say)} {unit}")
        if any(each.average_in_milk for each in found):
            text = f"{text} {self.say.say('figure/average_note')}"
        return [Told(text, *(each.id for each in found)), *lines]

    def _value(self, figure: Figure, unit: str) -> str:
        return f"{_plain(figure.value, self.say)} {unit}"

    def _line(self, figure: Figure, unit: str) -> str:
        line = self.say.say(
            "figure/line", value=self._value(figure, unit), kind=self.say.say(f"kind/{figure.kind}"),
            authority=f"{figure.authority} ({figure.country})",
        )  # fmt: skip
        meaning = self.say.say(f"meaning/{'milk_average' if figure.average_in_milk else figure.kind}")
        return Told(f"{line} {meaning}", figure.id)

    def reasons(self, day: InADay, component: Component) -> list[str]:
        """Return why an amount cannot be told, a sentence each."""
        unit = _unit(day.content) if day.content else ""
        name = component_name(component, self.main)
        told: list[str] = []
        for finding, reason in day.why:
            if finding is None:
                told.append(self.say.say(f"why/{reason}", component=name))
            elif unit:
                after = handling_words(finding.handling, self.main).after
                text = self.say.say(f"why/{reason}", component=name, unit=unit, after=after)
                told.append(Told(text, finding.number))
        return told

    def content_rows(self, day: InADay, rows: Sequence[Composition]) -> list[str]:
        """Return every figure of milk that was counted, as printed and with its source."""
        if day.content is None:
            return []
        used = {*day.content.ids, *([day.content.mothers.id] if day.content.mothers else [])}
        return [Told(self._row(row), row.id) for row in rows if row.id in used]

    def _row(self, row: Composition) -> str:
        where = ""
        if row.doi.startswith("10."):
            where = self.say.say("side/where_doi", doi=row.doi)
        elif row.doi:
            where = self.say.say("side/where_pmid", pmid=row.doi)
        values = {
            "value": row.value.replace("..", "–"), "unit": row.unit, "basis": row.basis, "population": row.population,
            "reference": row.reference, "where": where,
        }  # fmt: skip
        if row.spread_low and row.spread_high and ".." not in row.value:
            spread = {"low": row.spread_low, "high": row.spread_high, "kind": row.spread_kind}
            return self.say.say("side/spread_row", **values, **spread)
        return self.say.say("side/row", **values)


def _plain(value: float, say: Catalogue) -> str:
    """Return an authority's figure as printed, without trailing noughts."""
    digits = next((each for each in range(4) if math.isclose(round(value, each), value, rel_tol=1e-9)), 4)
    return say.number(value, digits)
