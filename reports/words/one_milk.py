"""One client's own milk in sentences: what studies let us expect of it, what nobody knows, water for one bag."""

from __future__ import annotations

from collections.abc import Sequence

from evidence.findings.mixing import Mass, Mixing
from evidence.findings.path import PathAnswer, StepAnswer
from evidence.findings.path_reading import Reach
from reports.words.path_words import PathWords

__all__ = ["expected", "how_sure", "not_known", "water_for_a_bag"]


def _told(reach: Reach, section: str, words: PathWords, **values: object) -> str | None:
    """Return a reach as a sentence; None where neither end can be given."""
    low = None if reach.ci_low is None else words.parts(reach.ci_low)
    high = None if reach.ci_high is None or reach.ci_high >= 100 else words.parts(reach.ci_high)
    if reach.status == "bounded":
        key = {(True, True): "bounded", (True, False): "bounded_open", (False, True): "at_most"}.get(
            (low is not None, high is not None)
        )
        return None if key is None else words.say.say(f"sheet/{section}{key}", low=low, high=high, **values)
    wide = (reach.ci_low or 0.0) < words.rules.printing.cant_tell_below_percent and (reach.ci_high or 0.0) > 100
    return words.say.say(
        f"sheet/{section}{'cant_tell' if wide else 'estimated'}", kept=words.parts(reach.retained_percent or 0.0),
        low=low, high=words.parts(reach.ci_high or 0.0), **values,
    )  # fmt: skip


def _place(answer: PathAnswer, step: StepAnswer) -> int:
    return answer.steps.index(step) + 1


def _then(answer: PathAnswer, after: int, words: PathWords) -> str:
    """Return why a path ends after so many steps."""
    for number, step in enumerate(answer.steps[after:], start=after + 1):
        if step.beyond:
            return words.say.say("sheet/then_beyond", step=number)
        if step.amount is None:
            return words.say.say("sheet/then_unmeasured", step=number)
    return words.say.say("sheet/then_unknown")


def expected(answer: PathAnswer, words: PathWords) -> str:
    """Return what studies let us expect of one part of milk, in one sentence."""
    if answer.status in ("estimated", "bounded"):
        told = _told(answer.reach, "", words)
        if told is not None:
            return told
    for step in reversed(answer.steps[:-1] if answer.steps else ()):
        if step.so_far.status is not None:
            number = _place(answer, step)
            told = _told(step.so_far, "so_far_", words, step=number, then=_then(answer, number, words))
            if told is not None:
                return told
    for step in answer.steps:
        if step.amount is not None:
            amount = step.amount
            return words.say.say(
                "sheet/alone", step=_place(answer, step), kept=words.parts(amount.retained_percent),
                low=words.parts(amount.ci_low), high=words.parts(amount.ci_high),
            )  # fmt: skip
    return words.say.say("sheet/nothing")


def not_known(answers: Sequence[PathAnswer], words: PathWords) -> tuple[str, ...]:
    """Return what nobody knows: the steps without a figure, and for whom the milk's past is not stated."""
    say = words.say
    # steps that lack a figure for the same parts are told together
    by_names: dict[tuple[str, ...], list[int]] = {}
    for place in range(len(answers[0].steps) if answers else 0):
        lacking = tuple(words.name(answer) for answer in answers if answer.steps[place].amount is None)
        if lacking:
            by_names.setdefault(lacking, []).append(place)
    told = []
    for names, places in by_names.items():
        key = "lacking_all" if len(names) == len(answers) else "lacking"
        if len(places) == 1:
            which = say.say("sheet/one_step", number=places[0] + 1, step=words.noun(answers[0].steps[places[0]].asked))
        else:
            which = say.say("sheet/several_steps", numbers=say.joined([str(place + 1) for place in places]))
        told.append(say.say(f"sheet/{key}", steps=which, names=say.joined(names)))
    silent = [answer for answer in answers if any(step.status == "bounded" for step in answer.steps)]
    if silent:
        told.append(words.say.say("sheet/past", names=words.say.joined([words.name(answer) for answer in silent])))
    return tuple(told)


def how_sure(answers: Sequence[PathAnswer], followed: bool, words: PathWords) -> str:
    """Return how sure anyone can be of the page as a whole, and why; followed: one study went this whole way."""
    lacking = sum(any(step.amount is None for step in answer.steps) for answer in answers)
    if lacking:
        everyone = lacking == len(answers) and not followed
        key = "sure_all" if everyone else "sure_followed" if followed else "sure_none"
        return words.say.say(f"sheet/{key}", n=lacking, all=len(answers))
    enough = words.rules.path.sure_studies
    if all(
        step.direct and step.status == "estimated" and len({each.study for each in step.studies}) >= enough
        for answer in answers
        for step in answer.steps
    ):
        return words.say.say("sheet/sure_high", k=words.say.word(enough))
    return words.say.say("sheet/sure_low")


def water_for_a_bag(mixing: Mixing, words: PathWords) -> tuple[str, ...]:
    """Return the mass balance as sentences, with what stands before it: the local rules for water and hygiene."""
    say = words.say
    values = {
        "milk": _mass(mixing.milk, words), "powder": _mass(mixing.powder, words), "bag": _mass(mixing.bag, words),
        "milk_g": _grams(mixing.milk.grams, words), "powder_g": _grams(mixing.powder.grams, words),
        "bag_g": _grams(mixing.bag.grams, words), "ratio": say.number(mixing.milk_for_powder, 1),
        "water": _grams(mixing.water_g, words),
        "volume": say.say("sheet/millilitres", n=_number(mixing.water_g, words)),
        "made_up": _grams(mixing.made_up_g, words),
    }  # fmt: skip
    keys = ("water_rules", "water_balance", "water_bag")
    return tuple(say.say(f"sheet/{key}", **values) for key in keys)


def _mass(mass: Mass, words: PathWords) -> str:
    if mass.unit == "g":
        return _grams(mass.grams, words)
    written = {"number": mass.number, "unit": mass.unit}
    return words.say.say("sheet/grams_written", n=_number(mass.grams, words), **written)


def _grams(grams: float, words: PathWords) -> str:
    return words.say.say("sheet/grams", n=_number(grams, words))


def _number(grams: float, words: PathWords) -> str:
    """Return grams to the nearest whole one, below 50 to a tenth: kitchen scales show no more."""
    whole = grams >= 50 or abs(grams - round(grams)) < 0.05
    return words.say.number(grams, 0 if whole else 1)
