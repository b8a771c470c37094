"""A path in sentences: what is left of fresh milk, what each step rests on, what is missing."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from evidence.findings.path import Missing, PathAnswer, StepAnswer
from evidence.findings.path_model import Amount
from evidence.findings.path_reading import Reach
from evidence.findings.path_rows import StepAsked
from evidence.findings.storage import StoreAnswer
from evidence.model.lists import BaselineClass
from evidence.model.rules import Rules
from evidence.model.tables import Component, Study
from reports.words.answers import parts, what_they_saw
from reports.words.catalogue import Catalogue
from reports.words.compared import compared_with
from reports.words.handlings import handling_words
from reports.words.named import component_name
from reports.words.names import Name
from reports.words.references import short_name

__all__ = ["PathWords", "StepSentences", "degrees", "step_noun"]


@dataclass(frozen=True)
class StepSentences:
    """One step in words: its name, how it is known, and its sentences."""

    name: str
    mark: str
    lines: tuple[str, ...]


def degrees(celsius: float, say: Catalogue) -> str:
    """Return a temperature as the language writes numbers, with a true minus sign."""
    return say.number(celsius, 0 if celsius == round(celsius) else 1)


def _time(days: float, say: Catalogue) -> str:
    if days < 2 and abs(days - 1) > 1e-9:
        return say.count("time/hours", round(days * 24))
    return say.count("time/days", round(days))


def step_noun(step: StepAsked, say: Catalogue, plain: Catalogue) -> str:
    """Return a step as a noun with its time and temperature: freezing for 60 days at −20 °C."""
    key = f"step/{step.name}" + ("_deep" if step.key.startswith("frozen:deep") else "")
    if not say.has(key):
        return handling_words(step.key, plain).noun
    held = "" if step.days is None else say.say("step/for_days", days=_time(step.days, say))
    low, high = step.temperature_low_c, step.temperature_high_c
    if low is not None and high is not None and low != high:
        held += say.say("step/between", low=degrees(low, say), high=degrees(high, say))
    elif low is not None or high is not None:
        held += say.say("step/at", degrees=degrees(low if low is not None else high or 0.0, say))
    return say.say(key, held=held)


@dataclass(frozen=True)
class PathWords:
    """Turns answers into sentences; say: path.en.toml; plain: the catalogue of the other pages."""

    components: dict[str, Component]
    studies: dict[str, Study]
    say: Catalogue
    plain: Catalogue
    rules: Rules

    def time(self, days: float) -> str:
        """Return a time in words: 30 days, 4 hours."""
        return _time(days, self.say)

    def baseline(self, word: BaselineClass) -> str:
        """Return what a study compared with in a few words: fresh milk, milk already frozen."""
        return self.say.say(f"baseline/{word}")

    def store(self, store: str) -> str:
        """Return where milk was held: in a household-type freezer."""
        key = "over_time/where_" + store.replace(":", "_")
        return self.say.say(key if self.say.has(key) else f"over_time/where_{store.split(':')[0]}")

    def component_name(self, answer: PathAnswer | StoreAnswer) -> Name:
        """Return the component as it stands in a sentence, with its form where that matters."""
        activity = answer.measured_as == "activity"
        return component_name(self.components[answer.component], self.plain, form=answer.form, activity=activity)

    def _name_of(self, component: str) -> Name:
        return component_name(self.components[component], self.plain)

    def parts(self, percent: float) -> str:
        """Return percent as whole parts of 100."""
        return parts(percent, self.plain)

    def study(self, key: str) -> str:
        """Return a study as it is named in a sentence."""
        return short_name(self.studies[key], self.plain)

    def name(self, answer: PathAnswer) -> Name:
        """Return the component of a path as it stands in a sentence."""
        return self.component_name(answer)

    def noun(self, step: StepAsked) -> str:
        """Return a step as a noun."""
        return step_noun(step, self.say, self.plain)

    def road(self, steps: Sequence[StepAsked]) -> str:
        """Return the steps as one list in words."""
        return self.say.joined([self.noun(step) for step in steps])

    def headline(self, answer: PathAnswer) -> tuple[str, ...]:
        """Return the answer for the whole path, and how far studies reach where it ends before."""
        name = self.name(answer)
        if answer.unfollowed:
            return (self.say.say("head/unfollowed", component=name),)
        if answer.status in ("estimated", "bounded"):
            return (self._reach(answer.reach, answer, "head/", component=name),)
        told = [self._no_answer(answer, name)]
        furthest = self.furthest(answer)
        if furthest is not None:
            amount = self._reach(furthest.so_far, answer, "head/so_far_")
            told.append(self.say.say("head/so_far", step=self.noun(furthest.asked), amount=amount))
        return tuple(told)

    def furthest(self, answer: PathAnswer) -> StepAnswer | None:
        """Return the last step up to which something can be said from fresh milk."""
        return next((step for step in reversed(answer.steps) if step.so_far.status is not None), None)

    def _no_answer(self, answer: PathAnswer, name: str) -> str:
        beyond = next((step for step in answer.steps if step.beyond), None)
        if beyond is None:
            lacking = [self.noun(step.asked) for step in answer.steps if step.amount is None]
            if not lacking:
                return self.say.say("head/only_from_frozen", component=name)
            return self.say.say("head/not_identified", component=name, lacking=self.say.joined(lacking))
        return self._beyond(beyond, "head", component=name, step=self.noun(beyond.asked))

    def _beyond(self, found: StepAnswer, section: str, **values: object) -> str:
        measured = found.measured
        assert measured is not None
        if found.beyond == "time":
            longest = measured.longest_days
            how = "" if measured.longest_is_figure else self.say.say("each/longest_words")
            time = _time(longest, self.say) if longest is not None else ""
            return self.say.say(f"{section}/beyond_time", longest=time, how=how, **values)
        cold, warm = degrees(measured.coldest_c or 0.0, self.say), degrees(measured.warmest_c or 0.0, self.say)
        where = self.say.say("time/at_only" if cold == warm else "time/from_to", cold=cold, warm=warm)
        return self.say.say(f"{section}/beyond_temperature", where=where, **values)

    def _reach(self, reach: Reach, answer: PathAnswer, section: str, **values: object) -> str:
        low = None if reach.ci_low is None else self.parts(reach.ci_low)
        high = None if reach.ci_high is None else self.parts(reach.ci_high)
        if reach.status == "bounded":
            is_open = reach.ci_high is None or reach.ci_high >= 100
            key = {(True, True): "bounded_open", (True, False): "bounded", (False, False): "at_most"}.get(
                (low is not None, is_open), "neither" if section.endswith("so_far_") else "neither_end"
            )
            return self.say.say(section + key, low=low, high=high, **values)
        kept = reach.retained_percent or 0.0
        # one step that studies measured as such is joined with nothing
        one = answer.steps[0].direct and answer.steps[0].so_far == reach
        numbers = {
            "kept": self.parts(kept), "gone": self.parts(max(100 - kept, 0)), "low": low, "high": high,
            "joined": "" if one else self.say.say("head/joined"),
        }  # fmt: skip
        below = self.rules.printing.cant_tell_below_percent
        wide = (reach.ci_low or 0.0) < below and (reach.ci_high or 0.0) > 100
        if section == "head/" and wide:
            return self.say.say("head/cant_tell", **numbers, **values)
        return self.say.say(section + ("estimated" if kept < 99.5 else "estimated_more"), **numbers, **values)

    def readings(self, answer: PathAnswer) -> tuple[str, ...]:
        """Return why there is an upper and a lower end: the two pasts the milk may have had."""
        told = []
        for reading in answer.readings:
            step = answer.steps[reading.step]
            names = self.say.joined([self.study(key) for key in dict.fromkeys(s.study for s in step.studies)])
            amount = reading.amount
            if amount is None:
                told.append(self.say.say("why/frozen_unknown"))
                continue
            values = self._numbers(amount)
            if reading.was == "fresh":
                dries = step.asked.name.endswith("-dried")
                furthest = self.furthest(answer)
                high = furthest.so_far.ci_high if furthest is not None else None
                is_open = high is None or high >= 100
                lead = self.say.say("why/lead_open" if is_open else "why/lead_most")
                key = "why/fresh_dry" if dries else "why/fresh_other"
                told.append(self.say.say(key, lead=lead, studies=names, step=self.noun(step.asked), **values))
                if high is not None and high < min(amount.ci_high - 0.5, 100):
                    told.append(self.say.say("why/capped", high=self.parts(high)))
            elif reading.extra_freezing is not None:
                extra = handling_words(reading.extra_freezing.removesuffix(":jump"), self.plain).after
                told.append(self.say.say("why/frozen_extra", extra=extra, **values))
            else:
                told.append(self.say.say("why/frozen", **values))
        return tuple(told)

    def step(self, step: StepAnswer, answer: PathAnswer) -> StepSentences:
        """Return one step: what it alone leaves, against what, measured by whom."""
        mark = "joined" if step.amount is not None and not step.direct else step.status
        lines: list[str] = []
        if step.beyond:
            lines.append(self._beyond(step, "each"))
        elif step.amount is not None:
            # a study's two times against the same milk are one comparison
            classes = [baseline for _, baseline in dict.fromkeys((each.study, each.baseline) for each in step.studies)]
            compared = compared_with(classes, self.plain) if classes else self.say.say("each/joined")
            key = "each/amount" if step.amount.retained_percent < 99.5 else "each/amount_more"
            lines.append(self.say.say(key, compared=compared.rstrip("."), **self._numbers(step.amount)))
            if step.direct:
                names = [self.study(key) for key in dict.fromkeys(s.study for s in step.studies)]
                lines.append(self.say.count("each/studies", len(names), studies=self.say.joined(names)))
                if step.storage is not None and step.storage.fitted and step.asked.days is not None:
                    lines.append(self.say.say("each/by_time"))
            if step.consistency.tested:
                lines.append(self._agreement(step))
        elif step.storage is not None and step.storage.measured_days:
            days = self.say.joined([_time(day, self.say) for day in step.storage.measured_days])
            lines.append(self.say.say("each/no_window", days=days))
        else:
            key = "each/words" if step.said else "each/no_evidence"
            lines.append(self.say.say(key, component=self.name(answer)))
        if step.said:
            classes = [each.baseline for each in step.said]
            saw = what_they_saw(step.said, self.plain)
            lines.append(self.say.say("each/in_words", compared=compared_with(classes, self.plain), what_they_saw=saw))
        if step.storage is not None and not step.beyond:
            lines += self.over_time(step.storage, self.noun(step.asked))
        return StepSentences(self.noun(step.asked), self.say.say(f"mark/{mark}"), tuple(lines))

    def agreement(self, answer: PathAnswer) -> str:
        """Return whether all figures behind the path agree, as far as anything can tell; empty without a figure."""
        if not any(step.amount is not None for step in answer.steps):
            return ""
        found = answer.agreement
        if found is None:
            tested = any(step.consistency.tested for step in answer.steps)
            return "" if tested else self.say.say("agree/cannot")
        key = "all_differ" if found.p < self.rules.path.inconsistency_p else "all_fit"
        p = self.say.number(found.p, 2)
        shown = self.say.say("agree/p_small") if found.p < 0.005 else self.say.say("agree/p", p=p)
        return self.say.count(f"agree/{key}", found.df, q=self.say.number(found.q, 1), p=shown)

    def _agreement(self, step: StepAnswer) -> str:
        found = step.consistency
        low, high = found.ci_low or 0.0, found.ci_high or 0.0
        sentence = self.say.say("agree/fits" if low <= 100 <= high else "agree/differs")
        return self.say.say(
            "agree/tested",
            ratio=self.parts(found.ratio_percent or 0.0),
            low=self.parts(low),
            high=self.parts(high),
            sentence=sentence,
        )

    def over_time(self, store: StoreAnswer, step: str) -> list[str]:
        """Return how long until so many of 100 parts are left, or that nobody has measured it."""
        level = self.say.number(self.rules.storage.left_percent)
        if store.curve is None or store.left is None:
            return [self.say.say("store/none", level=level)]
        curve, left = store.curve, store.left
        longest = _time(float(curve.days[-1]), self.say)
        told = []
        if curve.rate_low <= 0 <= curve.rate_high or curve.rate < 0:
            told.append(self.say.say("store/no_slope", longest=longest))
        if left.days is None:
            key = "store/not_yet_plain" if left.low is None else "store/not_yet"
            low = "" if left.low is None else self._when(left.low)
            told.append(self.say.say(key, longest=longest, low=low, level=level))
        elif left.days == 0:
            ends = sorted(100 * math.exp(float(curve.middle[at])) for at in (0, -1))
            low, high = self.parts(ends[0]), self.parts(ends[1])
            key = "store/about" if low == high else "store/span"
            span = self.say.say(key, low=low, high=high)
            told.append(self.say.say("store/at_once", longest=longest, left=span, level=level))
        else:
            low = self._when(left.low or 0.0)
            high = self.say.say("store/longer") if left.high is None else self._when(left.high)
            days = _time(left.days, self.say)
            told.append(self.say.say("store/steady", days=days, step=step, low=low, high=high, level=level))
        told.append(self.say.say("store/no_limit"))
        if store.other is not None:
            apart = max(abs(left_percent - store.other["first"]) for left_percent in store.other.values())
            key = "store/shape_little" if apart < 0.5 else "store/shape"
            told.append(self.say.say(key, longest=longest, apart=self.parts(apart)))
        return told

    def _when(self, days: float) -> str:
        return self.say.say("store/at_once_word") if days == 0 else _time(days, self.say)

    def missing(self, answer: PathAnswer) -> tuple[str, ...]:
        """Return the smallest measurements that would settle it."""
        return tuple(self._missing(each, answer) for each in answer.missing)

    def _missing(self, missing: Missing, answer: PathAnswer) -> str:
        first, last = answer.steps[missing.first].asked, answer.steps[missing.last].asked
        key = "from_fresh" if missing.first == 0 else "one" if missing.first == missing.last else "run"
        return self.say.say(f"missing/{key}", component=self.name(answer), first=self.noun(first), last=self.noun(last))

    def assumptions(self, answer: PathAnswer) -> tuple[str, ...]:
        """Return what the group shows, said to be an assumption."""
        return tuple(
            self.say.say(
                "assumed/group", step=each.step, component=self.name(answer),
                components=self.say.joined([self._name_of(key) for key in each.components]),
                kept=self.parts(each.retained_percent), lowest=self.parts(each.lowest),
                highest=self.parts(each.highest),
            )
            for each in answer.assumptions
        )  # fmt: skip

    def row(self, answer: PathAnswer) -> str:
        """Return the path in one line, for a table of components; empty where nothing can be said from fresh milk."""
        if answer.status in ("estimated", "bounded"):
            return self.table_amount(answer.reach)
        furthest = self.furthest(answer)
        if furthest is None:
            return ""
        amount = self.table_amount(furthest.so_far)
        return self.say.say("table/so_far", step=self.noun(furthest.asked), amount=amount)

    def table_amount(self, reach: Reach) -> str:
        """Return a reach in a few words."""
        low = None if reach.ci_low is None else self.parts(reach.ci_low)
        high = None if reach.ci_high is None else self.parts(reach.ci_high)
        if reach.status == "estimated":
            return self.say.say("table/estimated", kept=self.parts(reach.retained_percent or 0.0), low=low, high=high)
        if reach.ci_high is not None and reach.ci_high < 100:
            return self.say.say("table/bounded" if low is not None else "table/at_most", low=low, high=high)
        return self.say.say("table/bounded_open" if low is not None else "table/neither_end", low=low)

    def _numbers(self, amount: Amount) -> dict[str, str]:
        kept = amount.retained_percent
        return {
            "kept": self.parts(kept), "gone": self.parts(max(100 - kept, 0)),
            "low": self.parts(amount.ci_low), "high": self.parts(amount.ci_high),
        }  # fmt: skip
