"""One page a study, and one table of all measurements: whoever doubts a figure can walk from it to its paper."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
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
from reports.words.chains import chain_steps, chain_words
from reports.words.handlings import family, handling_words
from reports.words.library import Library
from reports.words.named import caution_text, form_words, page_name
from reports.words.printed import as_printed, class_words, n_words, place_words, read_in, reason_words
from reports.words.reading_words import reading_reason, what_to_copy
from reports.words.references import reference_line, short_name
from reports.words.typography import sort_key

if TYPE_CHECKING:
    from evidence.findings.reading_list import ReadingListEntry

__all__ = ["EvidencePage", "MeasurementLine", "StudyPage", "evidence_pages", "study_slug"]


# baselines whose class says all of it, and steps that name no handling
_SAID_BY_CLASS = ("expressed", "expressed > not-stated")
_ORIGINS = ("expressed", "not-stated")


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
    pairs: dict[str, dict[tuple[str, str], None]] = defaultdict(dict)
    for key in lines:
        for line in lines[key]:
            row = library.measurements[line.id]
            pairs[key][row.handling, row.baseline] = None
    pages = [_study(library.studies[key], lines[key], tuple(pairs[key]), answers[key], say) for key in sorted(lines)]
    edition = library.edition
    shared: dict[str, Any] = {
        "say": say.say,
        "language": say.language,
        "cautions": [caution_text(caution, say) for caution in library.cautions],
        "interest": index.interest,
        "banner": index.banner,
        "service": index.service,
        "style": dress_style(index.brand, index.paper),
        **dress_values(index.brand),
        "edition": say.say("evidence/edition", date=_day(edition.evidence_of, say), edition=edition.hash[:12]),
    }
    made = [EvidencePage(page.slug, _render("study.html.jinja", page=clean(page), **shared)) for page in pages]
    every = [line for key in lines for line in lines[key]]
    table = _render(
        "measurements.html.jinja", groups=_grouped(every), count=say.number(len(every)), studies=pages, **shared
    )
    papers = [_paper(entry, library, set(lines), say) for entry in reading]
    listed = _render("reading_list.html.jinja", papers=papers, **shared)
    calibration = calibration_page(say)
    holds = _render("calibration.html.jinja", page=calibration, day=_day(calibration.date, say), **shared)
    return (
        *made,
        EvidencePage("measurements", table),
        EvidencePage("reading-list", listed),
        EvidencePage("calibration", holds),
    )


def _paper(entry: ReadingListEntry, library: Library, pages: set[str], say: Catalogue) -> _Paper:
    study = library.studies.get(entry.key)
    return clean(
        _Paper(
            key=entry.key,
            page=f"{study_slug(entry.key)}.html" if entry.key in pages else "",
            reference=reference_line(study, say) if study is not None else entry.reference,
            doi=doi_link(entry.doi) if entry.doi else "",
            pmid=pmid_link(entry.pmid) if entry.pmid else "",
            found=entry.in_bibliography,
            reason=reading_reason(entry, library.components, say),
            copy=what_to_copy(entry, library.components, say),
        )
    )


def _serial(identity: str) -> int:
    return int(identity.rpartition("-")[2])


def _grouped(lines: Sequence[MeasurementLine]) -> list[tuple[str, list[MeasurementLine]]]:
    groups: dict[str, list[MeasurementLine]] = defaultdict(list)
    for line in lines:
        groups[line.component].append(line)
    return sorted(groups.items(), key=lambda item: sort_key(item[0]))


def _line(
    row: Measurement, library: Library, numbers: dict[str, str], sheets: Mapping[str, str], say: Catalogue
) -> MeasurementLine:
    component = library.components[row.component]
    name = page_name(component, say)
    if row.form:
        name = say.say("name/form", name=name, form=form_words(row.form, say))
    figure = any(getattr(row, column) for column in FIGURES)
    return clean(
        MeasurementLine(
            id=row.id,
            study=short_name(library.studies[row.study], say),
            study_page=f"{study_slug(row.study)}.html",
            component=name,
            component_page=f"{sheets[row.component]}.html" if row.component in sheets else "",
            handling=chain_words(row.handling, say),
            baseline="" if row.baseline in _SAID_BY_CLASS else chain_words(row.baseline, say),
            baseline_class=class_words(row.baseline_class, say),
            baseline_said=row.baseline_said,
            n=n_words(row, say),
            as_printed=as_printed(row, say),
            read_from=read_in(row, say),
            second_read=_day(row.second_read, say) if row.second_read else "",
            held=reason_words(row.held, say) if row.held else "",
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
    return handling_words(family(key), say).noun if last.name not in _ORIGINS else chain_steps(last.name, say)[0]


def _study(
    study: Study,
    lines: Sequence[MeasurementLine],
    pairs: Sequence[tuple[str, str]],
    answers: Sequence[Appraisal],
    say: Catalogue,
) -> StudyPage:
    return StudyPage(
        slug=study_slug(study.key),
        key=study.key,
        name=short_name(study, say),
        reference=reference_line(study, say),
        doi=doi_link(study.doi) if study.doi else "",
        pmid=pmid_link(study.pmid) if study.pmid else "",
        notice=study.notice,
        not_identified=study.completeness == "unidentified",
        chains=tuple((chain_steps(handling, say), chain_steps(baseline, say)) for handling, baseline in pairs),
        lines=tuple(lines),
        appraisals=tuple(
            (
                say.say(f"appraisal/{each.question}"),
                say.say(f"appraisal_answer/{each.answer}"),
                place_words(each.read_where, say),
            )
            for each in sorted(answers, key=lambda each: each.question)
        ),
    )


def _day(iso: str, say: Catalogue) -> str:
    return say.date(date.fromisoformat(iso))


def _render(template: str, style: str, **values: object) -> str:
    from markupsafe import Markup

    own = page_style() + "\n" + (SITE_TEMPLATES / "evidence.css").read_text(encoding="utf-8").strip()
    script = (SITE_TEMPLATES / "evidence.js").read_text(encoding="utf-8").strip()
    return site_environment().get_template(template).render(css=Markup(own + style), script=Markup(script), **values)
