"""What a message asks: questions in order, each a component, a handling and a time; and what is for others."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from typing import TypeVar

from reports.desk.language import UNKNOWN, language_of
from reports.desk.matching import Found, matches_of, roles_of
from reports.desk.quantities import Quantities, Temperature, Time, quantities_of
from reports.desk.steps import Step, joined_key, paths_of, steps_of
from reports.desk.text import Words, words_of
from reports.desk.vocabulary import Lexicon

__all__ = ["Asked", "Message", "Remembered", "read_message"]

MOST_QUESTIONS = 12
_MOST_REMEMBERED = 3
_MOST_JOINING = 200  # joining words of one sentence that are looked at
_SentenceT = TypeVar("_SentenceT", Found, Time, Temperature)
DRYING = "freeze-dried"
SAFETY = "safety"
_OPENED, _STORAGE = "opened-pack", "storage"


@dataclass(frozen=True)
class Remembered:
    """A percentage somebody remembers: of what, if it was told: loss, kept or neither."""

    percent: float
    direction: str
    fresh: bool


@dataclass(frozen=True)
class Asked:
    """One question: component None where it is about the milk's nutrients as a whole.

    handling: a kind of handling, or kinds joined by + in the order in which they happened. days: (low, high), or None.
    place: a band of the handling's own (cold, room, warm). default: whether the handling was not told.
    part: which question of a path or comparison it is ("path", "step", "compared", or empty).
    """

    component: str | None
    handling: str
    days: tuple[float, float] | None
    place: str = ""
    celsius: float | None = None
    said: str = field(default="", compare=False)
    default: bool = False
    part: str = ""


@dataclass(frozen=True)
class Message:
    """A message read: its language ("und": one that cannot be read), its questions, redirects and remembered numbers.

    handlings are those named at all, for the nearest questions where nothing else was understood.
    """

    language: str
    questions: tuple[Asked, ...]
    redirects: tuple[str, ...]
    remembered: tuple[Remembered, ...]
    handlings: tuple[str, ...]


@dataclass(frozen=True)
class _Sentence:
    components: tuple[Found, ...]
    steps: tuple[Step, ...]
    roles: tuple[Found, ...]
    general: bool


def _without_negated(found: Sequence[Found], roles: Sequence[Found], words: Sequence[int]) -> list[Found]:
    """Leave out handlings right after "not", "without": not freeze-dried, just frozen."""
    order = {place: at for at, place in enumerate(words)}
    negated = {order[role.end] + 1 for role in roles if role.id == "not"}
    kept = [each for each in found if each.kind != "handling" or order[each.place] not in negated]
    return kept if any(each.kind == "handling" for each in kept) else list(found)


def _without_explained(found: Sequence[Found], message: Words) -> list[Found]:
    """Leave out a name whose bracket says which ones are meant: good fats (DHA and ARA)."""
    opened = {each.place - 1: each.id for each in found if each.kind == "component" and each.place}
    return [
        each
        for each in found
        if each.kind != "component"
        or message.tokens[min(each.end + 1, len(message.tokens) - 1)].raw != "("
        or opened.get(each.end + 1, each.id) == each.id
    ]


def _sentences(found: Sequence[Found], roles: Sequence[Found], read: Quantities, lexicon: Lexicon) -> list[_Sentence]:
    by_found, by_role = _by_sentence(found), _by_sentence(roles)
    by_time, by_heat = _by_sentence(read.times), _by_sentence(read.temperatures)
    made: list[_Sentence] = []
    for number in sorted(by_found.keys() | by_role.keys() | by_time.keys() | by_heat.keys()):
        mine, own = by_found.get(number, []), by_role.get(number, [])[:_MOST_JOINING]
        first = {each.id: each for each in reversed(mine) if each.kind == "component"}
        components = tuple(sorted(first.values(), key=lambda each: each.place))[:MOST_QUESTIONS]
        handlings = [each for each in mine if each.kind == "handling"]
        general = any(each.kind == "general" for each in mine)
        times, heats = by_time.get(number, [])[:MOST_QUESTIONS], by_heat.get(number, [])[:MOST_QUESTIONS]
        steps = steps_of(handlings, times, heats, own, lexicon)
        if steps or components or general or own:
            made.append(_Sentence(components, steps, tuple(own), general))
    return made


def _by_sentence(read: Iterable[_SentenceT]) -> dict[int, list[_SentenceT]]:
    grouped: dict[int, list[_SentenceT]] = defaultdict(list)
    for each in read:
        grouped[each.sentence].append(each)
    return dict(grouped)


def _pairs(sentence: _Sentence) -> list[tuple[list[str], list[Step]]]:
    """Return groups of components and the steps asked of them; "A after X and B after Y" is two groups."""
    marks = sorted(
        [(found.place, "c", found.id, None) for found in sentence.components]
        + [(step.position, "h", "", step) for step in sentence.steps],
        key=lambda mark: mark[0],
    )
    kinds = [mark[1] for mark in marks]
    runs = "".join(kind for at, kind in enumerate(kinds) if at == 0 or kinds[at - 1] != kind)
    if (
        runs not in ("chch", "hchc", "chchch", "hchchc")
        or paths_of(sentence.steps, sentence.roles, [found.place for found in sentence.components])[0]
    ):
        return [([mark[2] for mark in marks if mark[1] == "c"], list(sentence.steps))]
    groups: list[tuple[list[str], list[Step]]] = []
    first = kinds[0]
    for at, (_, kind, component, step) in enumerate(marks):
        if kind == first and (at == 0 or kinds[at - 1] != first):
            groups.append(([], []))
        if step is None:
            groups[-1][0].append(component)
        else:
            groups[-1][1].append(step)
    return groups


def _asked(
    components: Sequence[str | None], steps: Sequence[Step], roles: Sequence[Found], names: Sequence[int] = ()
) -> list[Asked]:
    if not steps:
        return [Asked(component, DRYING, None, default=True) for component in components]
    chains, apart = paths_of(steps, roles, names)
    if chains:
        made: list[Asked] = []
        for component in components:
            made.append(Asked(component, joined_key(chains), None, part="path"))
            # the last step first: it is the one that was asked about
            made += [replace(_of(component, step), part="step") for step in reversed(chains)]
            made += [_of(component, step) for step in apart]
        return made
    compared = "compared" if len({step.kind for step in steps}) > 1 and any(role.id == "than" for role in roles) else ""
    return [replace(_of(component, step), part=compared) for component in components for step in steps]


def _of(component: str | None, step: Step) -> Asked:
    return Asked(component, step.kind, step.days, step.band, step.celsius, step.said)


def _questions(sentences: Sequence[_Sentence], redirected: bool, softly: bool) -> list[Asked]:
    asked: list[Asked] = []
    waiting: list[_Sentence] = []  # handlings told before any component
    steps: tuple[Step, ...] = ()
    roles: tuple[Found, ...] = ()
    named: list[str] = []
    open_at: int | None = None  # where questions without a handling begin, which a later sentence may tell
    for sentence in sentences:
        if sentence.components:
            told = sentence.steps
            if told:
                places = [found.place for found in sentence.components]
                for group, mine in _pairs(sentence):
                    asked += _asked(group or named, mine or told, sentence.roles, places)
                steps, roles, open_at = told, sentence.roles, None
            else:
                if not steps and open_at is None:
                    open_at = len(asked)
                components = [found.id for found in sentence.components]
                asked += _asked(components, steps, roles)
            named = [found.id for found in sentence.components]
            waiting = []
        elif sentence.general:
            told = sentence.steps or steps
            asked += _asked([None], told, sentence.roles or roles)
            steps, roles = told, sentence.roles
            waiting = []
        elif sentence.steps:
            if open_at is not None:
                late = [each.component for each in asked[open_at:]]
                asked[open_at:] = _asked(late, sentence.steps, sentence.roles)
                open_at = None
            elif named:
                asked += _asked(named, sentence.steps, sentence.roles)
            else:
                waiting.append(sentence)
            steps = (*steps, *sentence.steps)[-MOST_QUESTIONS:] if waiting else sentence.steps
            roles = (*roles, *sentence.roles)[-_MOST_JOINING:]
    less = any(role.id in ("less", "left") for sentence in sentences for role in sentence.roles)
    if not asked and waiting and (less or not redirected) and (softly or not redirected):
        every = tuple(step for sentence in waiting[:MOST_QUESTIONS] for step in sentence.steps)
        asked = _asked([None], every, tuple(role for sentence in waiting[:MOST_QUESTIONS] for role in sentence.roles))
    return list(dict.fromkeys(asked))[:MOST_QUESTIONS]


def _redirects(
    message: Words,
    found: Sequence[Found],
    roles: Sequence[Found],
    read: Quantities,
    lexicon: Lexicon,
    harm: dict[str, tuple[bool, bool]],
) -> list[str]:
    """Return the redirects in order: urgent, about harm, others."""
    asking_leave = {role.place for role in roles if role.id == "may_i"}
    hits = [each.id for each in found if each.kind == "redirect"]
    if any(harm[each][1] and each != SAFETY for each in hits):  # "can I still" belongs to what is asked beside it
        asked_alone = [each for each in found if each.kind == "redirect" and each.place not in asking_leave]
        hits = [each.id for each in asked_alone] or hits
    if read.weeks_born is not None and read.weeks_born < lexicon.term_weeks:
        hits.append("premature")
    words: dict[int, set[str]] = {}
    for place in message.words:
        words.setdefault(message.tokens[place].sentence, set()).add(message.tokens[place].word)
    hits += [identity for parts, identity in lexicon.together if any(mine >= set(parts) for mine in words.values())]
    named = {each.sentence for each in found if each.kind in ("component", "handling")}
    if any(sentence not in named for sentence in read.fevers):
        hits.append(next(each for each, (urgent, _) in harm.items() if urgent))
    kinds = {each.kind for each in found}
    told = {role.id for role in roles}
    if "kept" in told and "powder" in told and not told & {"less", "left"} and not kinds & {"component", "general"}:
        hits.append(_STORAGE)  # powder that is kept, and nothing asked of what is in it
    asking = {role.sentence for role in roles if role.id == "how_long"}
    of_sentence: dict[int, set[str]] = defaultdict(set)
    for each in found:
        of_sentence[each.sentence].add(each.kind)
    alone = {number for number, mine in of_sentence.items() if not mine & {"component", "redirect", "general"}}
    if any("handling" in of_sentence[number] for number in asking & alone):
        hits.append(_STORAGE)  # how long milk or powder keeps, and nothing else
    if _OPENED in hits:  # of two questions about keeping, the one that was asked
        hits = [each for each in hits if each != _STORAGE]
    unique = list(dict.fromkeys(hits))
    return sorted(unique, key=lambda each: (not harm[each][0], not harm[each][1]))


def _remembered(read: Quantities, roles: Sequence[Found]) -> tuple[Remembered, ...]:
    made = []
    by_role = _by_sentence(roles)
    for percent in read.percents[:_MOST_REMEMBERED]:
        mine = {role.id for role in by_role.get(percent.sentence, [])}
        direction = "loss" if "less" in mine else "kept" if "left" in mine else ""
        made.append(Remembered(percent.value, direction, "fresh" in mine))
    return tuple(dict.fromkeys(made))


def read_message(
    text: str,
    lexicons: dict[str, Lexicon],
    told: dict[str, frozenset[str]],
    harm: dict[str, tuple[bool, bool]],
    language: str | None = None,
    today: date | None = None,
) -> Message:
    """Return what a message asks.

    lexicons and told: by language; harm: redirect -> (urgent, about harm). language: that of the message, found out
    where it is None. A message in a language that cannot be read is still looked through for words of harm.
    """
    words = words_of(text)
    spoken = language or language_of(text, words, told)
    lexicon = lexicons["en" if spoken == UNKNOWN else spoken]
    read = quantities_of(words, lexicon, today)
    found = matches_of(words.tokens, words.words, read.used, lexicon)
    roles = roles_of(words.tokens, words.words, lexicon)
    found = _without_explained(_without_negated(found, roles, words.words), words)
    if spoken == UNKNOWN:
        urgent = [each.id for each in found if each.kind == "redirect" and harm[each.id][0]]
        return Message(UNKNOWN, (), tuple(dict.fromkeys(urgent)), (), ())
    redirects = _redirects(words, found, roles, read, lexicon, harm)
    sentences = _sentences(found, roles, read, lexicon)
    softly = all(not harm[each][1] for each in redirects)
    questions = _questions(sentences, bool(redirects), softly)
    handlings = tuple(dict.fromkeys(step.kind for sentence in sentences for step in sentence.steps))
    return Message(spoken, tuple(questions), tuple(redirects), _remembered(read, roles), handlings)
