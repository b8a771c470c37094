"""The page that lists every component with its short answers; a plain table that a small script lets people search."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from reports.settings.settings import PaperSize
from reports.sheets.brand import dress_style, dress_values
from reports.sheets.content import Brand
from reports.sheets.html import page_style
from reports.sheets.layout import TEMPLATES, clean, from_attribute, index_words

if TYPE_CHECKING:
    from jinja2 import Environment

__all__ = ["SITE_TEMPLATES", "AnswerKind", "IndexContent", "IndexEntry", "render_index", "site_environment"]

SITE_TEMPLATES = Path(__file__).parent / "templates"

AnswerKind = Literal["figures", "words", "none"]


@dataclass(frozen=True)
class IndexEntry:
    """One component on the list.

    answers holds (handling label, short answer with its comparison, the answer's own number, "" where it has none);
    the labels become the columns. sure is a word of IndexContent.sure_order, or empty. kind says whether there are
    figures, words only or nothing published. more are links to its other pages: text and file name.
    """

    slug: str
    name: str
    group: str
    synonyms: tuple[str, ...]
    answers: tuple[tuple[str, str, str], ...]
    sure: str
    kind: AnswerKind
    more: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class IndexContent:
    """All words of the list; interest and cautions are printed as on every sheet and may not be empty.

    evidence_of and edition come worded as on a sheet. sure_order ranks the words for how sure, surest first; a word
    outside it sorts last.
    """

    title: str
    intro: tuple[str, ...]
    entries: tuple[IndexEntry, ...]
    cautions: tuple[str, ...]
    interest: str
    evidence_of: str
    edition: str
    language: str = "en"
    languages: tuple[tuple[str, str, str], ...] = ()
    links: tuple[tuple[str, str], ...] = ()
    banner: str = ""
    brand: Brand | None = None
    service: str = ""
    paper: PaperSize = "a4"
    sure_order: tuple[str, ...] = ("sure", "fairly sure", "not sure", "hardly known")


@dataclass(frozen=True)
class _Row:
    entry: IndexEntry
    cells: tuple[str, ...]
    search: str
    sure_rank: int


def render_index(content: IndexContent) -> str:
    """Lay the list out as one self-contained page, grouped as the entries come, readable without a script.

    Raises ValueError where cautions or interest are missing, or the language has no words.
    """
    from markupsafe import Markup

    content = clean(content)
    words = index_words(content.language)
    if not any(caution.strip() for caution in content.cautions) or not content.interest.strip():
        raise ValueError(
            "The list of components has no cautions, or does not say who made it; no page is made without."
        )
    columns = _unique(label for entry in content.entries for label, _, _ in entry.answers)
    groups = _unique(entry.group for entry in content.entries)
    rows = [_row(entry, columns, words["no_answer"], content.sure_order) for entry in content.entries]
    template = site_environment().get_template("index.html.jinja")
    return template.render(
        c=content,
        w=words,
        css=Markup(page_style() + "\n" + _text("index.css") + dress_style(content.brand, content.paper)),
        **dress_values(content.brand),
        script=Markup(_text("index.js")),
        columns=columns,
        grouped=[(group, [row for row in rows if row.entry.group == group]) for group in groups],
    )


def _row(entry: IndexEntry, columns: tuple[str, ...], missing: str, sure_order: tuple[str, ...]) -> _Row:
    said = {label: text for label, text, _ in entry.answers}
    numbers = [number for _, _, number in entry.answers if number]
    rank = sure_order.index(entry.sure) if entry.sure in sure_order else len(sure_order)
    return _Row(
        entry=entry,
        cells=tuple(said.get(column, missing) for column in columns),
        search=", ".join((*entry.synonyms, *numbers)),
        sure_rank=rank,
    )


def _unique(values: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(values))


def _text(name: str) -> str:
    return (SITE_TEMPLATES / name).read_text(encoding="utf-8").strip()


@lru_cache(maxsize=1)
def site_environment() -> Environment:
    """Return the one set of templates that all pages of the site are made with."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader([SITE_TEMPLATES, TEMPLATES]),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update(trail=from_attribute)
    return environment
