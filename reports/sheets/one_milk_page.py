"""The sheet of one client's milk laid out: as a web page, and on one page for print."""

from __future__ import annotations

import dataclasses
from typing import Any

from reports.charts.small_stair import draw_small_stair
from reports.charts.what_stays import ChartDrawing
from reports.sheets.html import lay_out, page_style
from reports.sheets.layout import edition_line, layout_words, ready
from reports.sheets.one_milk import OneMilkContent
from reports.sheets.pdf import PdfRenderer

__all__ = ["one_milk_html", "one_milk_pdf"]


def _drawings(content: OneMilkContent) -> list[ChartDrawing]:
    return [draw_small_stair(row.stair, row.stair_words) for row in content.rows]


def one_milk_html(content: OneMilkContent) -> str:
    """Return the sheet as one self-contained web page. Raises ValueError where it may not go out (layout.ready)."""
    from markupsafe import Markup

    content = ready(content)
    return lay_out(
        content,
        "one_milk.html.jinja",
        page_style("sheet.css", "one_milk.css"),
        eyebrow=content.eyebrow,
        description=content.lead,
        stairs=[Markup(drawing.for_page) for drawing in _drawings(content)],
    )


def one_milk_pdf(content: OneMilkContent, renderer: PdfRenderer) -> bytes:
    """Typeset the sheet on one page; the same content gives the same bytes."""
    content = ready(content)
    words = layout_words(content.language)
    plain: dict[str, Any] = dataclasses.asdict(content)
    for row, drawing in zip(plain["rows"], _drawings(content), strict=True):
        row["svg"] = drawing.for_print
    return renderer.typeset(
        "one_milk.typ",
        {
            "content": plain,
            "words": words.words,
            "chart": dataclasses.asdict(words.chart),
            "running": f"{content.eyebrow} · {edition_line(content.foot, words)}",
        },
    )
