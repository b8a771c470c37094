"""Answers to what a message asks, one a question; a comparison says whether figures may stand side by side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from reports.desk.cards import Card, covers
from reports.desk.clerk import NUTRIENTS, Clerk, kinds_of
from reports.desk.questions import Asked, Message
from reports.desk.refusing import about_kinds, no_evidence, with_nearest
from reports.desk.remembering import where_to_say, with_number
from reports.desk.reply import Reply

__all__ = ["answers"]

_MOST_OF_ALL, _MOST_OF_SEVERAL = 12, 4
_MOST_LINES = 4


def answers(clerk: Clerk, message: Message) -> list[Reply]:
    """Return the answers to a message's questions, in order."""
    replies: list[Reply] = []
    asked_of: list[Asked] = []
    for asked in message.questions:
        most = _MOST_OF_ALL if len(message.questions) == 1 else _MOST_OF_SEVERAL
        made = of_everything(clerk, asked, most) if asked.component is None else [answer(clerk, asked, asked.component)]
        # a second time that falls into the same window has the same answer
        numbers = {reply.number for reply in replies if reply.number}
        new = [reply for reply in made if reply.number not in numbers]
        replies += new
        asked_of += [asked] * len(new)
    replies = _compared(clerk, replies, asked_of)
    if not message.remembered or not replies:
        return replies
    if all(asked.component is None for asked in asked_of):
        return [with_number(clerk, replies[0], message.remembered, every=True), *replies[1:]]
    for component in dict.fromkeys(reply.component for reply in replies):
        at = where_to_say(clerk, component, replies, message.remembered)
        replies[at] = with_number(clerk, replies[at], message.remembered)
    return replies


def chosen(clerk: Clerk, asked: Asked, component: str) -> tuple[list[Card], list[Card]]:
    """Return the cards of a kind of handling, and those of them for the time and place asked for."""
    cards, _ = clerk.cards(component)
    kinds = kinds_of(asked.handling)
    mine = [card for card in cards if card.kind in kinds]
    fitting = [card for card in mine if not asked.place or f":{asked.place}:" in card.handling]
    if band := clerk.band_of(asked):
        fitting = [card for card in fitting if card.handling.endswith(f":{band}")]
    if asked.days is not None and any(key in asked.handling for key in ("frozen", "chilled", "room", "kept")):
        fitting = [card for card in fitting if any(covers(card.handling, day) for day in set(asked.days))]
    return mine, fitting


def answer(clerk: Clerk, asked: Asked, component: str) -> Reply:
    """Return the answer to one question."""
    mine, fitting = chosen(clerk, asked, component)
    question = clerk.question(asked, component, fitting[0] if fitting else None)
    if not fitting:
        return no_evidence(clerk, asked, component, mine, question)
    first = fitting[0]
    others = [card.line if card.name == first.name else card.line_named for card in mine if card is not first]
    reply = clerk.blank(
        first.status, first.sentence, number=first.number, component=component,  # type: ignore[arg-type]
        handling=first.handling, retained_percent=first.retained_percent, ci_low=first.ci_low,
        ci_high=first.ci_high, interval_kind=first.interval_kind, interval_level=first.interval_level,
        k_studies=first.k_studies, k_rows=first.k_rows, baselines=dict(first.baselines),
        flags=tuple(first.flags), certainty=first.certainty,
        how_sure=first.how_sure, others=tuple(line for line in others if line)[:_MOST_LINES],
        studies=first.cited, say=first.phone, email=first.email, question=question,
    )  # fmt: skip
    return with_nearest(clerk, reply, asked, component, measured=True) if first.status == "no_evidence" else reply


def of_everything(clerk: Clerk, asked: Asked, most: int) -> list[Reply]:
    """Return the answers for all nutrients measured: those with figures, else with words, else what is listed."""
    kinds = kinds_of(asked.handling)
    mine = [lead for lead in clerk.leads if lead.kind in kinds and lead.group in NUTRIENTS]
    if asked.days is not None:
        mine = [lead for lead in mine if any(covers(lead.handling, day) for day in set(asked.days))]
    mine.sort(key=lambda lead: (-lead.figures, lead.status == "no_evidence", lead.number))
    told = [lead for lead in mine if lead.figures] or [lead for lead in mine if lead.status == "words_only"] or mine
    if asked.part == "path" and all(lead.status == "no_evidence" for lead in told):
        told = []  # one refusal for the whole way, not one a component
    components = list(dict.fromkeys(lead.component for lead in told))[:most]
    if components:
        return [answer(clerk, asked, component) for component in components]
    name, words = clerk.say.say("nutrients/name"), clerk.words_for(asked)
    if asked.part == "path":
        sentence = clerk.say.say("no_evidence/path", component=name, noun=words.noun)
    else:
        sentence = clerk.main.say("answer/no_evidence", component=name, after=words.after)
    nearest = about_kinds(clerk, asked.handling.split("+"))[:1]
    return [
        clerk.blank(
            "no_evidence", sentence, handling=asked.handling, question=clerk.question(asked, None, None),
            alternatives=tuple(nearest),
        )
    ]  # fmt: skip


def _compared(clerk: Clerk, replies: list[Reply], asked_of: Sequence[Asked]) -> list[Reply]:
    """Say after the last of two compared answers whether they may be held side by side."""
    made = list(replies)
    for component in dict.fromkeys(reply.component for reply in replies):
        at = [
            place for place, reply in enumerate(replies)
            if reply.component == component and asked_of[place].part == "compared" and reply.number
        ]  # fmt: skip
        if len(at) < 2:
            continue
        shared = set.intersection(*({study.key for study in replies[place].studies} for place in at))
        both = [study.key for study in replies[at[0]].studies if study.key in shared]
        named = clerk.cards(component)[1]["named"] if component and both else {}
        told = clerk.say.say("compare/same_study", study=named[both[0]]) if named else clerk.say.say("compare/apart")
        last = made[at[-1]]
        made[at[-1]] = replace(
            last, sentence=f"{last.sentence} {told}", say=f"{last.say} {told}", email=f"{last.email}\n{told}\n"
        )
    return made
