"""What the web page and the print page share: the layout's own words, clean text, links, and what is refused."""

from __future__ import annotations

import dataclasses
import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar
from urllib.parse import quote

from reports.charts.labels import ChartLabels
from reports.sheets.content import Foot, PageContent
from reports.words.catalogue import load_catalogue
from reports.words.told import Told, trail_of
from reports.words.typography import unbroken

if TYPE_CHECKING:
    from collections.abc import Iterable

    from markupsafe import Markup

__all__ = [
    "TEMPLATES",
    "LayoutWords",
    "clean",
    "doi_link",
    "edition_line",
    "file_name",
    "from_attribute",
    "index_words",
    "layout_words",
    "pmid_link",
    "ready",
]

TEMPLATES = Path(__file__).parent / "templates"

T = TypeVar("T")
P = TypeVar("P", bound=PageContent)

# What neither XML nor a PDF may hold: controls other than tab and line feed, halves of pairs, non-characters.
FORBIDDEN = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")


@dataclass(frozen=True)
class LayoutWords:
    """The fixed words of one language: headings, labels and the words on the charts."""

    language: str
    words: dict[str, str]
    chart: ChartLabels

    def __getitem__(self, name: str) -> str:
        return self.words[name]


def layout_words(language: str) -> LayoutWords:
    """The words of a sheet in a language.

    Raises ValueError, with the languages there are, where none is written for this one.
    """
    say = load_catalogue(language, "layout")
    chart = ChartLabels(**say.table("chart"), baselines=say.table("chart/baselines"))
    return LayoutWords(language=language, words=say.table(), chart=chart)


def index_words(language: str) -> dict[str, str]:
    """The words of the list of components in a language; raises as layout_words does."""
    return load_catalogue(language, "layout").table("index")


def ready(content: P) -> P:
    """The content as it may be laid out: text cleaned, every field unchanged otherwise.

    Raises ValueError where the file name could leave its folder, or where a page has no cautions or no word about who
    made it: no page goes out without them.
    """
    cleaned = clean(content)
    if not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", cleaned.slug):
        raise ValueError(
            f'The page "{cleaned.title}" has the file name "{cleaned.slug}"; '
            "allowed are small letters, digits and single hyphens between them."
        )
    if not any(caution.strip() for caution in cleaned.keeping_safe):
        raise ValueError(f'The page "{cleaned.title}" has no cautions (keeping_safe); no page is made without.')
    if not cleaned.foot.interest.strip():
        raise ValueError(f'The page "{cleaned.title}" does not say who made it (foot.interest).')
    return cleaned


def clean(value: T) -> T:
    """The same value as a page can carry it, each text however deep: no forbidden characters, units kept by numbers."""
    return _clean(value)  # type: ignore[no-any-return]


def _clean(value: Any) -> Any:
    if isinstance(value, Told):
        return Told(unbroken(FORBIDDEN.sub("", value)), *value.trail)
    if isinstance(value, str):
        plain = FORBIDDEN.sub("", value)
        return plain if plain.startswith("<svg") else unbroken(plain)  # in a drawing "1.5 L" is a line, not a litre
    if isinstance(value, tuple):
        return tuple(_clean(item) for item in value)
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        changes = {field.name: _clean(getattr(value, field.name)) for field in dataclasses.fields(value)}
        return dataclasses.replace(value, **changes)
    return value


def from_attribute(value: str | Iterable[str], *more: str) -> Markup:
    """The attribute that says where an element's numbers come from; nothing where a sentence has no trail.

    value is a sentence (its trail is printed), or several; more are trails of their own.
    """
    from markupsafe import Markup, escape

    found = tuple(dict.fromkeys((*trail_of(value), *(each for each in more if each))))
    return Markup(f' data-from="{escape(" ".join(found))}"') if found else Markup("")


def file_name(content: PageContent) -> str:
    """The name of a page's files, without ending."""
    return f"{content.slug}-unbranded" if content.unbranded else content.slug


def edition_line(foot: Foot, words: LayoutWords) -> str:
    """The edition, when to look again and where, on one line."""
    said = ", ".join(text for text in (foot.evidence_of, foot.edition) if text)
    newest = f"{words['newest']}{words['colon']} {foot.address}" if foot.address else ""
    return " ".join(text for text in (f"{said}.", foot.look_again, newest) if text)


def doi_link(doi: str) -> str:
    """The address of a DOI at its resolver."""
    return "https://doi.org/" + quote(doi, safe="/().;:-_")


def pmid_link(pmid: str) -> str:
    """The address of a PMID at the library that gives it."""
    return f"https://pubmed.ncbi.nlm.nih.gov/{quote(pmid, safe='')}/"
