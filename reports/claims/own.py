"""The project's own lines, known when they are met again: sentences of answers, rows as printed, references, names."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
from functools import cached_property

from evidence.findings.finding import Finding
from evidence.model.tables import Component
from reports.claims.holdings import Holdings, own_sentences, said_in
from reports.claims.split import is_reference, split_block
from reports.claims.vocabulary import LANGUAGES, tokens_of
from reports.words.catalogue import load_catalogue
from reports.words.named import what_it_does
from reports.words.printed import as_printed
from reports.words.references import reference_line, short_name

__all__ = ["OwnLines"]

# a reference's own number, as lists print it before the first name
_NUMBERED = re.compile(r"^\W*\d{1,3}\W*")
_REFERENCE_STARTS = 2  # tokens by which a reference is looked up


class OwnLines:
    """What the project itself prints of a store's findings, rows and papers; looked up as it is needed."""

    def __init__(self, holdings: Holdings) -> None:
        self._holdings = holdings
        self._sentences: dict[tuple[str, str], dict[str, Finding]] = {}

    def finding(self, tokens: Sequence[str], components: Iterable[str], language: str) -> Finding | None:
        """Return the finding on one of the components whose own sentence this is; marks of sources do not count."""
        words = _line(tokens)
        for component in dict.fromkeys(components):
            found = self._said_of(component, language).get(words)
            if found is not None:
                return found
        return None

    def _said_of(self, component: str, language: str) -> dict[str, Finding]:
        if (component, language) not in self._sentences:
            told: dict[str, Finding] = {}
            for finding in self._holdings.found.get(component, ()):
                for sentence in own_sentences(finding, self._holdings.library, language):
                    for piece in split_block(sentence):
                        told.setdefault(_line(tokens_of(piece)), finding)
            self._sentences[component, language] = told
        return self._sentences[component, language]

    def is_line(self, tokens: Sequence[str]) -> bool:
        """Return whether this is a line of a table: a row's result, why a row is left out, what a component does."""
        words = _line(tokens)
        if words in self._lines or words.partition(" : ")[2] in self._lines:
            return True
        line = ""
        for token in tokens:  # a row's result with its notes behind it
            line = f"{line} {token}".strip()
            if line in self._rows:
                return True
        return False

    def cites(self, block: str) -> bool:
        """Return whether a block is a reference to a paper: by its form, or one of the store's own."""
        if is_reference(block):
            return True
        tokens = tokens_of(_NUMBERED.sub("", block))
        starts = (tuple(tokens[place : place + _REFERENCE_STARTS]) for place in range(len(tokens)))
        lines = [line for start in starts for line in self._references.get(start, ())]
        words = " ".join(tokens)
        return any(line in words for line in lines)

    @cached_property
    def _references(self) -> dict[tuple[str, ...], list[str]]:
        found: dict[tuple[str, ...], list[str]] = defaultdict(list)
        for study in self._holdings.library.studies.values():
            tokens = tokens_of(reference_line(study))
            found[tuple(tokens[:_REFERENCE_STARTS])].append(" ".join(tokens))
        return found

    @cached_property
    def _rows(self) -> frozenset[str]:
        """Results of rows as tables print them: a paper's figures beside its name, and no sentence."""
        rows = self._holdings.library.measurements.values()
        pieces = (piece for row in rows for piece in split_block(as_printed(row)))
        lines = (" ".join(tokens_of(piece)) for piece in pieces)
        return frozenset(line for line in lines if any(sign.isdigit() for sign in line))

    @cached_property
    def _lines(self) -> frozenset[str]:
        library = self._holdings.library
        told = [each.reason for mine in self._holdings.found.values() for f in mine for each in f.not_pooled]
        told += [short_name(study) for study in library.studies.values()]
        for language in dict.fromkeys(said_in(language) for language in LANGUAGES):
            told += [_does(component, language) for component in library.components.values()]
        return frozenset(_line(tokens_of(line)) for line in told if line)


def _does(component: Component, language: str) -> str:
    return what_it_does(component, load_catalogue(language))


def _line(tokens: Sequence[str]) -> str:
    """Return tokens as one line without marks of sources ("[5, 15]") and the point at its end."""
    kept: list[str] = []
    place = 0
    while place < len(tokens):
        end = _mark_end(tokens, place)
        if end is None:
            kept.append(tokens[place])
            place += 1
        else:
            place = end
    while kept and kept[-1] in ".;":
        kept.pop()
    return " ".join(kept)


def _mark_end(tokens: Sequence[str], start: int) -> int | None:
    """Return where a mark of sources that begins at start ends, or None where none begins."""
    if tokens[start] != "[":
        return None
    place = start + 1
    while place < len(tokens) and (tokens[place].replace(",", "").isdigit() or tokens[place] in ",–"):
        place += 1
    return place + 1 if place > start + 1 and place < len(tokens) and tokens[place] == "]" else None
