"""The sentences of an answer, computed from interval, certainty and baseline, never from "significant"."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date

from evidence.findings.finding import Finding, Pooled, Review, Said, StudyEstimate
from evidence.model.tables import Measurement
from reports.words.catalogue import Catalogue, load_catalogue
from reports.words.compared import against_phrase, compared_phrase
from reports.words.handlings import handling_words
from reports.words.library import Library
from reports.words.named import component_name
from reports.words.names import Name
from reports.words.printed import is_note, reason_words
from reports.words.references import short_name

__all__ = [
    "answer_sentences",
    "by_hand",
    "component_words",
    "fresh_leads",
    "how_sure",
    "k_words",
    "no_evidence_sentence",
    "of_whom",
    "own_milk",
    "parts",
    "share_words",
    "what_they_saw",
]

_MOST_REASONS = 2
_MOST_SHARES = 3
_SAW_ORDER = ("fall", "no_change", "rise", "mixed")


def parts(percent: float, say: Catalogue | None = None) -> str:
    """Return percent as whole parts of 100."""
    say = say or load_catalogue()
    return say.say("parts/under_one") if percent < 0.5 else say.number(percent)


def component_words(finding: Finding, library: Library, say: Catalogue | None = None) -> Name:
    """Return the component as it stands in a sentence, with the form or kind of measure where that matters."""
    say = say or load_catalogue()
    activity = finding.measured_as == "activity" and finding.group in ("bulk", "fragile")
    form = finding.form if finding.form and "not stated" not in finding.form else ""
    return component_name(library.components[finding.component], say, form=form, activity=activity)


def of_whom(study: StudyEstimate | Said, rows: Sequence[Measurement], say: Catalogue) -> str:
    """Return " of five mothers" and its like, from what the paper printed; empty where it printed no number."""
    mine = [row for row in rows if row.id in study.rows]
    mothers = {row.n_mothers for row in mine if row.n_mothers} or {
        row.n for row in mine if row.n and row.n_kind == "donors"
    }
    if mothers:
        return " " + say.count("of_whom/mothers", min(mothers))
    samples = {row.n for row in mine if row.n and row.n_kind == "samples"}
    if samples:
        return " " + say.count("of_whom/samples", min(samples))
    return " " + say.say("of_whom/pooled") if any(row.n_kind == "pools" for row in mine) else ""


def what_they_saw(said: Sequence[Said], say: Catalogue) -> str:
    """Return "one saw less and two saw no clear change"; of a single study, "it saw less"."""
    if len(said) == 1:
        return say.say(f"saw_one/{said[0].kind}")
    counts = {kind: sum(each.kind == kind for each in said) for kind in _SAW_ORDER}
    return say.joined([say.count(f"saw/{kind}", count) for kind, count in counts.items() if count])


def _pooled_sentences(finding: Finding, pooled: Pooled, name: Name, after: str, say: Catalogue) -> list[str]:
    values = {
        "component": name,
        "after": after,
        "compared": compared_phrase(finding, say),
        "studies": say.count("studies", pooled.k_studies),
        "kept": parts(pooled.retained_percent, say),
        "gone": parts(max(100 - pooled.retained_percent, 0), say),
        "low": parts(pooled.ci_low, say),
        "high": parts(pooled.ci_high, say),
        "new_low": parts(pooled.new_low, say),
        "new_high": parts(pooled.new_high, say),
        "room": parts(max(100 - pooled.ci_low, 0), say),
    }
    state = finding.state
    if state == "amount":
        state = "amount_less" if pooled.retained_percent < 99.5 else "amount_more"  # type: ignore[assignment]
    sentences = [say.say(f"answer/{state}", **values)]
    if finding.fresh is not None:
        key = "fresh_headline" if fresh_leads(finding) else "from_fresh"
        fresh = finding.fresh
        told = say.say(
            f"answer/{key}", kept=parts(fresh.retained_percent, say), low=parts(fresh.ci_low, say),
            high=parts(fresh.ci_high, say), fresh_studies=say.count("studies", fresh.k_studies),
            k_of=say.count("of_studies", fresh.k_studies, studies=say.count("studies", pooled.k_studies)),
        )  # fmt: skip
        sentences = [told, *sentences] if key == "fresh_headline" else [*sentences, told]
    return sentences


def fresh_leads(finding: Finding) -> bool:
    """Return whether the answer from fresh milk differs enough to be the one to go by."""
    return finding.fresh is not None and finding.fresh.k_studies >= 3 and finding.fresh_state != finding.state


def _one_study(finding: Finding, name: Name, after: str, library: Library, say: Catalogue) -> list[str]:
    study = finding.figure_studies[0]
    kept = study.retained_percent
    rounded = round(kept)
    key = "one_study_less" if rounded < 100 else "one_study_more" if rounded > 100 else "one_study_same"
    sentence = say.say(
        f"answer/{key}", of_whom=of_whom(study, library.rows_of(finding), say),
        kept=parts(kept, say), gone=parts(max(100 - kept, 0), say),
        component=name, after=after, compared=compared_phrase(finding, say),
    )  # fmt: skip
    return [sentence, say.say("answer/one_study_cannot")]


def _two_studies(
    finding: Finding, pooled: Pooled, name: Name, after: str, library: Library, say: Catalogue
) -> list[str]:
    one, two = finding.figure_studies
    sentences = [
        say.say(
            "answer/two_studies", component=name, after=after, compared=compared_phrase(finding, say),
            study_1=short_name(library.studies[one.study], say), kept_1=parts(one.retained_percent, say),
            study_2=short_name(library.studies[two.study], say), kept_2=parts(two.retained_percent, say),
        )
    ]  # fmt: skip
    # the range always, an average never: averages printed only where they look certain are the exaggerated ones
    limits = {"low": parts(pooled.ci_low, say), "high": parts(pooled.ci_high, say)}
    sentences.append(say.say("answer/two_studies_range", against=against_phrase((one, two), say), **limits))
    return sentences


def _words_only(finding: Finding, name: Name, after: str, library: Library, say: Catalogue) -> list[str]:
    sentences: list[str] = []
    section = "count" if finding.group == "count" else "answer"
    for bound in finding.studies:
        sentences.append(
            say.say(
                f"{section}/bound_{bound.kind}", study=short_name(library.studies[bound.study], say),
                component=name, after=after,
                kept=parts(bound.retained_percent, say), compared=compared_phrase(finding, say, [bound.baseline]),
            )
        )  # fmt: skip
    if finding.said:
        key = "words_only_listed" if finding.group is None else "words_only"
        sentences.append(
            say.say(
                f"answer/{key}", studies=say.count("studies", len(finding.said)), component=name, after=after,
                what_they_saw=what_they_saw(finding.said, say),
                compared=compared_phrase(finding, say, [said.baseline for said in finding.said]),
            )
        )  # fmt: skip
    losses = [said.smallest_loss_percent for said in finding.said if said.smallest_loss_percent is not None]
    if losses and finding.group in ("bulk", "fragile"):
        sentences.append(say.say("answer/smallest_loss", percent=parts(min(losses), say)))
    return sentences


def _shares(finding: Finding, name: Name, after: str, library: Library, say: Catalogue) -> list[str]:
    """Return what studies print of a share: both values always, an average in points only from several of one assay."""
    assert finding.shares is not None
    told = [
        say.say(
            "share/study", study=short_name(library.studies[study.study]), component=name, after=after,
            before=share_words(study.before, say), then=share_words(study.after, say), unit=study.unit,
            compared=compared_phrase(finding, say, [study.baseline]),
        )
        for study in finding.shares.studies[:_MOST_SHARES]
    ]  # fmt: skip
    left = len(finding.shares.studies) - _MOST_SHARES
    if left > 0:
        told.append(say.count("share/more", left))
    for points in finding.shares.together:
        told.append(
            say.say(
                "share/together", studies=say.count("studies", points.k_studies), assay=points.assay,
                points=say.number(points.points), low=say.number(points.low), high=say.number(points.high),
                compared=compared_phrase(
                    finding, say, [each.baseline for each in finding.shares.studies if each.assay == points.assay]
                ),
            )
        )  # fmt: skip
    shown = {study.study for study in finding.shares.studies}
    rest = [said for said in finding.said if said.study not in shown]
    if rest:
        key = "also_one" if len(rest) == 1 else "also_in_words"
        told.append(say.say(f"answer/{key}", what_they_saw=what_they_saw(rest, say)))
    return [*told, say.say("share/not_amount")]


def share_words(percent: float, say: Catalogue) -> str:
    """Return a share in percent, small ones with a decimal."""
    return say.number(percent, 0 if percent >= 10 or percent == round(percent) else 1)


def _listed_only(finding: Finding, name: Name, after: str, say: Catalogue) -> list[str]:
    reasons = list(
        dict.fromkeys(
            say.say("answer/noted") if is_note(each.reason, say) else reason_words(each.reason, say)
            for each in finding.not_pooled
        )
    )
    why = say.say("list/of_two", first=reasons[0], second=reasons[1]) if len(reasons) > 1 else "".join(reasons)
    return [say.say("answer/listed_only", component=name, after=after, why=why)]


def k_words(finding: Finding, say: Catalogue) -> str:
    """Return how many studies stand behind a figure, and from two studies on the range that fits."""
    studies, pooled = say.count("studies", len(finding.figure_studies)), finding.pooled
    if pooled is None or pooled.k_studies < 2:
        return studies
    return say.say("answer/k_range", studies=studies, low=parts(pooled.ci_low, say), high=parts(pooled.ci_high, say))


def _level(finding: Finding) -> tuple[float, float, float]:
    """Return the level to name for counts and markers, and its interval: one study's own figure stands for itself."""
    pooled = finding.pooled
    assert pooled is not None
    if pooled.k_studies == 1:
        kept = finding.figure_studies[0].retained_percent
        return kept, kept, kept
    return pooled.retained_percent, pooled.ci_low, pooled.ci_high


def _times(ratio: float, say: Catalogue) -> str:
    return say.number(ratio) if ratio >= 10 or f"{ratio:.1f}".endswith(".0") else say.number(ratio, 1)


def _same_margin() -> float:
    from evidence.model.rules import load_rules  # most answers need no threshold, and loading them takes time

    return load_rules().printing.same_margin


def _marker(finding: Finding, name: Name, after: str, say: Catalogue) -> list[str]:
    kept, _, _ = _level(finding)
    margin = 100 / (1 - _same_margin())
    values = {
        "component": name, "after": after, "compared": compared_phrase(finding, say), "k_words": k_words(finding, say),
        "times": _times(kept / 100, say), "kept": parts(kept, say),
    }  # fmt: skip
    if kept > margin:
        return [say.say("marker/rise", **values), say.say("marker/unwelcome")]
    return [say.say("marker/lower" if kept < 100 * (1 - _same_margin()) else "marker/same", **values)]


def _fold(kept: float) -> str:
    """Return the word for what is left per 100: a tenth, a hundredth, a thousandth or less, else the share itself."""
    from evidence.model.rules import load_rules

    factor = load_rules().pages.fold_factor
    if kept <= 0.1 * factor:
        return "thousandth"
    near = {"hundredth": 1.0, "tenth": 10.0}
    return next((word for word, per in near.items() if per / factor <= kept <= per * factor), "share")


def _count(finding: Finding, name: Name, after: str, say: Catalogue) -> list[str]:
    kept, _, _ = _level(finding)
    fold = _fold(kept)
    values = {
        "component": name, "after": after, "compared": compared_phrase(finding, say), "k_words": k_words(finding, say),
        "times": _times(kept / 100, say),
        "fold": say.say(f"count/fold/{fold}", kept=say.number(kept, 0 if kept >= 1 else 1)),
    }  # fmt: skip
    margin = 100 * _same_margin()
    key = "fall" if kept < 100 - margin else "rise" if kept > 100 + margin else "same"
    return [say.say(f"count/{key}", **values)]


def answer_sentences(finding: Finding, library: Library, say: Catalogue) -> tuple[str, ...]:
    """Return the answer in sentences, the comparison in the same sentence as the number."""
    component = library.components[finding.component]
    name, after = component_words(finding, library, say), handling_words(finding.handling, say).after
    pooled = finding.pooled
    if finding.shares is not None:
        sentences = _shares(finding, name, after, library, say)
    elif finding.state == "listed_only":
        sentences = _listed_only(finding, name, after, say)
    elif pooled is None:
        sentences = _words_only(finding, name, after, library, say)
    elif finding.group == "marker":
        sentences = _marker(finding, name, after, say)
    elif finding.group == "count":
        sentences = _count(finding, name, after, say)
    elif finding.state == "one_study":
        sentences = _one_study(finding, name, after, library, say)
    elif finding.state == "two_studies":
        sentences = _two_studies(finding, pooled, name, after, library, say)
    else:
        sentences = _pooled_sentences(finding, pooled, name, after, say)
    if pooled is not None and finding.said:
        key = "also_one" if len(finding.said) == 1 else "also_in_words"
        sentences.append(say.say(f"answer/{key}", what_they_saw=what_they_saw(finding.said, say)))
    if component.wanted == "germs" or finding.group == "count":
        sentences.append(say.say("count/never_sterile"))
    return tuple(sentences)


def no_evidence_sentence(
    component: str, after: str, noun: str, between: int, say: Catalogue, *, told: bool = False
) -> str:
    """Return the sentence for a question that no finding answers.

    between counts studies that compared two handled milks with each other: measured, but not this handling alone.
    told: in a reply, which has no second side to point to.
    """
    if between:
        studies = say.count("studies", between)
        key = "only_between_told" if told else "only_between"
        return say.say(f"answer/{key}", component=component, noun=noun, studies=studies)
    return say.say("answer/no_evidence", component=component, after=after)


def _reason(reason: str, finding: Finding) -> str:
    if reason == "few compared with fresh" and len(finding.figure_studies) == 1:
        return "one not stated" if finding.figure_studies[0].baseline == "not stated" else "one not fresh"
    return reason


def how_sure(finding: Finding, say: Catalogue) -> str:
    """Return how sure anyone can be, for parents, with the weightiest reasons."""
    steps = sorted(finding.certainty.steps, key=lambda step: -step.down)[:_MOST_REASONS]
    reasons = say.joined([say.say(f"reason/{_reason(step.reason, finding)}") for step in steps])
    because = say.say("sure/because", reasons=reasons) if reasons else ""
    review = finding.certainty.in_force
    if review is not None:
        return by_hand(review, say)
    return say.say(f"sure/{finding.certainty.level}", because=because)


def by_hand(review: Review, say: Catalogue) -> str:
    """Return how sure a named reviewer says anyone can be, with the reason and what the figures alone give."""
    key = "review/parents_second" if review.second else "review/parents"
    return say.say(
        key, level=say.say(f"sure_word/{review.certainty}"), computed=say.say(f"sure_word/{review.computed}"),
        by=review.by, second=review.second, reason=review.reason, date=say.date(date.fromisoformat(review.date)),
    )  # fmt: skip


def own_milk(finding: Finding, say: Catalogue) -> str:
    """Return what the reader's own milk may do: the average is not their milk. Empty where no number was given."""
    pooled = finding.pooled
    if pooled is None or finding.group in ("count", "marker"):
        return ""
    if pooled.k_studies == 1:
        study = finding.figure_studies[0]
        if study.own_spread and study.n is not None and len(study.rows) == 1:
            # about 95 of 100 milks: two SDs of the ln ratio between milks either side
            reach = 2 * study.se * math.sqrt(study.n)
            low, high = (100 * math.exp(study.log_ratio + sign * reach) for sign in (-1, 1))
            return say.say("own_milk/one_study", low=parts(low, say), high=parts(high, say))
    if pooled.k_studies < 3:
        return say.say("own_milk/unknown")
    return say.say("own_milk/new_study", new_low=parts(pooled.new_low, say), new_high=parts(pooled.new_high, say))
