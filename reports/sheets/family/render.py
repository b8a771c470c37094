"""Pages of the family as HTML and as PDF: the frame of the sheet, one template for each shape of page."""

from __future__ import annotations

import dataclasses
from typing import Any

from reports.charts.bar import bar_svg, bar_words
from reports.charts.labels import whole
from reports.sheets.family.content import Card, Dossier, FamilyPage, Leaflet, Overview, Section, Table
from reports.sheets.html import lay_out, page_style
from reports.sheets.layout import LayoutWords, doi_link, edition_line, layout_words, pmid_link, ready
from reports.sheets.pdf import PdfRenderer

__all__ = ["render_family_html", "render_family_pdf"]

_SHAPES: dict[type[FamilyPage], str] = {Leaflet: "leaflet", Overview: "overview", Card: "card", Dossier: "dossier"}
_NARROWEST, _WIDEST = 6, 30  # letters: how far the widths of a printed table's columns may lie apart


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
    for drawing, drawn in zip(plain["drawings"], section.drawings, strict=True):
        if drawn.table is not None:
            drawing["table"]["widths"] = _widths(drawn.table)
    plain["sections"] = [_section(inner, words) for inner in section.sections]
    return plain


def _widths(table: Table) -> list[int]:
    """Return how wide each printed column is beside the others: as its longest cell, within limits."""
    columns = zip(table.columns, *table.rows, strict=True)
    return [min(max(max(len(cell) for cell in column), _NARROWEST), _WIDEST) for column in columns]
