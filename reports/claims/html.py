"""A web page as blocks of visible words: its text, its title and description, alternative texts and labels."""

from __future__ import annotations

import html
import json
import re
from collections.abc import Iterable, Iterator
from typing import Any

from selectolax.lexbor import LexborHTMLParser

__all__ = ["as_attribute", "html_blocks"]

_UNSEEN = {"script", "style", "template", "noframes", "iframe", "object"}
_INLINE = {
    "a", "abbr", "b", "bdi", "bdo", "big", "cite", "code", "data", "del", "dfn", "em", "font", "i", "ins", "kbd",
    "label",
    "mark", "meter", "q", "ruby", "s", "samp", "small", "span", "strike", "strong", "sub", "sup", "time", "tt", "u",
    "var", "wbr", "img", "picture", "nobr", "blink",
}  # fmt: skip
_ATTRIBUTES = ("alt", "title", "aria-label", "aria-description", "placeholder", "summary", "label")
_META = {"description", "og:title", "og:description", "twitter:title", "twitter:description", "abstract", "keywords"}
_JSON_TEXT = {"description", "name", "headline", "slogan", "text", "reviewBody", "disambiguatingDescription"}
_BLANKS = re.compile(r"[ \t\r\n\f]+")


def as_attribute(text: str) -> str:
    """Return a text escaped for an attribute's value."""
    return html.escape(text, quote=True)


def html_blocks(text: str) -> list[str]:
    """Return the visible blocks of a page in its order; what a page hides until it is asked for counts as visible."""
    found: list[str] = []
    gathered: list[str] = []

    def whole() -> None:
        block = _BLANKS.sub(" ", "".join(gathered)).strip()
        gathered.clear()
        if block:
            found.append(block)

    # lexbor ends a text at a zero byte; a browser shows the replacement sign instead
    for event, name, value in _walk(LexborHTMLParser(text.replace("\x00", "\ufffd"))):
        if event == "text":
            gathered.append(value)
        elif event == "words":
            # an inline picture's text must not tear the sentence around it
            kept = list(gathered)
            gathered.clear()
            gathered.append(value)
            whole()
            gathered.extend(kept)
        elif name == "br":
            gathered.append("\n")
        elif name not in _INLINE:
            whole()
    whole()
    return found


def _walk(page: LexborHTMLParser) -> Iterator[tuple[str, str, str]]:
    """Return ("open" | "close", tag, ""), ("text", "", text), ("words", tag, an attribute's text), in order."""
    node: Any = page.root
    while node is not None:
        tag = str(node.tag)
        if tag == "-text":
            yield "text", "", node.text_content or ""
        elif tag not in _UNSEEN and not tag.startswith(("-", "!", "_")):
            yield from (("words", tag, words) for words in _words(node, tag))
            yield "open", tag, ""
        elif tag == "script":
            yield from (("words", tag, words) for words in _linked_data(node))
        skip = tag in _UNSEEN or tag.startswith("!") or (tag.startswith("-") and tag != "-text")
        child = None if skip else node.child
        if child is not None:
            node = child
            continue
        while node is not None:
            if not str(node.tag).startswith("-") and str(node.tag) not in _UNSEEN:
                yield "close", str(node.tag), ""
            if node.next is not None:
                node = node.next
                break
            node = node.parent


def _words(node: Any, tag: str) -> Iterable[str]:
    attributes: dict[str, str | None] = node.attributes
    if tag == "meta":
        name = (attributes.get("name") or attributes.get("property") or "").lower()
        wanted = [attributes.get("content")] if name in _META else []
    else:
        wanted = [attributes.get(name) for name in _ATTRIBUTES]
        if tag == "input" and (attributes.get("type") or "").lower() in ("submit", "button", "reset"):
            wanted.append(attributes.get("value"))
    return [words for words in wanted if words and words.strip()]


def _linked_data(node: Any) -> list[str]:
    """Return the words that a page gives to search engines as linked data."""
    if (node.attributes.get("type") or "").lower() != "application/ld+json":
        return []
    try:
        open_values: list[tuple[str, Any]] = [("", json.loads(node.text() or ""))]
    except (ValueError, RecursionError):
        return []
    found: list[str] = []
    while open_values:
        name, value = open_values.pop()
        if isinstance(value, dict):
            open_values += reversed(list(value.items()))
        elif isinstance(value, list):
            open_values += [(name, each) for each in reversed(value)]
        elif isinstance(value, str) and name in _JSON_TEXT and value.strip():
            found.append(value)
    return found
