"""Claims that no published retention can carry (health, safety, content, ...), and what is no claim."""

from __future__ import annotations

from collections.abc import Iterable

from reports.claims.judgement import Judgement, Kind, Verdict
from reports.claims.signs import FAR, NEAR, Signs

__all__ = ["judge_others", "no_claim"]

_STEP = "→"  # between the steps of a row's handling, which is a record and no advice
_SENTENCE = 5  # words; fewer are a heading or a label
_ENDS = 6  # words between "keeps" and the time it keeps for


def judge_others(signs: Signs) -> list[Judgement]:
    """Return the judgements of all claims in a sentence but those about what stays."""
    return [*_safety(signs), *_health(signs), *_endorsement(signs), *_comparison(signs), *_content(signs)]


def no_claim(signs: Signs) -> Judgement:
    """Return the judgement of a sentence without a claim: how the milk is handled, or anything else.

    One that names parts of milk and says of them what the check cannot read is called vague, and so is shown.
    """
    words = sum(token[0].isalpha() for token in signs.tokens)
    names = bool(signs.components) or signs.has("retention/general")
    if names and words >= _SENTENCE and not signs.asks and not signs.has("question/open"):
        return _judged(signs, "content", "vague", "content_unread", "content")
    if signs.has("process/does") and not signs.asks and not signs.has("opinion/shop"):
        return Judgement("process", "none", "process")
    return Judgement("opinion", "none", "nothing")


def _judged(signs: Signs, kind: Kind, verdict: Verdict, why: str, wording: str | None) -> Judgement:
    component = signs.components[0][1] if signs.components else None
    handling = signs.handlings[0] if signs.handlings else None
    return Judgement(kind, verdict, why, wording, component, handling)


def _warns(signs: Signs, kind: Kind) -> Judgement:
    return _judged(signs, kind, "none", "denied", None)


def _safety(signs: Signs) -> Iterable[Judgement]:
    warned = signs.has("safety/caution")
    claimed = False
    for hit in signs.of("safety/sterile"):
        claimed = True
        if signs.denied(hit, NEAR):
            yield _warns(signs, "safety")
        else:
            yield _judged(signs, "safety", "contradicted", "safety_sterile", "safety")
    for act in signs.of("safety/kills"):
        for hit in signs.of("safety/bad"):
            if not signs.denied(act, NEAR) and abs(hit.start - act.end) <= FAR:
                claimed = True
                yield _judged(signs, "safety", "contradicted", "safety_sterile", "safety")
    for hit in signs.of("safety/bad"):
        if any(signs.denied(act, NEAR) and 0 <= hit.start - act.end <= NEAR for act in signs.of("safety/kills")):
            yield _warns(signs, "safety")  # "kills no germs"
        elif signs.denied_by(hit, FAR, "safety/free") and not warned:
            claimed = True
            yield _judged(signs, "safety", "too_far", "safety", "safety")
        elif warned or signs.denied(hit, FAR):
            yield _warns(signs, "safety")
    for hit in signs.of("safety/good"):
        claimed = True
        if signs.denied(hit, NEAR):
            yield _warns(signs, "safety")
        else:
            yield _judged(signs, "safety", "too_far", "safety", "safety")
    for _ in signs.of("safety/topic"):
        yield _warns(signs, "safety")
    if signs.has("safety/shelf") or _keeps_for(signs):
        claimed = True
        yield _judged(signs, "safety", "too_far", "safety_store", "safety_store")
    if _warm_water(signs):
        claimed = True
        yield _judged(signs, "safety", "too_far", "safety_water", "safety_water")
    yield from _vulnerable(signs, warned, claimed)


def _keeps_for(signs: Signs) -> bool:
    """Return whether a sentence promises a time in store: "keeps for", "lasts", "store it", and a time after it."""
    if signs.days is None or signs.studies is not None or signs.has("safety/caution"):
        return False
    times = [place for place, token in enumerate(signs.tokens) if token in signs.words.days]
    return any(
        0 <= place - hit.end <= _ENDS and not signs.denied(hit, NEAR, after=False)
        for hit in signs.of("safety/shelf_verb")
        for place in times
    )


def _warm_water(signs: Signs) -> bool:
    """Return whether a sentence tells how warm to make the drink: a way to prepare it and a temperature above zero."""
    if _STEP in signs.tokens or signs.asks or signs.studies is not None or signs.has("safety/caution"):
        return False
    return any(
        abs(warm.start - way.end) <= FAR and not signs.denied(way, NEAR, after=False)
        for way in signs.of("safety/prepare")
        for warm in signs.of("safety/warm")
        if "−" not in signs.tokens[max(0, warm.start - 2) : warm.start]
    )


def _vulnerable(signs: Signs, warned: bool, claimed: bool) -> Iterable[Judgement]:
    for hit in signs.of("safety/vulnerable"):
        if warned or signs.denied(hit, NEAR):
            yield _warns(signs, "safety")
        elif any(not signs.denied(suit, NEAR) for suit in signs.of("safety/suits")):
            yield _judged(signs, "safety", "too_far", "safety", "safety_vulnerable")
        elif signs.has("safety/suits"):
            yield _warns(signs, "safety")
        elif not claimed:
            yield _judged(signs, "safety", "vague", "safety_vague", "safety_vulnerable")
    if warned and not signs.has("safety/vulnerable"):
        yield _warns(signs, "safety")


def _health(signs: Signs) -> Iterable[Judgement]:
    warned = signs.has("safety/caution", "health/caution")
    for hit in signs.of("health/good"):
        if warned or signs.denied(hit, NEAR):
            yield _warns(signs, "health")
        else:
            yield _judged(signs, "health", "too_far", "health", "health")
    for hit in signs.of("health/bad"):
        acts = [act for act in signs.of("health/acts") if abs(act.start - hit.start) <= FAR]
        if acts and not warned and not all(signs.denied(act, NEAR, after=False) for act in acts):
            yield _judged(signs, "health", "too_far", "health", "health")
        elif warned or acts:
            yield _warns(signs, "health")
    if signs.has("health/caution"):
        yield _warns(signs, "health")


def _endorsement(signs: Signs) -> Iterable[Judgement]:
    for hit in signs.of("endorsement/by"):
        if signs.has("safety/caution") or signs.denied(hit, NEAR):
            yield _warns(signs, "endorsement")
        else:
            yield _judged(signs, "endorsement", "no_evidence", "endorsement", "endorsement")


def _comparison(signs: Signs) -> Iterable[Judgement]:
    for hit in signs.of("comparison/whole"):
        if signs.denied(hit, NEAR):
            yield _warns(signs, "comparison")
        elif not signs.baselines:
            yield _judged(signs, "comparison", "too_far", "like", "like")
    if not signs.has("comparison/target"):
        return
    for hit in signs.of("comparison/like"):
        if signs.denied(hit, NEAR):
            yield _warns(signs, "comparison")
        elif not (signs.studies is not None and signs.baselines):
            yield _judged(signs, "comparison", "too_far", "like", "like")
    for hit in signs.of("comparison/apart"):
        if signs.denied(hit, FAR) or signs.has("comparison/impossible"):
            yield _judged(signs, "comparison", "too_far", "like", "like")
        else:
            yield _warns(signs, "comparison")
    for hit in signs.of("comparison/better"):
        if signs.denied(hit, NEAR):
            yield _warns(signs, "comparison")
        else:
            yield _judged(signs, "comparison", "no_evidence", "better", "better")


def _content(signs: Signs) -> Iterable[Judgement]:
    soft = {place for hit in signs.of("content/soft") for place in range(hit.start, hit.end)}
    nutrients = [hit for hit in signs.of("retention/general") if hit.start not in soft]
    if signs.has("content/holds") and (signs.components or nutrients):
        denied = all(signs.denied(hit, NEAR) for hit in signs.of("content/holds"))
        if denied:
            yield _warns(signs, "content")
        else:
            yield _judged(signs, "content", "no_evidence", "content", "content")
    elif soft:
        yield _judged(signs, "content", "vague", "content_soft", "content_soft")
