"""Blocks into sentences: each a piece of its block as it stands, in order, nothing left out but blanks."""

from __future__ import annotations

import re
from collections.abc import Iterable

__all__ = ["is_reference", "sentences_of", "split_block"]

# an end sign, closing quotes or brackets, then a blank; or an end sign of a script that writes no blanks
_END = re.compile(r"(?:[.!?…]+[\"'”’»)\]]*(?=\s)|[。！？]+|[!?]+(?=[¿¡A-ZÀ-Þ]))\s*")
# a point after these ends no sentence
_SHORT = re.compile(
    r"(?:^|[\s(\[«“\"'])(?:e\.g|i\.e|cf|vs|approx|dr|mr|mrs|ms|prof|st|mme|mlle|incl|ex|p\.ex|sr|sra|ud|uds|cols|coll|"
    r"aprox|et al)\.$",
    re.IGNORECASE,
)
# and after these none before a number
_BEFORE_NUMBER = re.compile(
    r"(?:^|[\s(\[])(?:no|nr|n|nº|art|fig|p|pp|vol|ca|núm|num|env|max|min|máx|mín|ch|cap|tab|ref|pág|págs)\.$",
    re.IGNORECASE,
)
_NEXT_SMALL = re.compile(r"[a-zà-ÿß-ö(%,;:–—-]")


# a list of authors, surname first, and a year or a document's number: how a reference begins and what it holds
_AUTHORS = re.compile(
    r"^\W*\d{0,3}\W*[A-ZÀ-Þ][\w'’-]+(?: [A-ZÀ-Þ][\w'’-]+)?,? (?:[A-ZÀ-Þ]\.?[ -]?){1,3}(?=[,;.&(]| and | et )"
)
_CITED = re.compile(r"\bdoi\b|doi\.org|\bPMID\b|\b(?:19|20)\d\d\b", re.IGNORECASE)


def is_reference(block: str) -> bool:
    """Return whether a block is a reference to a paper: authors with initials first, then its year or number."""
    return bool(_AUTHORS.match(block) and _CITED.search(block))


def _no_end(before: str, following: str) -> bool:
    """Return whether a point ends an abbreviation and no sentence."""
    return bool(_SHORT.search(before) or (following.isdigit() and _BEFORE_NUMBER.search(before)))


def split_block(block: str) -> list[str]:
    """Return the sentences of one block."""
    found: list[str] = []
    start = 0
    for end in _END.finditer(block):
        piece = block[start : end.end()].strip()
        if end.end() == len(block):
            break
        small = _NEXT_SMALL.match(block, end.end())
        mark = end[0].rstrip()
        if mark.startswith(".") and (small or _no_end(piece[-12:], block[end.end()])):
            continue
        if not mark.startswith(".") and small:
            continue
        if piece:
            found.append(piece)
        start = end.end()
    last = block[start:].strip()
    return [*found, last] if last else found


def sentences_of(blocks: Iterable[str]) -> list[str]:
    """Return the sentences of all blocks, in order."""
    return [sentence for block in blocks for sentence in split_block(block)]
