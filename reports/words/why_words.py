"""The trail of an answer in words: rule, certainty, rows and places, in the order in which one would check them."""

from __future__ import annotations

from dataclasses import dataclass

from evidence.findings.finding import Finding
from evidence.findings.trail import Place, RowTrail, RuleCheck, StepTrail, Trail
from evidence.model.rule_sources import Threshold
from reports.words.answers import answer_sentences, component_words
from reports.words.catalogue import Catalogue
from reports.words.chains import chain_words
from reports.words.handlings import handling_words
from reports.words.library import Library
from reports.words.printed import as_printed, class_words, direction_words, read_in, reason_words, recipe_words
from reports.words.references import reference_line, short_name
from reports.words.reviews import review_lines

__all__ = ["WhyLine", "WhyPart", "why_parts", "why_title"]


@dataclass(frozen=True)
class WhyLine:
    """A line of the trail, and the lines that explain it."""

    text: str
    under: tuple[str, ...] = ()


@dataclass(frozen=True)
class WhyPart:
    """A part of the trail with its heading."""

    heading: str
    lines: tuple[WhyLine, ...]


def why_title(trail: Trail, library: Library, say: Catalogue, plain: Catalogue) -> str:
    """Return number, component and handling in one line."""
    finding = trail.finding
    component, after = component_words(finding, library, plain), handling_words(finding.handling, plain).after
    return say.say("head/title", number=finding.number, component=component, after=after)


def why_parts(trail: Trail, library: Library, say: Catalogue, plain: Catalogue) -> tuple[WhyPart, ...]:
    """Return the trail in parts: the sentence, its rule, how sure, the rows, the places in the papers."""
    finding = trail.finding
    order = {key: place for place, key in enumerate(dict.fromkeys(row.study for row in trail.rows), start=1)}
    level = plain.say(f"clinician_level/{finding.certainty.level}")
    sure = (
        WhyLine(say.say("sure/start")),
        *(_step(step, say) for step in trail.steps),
        *(WhyLine(line) for line in review_lines(finding, plain)),
        WhyLine(say.say("sure/level", level=level.lower())),
    )
    return (
        WhyPart(
            say.say("head/printed"), tuple(WhyLine(text) for text in answer_sentences(finding, library, plain))
        ),
        WhyPart(
            say.say("head/rule"),
            (WhyLine(say.say(f"state/{_state(finding)}")), *(_check(check, say) for check in trail.checks)),
        ),
        WhyPart(say.say("head/sure", level=level.lower()), sure),
        WhyPart(
            say.say("head/rows", count=len(trail.rows)),
            tuple(_row(row, order[row.study], library, say, plain) for row in trail.rows),
        ),
        WhyPart(
            say.say("head/places"),
            tuple(
                _place(key, place, [each for each in trail.places if each.study == key], library, say, plain)
                for key, place in order.items()
            ),
        ),
    )  # fmt: skip


def _state(finding: Finding) -> str:
    by_shares = finding.pooled is None and finding.shares is not None and bool(finding.shares.studies)
    return "shares" if by_shares else finding.state


def _number(value: float) -> str:
    return f"{value:.0f}" if value >= 20 or value == round(value) else f"{value:.2g}"


def _seen(values: tuple[float, ...], say: Catalogue) -> str:
    if len(values) == 2:
        return say.say("check/from_to", low=f"{values[0]:.1f}", high=f"{values[1]:.1f}")
    return _number(values[0]) if values else ""


def _thresholds(found: tuple[Threshold, ...], say: Catalogue) -> tuple[str, ...]:
    return tuple(say.say("threshold/line", key=each.key, value=each.value, source=each.source) for each in found)


def _check(check: RuleCheck, say: Catalogue) -> WhyLine:
    text = say.say(f"check/{check.code}", seen=_seen(check.observed, say))
    held = say.say("check/yes" if check.holds else "check/no")
    return WhyLine(say.say("check/line", held=held, text=text), _thresholds(check.thresholds, say))


def _step(step: StepTrail, say: Catalogue) -> WhyLine:
    reason, down, seen = step.step.reason, step.step.down, step.observed
    values = {"down": say.say("sure/down_one") if down == 1 else say.say("sure/down_more", n=down)}
    if reason in ("few compared with fresh", "reported without spread"):
        values |= {"seen": f"{seen[0]:.0f}", "total": f"{seen[1]:.0f}"}
        values |= {"own": f"{seen[2]:.0f}"} if len(seen) > 2 else {}
    else:
        values |= {"seen": _seen(seen, say)}
    return WhyLine(say.say(f"sure/{reason}", **values), _thresholds(step.thresholds, say))


def _row(row: RowTrail, place: int, library: Library, say: Catalogue, plain: Catalogue) -> WhyLine:
    printed = library.measurements[row.id]
    study = short_name(library.studies[row.study], plain)
    line = say.say("row/line", id=row.id, study=study, place=place, printed=as_printed(printed, plain))
    under = [
        say.say(
            "row/compared",
            handling=chain_words(printed.handling, plain),
            baseline=chain_words(printed.baseline, plain),
            **{"class": class_words(printed.baseline_class, plain)},
        )
    ]
    values = {
        "reason": reason_words(row.reason, plain) if row.reason else "",
        "said": direction_words(printed.in_words, plain),
        "recipe": recipe_words(row.recipe, row.flags, plain),
    }
    if row.log_ratio is not None and row.se is not None:
        values |= {"ratio": say.number(row.log_ratio, 3), "se": say.number(row.se, 3)}
    under.append(say.say(f"row/{row.use}", **values))
    if row.together > 1:
        under.append(say.say("row/together", count=say.number(row.together)))
    if row.weight_share is not None:
        under.append(say.say("row/weight", share=say.number(100 * row.weight_share)))
    return WhyLine(line, tuple(under))


def _place(key: str, place: int, rows: list[Place], library: Library, say: Catalogue, plain: Catalogue) -> WhyLine:
    study = library.studies[key]
    reference = say.say("place/line", place=place, reference=reference_line(study, plain))
    links = [say.say("place/doi", doi=study.doi)] if study.doi else []
    links += [say.say("place/pmid", pmid=study.pmid)] if study.pmid else []
    where = []
    for row in rows:
        told = {"id": row.row, "read_in": read_in(library.measurements[row.row], plain)}
        where.append(
            say.say("place/twice", date=row.second_read, **told) if row.second_read else say.say("place/where", **told)
        )
    return WhyLine(" ".join((reference, *links)), tuple(where))
