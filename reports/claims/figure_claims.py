"""A claim with a figure, held against the findings on its component."""

from __future__ import annotations

from collections.abc import Sequence

from evidence.findings.finding import Finding
from evidence.model.rules import ClaimRules
from reports.claims.figures import Figure
from reports.claims.holdings import Measured, covers, measured
from reports.claims.judgement import Judgement
from reports.claims.signs import CLASSES, FAR, Signs
from reports.claims.vocabulary import Hit
from reports.words.handlings import family

__all__ = ["claimed_parts", "compares_like", "judge_figures", "shares", "unplain"]

_STRONG = ("retention/keep", "retention/loss", "retention/rise", "retention/same")


def shares(signs: Signs) -> list[Figure]:
    """Return the figures that stand for a share."""
    return [figure for figure in signs.figures if figure.share]


def _distance(figure: Hit, word: Hit) -> int:
    return word.start - figure.end if word.start >= figure.end else figure.start - word.end


def claimed_parts(figure: Figure, signs: Signs) -> float | None:
    """Return what a figure claims to be still there, in parts of 100; None where the sentence does not tell.

    The nearest word of keeping, losing or rising decides; "found 69 %" keeps, where no such word stands.
    """
    for categories in (_STRONG, ("retention/keep_weak",)):
        near = [(_distance(figure.place, hit), category) for category in categories for hit in signs.of(category)]
        if near:
            word = min(near)[1].partition("/")[2]
            if word == "loss":
                return 100 - figure.percent
            return 100 + figure.percent if word == "rise" else figure.percent
    return None


def compares_like(signs: Signs, told: frozenset[str]) -> bool | None:
    """Return whether a sentence names the baselines that studies compared with; None where it names none."""
    named = signs.baselines
    if not named:
        return None
    classes = {name.replace(" ", "_").replace("-", "_") for name in told}
    if named == {"mixed"}:
        return len(classes) > 1
    return named == classes & set(CLASSES)


def _near(figure: Figure, value: float, limit: ClaimRules) -> bool:
    return abs(figure.percent - value) <= (limit.fraction_points if figure.fraction else limit.figure_points)


def _agrees(figure: Figure, claimed: float | None, each: Measured, limit: ClaimRules) -> bool:
    if claimed is None:
        return False
    points = limit.fraction_points if figure.fraction else limit.figure_points
    return any(abs(claimed - kept) <= points for kept in each.kept)


def _known(figure: Figure, each: Measured, limit: ClaimRules) -> bool:
    """Return whether a finding prints a figure at all: kept or gone, or a limit of either."""
    values = [*each.kept, *each.limits]
    return any(_near(figure, value, limit) or _near(figure, 100 - value, limit) for value in values)


def judge_figures(
    signs: Signs, component: str, handling: str | None, found: Sequence[Finding], limit: ClaimRules
) -> Judgement:
    """Return the judgement of a sentence with a figure about one component; found: what it is held against."""
    figures = shares(signs)
    bare = [figure for figure in signs.figures if not figure.share]

    def judged(verdict: str, why: str, finding: Finding, wording: str | None = "finding") -> Judgement:
        kind = handling or family(finding.handling)
        return Judgement("retention", verdict, why, wording, component, kind, (finding,))  # type: ignore[arg-type]

    candidates = [each for finding in found for each in measured(finding)]
    if not candidates:
        if not any(finding.every_study for finding in found):
            return judged("no_evidence", "not_counted", found[0], "no_finding")
        return judged("too_far", "figure_nobody", next(f for f in found if f.every_study))
    claims = [(figure, claimed_parts(figure, signs)) for figure in figures]
    agreeing = [
        each
        for each in candidates
        if any(_agrees(figure, claimed, each, limit) for figure, claimed in claims)
        and all(_known(figure, each, limit) for figure in figures)
    ]
    if not agreeing:
        best = candidates[0]
        inside = bool(best.limits) and all(
            claimed is not None and best.limits[0] <= claimed <= best.limits[1] for _, claimed in claims
        )
        return judged(
            *(("too_far", "figure_inside") if inside else ("contradicted", "figure_contradicted")), best.finding
        )
    # the candidate whose comparison, studies and time fit best is the one that is meant
    each = max(
        agreeing,
        key=lambda one: (
            covers(one.finding.handling, signs.days),
            bool(compares_like(signs, one.baselines)),
            signs.studies == one.studies,
        ),
    )
    finding = each.finding
    if any(hit.start >= 0 for hit in signs.of("retention/up_to")) and _bounds_a_share(signs, figures):
        return judged("too_far", "bound", finding)
    if signs.has("retention/certain") or any(signs.denied(figure.place, FAR, after=False) for figure in figures):
        return judged("too_far", "certain", finding)
    alike = compares_like(signs, each.baselines)
    if alike is None:
        return judged("too_far", "no_comparison", finding)
    if not alike:
        return judged("too_far", "wrong_comparison", finding)
    if signs.studies is None:
        return judged("too_far", "no_studies", finding)
    if signs.studies != each.studies or any(
        not _known(figure, each, limit) for figure in bare if figure.percent > limit.small_count
    ):
        return judged("too_far", "wrong_studies", finding)
    if not covers(finding.handling, signs.days) and (signs.days is not None or _has_window(finding)):
        return judged("too_far", "no_time", finding)
    if signs.has("retention/all", "retention/most") and not _all_of_count(signs):
        return judged("too_far", "certain", finding)
    if len(signs.handlings) > 1 or unplain(signs):
        return judged("too_far", "says_more", finding)
    if (len(each.kept) == 2 and not _range_told(figures, each, limit)) or _hides_a_fall(each, limit):
        return judged("too_far", "one_of_two", finding)
    if handling is None:
        return judged("supported", "supported_handling", finding)
    if each.limits and not _range_told(figures, each, limit):
        return judged("supported", "supported_add", finding)
    return judged("supported", "supported", finding, None)


def _hides_a_fall(each: Measured, limit: ClaimRules) -> bool:
    """Return whether a figure that shows no loss would leave out studies in words that saw one."""
    saw = {said.kind for said in each.finding.said}
    return max(each.kept) >= limit.all_kept_percent and bool(saw & {"fall", "mixed"})


# what a sentence on a finding is made of; anything else in it may add to the finding, and is in doubt
_PARTS = ("percent/after", "studies/words", "studies/only", "compared/opens", "compared/mixed", "supported/plain")


def unplain(signs: Signs) -> tuple[str, ...]:
    """Return the words that no sentence on a finding needs: with one of them it says more, or something else."""
    covered = {place for figure in signs.figures for place in range(figure.place.start, figure.place.end)}
    covered |= {place for hit, _ in signs.components for place in range(hit.start, hit.end)}
    covered |= signs.handled
    for category in (*_PARTS, *(f"compared/{name}" for name in CLASSES)):
        covered |= {place for hit in signs.of(category) for place in range(hit.start, hit.end)}
    unsaid = {place for hit in signs.of("compared/not_stated") for place in range(hit.start, hit.end)}
    clear = {place for hit in signs.of("retention/no_clear") for place in range(hit.start, hit.end)}
    # "not" only where the past is not stated, "no" only before a change or a number
    denied = {
        place
        for hit in signs.of("neg/before")
        for place in range(hit.start, hit.end)
        if place not in unsaid | clear and signs.tokens[place + 1 : place + 2] not in _NO_NUMBER
    }
    return tuple(
        token
        for place, token in enumerate(signs.tokens)
        if token[0].isalpha() and (place not in covered or place in denied)
    )


_NO_NUMBER = (("number",), ("figure",), ("nombre",), ("chiffre",), ("número",), ("cifra",))


def _has_window(finding: Finding) -> bool:
    return not covers(finding.handling, None)


def _range_told(figures: Sequence[Figure], each: Measured, limit: ClaimRules) -> bool:
    if len(each.kept) == 2:
        return all(any(_near(f, kept, limit) or _near(f, 100 - kept, limit) for f in figures) for kept in each.kept)
    low, high = each.limits[:2]
    return all(any(_near(f, end, limit) or _near(f, 100 - end, limit) for f in figures) for end in (low, high))


def _bounds_a_share(signs: Signs, figures: Sequence[Figure]) -> bool:
    """Return whether an "up to" stands right before a share."""
    return any(0 <= figure.place.start - hit.end <= 2 for hit in signs.of("retention/up_to") for figure in figures)


def _all_of_count(signs: Signs) -> bool:
    """Return whether every "every" and "100" of a sentence belongs to a sign of a share ("of every 100 parts")."""
    covered = {place for hit in signs.of("percent/after") for place in range(hit.start, hit.end)}
    covered |= {place for figure in signs.figures for place in range(figure.place.start, figure.place.end)}
    free = [
        hit
        for name in ("retention/all", "retention/most")
        for hit in signs.of(name)
        if not covered & set(range(hit.start, hit.end))
    ]
    return not free
