"""An answer at other lengths: a sentence for the phone, a few for an e-mail; the comparison stays beside the number."""

from __future__ import annotations

from datetime import date

from evidence.findings.finding import Finding
from evidence.model.tables import Caution
from reports.words.answers import answer_sentences, component_words, fresh_leads, how_sure, parts
from reports.words.brief import short_answer
from reports.words.catalogue import Catalogue
from reports.words.handlings import family, handling_words
from reports.words.library import Library
from reports.words.named import caution_text
from reports.words.references import reference_line

__all__ = ["email_text", "fitting_caution", "phone_text", "road_sentence"]

# which cautions fit a handling: the topic they are filed under in cautions.csv
_TOPICS = {
    "freeze-dried": "drying", "spray-dried": "drying", "kept": "drying", "frozen": "storage", "chilled": "storage",
}  # fmt: skip
_EVERYWHERE = "all"


def phone_text(finding: Finding, library: Library, say: Catalogue) -> str:
    """Return the answer in one sentence with its comparison, and that it is about nutrients, not safety."""
    values = {
        "component": component_words(finding, library, say), "after": handling_words(finding.handling, say).after,
        "sure": say.say(f"sure_word/{finding.certainty.level}"), "answer": short_answer(finding, library, say),
    }  # fmt: skip
    if finding.state == "listed_only":
        told = say.say("phone/listed", **values)
    elif finding.fresh is not None and finding.pooled is not None and fresh_leads(finding):
        fresh = finding.fresh
        told = say.say(
            "phone/fresh", kept=parts(fresh.retained_percent, say), low=parts(fresh.ci_low, say),
            high=parts(fresh.ci_high, say), **values,
            k_of=say.count("of_studies", fresh.k_studies, studies=say.count("studies", finding.pooled.k_studies)),
        )  # fmt: skip
    else:
        told = say.say("phone/answer", **values)
    germs = library.components[finding.component].wanted == "germs" or finding.group == "count"
    # "no clear change" in words must not be heard as "nothing is lost"
    quiet = finding.pooled is None and any(each.kind == "no_change" for each in finding.said)
    told = _run_on(told, say.say("phone/unseen") if quiet and not germs else "")
    return _run_on(told, say.say("count/never_sterile" if germs else "phone/nutrients"))


def email_text(finding: Finding, library: Library, say: Catalogue, address: str = "") -> str:
    """Return the answer for an e-mail: three short paragraphs, and the numbered sources on lines of their own.

    address is where the newest page stands; empty: no such line.
    """
    edition = library.edition
    answered = answer_sentences(finding, library, say)
    sure = "" if finding.state == "listed_only" else say.say("email/sure", how_sure=how_sure(finding, say))
    number = say.say(
        "own/answer_number", number=finding.number, edition=edition.hash[:12],
        date=say.date(date.fromisoformat(edition.evidence_of)),
    )  # fmt: skip
    foot = say.say(
        "email/foot", nutrients=say.say("own/nutrients_only"), answer_number=number,
        caution=caution_text(fitting_caution(finding, library), say),
    )  # fmt: skip
    newest = say.say("email/newest", address=address) if address else ""
    blocks = [" ".join(answered), _run_on(sure, road_sentence(finding, say)), _run_on(foot, newest)]
    sources = [_source(key, place, library, say) for place, key in enumerate(_cited(finding), start=1)]
    if sources:
        blocks.append("\n".join([say.say("email/sources"), *sources]))
    return "\n\n".join(block for block in blocks if block) + "\n"


def road_sentence(finding: Finding, say: Catalogue) -> str:
    """Return what the number leaves out of the way a client's own milk went; empty without a number."""
    if finding.pooled is None:
        return ""
    classes = {study.baseline for study in finding.figure_studies}
    kind = family(finding.handling)
    if kind.startswith("kept"):
        return say.say("road/keeping")
    if kind in ("freeze-dried", "spray-dried"):
        key = "fresh" if classes == {"fresh"} else "frozen" if classes == {"frozen"} else "unsure"
        return say.say(f"road/drying_{key}")
    if kind.startswith("frozen") and "+" not in kind:
        return say.say("road/freezing_fresh" if classes == {"fresh"} else "road/freezing_unsure")
    return say.say("road/other")


def fitting_caution(finding: Finding, library: Library) -> Caution:
    """Return the caution that fits a finding's handling best: one on drying, one on storage, else the general one."""
    topic = _TOPICS.get(finding.handling.split("+")[-1].split(":")[0], _EVERYWHERE)
    ranked = sorted(library.cautions, key=lambda each: (topic not in each.topics.split(";"), each.position))
    return ranked[0]


def _run_on(*sentences: str) -> str:
    return " ".join(sentence for sentence in sentences if sentence)


def _cited(finding: Finding) -> list[str]:
    return list(dict.fromkeys(each.study for each in finding.every_study))


def _source(key: str, number: int, library: Library, say: Catalogue) -> str:
    study = library.studies[key]
    links = [f"https://doi.org/{study.doi}" if study.doi else "", f"PMID {study.pmid}" if study.pmid else ""]
    told = say.say("email/source", number=number, reference=reference_line(study, say))
    return _run_on(told, *links)
