"""Half-remembered numbers: never repeated as true; said what they were and against what, or that no row has them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from reports.desk.cards import Figure
from reports.desk.clerk import Clerk
from reports.desk.questions import DRYING, Remembered
from reports.desk.reply import Reply
from reports.words.handlings import handling_words
from reports.words.names import Name

__all__ = ["is_number", "told_of", "where_to_say", "with_number"]


def where_to_say(
    clerk: Clerk, component: str | None, replies: Sequence[Reply], remembered: Sequence[Remembered]
) -> int:
    """Return which of a component's replies a remembered number belongs to: the one it stands in, else the first."""
    mine = [at for at, reply in enumerate(replies) if reply.component == component]
    numbers = {row.number for row in clerk.figures() for each in remembered if is_number(row, each)}
    return next((at for at in mine if replies[at].number in numbers), mine[0])


def with_number(clerk: Clerk, reply: Reply, remembered: Sequence[Remembered], *, every: bool = False) -> Reply:
    """Say of a remembered number what it was, and against what, or that no row has it.

    every: the question was about all nutrients, so that rows of any component may be meant.
    """
    told: list[str] = []
    steps = {part.split(":")[0] for part in (reply.handling or DRYING).split("+")}

    def apart(row: Figure) -> tuple[bool, bool]:
        return row.number != reply.number, not steps & {part.split(":")[0] for part in row.kind.split("+")}

    for each in remembered:
        rows = [row for row in clerk.figures() if (every or row.component == reply.component) and is_number(row, each)]
        rows = [row for row in rows if not (every and apart(row)[1])]
        name = clerk.name(reply.component) if reply.component and not every else ""
        here = [row for row in rows if not apart(row)[1]]
        if rows and not here:  # the number is one of another handling: said so before it is said
            after = handling_words(reply.handling or DRYING, clerk.main).after
            told.append(
                clerk.say.say("remembered/none_here", percent=f"{each.percent:g}", component=name, after=after)
            )  # fmt: skip
        told += told_of(clerk, each, sorted(here or rows, key=apart), name, elsewhere=not here)
    sentence = " ".join([*told, reply.sentence])
    return replace(reply, sentence=sentence, say=" ".join([*told, reply.say]), email=" ".join([*told, reply.email]))


def told_of(
    clerk: Clerk, remembered: Remembered, rows: Sequence[Figure], component: str, *, elsewhere: bool = False
) -> list[str]:
    """Return the sentences on a remembered number; rows: those that have it, the likeliest first."""
    percent = f"{remembered.percent:g}"
    if not rows:
        key = "none" if component else "none_at_all"
        return [clerk.say.say(f"remembered/{key}", percent=percent, component=component)]
    told: list[str] = []
    for place, row in enumerate(rows[:2]):
        loss = remembered.direction == "loss" or abs(row.lost - remembered.percent) <= 0.5
        key = "another" if place or elsewhere else "loss" if loss else "kept"
        value = max(0.0, row.lost if key != "kept" else 100 - row.lost)
        told.append(
            clerk.say.say(
                f"remembered/{key}", percent=percent, study=row.study, percent_row=f"{value:.0f}",
                component=Name(*row.name), after=row.after, compared=row.compared,
            )
        )  # fmt: skip
    if remembered.fresh and not any(row.fresh for row in rows[:2]):
        told.append(clerk.say.say("remembered/not_fresh"))
    return told


def is_number(row: Figure, remembered: Remembered) -> bool:
    """Return whether a row's figure is the remembered one, rounded to a whole percent."""
    lost, kept = abs(row.lost - remembered.percent) <= 0.5, abs(100 - row.lost - remembered.percent) <= 0.5
    return {"loss": lost, "kept": kept}.get(remembered.direction, lost or kept)
