"""What stands on a component's sheet, ready worded; layout adds nothing to it and takes nothing away."""

from __future__ import annotations

from dataclasses import dataclass

from reports.charts.marks import Bar, BaselineClass, ChartLine, WhatStaysChart
from reports.settings.settings import Colour, Logo, PaperSize

__all__ = [
    "AnswerBlock",
    "Bar",
    "BaselineClass",
    "Brand",
    "ChartLine",
    "ClinicianBlock",
    "Foot",
    "PageContent",
    "SheetContent",
    "Source",
    "StudyRow",
    "WhatStaysChart",
]


@dataclass(frozen=True)
class AnswerBlock:
    """The answer to one question on side 1.

    number is the answer's own number (A-0412); sentences are printed in order at the same size; bar is None where no
    figure may be drawn; more are the answers for other times or temperatures, a sentence each. The layout prints its
    own labels ("How sure?", "Your own milk", "Compared with") before how_sure, own_milk and compared_with, so these
    texts start after the label; an empty one is left out together with its label.
    """

    number: str
    heading: str
    sentences: tuple[str, ...]
    how_sure: str
    own_milk: str
    compared_with: str
    bar: Bar | None
    more: tuple[str, ...] = ()


@dataclass(frozen=True)
class StudyRow:
    """A row of the side 2 table: one measurement as printed, and what was made of it.

    handling is what was done to the milk, compared_with the baseline class in words, baseline_said the page's own words
    (printed in quotation marks; empty: left out); left_out_why is empty where used. funding as the paper states it; row
    is its id in the table, the trail of every number in it.
    """

    study: str
    source_number: int
    handling: str
    n: str
    compared_with: str
    baseline_said: str
    as_printed: str
    effect: str
    spread_how: str
    read_from: str
    used: bool
    left_out_why: str
    funding: str = ""
    row: str = ""


@dataclass(frozen=True)
class ClinicianBlock:
    """Side 2 for one question: chart, table, pooled facts, what was left out, certainty steps."""

    number: str
    heading: str
    chart: WhatStaysChart | None
    facts: tuple[tuple[str, str], ...]
    certainty: str
    certainty_steps: tuple[str, ...]
    rows: tuple[StudyRow, ...]


@dataclass(frozen=True)
class Source:
    """A numbered source: reference as one line of text, DOI and PMID where known, notices (correction, erratum)."""

    number: int
    text: str
    doi: str | None
    pmid: str | None
    notice: str | None


@dataclass(frozen=True)
class Brand:
    """How a service's pages are dressed: its name or its logo at their head, and two colours.

    accent colours headings, links and the bar, lines the long lines of a page. Cautions, comparisons, flags and the
    maker's interest keep the colours of the page. logo_words stand for the logo where it cannot be seen.
    """

    name: str
    logo: Logo | None = None
    logo_words: str = ""
    accent: Colour | None = None
    lines: Colour | None = None


@dataclass(frozen=True)
class Foot:
    """The foot of side 1: who made it and why that matters, the edition, when to look again.

    interest is printed as large as the answers; no setting reaches it. service is the service's own line (name,
    contact, legal status), empty where no settings name one. evidence_of ("Evidence of 3 May 2037"), edition
    ("edition 0a1b2c3d") and look_again (a sentence) come worded. address is where the newest page stands;
    empty: left out.
    """

    interest: str
    evidence_of: str
    edition: str
    look_again: str
    address: str = ""
    service: str = ""


@dataclass(frozen=True, kw_only=True)
class PageContent:
    """What every kind of page holds beside its own parts; slug is its file name without ending.

    keeping_safe holds the cautions: a page without any is refused. An unbranded page carries no link to the service's
    other pages; it may share its slug with its branded twin, because its files are named slug-unbranded. more_pages
    are links to pages about the same: their text, and their file name. languages are the same page in
    other languages: code, the language's own name, address.
    """

    slug: str
    title: str
    keeping_safe: tuple[str, ...]
    foot: Foot
    language: str = "en"
    languages: tuple[tuple[str, str, str], ...] = ()
    unbranded: bool = False
    banner: str = ""
    brand: Brand | None = None
    paper: PaperSize = "a4"
    more_pages: tuple[tuple[str, str], ...] = ()


@dataclass(frozen=True)
class SheetContent(PageContent):
    """All words and figures of one component's sheet.

    title names the component, the answers' headings are the questions.
    """

    component: str
    group: str
    what_it_does: str
    answers: tuple[AnswerBlock, ...]
    from_fresh: str
    in_a_day: tuple[str, ...]
    more_or_less: tuple[str, ...]
    nobody_knows: tuple[str, ...]
    what_to_do: tuple[str, ...]
    clinician: tuple[ClinicianBlock, ...]
    sources: tuple[Source, ...]
