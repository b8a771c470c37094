"""The copy check: a text's sentences, each with its kind, its verdict and the shortest wording that may stand."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from evidence.findings.finding import Finding
from evidence.store.connection import Store
from reports.claims.holdings import Holdings, may_stand, open_holdings, said_in
from reports.claims.judgement import TO_CHANGE, Judgement, Kind, Verdict, worst
from reports.claims.language import UNREAD, languages_of
from reports.claims.other_claims import judge_others, no_claim
from reports.claims.own import OwnLines
from reports.claims.retention import judge_retention, reading_of
from reports.claims.signs import Signs, read_signs
from reports.claims.split import split_block
from reports.claims.vocabulary import LANGUAGES, Hit, load_claim_words
from reports.words.catalogue import Catalogue, load_catalogue
from reports.words.handlings import family, handling_words
from reports.words.named import component_name

__all__ = ["Checker", "Claim", "check_claims", "claims_catalogue", "open_checker"]


@dataclass(frozen=True)
class Behind:
    """A finding behind a verdict: its number and what it says, in one sentence."""

    number: str
    sentence: str


@dataclass(frozen=True)
class Claim:
    """A sentence and what the check says of it, as --json prints it.

    wording: the shortest that may stand; the sentence itself where nothing is to change. lang "und": not read.
    """

    sentence: str
    kind: Kind
    verdict: Verdict
    why: str
    wording: str
    component: str | None
    handling: str | None
    findings: tuple[Behind, ...]
    lang: str

    @property
    def to_change(self) -> bool:
        """Whether the sentence may not stand as it is."""
        return self.verdict in TO_CHANGE

    def as_json(self) -> dict[str, Any]:
        """Return the claim as plain values."""
        plain = dict(vars(self))
        plain["findings"] = [vars(each) for each in self.findings]
        return plain


@lru_cache(maxsize=8)
def claims_catalogue(language: str) -> Catalogue:
    """Return the sentences of the check in a language."""
    return load_catalogue(language, "claims")


class Checker:
    """Checks sentences against one store; keeps what it has looked up."""

    def __init__(self, holdings: Holdings) -> None:
        self.holdings = holdings
        self._own = OwnLines(holdings)

    def check(self, blocks: Iterable[str], language: str | None = None) -> list[Claim]:
        """Return a claim for every sentence of the blocks, in order; language: None to tell it by the words."""
        pieces: list[tuple[str, bool]] = []
        for block in blocks:
            cited = self._own.cites(block)
            pieces += [(each, cited) for each in split_block(block)]
        sentences = [sentence for sentence, _ in pieces]
        told = [language] * len(sentences) if language else languages_of(sentences)
        context: tuple[str, ...] = ()  # the component named last, and the one that the text named first
        claims: list[Claim] = []
        for (sentence, cited), each in zip(pieces, told, strict=True):
            if cited:
                claims.append(_reference(sentence, each))
                continue
            claim, named = self._one(sentence, each, context)
            context = context if named is None else tuple(dict.fromkeys([named, *context[-1:]]))
            claims.append(claim)
        return claims

    def _one(self, sentence: str, language: str, context: tuple[str, ...]) -> tuple[Claim, str | None]:
        if language == UNREAD:
            say = claims_catalogue(LANGUAGES[0])
            why = say.say("why/not_read")
            return Claim(sentence, "opinion", "vague", why, sentence, None, None, (), UNREAD), None
        signs = read_signs(sentence, load_claim_words(language), self.holdings.names[language])
        left = self._own.without_titles(signs.tokens)
        if len(left) < len(signs.tokens):
            signs = read_signs(" ".join(left), signs.words, self.holdings.names[language])
        named = [identity for _, identity in signs.components]
        own = self._own.finding(signs.tokens, [*named, *context], language)
        if own is not None:
            judgement = _of_own(*own)
        elif self._own.is_line(signs.tokens):
            judgement = Judgement("retention", "none", "row", None, context[0] if context else None)
        else:
            judgement = self._judge(signs, context)
        only = named[0] if len(set(named)) == 1 else None
        return self._told(sentence, judgement, language), only

    def _judge(self, signs: Signs, context: tuple[str, ...]) -> Judgement:
        claims = [*judge_retention(signs, self.holdings, context), *judge_others(signs)]
        if not claims:
            return no_claim(signs)
        if signs.asks and not _claims_by_asking(signs):
            return _denied(worst(claims), "question")
        denial = _denial(signs)
        if denial is None:
            return worst(claims)
        tail = _after_turn(signs, denial)
        head = self._denied_head(signs, claims)
        if tail is None:
            return head
        rest = read_signs(tail, signs.words, self.holdings.names[signs.words.language])
        if not rest.components and signs.components:
            rest = _with_components(rest, signs)
        more = [*judge_retention(rest, self.holdings, context), *judge_others(rest)]
        return worst([head, *more])

    def _denied_head(self, signs: Signs, claims: Sequence[Judgement]) -> Judgement:
        main = worst(claims)
        if signs.has("neg/unknown") and signs.components:
            handling = signs.handlings[0] if signs.handlings else None
            for _, component in signs.components:
                known = [f for f in self.holdings.about(component, handling) if f.every_study]
                if known:
                    kind = handling or family(known[0].handling)
                    return Judgement(
                        "retention", "contradicted", "unknown_false", "finding", component, kind, (known[0],)
                    )
            component = signs.components[0][1]
            return Judgement("retention", "none", "unknown_true", None, component, handling)
        if signs.has("neg/myth") and not signs.has("neg/untrue"):
            reading = reading_of(signs)
            if reading in ("loss", "cautious", "some") or main.verdict in ("none", "vague"):
                wording = "general_bare" if main.handling is None or main.component else "general"
                return Judgement(main.kind, "too_far", "myth", wording, main.component, main.handling, main.findings)
        return _denied(main, "denied")

    def _told(self, sentence: str, judgement: Judgement, language: str) -> Claim:
        say = claims_catalogue(language)
        library = self.holdings.library
        first = judgement.findings[0] if judgement.findings else None
        main = load_catalogue(said_in(language))
        words = None if judgement.handling is None else handling_words(judgement.handling, main)
        name = library.components.get(judgement.component or "")
        values = {
            "number": "" if first is None else first.number,
            "noun": "" if words is None else words.noun,
            "after": "" if words is None else words.after,
            "component": "" if name is None else component_name(name, main),
        }
        wording = sentence
        if judgement.wording == "finding" and first is not None:
            wording = may_stand(first, library, language)
        elif judgement.wording is not None and judgement.wording != "finding":
            key = judgement.wording
            if key == "no_finding" and not (values["component"] and values["after"]):
                key = "no_finding_bare"
            elif key == "general" and not values["after"]:
                key = "general_bare"
            wording = say.say(f"wording/{key}", **values)
        behind = tuple(Behind(f.number, may_stand(f, library, language)) for f in judgement.findings)
        return Claim(
            sentence, judgement.kind, judgement.verdict, say.say(f"why/{judgement.why}", **values), wording,
            judgement.component, judgement.handling, behind, language,
        )  # fmt: skip


def _of_own(finding: Finding, compares: bool) -> Judgement:
    kind, told = family(finding.handling), (finding,)
    if compares:
        return Judgement("retention", "supported", "own", None, finding.component, kind, told)
    return Judgement("retention", "none", "own_none", None, finding.component, kind, told)


def _reference(sentence: str, language: str) -> Claim:
    say = claims_catalogue(LANGUAGES[0] if language == UNREAD else language)
    return Claim(sentence, "opinion", "none", say.say("why/reference"), sentence, None, None, (), language)


def _denied(judgement: Judgement, why: str) -> Judgement:
    return Judgement(judgement.kind, "none", why, None, judgement.component, judgement.handling)


def _claims_by_asking(signs: Signs) -> bool:
    """Return whether a question asserts: "did you know that ...", "why lose ...", "..., right?"."""
    opens = any(hit.start <= 1 for hit in signs.of("question/claims"))
    tagged = any(hit.end >= len(signs.tokens) - 1 and hit.start > 1 for hit in signs.of("question/tags"))
    return opens or tagged


def _denial(signs: Signs) -> Hit | None:
    hits = [*signs.of("neg/untrue"), *signs.of("neg/unknown"), *signs.of("neg/myth")]
    return min(hits, key=lambda hit: hit.start, default=None)


def _after_turn(signs: Signs, denial: Hit) -> str | None:
    """Return what follows a "but" behind a denial: that is said, not denied."""
    turns = [hit for hit in signs.of("neg/turn") if hit.start >= denial.end]
    return " ".join(signs.tokens[turns[0].end :]) if turns else None


def _with_components(rest: Signs, signs: Signs) -> Signs:
    from dataclasses import replace

    return replace(rest, components=signs.components, handlings=rest.handlings or signs.handlings)


def open_checker(store: Store) -> Checker:
    """Return a checker over a store, brought up to date first."""
    return Checker(open_holdings(store))


def check_claims(blocks: Iterable[str], store: Store, language: str | None = None) -> list[Claim]:
    """Return a claim for every sentence of the blocks, in order."""
    return open_checker(store).check(blocks, language)
