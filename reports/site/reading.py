"""What parents read on a site: the texts of side 1, and how hard they are, in one line for whoever builds it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from evidence.model.rules import Rules
from reports.sheets.content import SheetContent
from reports.words.catalogue import LANGUAGES
from reports.words.level import ReadingLevel, reading_level

__all__ = ["parents_texts", "reading_line", "site_level"]

_SHOWN = 90  # letters of the hardest sentence


def parents_texts(sheet: SheetContent) -> Iterator[str]:
    """Yield the texts of side 1, for parents."""
    for answer in sheet.answers:
        yield from (*answer.sentences, answer.own_milk, *answer.more)
    yield from (sheet.from_fresh, *sheet.in_a_day, *sheet.more_or_less, *sheet.nobody_knows, *sheet.what_to_do)
    yield from (*sheet.keeping_safe, sheet.foot.interest)


def site_level(sheets: Iterable[SheetContent], rules: Rules) -> ReadingLevel:
    """Return the reading level of all sheets of one language."""
    made = list(sheets)
    texts = (text for sheet in made for text in parents_texts(sheet) if text)
    return reading_level(texts, made[0].language if made else "en", rules)


def reading_line(level: ReadingLevel) -> str:
    """Return the level in one line: how many sentences keep the limit, and the hardest."""
    if not level.sentences:
        return ""
    name, hardest = LANGUAGES[level.language], level.sentences[0]
    middle = level.sentences[len(level.sentences) // 2]
    text = hardest.text if len(hardest.text) <= _SHOWN else hardest.text[:_SHOWN] + "…"
    kept = "" if level.limit is None else f"{level.kept} of {len(level.sentences)} sentences within {level.limit:g}; "
    return f"Reading level, {name}: {kept}middle {middle.score:.0f}, hardest {hardest.score:.0f}: {text}"
