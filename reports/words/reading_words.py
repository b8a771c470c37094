"""The list of papers to get hold of, in words: why a paper is wanted, in one sentence, and what to copy from it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from evidence.model.tables import Component
from reports.words.catalogue import Catalogue, load_catalogue
from reports.words.handlings import load_handlings
from reports.words.named import component_name
from reports.words.printed import place_words

if TYPE_CHECKING:
    from evidence.findings.gain import Gain
    from evidence.findings.reading_list import ReadingListEntry

__all__ = ["reading_reason", "what_to_copy"]

_TURNS = ("first figure", "new question", "further figure", "own spread", "comparison")
_NAMED, _HANDLINGS, _COPIED, _PLACES = 4, 3, 8, 3


def reading_reason(entry: ReadingListEntry, components: Mapping[str, Component], say: Catalogue) -> str:
    """Return why a paper is wanted, in the language of the catalogue."""
    words = load_catalogue(say.language, "reading")
    told = [words.say("reason/nothing")]
    if entry.gains:
        clauses = _clauses(entry.gains, components, say, words)
        unstated = sum(gain.settles > 0 for gain in entry.gains)
        if unstated:
            clauses.append(words.count("reason/unstated", unstated))
        told = [words.say("reason/gains", clauses=say.joined(clauses))]
        key = f"reason/{entry.status.replace(' ', '_')}"
        told += [words.say(key)] if words.has(key) else []
    if entry.why:
        told.append(words.say("reason/known", why=entry.why))
    return " ".join(told)


def what_to_copy(entry: ReadingListEntry, components: Mapping[str, Component], say: Catalogue) -> tuple[str, ...]:
    """Return what to copy from the paper, a line each."""
    words, gains = load_catalogue(say.language, "reading"), entry.gains
    named = [_component(gain, components, say, words) for gain in gains if gain.component]
    names = _listed(named, _COPIED, say, words) if named else words.say("copy/every")
    lines = [words.say("copy/which")] if entry.status == "not identified" else []
    lines.append(words.say("copy/table", names=names))
    if not gains or any(gain.mothers is None for gain in gains):
        lines.append(words.say("copy/n"))
    if not gains or any(gain.settles > 0 or gain.turns in ("new question", "first figure") for gain in gains):
        lines.append(words.say("copy/compared"))
    lines += [words.say("copy/same"), words.say("copy/steps")]
    read = [place_words(place, say) for place in entry.where if place]
    if read:
        lines.append(words.say("copy/read", places=_listed(read, _PLACES, say, words)))
    return tuple(lines)


def _clauses(gains: Sequence[Gain], components: Mapping[str, Component], say: Catalogue, words: Catalogue) -> list[str]:
    clauses = []
    for turns in _TURNS:
        by_handling: dict[str, list[str]] = {}
        for gain in gains:
            if gain.turns == turns:
                name = _component(gain, components, say, words)
                by_handling.setdefault(_handling(gain.handling, say), []).append(name)
        told = [
            words.say("reason/by_handling", names=_listed(names, _NAMED, say, words), handling=noun)
            for noun, names in by_handling.items()
        ]
        if told:
            clauses.append(words.say(f"reason/{turns}", what=_listed(told, _HANDLINGS, say, words)))
    return clauses


def _listed(texts: Sequence[str], most: int, say: Catalogue, words: Catalogue) -> str:
    each = list(dict.fromkeys(texts))
    if len(each) <= most:
        return say.joined(each)
    return words.count("reason/more", len(each) - most, names=", ".join(each[:most]))


def _handling(key: str, say: Catalogue) -> str:
    known = load_handlings(say.language)
    parts = key.split(":")
    begins = (":".join(parts[:length]) for length in range(len(parts), 0, -1))
    words = next((known[each] for each in begins if each in known), None)
    # "frozen" alone stands for all kinds of freezing: the first kind's noun
    words = words or next((known[each] for each in known if each.startswith(f"{key}:")), None)
    if words is None and "+" in key:
        first, *rest = (_handling(step, say) for step in key.split("+"))
        for step in rest:
            first = say.say("handling/and_then", first=first, second=step)
        return first
    return words.noun if words is not None else key


def _component(gain: Gain, components: Mapping[str, Component], say: Catalogue, words: Catalogue) -> str:
    known = components.get(gain.component)
    return component_name(known, say) if known is not None else words.say("reason/unnamed")
