"""References in words: a study's short name, and the full line with where to find it."""

from __future__ import annotations

import re

from evidence.model.tables import Study
from reports.words.catalogue import Catalogue, load_catalogue

__all__ = ["reference_line", "short_name"]

# stands in the bibliography where no page seen names the authors
_NOBODY = "Author not identified"


def _plain(text: str) -> str:
    return re.sub(r"\s+", " ", text.replace("{", "").replace("}", "").replace("--", "–")).strip()


def _authors(study: Study) -> list[str]:
    return [_plain(author) for author in re.split(r"\s+and\s+", study.authors) if author.strip()]


def short_name(study: Study, say: Catalogue | None = None) -> str:
    """Return a study as it is named in a sentence: Author 2020, Author and Other 2020, Author and others 2020."""
    say = say or load_catalogue()
    authors = _authors(study)
    if authors == [_NOBODY]:
        return say.say("reference/a_study_of", year=study.year) if study.year else say.say("reference/a_study")
    families = [author.split(",")[0] for author in authors if author != "others"]
    if not families:
        return study.year
    if len(authors) == 1:
        name = families[0]
    elif len(authors) == 2 and len(families) == 2:
        name = say.joined(families)
    else:
        name = say.say("reference/and_others", name=families[0])
    return f"{name} {study.year}".strip()


def reference_line(study: Study, say: Catalogue | None = None) -> str:
    """Return the full reference as one line of text, without DOI and PMID."""
    say = say or load_catalogue()
    authors = [author.replace(",", "") for author in _authors(study)]
    shown = ", ".join(author for author in authors if author != "others")
    if authors == [_NOBODY]:
        shown = say.say("reference/nobody")
    elif "others" in authors:
        shown = say.say("reference/and_others", name=shown)
    issue = f" ({study.number})" if study.number else ""
    place = ", ".join(part for part in (_plain(study.journal), study.volume + issue, _plain(study.pages)) if part)
    title = _plain(study.title).rstrip(".")
    parts = [
        f"{shown.rstrip('.')}.",
        f"{title}." if title else "",
        f"{place}," if place and study.year else f"{place}.",
    ]
    return " ".join(part for part in (*parts, f"{study.year}." if study.year else "") if part.strip(" .,"))
