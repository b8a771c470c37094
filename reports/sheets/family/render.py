"""Pages of the family as HTML and as PDF: the frame of the sheet, one template for each shape of page."""

from __future__ import annotations

import dataclasses
import math
from typing import Any

from reports.charts.bar import bar_svg, bar_words
from reports.charts.labels import whole
from reports.sheets.family.content import Card, Dossier, FamilyPage, Leaflet, Overview, Section, Table
from reports.sheets.html import lay_out, page_style
from reports.sheets.layout import LayoutWords, doi_link, edition_line, layout_words, pmid_link, ready
from reports.sheets.pdf import PdfRenderer

__all__ = ["render_family_html", "render_family_pdf"]

_SHAPES: dict[type[FamilyPage], str] = {Leaflet: "leaflet", Overview: "overview", Card: "card", Dossier: "dossier"}
# letters: a printed column up to so wide takes what it needs; wider ones share the rest, but slower than their text
_NEEDS, _WIDEST, _SLOWER = 18, 90, 0.6
_SHORT_NAME, _ONE_WORD = 40, 60  # letters; rows with longer names are not printed bold


def render_family_html(content: FamilyPage) -> str:
    """Lay a page out as one self-contained HTML page. Raises ValueError where it may not go out (layout.ready)."""
    from markupsafe import Markup

    content = ready(content)
    words = layout_words(content.language)
    return lay_out(
        content,
        f"{_SHAPES[type(content)]}.html.jinja",
        page_style("sheet.css", "family.css"),
        eyebrow=content.eyebrow,
        description=content.intro[0] if content.intro else content.title,
        sections=getattr(content, "chapters", getattr(content, "sections", ())),
        details=getattr(content, "details", ()),
        bar=lambda bar: Markup(bar_svg(bar, words.chart)),
    )


def render_family_pdf(content: FamilyPage, typesetter: PdfRenderer) -> bytes:
    """Typeset a page. Raises ValueError where it may not go out (layout.ready)."""
    content = ready(content)
    return typesetter.typeset(f"{_SHAPES[type(content)]}.typ", _given(content, layout_words(content.language)))


def _given(content: FamilyPage, words: LayoutWords) -> dict[str, Any]:
    plain = dataclasses.asdict(content)
    for name in ("sections", "details", "chapters"):
        if name in plain:
            sections: tuple[Section, ...] = getattr(content, name)
            plain[name] = [_section(section, words) for section in sections]
    for source in plain["sources"]:
        source["doi_link"] = doi_link(source["doi"]) if source["doi"] else None
        source["pmid_link"] = pmid_link(source["pmid"]) if source["pmid"] else None
    return {
        "content": plain,
        "words": words.words,
        "chart": dataclasses.asdict(words.chart),
        "number_said": words["answer_number"].format(number=getattr(content, "number", "")),
        "running": edition_line(content.foot, words)
        if isinstance(content, Card)
        else f"{content.title} · {edition_line(content.foot, words)}",
    }


def _section(section: Section, words: LayoutWords) -> dict[str, Any]:
    plain = dataclasses.asdict(section)
    for line, told in zip(plain["lines"], section.lines, strict=True):
        line["number_said"] = words["answer_number"].format(number=line["number"])
        bar = line["bar"]
        if told.bar is not None:
            bar["drawn"] = bar_words(told.bar, words.chart)
            bar["range"] = words.chart.range.format(low=whole(bar["low"]), high=whole(bar["high"]))
    for table, full in zip(plain["tables"], section.tables, strict=True):
        table["widths"] = _widths(full)
        table["names"] = all(len(row[0]) <= _SHORT_NAME for row in full.rows)
    for drawing, drawn in zip(plain["drawings"], section.drawings, strict=True):
        if drawn.table is not None:
            drawing["table"]["widths"] = _widths(drawn.table)
            drawing["table"]["names"] = True
    plain["sections"] = [_section(inner, words) for inner in section.sections]
    return plain


def _widths(table: Table) -> list[float]:
    """Return how wide each printed column is: 0 for what it needs, else its share of the rest by its longest cell."""
    columns = zip(table.columns, *table.rows, strict=True)
    return [_share(column) for column in columns]


def _share(cells: tuple[str, ...]) -> float:
    longest, unbroken = max(map(len, cells)), len(cells[0]) <= _NEEDS and not any(" " in cell for cell in cells[1:])
    if longest <= _NEEDS or (unbroken and longest <= _ONE_WORD):
        return 0.0
    return round(math.pow(min(longest, _WIDEST), _SLOWER), 2)
