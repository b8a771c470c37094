"""Handling keys in words: frozen:home:9-45d is "freezing" and "after 9 to 45 days in a household-type freezer"."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import lru_cache

from evidence.model.shipped import data_folder
from reports.words.catalogue import Catalogue
from reports.words.names import Name, made_name

__all__ = ["HandlingWords", "family", "handling_words", "load_handlings"]

# a step among others carries no bands; these kinds stand in handlings.csv with one only
_BARE = {"frozen": "frozen:home", "kept": "kept:freeze-dried"}
# the time comes first after these: "after 9 to 45 days in ..."
_TIMED = ("frozen", "chilled", "room")


@dataclass(frozen=True)
class HandlingWords:
    """A kind of handling in words: as a noun, as "after ...", its synonyms, its place on pages."""

    id: str
    noun: Name
    after: str
    synonyms: tuple[str, ...]
    order: int
    asked: bool


@lru_cache(maxsize=4)
def load_handlings(language: str = "en") -> dict[str, HandlingWords]:
    """Read data/handlings.csv in a language; English words stand where a language has none."""
    with (data_folder() / "handlings.csv").open(encoding="utf-8", newline="") as file:
        return {row["id"]: _handling(row, language) for row in csv.DictReader(file)}


def _handling(row: dict[str, str], language: str) -> HandlingWords:
    noun = row.get(f"name_{language}") or row["name_en"]
    synonyms = row.get(f"synonyms_{language}") or ""
    return HandlingWords(
        row["id"],
        made_name(noun, row.get(f"grammar_{language}") or "", language),
        row.get(f"after_{language}") or row["after_en"],
        tuple(part for part in synonyms.split(";") if part),
        int(row["order"]),
        row["asked"] == "yes",
    )


def family(key: str) -> str:
    """Return the kind a handling key belongs to, without its bands: the longest known beginning, or the key itself."""
    known = load_handlings()
    if "+" in key:  # several steps together are a kind of their own
        return key
    parts = key.split(":")
    for length in range(len(parts), 0, -1):
        beginning = ":".join(parts[:length])
        if beginning in known:
            return beginning
    return key


def handling_words(key: str, say: Catalogue) -> HandlingWords:
    """Return a handling key in words, bands included."""
    known, kind = load_handlings(say.language), family(key)
    if kind in known:
        words = known[kind]
        bands = [part for part in key.removeprefix(kind).split(":") if part]
        if not bands:
            return words
        if words.id.startswith(_TIMED):
            after = say.say("handling/after_time", time=_band(bands[-1], say, "band_after"), after=words.after)
        else:
            after = say.say("handling/held", after=words.after, held=" ".join(_band(part, say) for part in bands))
        return HandlingWords(kind, words.noun, after, (), words.order, words.asked)
    steps = list(dict.fromkeys(_step(part, known) for part in key.split("+")))
    noun = steps[0]
    for step in steps[1:]:
        noun = _then(noun, step, say)
    return HandlingWords(key, noun, say.say("handling/after", noun=noun), (), 90, False)


def _step(part: str, known: dict[str, HandlingWords]) -> Name:
    kind, step = family(part), part.split(":")[0]
    if kind not in known:
        kind = _BARE.get(step, "")
    return known[kind].noun if kind in known else Name(step)


def _then(first: Name, second: Name, say: Catalogue) -> Name:
    def both(one: str, two: str) -> str:
        return say.say("handling/and_then", first=one, second=two)

    return Name(
        both(first, second), both(first.of, second.of), both(first.the, second.the), both(first.of_the, second.of_the)
    )


def _band(part: str, say: Catalogue, section: str = "band") -> str:
    unit = part[-1:]
    timed = unit in ("d", "h") and part[:-1].replace("-", "").isalnum() and say.has(f"band/{unit}:{part[:-1]}")
    key = f"{unit}:{part[:-1]}" if timed else part
    return say.say(f"{section}/{key}" if say.has(f"{section}/{key}") else f"band/{key}")
