"""Claims about what stays: of one component, or of everything in the milk."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from evidence.findings.finding import Finding
from evidence.model.rules import load_rules
from reports.claims.figure_claims import compares_like, judge_figures, shares, unplain
from reports.claims.holdings import Holdings, measured, shows_loss
from reports.claims.judgement import VERDICTS, Judgement
from reports.claims.signs import FAR, NEAR, Signs
from reports.words.handlings import family

__all__ = ["judge_retention", "reading_of"]

# readings of a sentence without a figure, the most reassuring first
_READINGS = ("all", "most", "keep", "no_clear", "some", "rise", "loss", "cautious")
_SAID = {"fall": {"loss"}, "no_change": {"no_clear"}, "rise": {"rise"}, "mixed": set()}


def reading_of(signs: Signs) -> str | None:
    """Return the most reassuring thing that a sentence says of what stays, or None where it says nothing of it."""
    found = set(_readings(signs))
    return next((reading for reading in _READINGS if reading in found), None)


def _readings(signs: Signs) -> Iterable[str]:
    # "of every 100 parts" promises no "every"
    counted = {place for hit in signs.of("percent/after") for place in range(hit.start, hit.end)}
    # nor does "full of", which says what is in it
    counted |= {place for hit in signs.of("content/holds") for place in range(hit.start, hit.end)}
    every = [hit for hit in signs.of("retention/all") if not counted & set(range(hit.start, hit.end))]
    most = signs.of("retention/most")
    # "nearly every" is not every
    every = [hit for hit in every if not any(0 <= hit.start - word.start <= 1 for word in most)]
    quantifier = "keep"
    if every and not all(signs.denied(hit, NEAR, after=False) for hit in every):
        quantifier = "all"
    elif most:
        quantifier = "most"
    elif signs.has("retention/some"):
        quantifier = "some"
    left_open = signs.of("question/open")
    for hit in signs.of("retention/nothing"):
        if any(asked.start <= hit.start and hit.end <= asked.end for asked in left_open):
            continue
        nearly = any(near.start < hit.end and hit.start <= near.end for near in signs.of("retention/nearly"))
        yield "most" if nearly else "all"
    # "all the nutrients, none of the water": no verb is needed to promise everything
    if quantifier == "all" and any(
        0 <= thing.start - hit.end <= NEAR - 1 for hit in every for thing in signs.of("retention/general")
    ):
        yield "all"
    if signs.has("retention/no_clear"):
        yield "no_clear"
    for hit in signs.of("retention/same"):
        yield "cautious" if signs.denied(hit, NEAR) else "all"
    denied_every = bool(every) and quantifier != "all"
    for hit in signs.of("retention/keep"):
        if signs.denied_by(hit, FAR, "question/open"):
            continue
        yield "cautious" if denied_every or signs.denied(hit, NEAR) else quantifier
    for hit in signs.of("retention/loss"):
        if signs.denied_by(hit, FAR, "question/open"):
            continue
        if any(0 <= hit.start - near.end <= NEAR for near in signs.of("retention/nearly")):
            yield "most"
        elif signs.denied(hit, FAR):
            yield "all"
        elif any(abs(few.start - hit.start) <= NEAR for few in signs.of("retention/few")):
            yield "most"
        else:
            yield "loss"
    for hit in signs.of("retention/effect"):
        if any(0 <= hit.start - near.end <= NEAR for near in signs.of("retention/nearly")):
            yield "most"
        elif signs.denied_by(hit, NEAR, "neg/before"):
            yield "all"
    for hit in signs.of("retention/rise"):
        yield "all" if signs.denied(hit, NEAR) else "rise"


def judge_retention(signs: Signs, holdings: Holdings, context: Sequence[str]) -> list[Judgement]:
    """Return the judgements of what a sentence says of what stays; context: components named before it."""
    handling = signs.handlings[0] if signs.handlings else None
    reading = reading_of(signs)
    figures = shares(signs)
    components = [identity for _, identity in signs.components]
    general = signs.has("retention/general", "retention/nothing") or any(
        0 <= hit.start - thing.end <= NEAR for thing in signs.of("neg/thing") for hit in signs.of("retention/loss")
    )
    if not components and not general:
        if not figures or reading is None or not _of_milk(signs):
            return []
        if not context:
            return [Judgement("retention", "too_far", "figure_alone", "general_bare", None, handling)]
        # the one it fits best is the one it means
        meant = [_in_context(signs, each, handling, holdings) for each in context]
        return [max(meant, key=lambda each: VERDICTS.index(each.verdict))]
    opened = signs.has("question/open")
    if reading is None and opened and (components or general):
        component = components[0] if components else None
        return [Judgement("retention", "none", "question", None, component, handling)]
    if reading is None and components and signs.has("neg/unknown"):
        return [Judgement("retention", "none", "unknown_true", None, components[0], handling)]
    if reading is None and not (figures and (general or components)):
        return []
    measured = signs.baselines or signs.handlings or signs.has("retention/keep_weak")
    if figures and reading is None and components and not measured:
        # "Vitamin C: 97 %": a share of what, compared with what?
        return [Judgement("retention", "too_far", "figure_alone", "general_bare", components[0], handling)]
    known = holdings.library.components
    # fewer germs is a matter of safety, which no published count can carry
    named = [each for each in dict.fromkeys(components) if known[each].wanted != "germs"]
    judged = [_component(signs, each, handling, reading, holdings) for each in named]
    if len(named) < len(set(components)) and reading in ("loss", "most"):
        judged.append(Judgement("safety", "too_far", "safety", "safety", components[0], handling))
    if general:
        judged.append(_general(signs, handling, reading, holdings))
    return judged


def _in_context(signs: Signs, context: str, handling: str | None, holdings: Holdings) -> Judgement:
    """Return the judgement of a figure whose component only a heading names; unhandled, any of its figures fits."""
    mine = holdings.found.get(context, []) if handling is None else holdings.about(context, handling)
    if not mine:
        return Judgement("retention", "no_evidence", "no_finding", "no_finding", context, handling)
    judged = _counted(judge_figures(signs, context, handling, mine, load_rules().claims), signs, holdings)
    if judged.verdict == "supported" or (judged.verdict != "too_far" and not _with_interval(signs, mine)):
        return judged
    # beside its heading it may be a part of what stands there, and is no promise of its own
    return Judgement("retention", "vague", "figure_context", "finding", context, judged.handling, judged.findings)


def _with_interval(signs: Signs, mine: Sequence[Finding]) -> bool:
    """Return whether a share is an interval of a finding, or lies with its own inside one: no promise."""
    figures = shares(signs)
    bracketed = len(figures) + len([f for f in signs.figures if not f.share]) >= 3 and "(" in signs.tokens
    told = [each.limits for finding in mine for each in measured(finding) if each.limits]
    points = load_rules().claims.figure_points
    ends = any(
        len(figures) > 1 and all(any(abs(f.percent - end) <= points for end in limits) for f in figures)
        for limits in told
    )
    return ends or (bracketed and any(limits[0] <= figures[0].percent <= limits[1] for limits in told))


def _of_milk(signs: Signs) -> bool:
    return signs.has("retention/keep", "retention/loss", "retention/same")


def _component(
    signs: Signs, component: str, handling: str | None, reading: str | None, holdings: Holdings
) -> Judgement:
    found = holdings.about(component, handling)

    def judged(verdict: str, why: str, finding: Finding | None, wording: str | None = "finding") -> Judgement:
        kind = handling or (None if finding is None else family(finding.handling))
        told = () if finding is None else (finding,)
        return Judgement("retention", verdict, why, wording, component, kind, told)  # type: ignore[arg-type]

    if not found:
        return judged("no_evidence", "no_finding", None, "no_finding")
    if shares(signs):
        return _counted(judge_figures(signs, component, handling, found, load_rules().claims), signs, holdings)
    telling = [finding for finding in found if finding.every_study]
    if not telling:
        return judged("no_evidence", "not_counted", found[0], "no_finding")
    first = telling[0]
    limit = load_rules().claims.all_kept_percent
    if reading == "all":
        lost = [finding for finding in telling if shows_loss(finding, limit)]
        return judged("contradicted", "all_contradicted", lost[0]) if lost else judged("too_far", "all_too_far", first)
    if reading in ("most", "keep", "some"):
        if reading == "some" and any(shows_loss(finding, limit) for finding in telling):
            return judged("vague", "loss_vague", first)
        return judged("too_far", "most" if reading == "most" else "keeps", first)
    if reading == "rise":
        rose = [f for f in telling if any(s.kind == "rise" for s in f.said) or any(
            study.retained_percent > 100 for study in f.figure_studies)]  # fmt: skip
        if not rose:
            return judged("contradicted", "rise_contradicted", first)
    in_words = _supported_in_words(signs, reading, telling)
    if in_words is not None:
        return _counted(judged("supported", "supported_words", in_words, None), signs, holdings)
    if reading == "no_clear":
        return judged("too_far", "no_studies" if signs.studies is None else "wrong_comparison", first)
    lost = [finding for finding in telling if not _saw_no_loss(finding)]
    if not lost:
        return judged("contradicted", "loss_contradicted", first)
    return judged("vague", "loss_vague", lost[0])


def _counted(judgement: Judgement, signs: Signs, holdings: Holdings) -> Judgement:
    """Return the judgement, no longer supported where the sentence counts other mothers or samples than the rows do."""
    if judgement.verdict != "supported" or signs.people <= holdings.people(judgement.findings[0]):
        return judgement
    return replace(judgement, verdict="too_far", why="mothers", wording="finding")


def _saw_no_loss(finding: Finding) -> bool:
    return not finding.figure_studies and bool(finding.said) and {said.kind for said in finding.said} == {"no_change"}


def _supported_in_words(signs: Signs, reading: str | None, telling: Sequence[Finding]) -> Finding | None:
    """Return the finding in words that a sentence repeats: one direction, its comparison and its number of studies."""
    if signs.has("retention/certain", "retention/most", "retention/all") or signs.figures or unplain(signs):
        return None
    for finding in telling:
        directions = {said.kind for said in finding.said}
        if finding.figure_studies or finding.studies or len(directions) != 1:
            continue
        meant = _SAID[directions.pop()]
        fits = reading in meant and signs.studies == len(finding.said)
        if fits and compares_like(signs, frozenset(said.baseline for said in finding.said)):
            return finding
    return None


def _general(signs: Signs, handling: str | None, reading: str | None, holdings: Holdings) -> Judgement:
    limit = load_rules().claims.all_kept_percent
    lost = holdings.losing(handling, limit) or (holdings.losing(None, limit) if handling is None else None)
    told = () if lost is None else (lost,)
    wording = "general_bare" if handling is None else "general"
    figures = shares(signs)

    def judged(verdict: str, why: str) -> Judgement:
        return Judgement("retention", verdict, why, wording, None, handling, told)  # type: ignore[arg-type]

    if any(figure.percent not in (0.0, 100.0) for figure in figures):
        bound = signs.has("retention/up_to")
        return judged("too_far", "bound_general" if bound else "figure_general")
    everything = reading == "all" or (figures and reading in (None, "keep") and figures[0].percent == 100.0)
    if everything:
        return judged("contradicted" if lost else "too_far", "general_contradicted" if lost else "general")
    if reading in ("most", "keep", "no_clear", "rise") or reading is None:
        return judged("too_far", "general")
    if reading == "some":
        return judged("vague", "loss_general")
    return judged("vague", "loss_general")
