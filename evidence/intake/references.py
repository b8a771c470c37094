"""References from BibTeX, by bibtexparser."""

from __future__ import annotations

import logging
from pathlib import Path

from evidence.intake.reading import read_text
from evidence.model.problems import InputProblems, Problem

__all__ = ["read_references"]


def read_references(path: Path) -> list[dict[str, str]]:
    """Return the entries of a .bib file as field -> text, with ID and ENTRYTYPE.

    Raises InputProblems where the file cannot be read or a key stands twice.
    """
    import bibtexparser
    from bibtexparser.bibdatabase import UndefinedString
    from bibtexparser.bparser import BibTexParser

    logging.getLogger("bibtexparser").setLevel(logging.CRITICAL)
    text = read_text(path)
    parser = BibTexParser(common_strings=True, ignore_nonstandard_types=False)
    try:
        entries: list[dict[str, str]] = bibtexparser.loads(text, parser).entries
    except UndefinedString as error:
        read = f"{error.args[0] if error.args else 'a word'} without quotes or braces"
        raise InputProblems([Problem(path.name, None, None, read, "values in braces or quotes")]) from None
    problems: list[Problem] = []
    written = sum(1 for line in text.splitlines() if line.startswith("@") and not line.lower().startswith("@comment"))
    if written != len(entries) or not entries:
        read = f"{written} entries of which {len(entries)} could be read"
        problems.append(Problem(path.name, None, None, read, "BibTeX entries with every brace closed"))
    keys = [entry["ID"] for entry in entries]
    problems += [
        Problem(path.name, None, key, key, "each key once") for key in sorted({k for k in keys if keys.count(k) > 1})
    ]
    for entry in entries:
        for needed in ("title", "author"):
            if not entry.get(needed):
                problems.append(Problem(path.name, None, entry["ID"], f"no {needed}", f"an entry with a {needed}"))
    if problems:
        raise InputProblems(problems)
    return entries
