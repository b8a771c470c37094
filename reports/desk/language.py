"""Which language a message is in: counted by its function words; deterministic, from the vocabulary files alone."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Mapping
from typing import Any

from reports.desk.text import Words, normalised
from reports.desk.vocabulary import LANGUAGES, read_words

__all__ = ["UNKNOWN", "language_of", "language_values"]

UNKNOWN = "und"  # the code of BCP 47 for a language that is not known
_CONTENT = 0.9
_SHORTEST_STEM, _LONGEST_STEM = 3, 20
_LETTERS = "iyo"
_NAME = 5  # letters; shorter names are alike in all languages


def language_values(names: Iterable[tuple[str, str, str]] = ()) -> dict[str, list[str]]:
    """Return language -> the words it is told by; languages that can be read, and others only to be named as such.

    names: (component, language, name), for messages that are nothing but names.
    """
    told: dict[str, set[str]] = {}
    for language in LANGUAGES:
        words = read_words(language)
        told[language] = {part for name in words["function"] for part in normalised(name).split()}
        told[language] |= {part for name in words["plain"] for part in normalised(name).split()}
        told[language] |= {part for role in ("then", "after", "less", "left", "kept") for name in words[role]
                           for part in normalised(name).split()}  # fmt: skip
        told[language] |= {
            normalised(name.rstrip("*")) + "*" * name.endswith("*")
            for names in words["handlings"].values()
            for name in names
            if name.rstrip("*").isalpha()
        }
    for _, language, name in names:  # a name that languages share tells of each of them in part
        told[language] |= {part for part in normalised(name).split() if len(part) >= _NAME}
    for language, others in read_words()["others"].items():
        told[language] = {part for name in others for part in normalised(name).split()}
    # a single letter may be a vitamin's
    return {
        language: sorted(word for word in mine if len(word) > 1 or word in _LETTERS) for language, mine in told.items()
    }


def _latin(text: str) -> bool:
    letters = [each for each in text[:400] if each.isalpha()]
    latin = sum(each.isascii() or unicodedata.name(each, "").startswith("LATIN") for each in letters)
    return not letters or latin >= len(letters) / 2


def _by_stem(word: str, told: Mapping[str, Any]) -> list[str]:
    """Return the languages that have a stem of a word: lyophilis* of lyophilisée."""
    for length in range(min(len(word), _LONGEST_STEM), _SHORTEST_STEM, -1):
        stem = f"{word[:length]}*"
        owners = [language for language in LANGUAGES if stem in told[language]]
        if owners:
            return owners
    return []


def language_of(text: str, words: Words, told: Mapping[str, Any], otherwise: str = "en") -> str:
    """Return en, fr, es, or "und" where the message is in a language the desk cannot read.

    A word that several languages share counts for each of them in part. Without any known word: otherwise.
    """
    if not _latin(text):
        return UNKNOWN
    score = dict.fromkeys(told, 0.0)
    for place in words.words[:400]:
        word = words.tokens[place].word
        owners = [language for language, names in told.items() if word in names] or _by_stem(word, told)
        for owner in owners:
            score[owner] += 1 / len(owners)
    if "¿" in text or "¡" in text or "ñ" in text:
        score["es"] += 2
    ours = max(LANGUAGES, key=lambda language: (score[language], language == otherwise))
    others = max((language for language in told if language not in LANGUAGES), key=lambda language: score[language])
    if score[others] > score[ours] and score[others] >= _CONTENT:
        return UNKNOWN
    return ours if score[ours] > 0 else otherwise
