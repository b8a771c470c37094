"""References in words: a study's short name, and the full line with where to find it."""

from __future__ import annotations

import re

from evidence.model.tables import Study

__all__ = ["reference_line", "short_name"]

# stands in the bibliography where no page seen names the authors
_NOBODY = "Author not identified"


def _plain(text: str) -> str:
    return re.sub(r"\s+", " ", text.replace("{", "").replace("}", "").replace("--", "–")).strip()


def _authors(study: Study) -> list[str]:
    return [_plain(author) for author in re.split(r"\s+and\s+", study.authors) if author.strip()]


def short_name(study: Study) -> str:
    """Return a study as it is named in a sentence: Author 2020, Author and Other 2020, Author and others 2020."""
    authors = _authors(study)
    if authors == [_NOBODY]:
        return f"a study of {study.year}".removesuffix(" of ")
    families = [author.split(",")[0] for author in authors if author != "others"]
    if not families:
        return study.year
    if len(authors) == 1:
        name = families[0]
    elif len(authors) == 2 and len(families) == 2:
        name = f"{families[0]} and {families[1]}"
    else:
        name = f"{families[0]} and others"
    return f"{name} {study.year}".strip()


def reference_line(study: Study) -> str:
    """Return the full reference as one line of text, without DOI and PMID."""
    authors = [author.replace(",", "") for author in _authors(study)]
    shown = ", ".join(author for author in authors if author != "others") + (
        " and others" if "others" in authors else ""
    )
    issue = f" ({study.number})" if study.number else ""
    place = ", ".join(part for part in (_plain(study.journal), study.volume + issue, _plain(study.pages)) if part)
    title = _plain(study.title).rstrip(".")
    parts = [
        f"{shown.rstrip('.')}.",
        f"{title}." if title else "",
        f"{place}," if place and study.year else f"{place}.",
    ]
    return " ".join(part for part in (*parts, f"{study.year}." if study.year else "") if part.strip(" .,"))
