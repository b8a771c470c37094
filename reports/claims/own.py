"""The project's own lines, known when they are met again: sentences of answers, rows as printed, references, names."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Sequence
from functools import cached_property, lru_cache

from evidence.findings.finding import Finding
from reports.claims.holdings import Holdings, may_stand, own_sentences, said_in
from reports.claims.split import is_reference, split_block
from reports.claims.vocabulary import LANGUAGES, tokens_of
from reports.words.catalogue import Catalogue, english_messages, load_catalogue
from reports.words.named import caution_text, what_it_does
from reports.words.printed import as_printed, reason_words
from reports.words.references import reference_line, short_name

__all__ = ["OwnLines"]

# a reference's own number, as lists print it before the first name
_NUMBERED = re.compile(r"^\W*\d{1,3}\W*")
_PARTS = ("main", "layout", "rows", "in_a_day")  # of the catalogue, what sheets print
_TITLE_STARTS = 3  # tokens by which a title is looked up
_REFERENCE_STARTS = 2  # tokens by which a reference is looked up


class OwnLines:
    """What the project itself prints of a store's findings, rows and papers; looked up as it is needed."""

    def __init__(self, holdings: Holdings) -> None:
        self._holdings = holdings
        self._whole: dict[str, dict[str, tuple[Finding, bool]]] = {}
        self._sentences: dict[tuple[str, str], dict[str, tuple[Finding, bool]]] = {}

    def finding(self, tokens: Sequence[str], components: Iterable[str], language: str) -> tuple[Finding, bool] | None:
        """Return the finding on one of the components whose own sentence this is; marks of sources do not count.

        With it: whether the sentence carries the comparison, and so the finding; the others say what is not known.
        """
        words = _line(tokens)
        for component in dict.fromkeys(components):
            found = self._said_of(component, language).get(words)
            if found is not None:
                return found
        return self._answers(language).get(words)

    def _answers(self, language: str) -> dict[str, tuple[Finding, bool]]:
        """Return the wordings of all findings that name their component themselves and need no words before them."""
        if language not in self._whole:
            library = self._holdings.library
            told: dict[str, tuple[Finding, bool]] = {}
            for finding in (each for mine in self._holdings.found.values() for each in mine):
                first = split_block(may_stand(finding, library, language))[0]
                if finding.figure_studies:
                    told[_line(tokens_of(first))] = (finding, True)
            self._whole[language] = told
        return self._whole[language]

    def _said_of(self, component: str, language: str) -> dict[str, tuple[Finding, bool]]:
        if (component, language) not in self._sentences:
            told: dict[str, tuple[Finding, bool]] = {}
            phrases = _comparisons(said_in(language))
            for finding in self._holdings.found.get(component, ()):
                for sentence in own_sentences(finding, self._holdings.library, language):
                    for piece in split_block(sentence):
                        line = _line(tokens_of(piece))
                        compares = bool(finding.every_study) and any(phrase in line for phrase in phrases)
                        told.setdefault(line, (finding, compares))
            self._sentences[component, language] = told
        return self._sentences[component, language]

    def is_line(self, tokens: Sequence[str]) -> bool:
        """Return whether this is a line of a table: a row's result, why a row is left out, what a component does."""
        words = _line(tokens)
        if words in self._lines or words.partition(" : ")[2] in self._lines or self._step.fullmatch(words):
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

    def without_titles(self, tokens: Sequence[str]) -> list[str]:
        """Return the tokens of a line without the title of the paper that it cites; one that is all title is left."""
        for place in range(len(tokens)):
            for title in self._titles.get(tuple(tokens[place : place + _TITLE_STARTS]), ()):
                if len(title) < len(tokens) and tuple(tokens[place : place + len(title)]) == title:
                    return [*tokens[:place], *tokens[place + len(title) :]]
        return list(tokens)

    @cached_property
    def _titles(self) -> dict[tuple[str, ...], list[tuple[str, ...]]]:
        found: dict[tuple[str, ...], list[tuple[str, ...]]] = defaultdict(list)
        for title in sorted(self._holdings.titles, key=len, reverse=True):
            tokens = tuple(tokens_of(title.rstrip(".")))
            if len(tokens) > _TITLE_STARTS:
                found[tokens[:_TITLE_STARTS]].append(tokens)
        return found

    @cached_property
    def _references(self) -> dict[tuple[str, ...], list[str]]:
        found: dict[tuple[str, ...], list[str]] = defaultdict(list)
        for say in self._says:
            for study in self._holdings.library.studies.values():
                tokens = tokens_of(reference_line(study, say))
                found[tuple(tokens[:_REFERENCE_STARTS])].append(" ".join(tokens))
        return found

    @cached_property
    def _says(self) -> list[Catalogue]:
        return [load_catalogue(language) for language in dict.fromkeys(said_in(language) for language in LANGUAGES)]

    @cached_property
    def _rows(self) -> frozenset[str]:
        """Results of rows as tables print them: a paper's figures beside its name, and no sentence."""
        rows = self._holdings.library.measurements.values()
        pieces = (piece for say in self._says for row in rows for piece in split_block(as_printed(row, say)))
        lines = (" ".join(tokens_of(piece)) for piece in pieces)
        return frozenset(line for line in lines if any(sign.isdigit() for sign in line))

    @cached_property
    def _lines(self) -> frozenset[str]:
        library = self._holdings.library
        reasons = {each.reason for mine in self._holdings.found.values() for f in mine for each in f.not_pooled}
        told: list[str] = []
        for say in self._says:
            told += [reason_words(reason, say) for reason in reasons]
            told += [short_name(study, say) for study in library.studies.values()]
            told += [what_it_does(component, say) for component in library.components.values()]
            told += [piece for caution in library.cautions for piece in split_block(caution_text(caution, say))]
            for part in _PARTS:
                told += [piece for text in _fixed(part, say.language) for piece in split_block(text)]
        return frozenset(line for line in (_line(tokens_of(text)) for text in told) if line)

    @cached_property
    def _step(self) -> re.Pattern[str]:
        """The reasons to be less sure, as clinicians read them: templates whose numbers the rules fill in."""
        texts = [text for say in self._says for text in say.table("step").values()]
        pieces = [[re.escape(" ".join(tokens_of(part))) for part in re.split(r"{\w+}", text)] for text in texts]
        return re.compile("|".join(r" ?\S+(?: \S+){0,2} ?".join(each) for each in pieces))


@lru_cache(maxsize=4)
def _comparisons(language: str) -> tuple[str, ...]:
    """Return how our sentences say what a figure was compared with: whole, or their beginning where parts follow."""
    say = load_catalogue(language)
    texts = [*say.table("compared").values(), *say.table("against").values()]
    begins = (" ".join(tokens_of(text.partition("{")[0])) for text in texts)
    return tuple(dict.fromkeys(begin for begin in begins if begin.count(" ") >= 1))


def _fixed(part: str, language: str) -> list[str]:
    """Return the messages of a part of the catalogue that are printed as they stand, headings and labels of pages."""
    say = load_catalogue(language, part)
    sections = [name for name, value in english_messages(part).items() if not isinstance(value, str)]
    messages = [text for section in ["", *sections] for text in say.table(section).values()]
    return [text for text in messages if "{" not in text]


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
