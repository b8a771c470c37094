"""The words of questions, from the data files: names, handlings, redirects, numbers, joining words.

A lexicon is kept ready as plain values, so that reading a message needs no table of the store.
"""

from __future__ import annotations

import csv
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from evidence.model.shipped import data_folder
from reports.desk.text import normalised
from reports.words.handlings import load_handlings

__all__ = ["LANGUAGES", "Lexicon", "Redirect", "lexicon_values", "load_redirects", "read_words"]

LANGUAGES = ("en", "fr", "es")
# words that hold a sentence together; each list of questions.LANG.toml by this name
ROLES = (
    "then", "after", "first", "than", "how_long", "not", "kept", "powder", "less", "left", "fresh", "since", "may_i",
)  # fmt: skip
_SHORTEST_NAME = 2  # a letter alone is a vitamin's
Meanings = dict[str, list[list[str]]]


@dataclass(frozen=True)
class Redirect:
    """A question for someone else: what it is about, what to say and to whom to send it.

    urgent: said before everything; harm: said before the answer, others after it.
    """

    id: str
    urgent: bool
    harm: bool
    about: str
    words: tuple[str, ...]
    say: str
    to_whom: str


@dataclass(frozen=True)
class Lexicon:
    """All a language's reader needs.

    phrases: normalised phrase -> (kind, id) pairs, kind being component, handling, redirect, general or nothing.
    stems: beginnings of words -> handling. together: words of one sentence -> redirect. exact: phrases read only as
    written -> how. longest: first word -> words.
    """

    language: str
    phrases: Mapping[str, list[list[str]]]
    stems: Mapping[str, str]
    exact: Mapping[str, list[str]]
    longest: Mapping[str, int]
    roles: Mapping[str, list[str]]
    known: frozenset[str]
    numbers: Mapping[str, float]
    days: Mapping[str, float]
    phrases_days: Mapping[str, float]
    months: Mapping[str, int]
    grammar: Mapping[str, list[str]]
    typos: Mapping[str, Any]
    temperatures: tuple[tuple[float, str], ...]
    term_weeks: float
    fever: tuple[float, float]
    shares: Mapping[str, float]
    together: list[tuple[list[str], str]]
    cache: dict[str, list[list[str]] | None] = field(default_factory=dict, compare=False)

    @classmethod
    def from_values(cls, values: dict[str, Any]) -> Lexicon:
        """Return the lexicon that lexicon_values wrote down."""
        raw = dict(values)
        raw["known"] = frozenset(raw["known"])
        raw["fever"] = tuple(raw["fever"])
        raw["temperatures"] = tuple((low, kind) for low, kind in raw["temperatures"])
        return cls(**raw)


def read_words(language: str | None = None) -> dict[str, Any]:
    """Return data/vocabulary/questions.LANG.toml; without a language, questions.toml."""
    name = "questions.toml" if language is None else f"questions.{language}.toml"
    return tomllib.loads((data_folder() / "vocabulary" / name).read_text(encoding="utf-8"))


def load_redirects(language: str) -> tuple[Redirect, ...]:
    """Read data/redirects.csv in a language."""
    with (data_folder() / "redirects.csv").open(encoding="utf-8", newline="") as file:
        return tuple(
            Redirect(
                row["id"], row["urgent"] == "yes", row["harm"] == "yes", row[f"about_{language}"],
                tuple(row[f"words_{language}"].split(";")), row[f"say_{language}"], row[f"to_whom_{language}"],
            )
            for row in csv.DictReader(file)
        )  # fmt: skip


def _add(phrases: Meanings, phrase: str, kind: str, identity: str) -> None:
    """Add a meaning; of each kind, the first one given to a phrase stays."""
    mine = phrases.setdefault(phrase, [])
    if phrase and all(each[0] != kind or kind == "redirect" for each in mine) and [kind, identity] not in mine:
        mine.append([kind, identity])


def _handling_words(languages: Iterable[str], raw: Mapping[str, dict[str, Any]]) -> Iterable[tuple[str, str]]:
    for language in languages:
        for identity, names in raw[language]["handlings"].items():
            yield from ((identity, name) for name in names)
    for words in load_handlings().values():
        yield from ((words.id, name) for name in (words.noun, *words.synonyms) if name)


def lexicon_values(language: str, names: Iterable[tuple[str, str, str]], worthy: Mapping[str, bool]) -> dict[str, Any]:
    """Return the plain values of a language's lexicon.

    names: (component, language, name); worthy: component -> whether a parent would ask for it. Where two components
    share a name, the reader's own language and the one a parent would ask for come first.
    """
    raw = {each: read_words(each) for each in LANGUAGES}
    shared, own = read_words(), raw[language]
    others = [each for each in LANGUAGES if each != language]
    phrases: Meanings = {}
    stems: dict[str, str] = {}
    exact: dict[str, list[str]] = {}
    never = {normalised(name) for name in shared["names"]["never"]}
    as_written = {normalised(name) for name in shared["names"]["as_written"]}
    not_asked = set(shared["names"]["not_asked"])
    function = {normalised(name) for name in own["function"]}
    general = {normalised(name) for name in own["general"]}
    for name in own["nothing"]:
        _add(phrases, normalised(name), "nothing", "")
    for identity, name in _handling_words([language, *others], raw):
        if name.endswith("*"):
            stems.setdefault(normalised(name[:-1]), identity)
        else:
            _add(phrases, normalised(name), "handling", identity)
    spoken = [
        (identity, each, name) for each in LANGUAGES for identity, mine in raw[each]["components"].items()
        for name in mine
    ]  # fmt: skip
    ranked = sorted(
        (tongue != language, not worthy.get(component, False), component, name)
        for component, tongue, name in [*spoken, *names]
    )
    for *_, component, name in ranked:
        phrase = normalised(name)
        if (
            component not in worthy
            or len(phrase) < _SHORTEST_NAME
            or phrase in never
            or phrase in general
            or component in not_asked
        ):
            continue
        if phrase in as_written and phrase in function:
            continue  # "Se conserva" is no selenium
        if phrase in as_written:
            exact.setdefault(phrase, []).append(name)
        _add(phrases, phrase, "component", component)
    for name in general:
        _add(phrases, name, "general", "")
    together: list[tuple[list[str], str]] = []
    for redirect in load_redirects(language):
        for name in redirect.words:
            if "+" in name:  # words that stand anywhere in one sentence
                together.append((normalised(name.replace("+", " ")).split(), redirect.id))
            else:
                _add(phrases, normalised(name), "redirect", redirect.id)
    for each in others:
        for redirect in load_redirects(each):
            for name in redirect.words if redirect.urgent else ():
                _add(phrases, normalised(name), "redirect", redirect.id)
    return _finished(language, phrases, stems, exact, raw, shared) | {"together": together}


def _finished(
    language: str, phrases: Meanings, stems: dict[str, str], exact: dict[str, list[str]],
    raw: Mapping[str, dict[str, Any]], shared: dict[str, Any],
) -> dict[str, Any]:  # fmt: skip
    own = raw[language]
    longest: dict[str, int] = {}
    known: set[str] = set()
    for phrase in phrases:
        parts = phrase.split()
        longest[parts[0]] = max(longest.get(parts[0], 0), len(parts))
        known.update(parts)
    for name in (*own["function"], *own["plain"]):
        known.update(normalised(name).split())
    for group in ("numbers", "days", "months"):
        known.update(word for name in own[group] for word in normalised(name).split())
    roles = {role: [normalised(name) for name in own[role]] for role in ROLES}
    known.update(word for names in roles.values() for name in names for word in name.split())
    return {
        "language": language,
        "phrases": phrases,
        "stems": stems,
        "exact": exact,
        "longest": longest,
        "roles": roles,
        "known": sorted(known),
        "numbers": {normalised(name): value for name, value in own["numbers"].items()},
        "days": {**own["days"], **{unit: raw["en"]["days"][unit] for unit in ("h", "min", "d")}},
        "phrases_days": {normalised(name): value for name, value in own["phrases_days"].items()},
        "months": own["months"],
        "grammar": {name: [normalised(word) for word in words] for name, words in own["grammar"].items()},
        "typos": shared["typos"],
        "temperatures": [[each["from_c"], each["kind"]] for each in shared["temperatures"]],
        "term_weeks": shared["births"]["term_weeks"],
        "fever": [shared["fever"]["from_c"], shared["fever"]["to_c"]],
        "shares": {normalised(name): value for name, value in own["shares"].items()},
    }
