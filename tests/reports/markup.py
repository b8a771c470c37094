"""Reads a page as a browser would and keeps what layout tests ask for."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser

__all__ = ["Page", "contrast", "read_page"]

EMPTY = {"meta", "link", "br", "img", "input", "hr", "rect", "path"}


@dataclass
class Page(HTMLParser):
    """Tags in order with their attributes, text by tag, and tags that were never or wrongly closed."""

    tags: list[tuple[str, dict[str, str]]] = field(default_factory=list)
    text: list[tuple[str, str]] = field(default_factory=list)
    unclosed: list[str] = field(default_factory=list)
    _open: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        super().__init__(convert_charrefs=True)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {name: value or "" for name, value in attrs}))
        if tag not in EMPTY:
            self._open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag in EMPTY:
            return
        if not self._open or self._open.pop() != tag:
            self.unclosed.append(tag)

    def handle_data(self, data: str) -> None:
        self.text.append((self._open[-1] if self._open else "", data))

    def named(self, tag: str) -> list[dict[str, str]]:
        """The attributes of every such tag."""
        return [attributes for name, attributes in self.tags if name == tag]

    def words(self) -> str:
        """All text that a reader sees, with single spaces."""
        return " ".join(" ".join(data for tag, data in self.text if tag not in ("style", "script")).split())


def read_page(html: str) -> Page:
    """Read a page; what is still open at its end counts as never closed."""
    page = Page()
    page.feed(html)
    page.close()
    page.unclosed.extend(page._open)
    return page


def contrast(one: str, other: str) -> float:
    """Contrast of two colours, #rgb or #rrggbb: WCAG 2.2, definitions of relative luminance and contrast ratio."""
    light, dark = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def _luminance(colour: str) -> float:
    digits = colour.removeprefix("#")
    digits = digits if len(digits) == 6 else "".join(digit * 2 for digit in digits)
    channels = [int(digits[place : place + 2], 16) / 255 for place in (0, 2, 4)]
    linear = [value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4 for value in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
