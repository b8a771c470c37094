"""A text as blocks of what a reader sees: headings, paragraphs, list items, cells, and the words of attributes."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from evidence.model.problems import InputProblems, Problem
from reports.claims.html import html_blocks
from reports.claims.word import word_blocks

__all__ = ["SUFFIXES", "blocks_of", "read_blocks", "visible_text"]

SUFFIXES = (".txt", ".md", ".html", ".docx")
_KINDS = {
    ".txt": "txt",
    ".text": "txt",
    ".md": "md",
    ".markdown": "md",
    ".html": "html",
    ".htm": "html",
    ".xhtml": "html",
}
_ITEM = re.compile(r"^\s*(?:[-*+•·–]|\d{1,3}[.)])\s+")
_RULE = re.compile(r"^\s*[-=_*#~]{3,}\s*$")
_DEEPEST = 500  # quotations in quotations; what stands deeper, a Markdown reader leaves out
_UNREADABLE = "text in UTF-8 (txt, md, html), or a docx that a word processor can open"


@dataclass(frozen=True)
class _Source:
    name: str
    data: bytes


def _decoded(source: _Source) -> str:
    if b"\x00" in source.data[:4096] and not source.data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise InputProblems([Problem(source.name, None, None, "zero bytes, as in a picture or a program", _UNREADABLE)])
    encoding = "utf-16" if source.data.startswith((b"\xff\xfe", b"\xfe\xff")) else "utf-8-sig"
    try:
        return source.data.decode(encoding)
    except UnicodeDecodeError as error:
        place = source.data[: error.start].count(b"\n") + 1
        read = source.data[error.start : error.start + 8].hex(" ")
        raise InputProblems([Problem(source.name, place, None, f"bytes {read}", _UNREADABLE)]) from None


def read_blocks(path: str, stdin: bytes | None = None) -> list[str]:
    """Return the blocks of a file; "-" is the text given as stdin.

    Raises InputProblems where the file is missing, of another kind, or cannot be read.
    """
    if path == "-":
        return blocks_of(_decoded(_Source("-", stdin or b"")), "txt")
    file = Path(path)
    suffix = file.suffix.lower()
    if suffix not in _KINDS and suffix != ".docx":
        allowed = f"a file ending in {', '.join(SUFFIXES)}, or - for text on standard input"
        raise InputProblems([Problem(path, None, None, suffix or "no ending", allowed)])
    try:
        data = file.read_bytes()
    except OSError as error:
        raise InputProblems(
            [Problem(path, None, None, error.strerror or "nothing", "a file that can be read")]
        ) from None
    if suffix == ".docx":
        return word_blocks(path, data)
    return blocks_of(_decoded(_Source(path, data)), _KINDS[suffix])


def blocks_of(text: str, kind: str = "txt") -> list[str]:
    """Return the blocks of a text; kind: txt, md or html."""
    if kind == "html":
        return html_blocks(text)
    if kind == "md":
        return html_blocks(_markdown(text))
    return list(_plain_blocks(text))


def visible_text(blocks: Iterable[str]) -> str:
    """Return blocks as one text, one after the other."""
    return "\n\n".join(blocks)


def _markdown(text: str) -> str:
    from markdown_it import MarkdownIt

    from reports.claims.html import as_attribute

    # a front matter's values are read as well: sites print its title and description
    front = re.match(r"\A---\n(.*?)\n---\n", text, re.DOTALL)
    head = ""
    if front:
        lines = (line.partition(":")[2].strip().strip("\"'") for line in front[1].splitlines() if ":" in line)
        head = "".join(f'<meta name="description" content="{as_attribute(line)}">' for line in lines if line)
        text = text[front.end() :]
    page: str = (
        MarkdownIt("commonmark", {"html": True, "maxNesting": _DEEPEST}).enable(["table", "strikethrough"]).render(text)
    )
    return head + page


def _plain_blocks(text: str) -> Iterable[str]:
    """Return paragraphs; a list item begins one, a line of its own stays its own, wrapped lines belong together."""
    gathered: list[str] = []

    def whole() -> Iterable[str]:
        block = "".join(gathered).strip()
        gathered.clear()
        if block:
            yield block

    for line in re.split(r"(?<=\n)|(?<=\r)(?!\n)|(?<=[\f\v\x1c-\x1e\x85\u2028\u2029])", text):
        if not line.strip() or _RULE.match(line):
            gathered += [line] if _RULE.match(line) else []
            yield from whole()
        elif _ITEM.match(line) or line.lstrip().startswith("#"):
            yield from whole()
            gathered.append(line)
        else:
            gathered.append(line)
    yield from whole()
