"""A sheet for print: side 1 for parents, side 2 for clinicians, as a tagged PDF that is the same on every machine."""

from __future__ import annotations

import dataclasses
import json
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal

from reports.charts.bar import bar_words
from reports.charts.labels import whole
from reports.charts.what_stays import ChartDrawing, what_stays_in_words
from reports.sheets.content import SheetContent
from reports.sheets.html import draw_charts
from reports.sheets.layout import TEMPLATES, LayoutWords, doi_link, edition_line, layout_words, pmid_link, ready

__all__ = ["PdfRenderer"]

# Universal accessibility (ISO 14289-1): the typesetter refuses a document that breaks the parts it can check.
STANDARD: Literal["ua-1"] = "ua-1"


class PdfRenderer:
    """Typesets sheets one after another with one typesetter and one set of fonts.

    Only fonts that come with Python packages are used, never those of the machine, and no date is written.
    """

    def __init__(self) -> None:
        import matplotlib
        import typst

        letters = Path(matplotlib.get_data_path()) / "fonts" / "ttf"
        fonts = typst.Fonts(include_system_fonts=False, include_embedded_fonts=True, font_paths=[letters])
        self._compiler = typst.Compiler(_source("sheet.typ"), root=TEMPLATES, font_paths=fonts)

    def render(self, content: SheetContent, charts: tuple[ChartDrawing | None, ...] | None = None) -> bytes:
        """Typeset one sheet; charts may be handed over where they are drawn already.

        Raises ValueError where the sheet may not go out (see layout.ready) or its language has no words.
        """
        content = ready(content)
        words = layout_words(content.language)
        drawn = draw_charts(content) if charts is None else charts
        return self.typeset("sheet.typ", _given(content, words, drawn))

    def typeset(self, template: str, given: dict[str, Any]) -> bytes:
        """Typeset a template with its data; the same data give the same bytes."""
        data = json.dumps(given, ensure_ascii=False, sort_keys=True, default=list)  # a logo's bytes, as numbers
        made = self._compiler.compile(
            _source(template), format="pdf", pdf_standards=[STANDARD], sys_inputs={"sheet": data}
        )
        if not isinstance(made, bytes):
            raise TypeError("The typesetter returned no PDF.")
        return made


@lru_cache(maxsize=16)
def _source(template: str) -> bytes:
    return (TEMPLATES / template).read_bytes()


def _given(content: SheetContent, words: LayoutWords, charts: tuple[ChartDrawing | None, ...]) -> dict[str, Any]:
    """What the template reads: the content as plain data, with the few texts that need a number or a link put in."""
    plain = dataclasses.asdict(content)
    labels = words.chart
    for answer, said in zip(plain["answers"], content.answers, strict=True):
        answer["number_said"] = words["answer_number"].format(number=answer["number"])
        bar = answer["bar"]
        if said.bar is not None:
            bar["drawn"] = bar_words(said.bar, labels)
        if bar and bar["low"] is not None and bar["high"] is not None:
            bar["range"] = labels.range.format(low=whole(bar["low"]), high=whole(bar["high"]))
    drawings: list[dict[str, str] | None] = []
    for block, full, drawing in zip(plain["clinician"], content.clinician, charts, strict=True):
        block["number_said"] = words["answer_number"].format(number=block["number"])
        if full.chart:
            block["chart"]["words_said"] = [
                f"{labels.line.format(study=study, source=source, baseline=labels.baselines[baseline])}: {said}"
                for study, source, baseline, said in full.chart.words_rows
            ]
        told = what_stays_in_words(full.chart, labels) if full.chart else ""
        drawings.append({"svg": drawing.for_print, "words": told} if drawing else None)
    for source in plain["sources"]:
        source["doi_link"] = doi_link(source["doi"]) if source["doi"] else None
        source["pmid_link"] = pmid_link(source["pmid"]) if source["pmid"] else None
    return {
        "content": plain,
        "words": words.words,
        "chart": dataclasses.asdict(labels),
        "drawings": drawings,
        "running": f"{content.component} · {edition_line(content.foot, words)}",
    }
