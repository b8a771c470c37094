"""The part of a sheet that says what an answer means in a day: short on side 1, worked out on side 2."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from evidence.findings.finding import Finding
from evidence.findings.in_a_day import InADay, in_a_day, usual_drinks_ml
from evidence.model.rules import InADayRules
from evidence.model.tables import Component, Composition, Intake
from evidence.store.connection import Store
from evidence.store.reading import all_rows
from reports.settings.settings import Settings
from reports.sheets.content import ClinicianBlock
from reports.words.in_a_day import Age, DayWords
from reports.words.measures import volume_words
from reports.words.told import Told, trail_of

__all__ = ["DayPart", "day_part"]

# what the usual amounts of milk are read from: rows of intake.csv whose notes print them
_USUAL_FROM = ("magnesium-03", "vitamin-a-04")


@dataclass(frozen=True)
class DayPart:
    """What a sheet needs to speak of a day: the rows by component, whose figures to show, and the words."""

    composition: Mapping[str, Sequence[Composition]]
    intake: Mapping[str, Sequence[Intake]]
    rules: InADayRules
    country: str
    words: DayWords

    def side_one(self, component: Component, findings: Sequence[Finding]) -> tuple[str, ...]:
        """Return the sentences of side 1; none where no table holds an amount of the component."""
        if not self._told(component):
            return ()
        age = Age(round(self.rules.sheet_age_months))
        return self.words.short(self._day(component, findings, age), age, component)

    def block(self, component: Component, findings: Sequence[Finding]) -> ClinicianBlock | None:
        """Return how it was worked out: amounts at two ages, authorities' figures, and every figure of milk counted."""
        if not self._told(component):
            return None
        say, words = self.words.say, self.words
        ages = [Age(round(self.rules.sheet_age_months)), Age(round(self.rules.older_age_months))]
        days = [self._day(component, findings, age) for age in ages]
        facts: list[tuple[str, str]] = []
        if days[0].content is not None:
            facts.append((say.say("side/counted"), self._usual(ages)))
        for age, day in zip(ages, days, strict=True):
            label = say.say("side/at_age", age=age.said(say))
            if day.content is not None:
                facts.append((label, words.fresh(day, age, component)))
                facts += [(label, words.left(day, *each)) for each in day.left]
            facts += [(label, line) for line in words.figures(day)[1:]]
        facts += [
            (say.say("side/in_milk"), line) for line in words.content_rows(days[0], self.composition[component.id])
        ]
        facts += [(say.say("side/why"), line) for line in words.reasons(days[0], component)]
        content = days[0].content
        if content is not None and content.left_out:
            said = say.count("side/left_out_row", len(content.left_out))
            facts.append((say.say("side/left_out"), Told(said, *(each.id for each in content.left_out))))
        if any(day.left for day in days):
            facts.append((say.say("side/how"), say.say("side/how_text")))
        if any(kept.low == kept.high for day in days for kept, _, _ in day.left):
            facts.append((say.say("side/how"), say.say("side/single")))
        return ClinicianBlock("", say.say("side/heading"), None, _by_label(facts), "", (), ()) if facts else None

    def _told(self, component: Component) -> bool:
        rows = self.composition.get(component.id, ()) or self.intake.get(component.id, ())
        return bool(rows) and component.outcome in ("bulk", "fragile")

    def _day(self, component: Component, findings: Sequence[Finding], age: Age) -> InADay:
        drinks = usual_drinks_ml(age.months, self.rules)
        assert drinks is not None, "the ages of the sheets have usual amounts"
        return in_a_day(
            component.id, findings, self.composition.get(component.id, ()), self.intake.get(component.id, ()),
            age.months, drinks, self.country, self.rules,
        )  # fmt: skip

    def _usual(self, ages: Sequence[Age]) -> str:
        say, units = self.words.say, self.words.units
        first, second = (volume_words(usual_drinks_ml(age.months, self.rules) or 0, units, say) for age in ages)
        text = say.say(
            "side/usual", first=first, first_age=ages[0].said(say), second=second, second_age=ages[1].said(say)
        )
        return Told(text, *_USUAL_FROM)


def _by_label(facts: Sequence[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
    """Return the facts with the sentences of one label together, trails and all."""
    together: dict[str, list[str]] = defaultdict(list)
    for label, fact in facts:
        together[label].append(fact)
    return tuple((label, Told(" ".join(told), *trail_of(told))) for label, told in together.items())


def day_part(store: Store, rules: InADayRules, settings: Settings, words: DayWords) -> DayPart:
    """Read the tables that a day needs."""
    composition: dict[str, list[Composition]] = defaultdict(list)
    intake: dict[str, list[Intake]] = defaultdict(list)
    for row in all_rows(store, Composition):
        composition[row.component].append(row)
    for figure in all_rows(store, Intake):
        intake[figure.component].append(figure)
    return DayPart(composition, intake, rules, settings.country, words)
