"""A clerk: what the desk has noted in one language, and its words for questions and handlings."""

from __future__ import annotations

from typing import Any

from evidence.model.windows import window
from reports.desk.cards import Card, Figure, Lead
from reports.desk.questions import Asked
from reports.desk.reply import SCHEMA, Reply, Status
from reports.desk.text import shown
from reports.desk.vocabulary import Lexicon, Redirect
from reports.words.catalogue import Catalogue
from reports.words.handlings import HandlingWords, handling_words
from reports.words.names import Name

__all__ = ["FREEZER", "NUTRIENTS", "Clerk", "kinds_of"]

FREEZER = ("frozen:home", "frozen:not-stated")
NUTRIENTS = ("bulk", "fragile")


def kinds_of(handling: str) -> tuple[str, ...]:
    """Return the kinds of findings that answer for a handling: a freezer of unstated temperature is a household one."""
    return FREEZER if handling in FREEZER else (handling,)


class Clerk:
    """Replies in one language."""

    def __init__(self, language: str, read: Any) -> None:
        self.language, self._read = language, read
        notes = read(f"desk/{language}")
        self.notes = notes
        self.main = Catalogue(notes["main"], notes["language"])
        self.say = Catalogue(notes["words"], notes["language"], "desk", main=self.main)
        self.redirects: dict[str, Redirect] = {each["id"]: Redirect(**each) for each in notes["redirects"]}
        self.harm = {each.id: (each.urgent, each.harm) for each in self.redirects.values()}
        self.cautions = tuple(notes["cautions"])
        self._lexicon: Lexicon | None = None
        self._cards: dict[str, tuple[list[Card], dict[str, Any]]] = {}
        self._leads: list[Lead] | None = None
        self._answered: list[Lead] | None = None
        self._figures: list[Figure] | None = None
        self.near: dict[tuple[str, str], list[str]] = {}

    @property
    def lexicon(self) -> Lexicon:
        """The words of this language."""
        if self._lexicon is None:
            self._lexicon = Lexicon.from_values(self._read(f"lexicon/{self.language}"))
        return self._lexicon

    @property
    def leads(self) -> list[Lead]:
        """All answers in short."""
        if self._leads is None:
            self._leads = [Lead(**each) for each in self._read(f"leads/{self.language}")]
        return self._leads

    @property
    def answered(self) -> list[Lead]:
        """The answers with a figure to which a question in our own words leads."""
        if self._answered is None:
            self._answered = [
                lead for lead in self.leads if lead.first and lead.status == "answered" and "+" not in lead.kind
            ]
        return self._answered

    def cards(self, component: str) -> tuple[list[Card], dict[str, Any]]:
        """Return a component's cards, leading first, and what else is noted of it."""
        if component not in self._cards:
            notes = self._read(f"component/{self.language}/{component}")
            self._cards[component] = ([Card(**each) for each in notes["cards"]], notes)
        return self._cards[component]

    def name(self, component: str) -> Name:
        """Return a component's name, with its forms."""
        return Name(*self.notes["names"][component])

    def blank(self, status: Status, sentence: str, **more: Any) -> Reply:
        """Return a reply that carries no finding."""
        values: dict[str, Any] = {
            "number": None, "component": None, "handling": None, "retained_percent": None, "ci_low": None,
            "ci_high": None, "interval_kind": None, "k_studies": 0, "k_rows": 0, "baselines": {}, "flags": (),
            "certainty": None, "how_sure": None, "others": (), "studies": (), "say": sentence, "email": sentence,
            "lang": self.language,
        } | more  # fmt: skip
        return Reply(
            schema=SCHEMA, status=status, sentence=sentence, cautions=self.cautions, edition=self.notes["edition"],
            evidence_of=self.notes["evidence_of"], **values,
        )  # fmt: skip

    def redirected(self, identity: str) -> Reply:
        """Return the words that send a question to someone else."""
        redirect = self.redirects[identity]
        return self.blank(
            "redirect", redirect.say, redirect_to=redirect.to_whom, redirect=identity,
            question=self.say.say("question/redirect", about=redirect.about),
        )  # fmt: skip

    def figures(self) -> list[Figure]:
        """Return the figures of all studies on drying and freezing."""
        if self._figures is None:
            self._figures = [Figure(**each) for each in self._read(f"figures/{self.language}")]
        return self._figures

    def words_for(self, asked: Asked) -> HandlingWords:
        """Return a handling asked for in words, its window included."""
        return handling_words(self.key_of(asked), self.main)

    def band_of(self, asked: Asked) -> str:
        """Return the band of a heating whose temperature was told, as evidence.handling.bands names it."""
        heat = self.notes["heat"]
        if asked.celsius is None or asked.handling not in heat["kinds"]:
            return ""
        under, upto = heat["edges"]
        return "under-70c" if asked.celsius <= under else "70-76c" if asked.celsius <= upto else "over-76c"

    def key_of(self, asked: Asked) -> str:
        """Return the handling key of a question, with the window of its time where it has one."""
        if band := self.band_of(asked):
            return f"{asked.handling}:{band}"
        edges = next((edges for name, edges in self.notes["edges"].items() if asked.handling.startswith(name)), None)
        if asked.days is None or edges is None or "+" in asked.handling:
            return asked.handling
        unit, factor = ("h", 24) if asked.handling.startswith(("chilled", "room")) else ("d", 1)
        band = window(round(asked.days[0] * factor, 6), round(asked.days[1] * factor, 6), edges)
        place = f"{asked.place or 'not-stated'}:" if asked.handling.startswith("kept") else ""
        return f"{asked.handling}:{place}{band}{unit}"

    def question(self, asked: Asked, component: str | None, card: Card | Lead | None) -> str:
        """Return a question as it was understood."""
        name = self.say.say("nutrients/name") if component is None else self.name(component)
        after = self.words_for(asked).after
        if card is not None and asked.days is None and not asked.place and not self.band_of(asked):
            after = handling_words(asked.handling, self.main).after
        said = self.asked_in_words(component, name, asked.handling, after)
        if asked.said and asked.days is not None:
            said = self.say.say("question/said", question=said, said=shown(asked.said))
        return self.say.say(f"question/{asked.part}", question=said) if asked.part else said

    def ask(self, lead: Lead) -> str:
        """Return a question in our own words."""
        kind = "frozen:home" if lead.kind in FREEZER else lead.kind
        after = handling_words(kind, self.main).after
        return self.asked_in_words(lead.component, self.name(lead.component), kind, after)

    def asked_in_words(self, component: str | None, name: Name | str, handling: str, after: str) -> str:
        """Return a question: what stays of what is wanted, what is done to what is not."""
        if component is None or component in self.notes["wanted"]:
            return self.say.say("question/about", component=name, after=after)
        noun = handling_words(handling, self.main).noun
        return self.main.say("title/question_the", component=name, noun=noun)
