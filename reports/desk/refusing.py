"""Honest refusals: no evidence, with the nearest question that has an answer; or not understood, with three of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from reports.desk.cards import Card, Lead
from reports.desk.clerk import FREEZER, NUTRIENTS, Clerk
from reports.desk.matching import near
from reports.desk.questions import DRYING, Asked, Message
from reports.desk.remembering import is_number, told_of
from reports.desk.reply import Reply
from reports.desk.text import normalised, shown
from reports.words.names import Name

__all__ = ["about_kinds", "no_evidence", "not_understood", "unanswered", "with_nearest"]

DRIED_OR_FROZEN = ("freeze-dried", "frozen", "kept", "spray-dried")
_MOST_LINES = 4
_LONGEST_WORD = 40  # letters


def no_evidence(clerk: Clerk, asked: Asked, component: str, mine: Sequence[Card], question: str) -> Reply:
    """Return an honest refusal, with the nearest question that has an answer and the paper that might settle it."""
    _, notes = clerk.cards(component)
    words = clerk.words_for(asked)
    step = asked.handling.split(":")[0]
    name = clerk.name(component)
    if asked.part == "path":
        sentence = clerk.say.say("no_evidence/path", component=name, noun=words.noun)
    elif not mine and step in notes["between"]:
        noun = Name(words.noun) if not isinstance(words.noun, Name) else words.noun
        sentence = notes["between"][step].format_map({"noun": noun, **noun.fields("noun"), "after": words.after})
    else:
        sentence = clerk.main.say("answer/no_evidence", component=name, after=words.after)
    steps = {part.split(":")[0] for part in asked.handling.split("+")}
    alike = [
        card for card in clerk.cards(component)[0] if steps & {part.split(":")[0] for part in card.kind.split("+")}
    ]
    lines = [card.line_named for card in mine or alike]
    reply = clerk.blank(
        "no_evidence", sentence, component=component, handling=clerk.key_of(asked), question=question,
        others=tuple(line for line in lines if line)[: _MOST_LINES - 1],
    )  # fmt: skip
    looked = bool(mine) or step in notes["between"] or asked.part == "path"
    return with_nearest(clerk, reply, asked, component, measured=looked)


def with_nearest(clerk: Clerk, reply: Reply, asked: Asked, component: str, *, measured: bool) -> Reply:
    """Return a reply with the nearest question that has an answer, and the paper that might settle it.

    measured: whether anyone is known to have measured it, be it in a way that answers nothing.
    """
    _, notes = clerk.cards(component)
    close = nearest(clerk, asked, component)
    parts = [reply.sentence]
    if close:
        parts.append(clerk.say.say("no_evidence/nearest", question=close[0]))
    steps = [step.split(":")[0] for step in asked.handling.split("+")]
    near_by = (paper for kind, paper in notes["papers"].items() if kind.split(":")[0] in steps)
    paper = notes["papers"].get(asked.handling) or next(near_by, None)
    told = [*parts, clerk.say.say("no_evidence/paper", reference=paper)] if paper else list(parts)
    if paper is None and not measured:
        told.append(clerk.say.say("no_evidence/no_paper"))
    spoken = clerk.say.say("phone_nutrients", told=" ".join(parts))
    return replace(
        reply, sentence=" ".join(told), alternatives=tuple(close), say=spoken,
        email=" ".join([spoken, *told[len(parts) :]]),
    )  # fmt: skip


def nearest(clerk: Clerk, asked: Asked, component: str) -> list[str]:
    """Return the nearest question that has an answer: the same component, else the same family, else the step."""
    steps = asked.handling.split("+")
    family_of = clerk.notes["families"][component]

    def distance(lead: Lead) -> tuple[int, int, int, str]:
        same_kind = lead.kind == asked.handling or (lead.kind in FREEZER and asked.handling in FREEZER)
        same_step = lead.kind.split(":")[0] in [step.split(":")[0] for step in steps]
        dried = any(step in lead.kind for step in ("dried", "frozen"))
        handling = 0 if same_kind else 1 if same_step else 2 if dried else 3
        named = 0 if lead.component == component else 2 if lead.family == family_of else 5
        return (named + handling, -lead.figures, 0, lead.number)

    key = (component, asked.handling)
    if key not in clerk.near:
        best = min(clerk.answered, key=distance, default=None)
        clerk.near[key] = [] if best is None else [clerk.ask(best)]
    return clerk.near[key]


def about_kinds(clerk: Clerk, kinds: Sequence[str]) -> list[str]:
    """Return the questions that have answers for kinds of handling, drying otherwise; most studies first."""
    wanted = {each for kind in kinds for each in (FREEZER if kind == "frozen:home" else (kind,))}
    told = [lead for lead in clerk.answered if lead.figures and lead.group in NUTRIENTS]
    mine = [lead for lead in told if lead.kind in wanted] or [lead for lead in told if lead.kind == DRYING]
    mine.sort(key=lambda lead: (-lead.figures, lead.number))
    return list(dict.fromkeys(clerk.ask(lead) for lead in mine))


def unanswered(clerk: Clerk, text: str, message: Message) -> Reply:
    """Return what can be said where no question was found: of a remembered number at least what it was."""
    told: list[str] = []
    for each in message.remembered:
        rows = [row for row in clerk.figures() if is_number(row, each) and row.kind.startswith(DRIED_OR_FROZEN)]
        told += told_of(clerk, each, rows, "")
        if rows:
            told.append(clerk.say.say("remembered/which"))
    sentence = " ".join([*told, clerk.say.say("not_understood/general")])
    return not_understood(clerk, text, message, sentence)


def not_understood(clerk: Clerk, text: str, message: Message, sentence: str, instead: Sequence[str] = ()) -> Reply:
    """Return the three nearest questions that have answers; instead: other ones to offer."""
    near_names = [_nearest_name(clerk, word) for word in normalised(text[:2000]).split()[:40]]
    components = [each for each in near_names if each]
    likely = [
        clerk.ask(lead) for component in components for lead in clerk.leads
        if lead.component == component and lead.kind == DRYING and lead.status == "answered"
    ]  # fmt: skip
    questions = list(dict.fromkeys([*instead, *likely, *about_kinds(clerk, message.handlings)]))[:3]
    return clerk.blank(
        "not_understood", sentence, alternatives=tuple(questions),
        question=clerk.say.say("question/unread", message=shown(text)), say=" ".join([sentence, *questions]),
    )  # fmt: skip


def _nearest_name(clerk: Clerk, word: str) -> str | None:
    if word in clerk.lexicon.known or len(word) > _LONGEST_WORD:
        return None
    name = near(word, clerk.lexicon, 70)
    meanings = [] if name is None else clerk.lexicon.phrases[name]
    return next((identity for kind, identity in meanings if kind == "component"), None)
