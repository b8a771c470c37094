"""One page a study, and one table of all measurements: whoever doubts a figure can walk from it to its paper."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from evidence.handling import parse_chain
from evidence.intake.counts import FIGURES
from evidence.model.tables import Appraisal, Measurement, Study
from reports.sheets.brand import dress_style, dress_values
from reports.sheets.html import page_style
from reports.sheets.layout import clean, doi_link, pmid_link
from reports.site.calibration_page import calibration_page
from reports.site.index import SITE_TEMPLATES, IndexContent, site_environment
from reports.words.catalogue import Catalogue
from reports.words.handlings import family, handling_words
from reports.words.library import Library
from reports.words.printed import as_printed, n_words, read_in
from reports.words.references import reference_line, short_name

if TYPE_CHECKING:
    from evidence.findings.reading_list import ReadingListEntry

__all__ = ["EvidencePage", "MeasurementLine", "StudyPage", "evidence_pages", "study_slug"]


def study_slug(key: str) -> str:
    """Return the file name of a study's page, without ending."""
    return f"study-{key}"


@dataclass(frozen=True)
class MeasurementLine:
    """A measurement as it stands in a table: every column ready to print; number "" where no answer uses it."""

    id: str
    study: str
    study_page: str
    component: str
    component_page: str
    handling: str
    baseline: str
    baseline_class: str
    baseline_said: str
    n: str
    as_printed: str
    read_from: str
    second_read: str
    held: str
    has_figure: bool
    kind: str
    number: str


@dataclass(frozen=True)
class StudyPage:
    """Everything the table knows of one study; chains are the different pairs of milks it compared, as drawn steps."""

    slug: str
    key: str
    name: str
    reference: str
    doi: str
    pmid: str
    notice: str
    not_identified: bool
    chains: tuple[tuple[tuple[str, ...], tuple[str, ...]], ...]
    lines: tuple[MeasurementLine, ...]
    appraisals: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True)
class _Paper:
    key: str
    page: str
    reference: str
    doi: str
    pmid: str
    found: bool
    reason: str
    copy: tuple[str, ...]


@dataclass(frozen=True)
class EvidencePage:
    """A finished page: file name without ending, and its HTML."""

    name: str
    html: str


def evidence_pages(
    library: Library,
    appraisals: Sequence[Appraisal],
    numbers: dict[str, str],
    sheets: Mapping[str, str],
    reading: Sequence[ReadingListEntry],
    say: Catalogue,
    index: IndexContent,
) -> tuple[EvidencePage, ...]:
    """Return the pages of all studies, the table of all measurements and the list of papers to get hold of.

    numbers: measurement id -> number of the answer that uses it; sheets: component -> its sheet's file name; index: the
    list, whose brand, banner and foot these pages share.
    """
    lines: dict[str, list[MeasurementLine]] = defaultdict(list)
    for row in sorted(library.measurements.values(), key=lambda row: (row.study, _serial(row.id))):
        lines[row.study].append(_line(row, library, numbers, sheets, say))
    answers: dict[str, list[Appraisal]] = defaultdict(list)
    for appraisal in appraisals:
        answers[appraisal.study].append(appraisal)
    pages = [_study(library.studies[key], lines[key], answers[key], library, say) for key in sorted(lines)]
    shared: dict[str, Any] = {
        "say": say.say,
        "cautions": [caution.text_en for caution in library.cautions],
        "interest": index.interest,
        "banner": index.banner,
        "service": index.service,
        "style": dress_style(index.brand, index.paper),
        **dress_values(index.brand),
        "edition": library.edition,
    }
    made = [EvidencePage(page.slug, _render("study.html.jinja", page=clean(page), **shared)) for page in pages]
    every = [line for key in lines for line in lines[key]]
    table = _render("measurements.html.jinja", groups=_grouped(every), count=len(every), studies=pages, **shared)
    papers = [_paper(entry, library, set(lines)) for entry in reading]
    listed = _render("reading_list.html.jinja", papers=papers, **shared)
    holds = _render("calibration.html.jinja", page=calibration_page(say), **shared)
    return (
        *made,
        EvidencePage("measurements", table),
        EvidencePage("reading-list", listed),
        EvidencePage("calibration", holds),
    )


def _paper(entry: ReadingListEntry, library: Library, pages: set[str]) -> _Paper:
    study = library.studies.get(entry.key)
    return clean(
        _Paper(
            key=entry.key,
            page=f"{study_slug(entry.key)}.html" if entry.key in pages else "",
            reference=reference_line(study) if study is not None else entry.reference,
            doi=doi_link(entry.doi) if entry.doi else "",
            pmid=pmid_link(entry.pmid) if entry.pmid else "",
            found=entry.in_bibliography,
            reason=entry.reason,
            copy=entry.copy,
        )
    )


def _serial(identity: str) -> int:
    return int(identity.rpartition("-")[2])


def _grouped(lines: Sequence[MeasurementLine]) -> list[tuple[str, list[MeasurementLine]]]:
    groups: dict[str, list[MeasurementLine]] = defaultdict(list)
    for line in lines:
        groups[line.component].append(line)
    return sorted(groups.items(), key=lambda item: item[0].lower())


def _line(
    row: Measurement, library: Library, numbers: dict[str, str], sheets: Mapping[str, str], say: Catalogue
) -> MeasurementLine:
    component = library.components[row.component]
    form = f" ({row.form})" if row.form else ""
    figure = any(getattr(row, column) for column in FIGURES)
    return clean(
        MeasurementLine(
            id=row.id,
            study=short_name(library.studies[row.study]),
            study_page=f"{study_slug(row.study)}.html",
            component=f"{component.name_en}{form}",
            component_page=f"{sheets[row.component]}.html" if row.component in sheets else "",
            handling=row.handling,
            baseline=row.baseline,
            baseline_class=row.baseline_class,
            baseline_said=row.baseline_said,
            n=n_words(row),
            as_printed=as_printed(row),
            read_from=read_in(row),
            second_read=row.second_read,
            held=row.held,
            has_figure=bool(figure),
            kind=_kind(row, say),
            number=numbers.get(row.id, ""),
        )
    )


def _kind(row: Measurement, say: Catalogue) -> str:
    """Return the last telling step of the treated milk in words, for the filter."""
    steps = [step for step in parse_chain(row.handling).steps if step.name not in ("reconstituted", "thawed", "pooled")]
    last = steps[-1]
    key = last.name + (f":{last.method}" if last.method else "")
    if last.name == "kept":
        key = "kept:freeze-dried"
    if last.name == "frozen":
        return say.say("evidence/freezing")
    return handling_words(family(key), say).noun if last.name not in ("expressed", "not-stated") else last.name


def _study(
    study: Study, lines: Sequence[MeasurementLine], answers: Sequence[Appraisal], library: Library, say: Catalogue
) -> StudyPage:
    pairs = dict.fromkeys((line.handling, line.baseline) for line in lines)
    return StudyPage(
        slug=study_slug(study.key),
        key=study.key,
        name=short_name(study),
        reference=reference_line(study),
        doi=doi_link(study.doi) if study.doi else "",
        pmid=pmid_link(study.pmid) if study.pmid else "",
        notice=study.notice,
        not_identified=study.completeness == "unidentified",
        chains=tuple((_drawn(handling), _drawn(baseline)) for handling, baseline in pairs),
        lines=tuple(lines),
        appraisals=tuple(
            (say.say(f"appraisal/{each.question}"), each.answer, each.read_where)
            for each in sorted(answers, key=lambda each: each.question)
        ),
    )


def _drawn(chain: str) -> tuple[str, ...]:
    return tuple(str(step) for step in parse_chain(chain).steps)


def _render(template: str, style: str, **values: object) -> str:
    from markupsafe import Markup

    own = page_style() + "\n" + (SITE_TEMPLATES / "evidence.css").read_text(encoding="utf-8").strip()
    script = (SITE_TEMPLATES / "evidence.js").read_text(encoding="utf-8").strip()
    return site_environment().get_template(template).render(css=Markup(own + style), script=Markup(script), **values)
