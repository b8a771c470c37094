"""A sheet as one self-contained web page: no script, nothing fetched from elsewhere, one column at 320 pixels."""

from __future__ import annotations

import json
import re
from functools import lru_cache
from typing import TYPE_CHECKING

from reports.charts.bar import bar_svg
from reports.charts.labels import whole
from reports.charts.what_stays import ChartDrawing, draw_what_stays
from reports.sheets.brand import dress_style, dress_values
from reports.sheets.content import PageContent, SheetContent
from reports.sheets.layout import (
    TEMPLATES,
    LayoutWords,
    doi_link,
    edition_line,
    file_name,
    from_attribute,
    layout_words,
    pmid_link,
    ready,
)

if TYPE_CHECKING:
    from jinja2 import Environment

__all__ = ["draw_charts", "lay_out", "page_style", "render_html"]


def render_html(content: SheetContent, charts: tuple[ChartDrawing | None, ...] | None = None) -> str:
    """Lay the content out as one HTML page; charts may be handed over where they are drawn already.

    Raises ValueError where the sheet may not go out (see layout.ready) or its language has no words.
    """
    from markupsafe import Markup

    content = ready(content)
    words = layout_words(content.language)
    drawn = draw_charts(content) if charts is None else charts
    first = content.answers[0].sentences[:1] if content.answers else ()
    return lay_out(
        content,
        "sheet.html.jinja",
        page_style("sheet.css") + _card_labels(words),
        eyebrow=content.group,
        description=" ".join(first) or content.title,
        chart_labels=words.chart,
        bars=[Markup(bar_svg(a.bar, words.chart)) if a.bar else "" for a in content.answers],
        charts=[Markup(chart.for_page) if chart else "" for chart in drawn],
    )


def lay_out(content: PageContent, template: str, style: str, **values: object) -> str:
    """Fill a page's template: the frame's own values, and those of its kind.

    Raises ValueError where the page may not go out (see layout.ready) or its language has no words.
    """
    from markupsafe import Markup

    content = ready(content)
    words = layout_words(content.language)
    return (
        _environment()
        .get_template(template)
        .render(
            c=content,
            w=words.words,
            css=Markup(style + dress_style(content.brand, content.paper)),
            **dress_values(content.brand),
            file=file_name(content),
            edition=edition_line(content.foot, words),
            **values,
        )
    )


def draw_charts(content: SheetContent) -> tuple[ChartDrawing | None, ...]:
    """The what-stays chart of every block of side 2, None where there is no figure to draw."""
    content = ready(content)
    labels = layout_words(content.language).chart
    return tuple(draw_what_stays(block.chart, labels) if block.chart else None for block in content.clinician)


def _card_labels(words: LayoutWords) -> str:
    """On a phone a row is a card: each cell is preceded by its column's word, said once here and not in every cell."""
    names = ("n", "handling", "compared_with", "as_printed", "effect", "spread_how", "used")
    said = [
        json.dumps(words[name] + ("" if words[name].endswith("?") else words["colon"]), ensure_ascii=False)
        for name in names
    ]
    rules = [
        f'.stack td:nth-child({place}):not(:empty)::before{{content:{text} " "}}'
        for place, text in enumerate(said, start=2)
    ]
    return "\n@media (max-width:47.99rem){" + "".join(rules) + "}"


@lru_cache(maxsize=8)
def page_style(*names: str) -> str:
    """The style of a page, base first, as it stands inline in it."""
    texts = [(TEMPLATES / name).read_text(encoding="utf-8") for name in ("base.css", *names)]
    return re.sub(r"\s*\n\s*", "\n", "\n".join(texts)).strip()


@lru_cache(maxsize=1)
def _environment() -> Environment:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    environment = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters.update(whole=whole, doi_link=doi_link, pmid_link=pmid_link, trail=from_attribute)
    return environment
