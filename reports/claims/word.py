"""A word processor's file (docx) as blocks: paragraphs and cells, headers, notes, the texts of pictures, its title."""

from __future__ import annotations

import io
import re
import zipfile
import zlib
from collections.abc import Iterable
from xml.etree import ElementTree

from evidence.model.problems import InputProblems, Problem
from evidence.model.rules import load_rules

__all__ = ["word_blocks"]

_PARTS = re.compile(r"docProps/core\.xml|word/(?:document|header\d*|footer\d*|footnotes|endnotes)\.xml")
_ORDER = ("docProps", "word/header", "word/document", "word/footer", "word/footnotes", "word/endnotes")
_TITLES = {"title", "subject", "description", "keywords"}
_ALLOWED = "a docx that a word processor can open"


def word_blocks(name: str, data: bytes) -> list[str]:
    """Return the blocks of a docx; raises InputProblems where it cannot be opened or unpacks to too much."""
    limits = load_rules().claims
    most = int(limits.most_unpacked_megabytes * 1e6)
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            parts = [part for part in archive.infolist() if _PARTS.fullmatch(part.filename)]
            if not any(part.filename == "word/document.xml" for part in parts):
                raise _refused(name, "no document inside")
            parts.sort(key=lambda part: (_place(part.filename), part.filename))
            blocks: list[str] = []
            for part in parts:
                with archive.open(part) as file:
                    text = file.read(most + 1)
                most -= len(text)
                if most < 0:
                    raise _refused(name, f"more than {limits.most_unpacked_megabytes:g} MB once unpacked")
                blocks += _part_blocks(name, part.filename, text)
            return blocks
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, OSError, ValueError) as error:
        raise _refused(name, str(error) or "nothing that can be unpacked") from None


def _refused(name: str, read: str) -> InputProblems:
    return InputProblems([Problem(name, None, None, read, _ALLOWED)])


def _place(part: str) -> int:
    return next((place for place, beginning in enumerate(_ORDER) if part.startswith(beginning)), len(_ORDER))


def _part_blocks(name: str, part: str, data: bytes) -> Iterable[str]:
    if b"<!DOCTYPE" in data or b"<!ENTITY" in data:  # no word processor writes them; they can unfold without end
        raise _refused(name, f"a document type declaration in {part}")
    try:
        root = ElementTree.fromstring(data)
    except ElementTree.ParseError as error:
        raise _refused(name, f"{part}: {error}") from None
    if part.startswith("docProps"):
        found = [each.text or "" for each in root.iter() if _local(each.tag) in _TITLES]
    else:
        found = list(_paragraphs(root))
    return [block for text in found if (block := text.strip())]


def _local(tag: object) -> str:
    return str(tag).rpartition("}")[2]


def _paragraphs(root: ElementTree.Element) -> Iterable[str]:
    """Return paragraphs in order; a text box's own paragraphs follow the one they are anchored in."""
    waiting: list[tuple[ElementTree.Element, list[str] | None]] = [(root, None)]
    done: list[tuple[list[str], list[str]]] = []
    # an explicit stack: a file may be nested deeper than Python calls go
    while waiting:
        element, runs = waiting.pop()
        tag = _local(element.tag)
        if tag in ("Fallback", "instrText", "delText", "pPr", "rPr", "sectPr"):  # said twice, or not shown
            continue
        if tag == "p":
            runs = []
            done.append((runs, []))
        elif tag == "t" and runs is not None:
            runs.append(element.text or "")
        elif tag in ("tab", "br", "cr") and runs is not None:
            runs.append(" ")
        elif tag in ("noBreakHyphen", "softHyphen") and runs is not None:
            runs.append("-" if tag == "noBreakHyphen" else "")
        elif tag == "docPr" and done:
            done[-1][1].extend(words for key in ("title", "descr") if (words := element.get(key)))
        waiting += [(child, runs) for child in reversed(element)]
    for runs, texts in done:
        yield "".join(runs)
        yield from texts
