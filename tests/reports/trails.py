"""Reads pages for their numbers and for the element that says where each comes from."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from html.parser import HTMLParser

__all__ = ["NUMBER", "Number", "numbers_on"]

VOID = {"meta", "link", "br", "img", "input", "hr", "source", "wbr", "rect", "path", "line", "circle"}
# a number of its own: not part of a name (B12, n-3, C18:2), of an answer's number (A-0412) or of a date with dashes
NUMBER = re.compile(r"(?<![\w.,:/\-−‑(])\d+(?:[.,]\d+)?(?![\w:]|[.,/\-‑]\d)")


@dataclass(frozen=True)
class Number:
    """A number as it is printed: its text, the text around it, the elements it stands in, and its trail."""

    text: str
    within: str
    path: tuple[str, ...]
    trail: tuple[str, ...]


@dataclass
class _Reader(HTMLParser):
    names: re.Pattern[str] | None
    found: list[Number] = field(default_factory=list)
    open: list[tuple[str, str, tuple[str, ...]]] = field(default_factory=list)

    def __post_init__(self) -> None:
        super().__init__(convert_charrefs=True)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        values = {name: value or "" for name, value in attrs}
        trail = tuple(values.get("data-from", "").split()) or (self.open[-1][2] if self.open else ())
        if tag == "svg":
            self._read(values.get("aria-label", ""), trail)
        if tag not in VOID:
            self.open.append((tag, ".".join((tag, *values.get("class", "").split())), trail))

    def handle_endtag(self, tag: str) -> None:
        if tag in VOID:
            return
        while self.open and self.open.pop()[0] != tag:
            pass

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1][0] not in ("style", "script", "title"):
            self._read(data, self.open[-1][2])

    def _read(self, text: str, trail: tuple[str, ...]) -> None:
        text = text.replace("\u00a0", " ").replace("\u202f", " ")
        plain = self.names.sub("", text) if self.names else text
        path = tuple(name for _, name, _ in self.open)
        self.found += [Number(each.group(), text.strip(), path, trail) for each in NUMBER.finditer(plain)]


def numbers_on(html: str, names: Iterable[str] = ()) -> list[Number]:
    """Every number that a page prints, in order.

    Left out are numbers inside names (of components, and those that head a part of a table), inside references (cite),
    and the numerals of a list of sources.
    """
    with_digits = sorted({name for name in names if re.search(r"\d", name)}, key=len, reverse=True)
    pattern = re.compile("|".join(map(re.escape, with_digits)), re.IGNORECASE) if with_digits else None
    reader = _Reader(pattern)
    reader.feed(html)
    return [
        each
        for each in reader.found
        if not any(name.split(".")[0] == "cite" for name in each.path)
        and "ol.sources" not in each.path[:-1]
        and "tr.group" not in each.path
    ]
