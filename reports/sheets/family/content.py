"""What stands on the pages beside a component's sheet, ready worded; layout adds nothing and takes nothing away."""

from __future__ import annotations

from dataclasses import dataclass

from reports.sheets.content import Bar, PageContent, Source

__all__ = ["Card", "Dossier", "Drawing", "FamilyPage", "Leaflet", "Line", "Overview", "Section", "Table"]


@dataclass(frozen=True)
class Line:
    """One answer on a page that holds many: what it is about, the answer with its comparison in the same sentence.

    sure is how sure anyone can be, worded ("" where there is nothing to be sure of); number the answer's own number.
    bar is None where no range may be drawn. names are components that share the answer, each with the file name of its
    sheet ("" for no link); they stand before it.
    """

    lead: str
    answer: str
    sure: str = ""
    number: str = ""
    bar: Bar | None = None
    names: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class Table:
    """A table with a heading for every column; the first cell of a row names the row."""

    caption: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Drawing:
    """A chart for the page and for print; words say the same to whoever cannot see it, table its figures."""

    title: str
    for_page: str
    for_print: str
    words: str
    caption: str
    table: Table | None = None


@dataclass(frozen=True)
class Section:
    """A part of a page: sentences, then answers, points, charts, tables and inner parts, each where there are any.

    slug names the section within its page's address.
    """

    slug: str
    heading: str
    said: tuple[str, ...] = ()
    lines: tuple[Line, ...] = ()
    points: tuple[str, ...] = ()
    tables: tuple[Table, ...] = ()
    drawings: tuple[Drawing, ...] = ()
    sections: tuple[Section, ...] = ()


@dataclass(frozen=True, kw_only=True)
class FamilyPage(PageContent):
    """A page beside the sheets. eyebrow stands above the title, intro below it."""

    eyebrow: str
    intro: tuple[str, ...]
    what_to_do: tuple[str, ...] = ()
    sources: tuple[Source, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Leaflet(FamilyPage):
    """A page of sections for parents; details follow after the cautions, for clinicians and the curious."""

    sections: tuple[Section, ...]
    details: tuple[Section, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Overview(FamilyPage):
    """All components on one printed page: one section for what stays, what falls, what rises and what nobody knows."""

    sections: tuple[Section, ...]


@dataclass(frozen=True, kw_only=True)
class Card(FamilyPage):
    """A small card for a counter: title is the question, intro the sentence that answers it, then how sure.

    address is the whole page's, drawn as a square of dots (SVG) with words for whoever cannot see it and a line that
    leads there; where no address is set all four are empty, and ask says whom to ask. number is the answer's.
    """

    sure: str
    ask: str
    scan: str
    number: str
    address: str = ""
    square: str = ""
    square_words: str = ""


@dataclass(frozen=True, kw_only=True)
class Dossier(FamilyPage):
    """The whole of an edition for an inspector or an ethics reader, chapter by chapter; contents heads their list."""

    chapters: tuple[Section, ...]
    contents: str
