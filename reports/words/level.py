"""How hard a sentence is to read, one sentence at a time, by the formula of its language.

English: grade of schooling (Flesch-Kincaid; Kincaid and others 1975). Spanish: ease by Szigriszt-Pazos (1993), on the
INFLESZ scale. French: Flesch ease as Kandel and Moles (1958) fitted it to French. All through textstat.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from evidence.model.rules import Rules

__all__ = ["ReadingLevel", "SentenceLevel", "reading_level", "sentences_of"]

# a full stop ends a sentence where a capital follows; "vit. C" and "E. coli" do not
_END = re.compile(r"(?<=[a-zà-ÿ0-9)%»”\"][.!?])\s+(?=[«“\"¿¡A-ZÀ-Ý])")


@dataclass(frozen=True)
class SentenceLevel:
    """A sentence, its score, and how far it is past the limit (above zero: too hard; None where there is no limit)."""

    text: str
    score: float
    past: float | None


@dataclass(frozen=True)
class ReadingLevel:
    """The levels of a language's sentences, hardest first, and how many keep the limit."""

    language: str
    limit: float | None
    sentences: tuple[SentenceLevel, ...]

    @property
    def kept(self) -> int:
        """How many sentences are no harder than the limit."""
        return sum(each.past is None or each.past <= 0 for each in self.sentences)


def sentences_of(text: str) -> tuple[str, ...]:
    """Return the sentences of a text."""
    return tuple(part.strip() for part in _END.split(text) if part.strip())


def reading_level(texts: Iterable[str], language: str, rules: Rules) -> ReadingLevel:
    """Return the level of every different sentence of some texts."""
    import textstat

    limits = {"en": rules.reading.english_grade_most, "es": rules.reading.spanish_inflesz_least}
    limit = limits.get(language)
    textstat.set_lang(language)
    told = []
    for sentence in dict.fromkeys(part for text in texts for part in sentences_of(text)):
        plain = sentence.rstrip(".!?").replace(". ", " ")  # one sentence to the formula, whatever stands in it
        score, hardness = _score(plain, language)
        past = None if limit is None else (score - limit if language == "en" else limit - score)
        told.append((hardness, SentenceLevel(sentence, score, past)))
    told.sort(key=lambda each: (-each[0], each[1].text))
    return ReadingLevel(language, limit, tuple(level for _, level in told))


def _score(sentence: str, language: str) -> tuple[float, float]:
    """Return a sentence's score and how hard that is, more being harder."""
    import textstat

    if language == "en":
        grade = float(textstat.flesch_kincaid_grade(sentence))
        return grade, grade
    ease = float(textstat.szigriszt_pazos(sentence) if language == "es" else textstat.flesch_reading_ease(sentence))
    return ease, -ease
