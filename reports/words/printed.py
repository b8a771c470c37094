"""Rows in words: what the paper printed, how many milks, what it was compared with, why it is listed only."""

from __future__ import annotations

import re

from evidence.model.tables import Measurement
from reports.words.catalogue import Catalogue, load_catalogue

__all__ = [
    "as_printed",
    "class_words",
    "direction_words",
    "is_note",
    "n_words",
    "place_words",
    "read_in",
    "reason_words",
    "recipe_words",
    "stage_words",
]

_MILK_OF = re.compile(r"may report the same milk as (?P<study>\S+): counted once")


def _rows(say: Catalogue | None) -> Catalogue:
    """Return the catalogue of what tables say, in the language of the page."""
    return load_catalogue(say.language if say is not None else "en", "rows")


def _spread(text: str, kind: str, say: Catalogue) -> str:
    if not text:
        return ""
    told = _word("printed/spread", kind, say)
    if ".." in text:
        low, high = text.split("..", 1)
        return " " + say.say("printed/range_spread", low=low, high=high, kind=told)
    return " " + (say.say("printed/spread_kind", spread=text, kind=told) if kind else f"± {text}")


def _word(section: str, word: str, say: Catalogue) -> str:
    """Return a word of a closed list by its key; as the table writes it where the catalogue has none."""
    key = f"{section}/{word}"
    return say.say(key) if word and say.has(key) else word


def as_printed(row: Measurement, say: Catalogue | None = None) -> str:
    """Return a row's result as the paper prints it: means, percent, interval, P, words; its digits are the paper's."""
    say = _rows(say)
    parts: list[str] = []
    if row.baseline_mean or row.treated_mean:
        before = (row.baseline_mean or "?") + _spread(row.baseline_spread, row.spread_kind, say)
        after = (row.treated_mean or "?") + _spread(row.treated_spread, row.spread_kind, say)
        parts.append(say.say("printed/means", before=before, after=after, unit=row.unit).strip())
    spread = _spread(row.percent_spread, row.percent_spread_kind, say)
    if row.retained_percent:
        kept = say.say("printed/kept", percent=row.retained_percent)
        parts.append(_bounded(row.number_is, kept, say) + spread)
    elif row.change_percent:
        sign = "" if row.change_percent.startswith("-") else "+"
        parts.append(_bounded(row.number_is, f"{sign}{row.change_percent} %", say) + spread)
    if row.diff_mean:
        value = row.diff_mean + _spread(row.diff_spread, row.diff_kind, say)
        parts.append(say.say("printed/difference", value=value, unit=row.unit).strip())
    if row.interval_low or row.interval_high:
        kind = ", ".join(_word("printed/interval", part, say) for part in row.interval_kind.rsplit(", ", 1))
        low, high = row.interval_low or "?", row.interval_high or "?"
        parts.append(say.say("printed/interval_of", low=low, high=high, kind=kind))
    if row.p:
        told = row.p if row.p in ("ns", "sig") else "value"
        parts.append(say.say(f"printed/p_{told}", p=row.p if row.p[0] in "<>=" else f"= {row.p}"))
    if row.in_words:
        parts.append(_word("printed/words", row.in_words, say))
    told = say.apart(parts)
    return told if row.unit and "-" in row.unit else told.replace("-", "−")


def _bounded(bound: str, value: str, say: Catalogue) -> str:
    key = f"printed/bound/{bound}"
    return say.say(key, value=value) if bound and say.has(key) else value


def n_words(row: Measurement, say: Catalogue | None = None) -> str:
    """Return how many milks were measured, as printed: "20 mothers", "60 samples", "not stated"."""
    say = _rows(say)
    if row.n is None:
        return say.say("printed/n/pools_unstated" if row.n_kind == "pools" else "printed/n/unstated")
    kind = row.n_kind if row.n_kind != "not stated" else "plain"
    text = say.count(f"printed/n/{kind}", row.n)
    if row.n_mothers is not None and row.n_kind != "donors":
        text = say.say("printed/n/of", what=text, mothers=say.count("printed/n/donors", row.n_mothers))
    return text


def read_in(row: Measurement, say: Catalogue | None = None) -> str:
    """Return where a row was read: "abstract, results"."""
    say = _rows(say)
    source, _, rest = row.read_from.partition(" ")
    key = f"printed/read_from/{source if source == 'review' else row.read_from}"
    told = say.say(key, review=rest) if say.has(key) else row.read_from
    locator = _word("printed/locator", row.locator, say) if "/" not in row.locator else row.locator
    if not row.locator or row.locator.startswith(row.read_from):
        return locator or told
    return say.say("printed/read_in", source=told, place=locator)


def is_note(reason: str, say: Catalogue) -> bool:
    """Return whether a reason is a note that a reader wrote beside one row, in the language of the table."""
    known = "/" not in reason and _rows(say).has(f"not_pooled/{reason}")
    return not known and _MILK_OF.fullmatch(reason) is None


def reason_words(reason: str, say: Catalogue) -> str:
    """Return why a row is listed and not pooled; a note a reader wrote beside one row stands as it was written."""
    say = _rows(say)
    same = _MILK_OF.fullmatch(reason)
    if same is not None:
        return say.say("not_pooled/same milk", study=same["study"])
    return say.say("note/reason", note=reason) if is_note(reason, say) else say.say(f"not_pooled/{reason}")


def recipe_words(recipe: str, flags: tuple[str, ...], say: Catalogue) -> str:
    """Return how a standard error was got, and what a reader should know of it."""
    say = _rows(say)
    told = say.apart([_recipe(each, say) for each in recipe.split("; ")])
    if not flags:
        return told
    return say.say("recipe/with_flags", recipe=told, flags=say.apart([_word("row_flag", flag, say) for flag in flags]))


def _recipe(recipe: str, say: Catalogue) -> str:
    key = f"recipe/{recipe}"
    if say.has(key):
        return say.say(key)
    for ending in ("capped by P", "raised: not significant"):
        if recipe.endswith(f", {ending}"):
            first = _word("recipe", recipe.removesuffix(f", {ending}"), say)
            return say.say(f"recipe/{ending}", recipe=first)
    return recipe


def direction_words(word: str, say: Catalogue) -> str:
    """Return a direction a paper gives in words."""
    return _word("printed/words", word, _rows(say))


def class_words(word: str, say: Catalogue) -> str:
    """Return a baseline class in words."""
    return _word("class", word, _rows(say))


def place_words(place: str, say: Catalogue) -> str:
    """Return a place in a paper in words; as the table writes it where the catalogue has none."""
    return _word("printed/locator", place, _rows(say)) if "/" not in place else place


def stage_words(stage: str, say: Catalogue) -> str:
    """Return a stage of milk in words."""
    return _word("stage", stage, _rows(say))
