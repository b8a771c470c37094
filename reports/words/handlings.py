"""Handling keys in words: frozen:home:9-45d is "freezing" and "after 9 to 45 days in a household-type freezer"."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import lru_cache

from evidence.model.shipped import data_folder
from reports.words.catalogue import Catalogue

__all__ = ["HandlingWords", "family", "handling_words", "load_handlings"]


@dataclass(frozen=True)
class HandlingWords:
    """A kind of handling in words: as a noun, as "after ...", its synonyms, its place on pages."""

    id: str
    noun: str
    after: str
    synonyms: tuple[str, ...]
    order: int
    asked: bool


@lru_cache(maxsize=1)
def load_handlings() -> dict[str, HandlingWords]:
    """Read data/handlings.csv."""
    with (data_folder() / "handlings.csv").open(encoding="utf-8", newline="") as file:
        return {
            row["id"]: HandlingWords(
                row["id"],
                row["name_en"],
                row["after_en"],
                tuple(part for part in row["synonyms_en"].split(";") if part),
                int(row["order"]),
                row["asked"] == "yes",
            )
            for row in csv.DictReader(file)
        }


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
    known, kind = load_handlings(), family(key)
    if kind in known:
        words = known[kind]
        bands = [part for part in key.removeprefix(kind).split(":") if part]
        told = [_band(part, say) for part in bands]
        if not told:
            return words
        if words.id.startswith(("frozen", "chilled", "room")):
            return HandlingWords(
                kind, words.noun, f"{_after_time(told[-1])} {words.after}", (), words.order, words.asked
            )
        return HandlingWords(kind, words.noun, " ".join([words.after, *told]), (), words.order, words.asked)
    steps = [known[family(part)].noun if family(part) in known else part.split(":")[0] for part in key.split("+")]
    noun = " and then ".join(dict.fromkeys(steps))
    return HandlingWords(key, noun, f"after {noun}", (), 90, False)


def _band(part: str, say: Catalogue) -> str:
    if part[-1:] in ("d", "h") and (part[:-1].replace("-", "").isalnum()) and say.has(f"band/{part[-1]}:{part[:-1]}"):
        return say.say(f"band/{part[-1]}:{part[:-1]}")
    return say.say(f"band/{part}")


def _after_time(band: str) -> str:
    return "after " + band.removeprefix("for ")
