"""The desk: a message in, replies out, in the message's own language or the one that is asked for."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from functools import lru_cache
from typing import TYPE_CHECKING, Any
from weakref import WeakKeyDictionary

from reports.desk.answering import answers
from reports.desk.clerk import Clerk
from reports.desk.language import UNKNOWN
from reports.desk.notes import Notes, notes_for
from reports.desk.questions import Message, read_message
from reports.desk.refusing import about_kinds, not_understood, unanswered
from reports.desk.reply import Reply
from reports.desk.vocabulary import LANGUAGES, Lexicon

if TYPE_CHECKING:
    from evidence.store.connection import Store

__all__ = ["Desk", "reply_to"]


class Desk:
    """A desk that is open: reads messages and replies from notes; what it has read once it keeps in memory."""

    def __init__(self, notes: Notes) -> None:
        self._read = lru_cache(maxsize=None)(notes.read)
        told = self._read("told")
        self.told = {language: frozenset(names) for language, names in told.items()}
        self._clerks: dict[str, Clerk] = {}

    def lexicon(self, language: str) -> Lexicon:
        """Return a language's lexicon."""
        return self.clerk(language).lexicon

    def clerk(self, language: str) -> Clerk:
        """Return who replies in a language."""
        if language not in self._clerks:
            self._clerks[language] = Clerk(language, self._read)
        return self._clerks[language]

    def message(self, text: str, language: str | None = None, today: date | None = None) -> Message:
        """Return what a message asks; language: that of the message, found out where it is None.

        today: the day up to which "since March" counts; without it such a time is not read.
        """
        return read_message(text, _Lexicons(self), self.told, self.clerk("en").harm, language, today)

    def replies(self, text: str, language: str | None = None, today: date | None = None) -> list[Reply]:
        """Return the replies to a message in order; language: that of message and reply, None: the message's own.

        Raises ValueError for a language there are no words in.
        """
        if language is not None and language not in LANGUAGES:
            raise ValueError(f'No words in the language "{language}"; there are words in: {", ".join(LANGUAGES)}.')
        message = self.message(text, None, today)
        if message.language != UNKNOWN and language is not None and message.language != language:
            message = replace(message, language=language)
        return self._composed(text, message, language)

    def _composed(self, text: str, message: Message, language: str | None) -> list[Reply]:
        clerk = self.clerk(language or ("en" if message.language == UNKNOWN else message.language))
        first = [clerk.redirected(each) for each in message.redirects if clerk.redirects[each].harm]
        last = [clerk.redirected(each) for each in message.redirects if not clerk.redirects[each].harm]
        if message.language == UNKNOWN:
            offered = [asked for each in LANGUAGES for asked in about_kinds(self.clerk(each), ())[:1]]
            told = " ".join(self.clerk(each).say.say("not_understood/language") for each in LANGUAGES)
            unread = replace(not_understood(clerk, text, message, told, offered), lang=UNKNOWN)
            return [*(replace(each, lang=UNKNOWN) for each in first), unread]
        answered = answers(clerk, message)
        if not answered and not message.redirects:
            answered = [unanswered(clerk, text, message)]
        return [*first, *answered, *last]


class _Lexicons(dict[str, Lexicon]):
    """Lexicons by language, read when they are asked for."""

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self._desk = desk

    def __missing__(self, language: str) -> Lexicon:
        return self._desk.lexicon(language)


_DESKS: WeakKeyDictionary[Any, tuple[str, Desk]] = WeakKeyDictionary()


def reply_to(text: str, store: Store, language: str | None = None) -> list[Reply]:
    """Return the replies to a message: harm first, then one a question in order, then what is for someone else."""
    from evidence.findings import ensure_evidence
    from evidence.store.reading import edition

    ensure_evidence(store)
    there = edition(store)
    assert there is not None
    kept = _DESKS.get(store)
    if kept is None or kept[0] != there.hash:  # own rows may have come in since
        kept = (there.hash, Desk(notes_for(store)))
        _DESKS[store] = kept
    return kept[1].replies(text, language)
