"""The one component that a name, synonym or id means."""

from __future__ import annotations

from sqlmodel import Session, select

from evidence.model.problems import nearest_word
from evidence.model.tables import Component, ComponentName
from evidence.store.connection import Store
from reports.desk.matching import near
from reports.desk.text import normalised
from reports.desk.vocabulary import LANGUAGES, Lexicon, lexicon_values

__all__ = ["component_called", "names_of"]


def names_of(store: Store) -> tuple[list[tuple[str, str, str]], dict[str, bool]]:
    """Return (component, language, name) of all names in a store, and which components a parent would ask for."""
    with store.engine.connect() as connection:
        names = connection.execute(select(ComponentName.component, ComponentName.language, ComponentName.name)).all()
    with Session(store.engine, expire_on_commit=False) as session:
        known = session.exec(select(Component)).all()
    every = [(component, language, name) for component, language, name in names]
    every += [(each.id, "en", each.id) for each in known]
    # our own questions name a component as sentences do
    spoken = [
        (each.id, language, getattr(each, f"sentence_name_{language}")) for each in known for language in LANGUAGES
    ]
    every += [each for each in spoken if each[2]]
    return every, {each.id: each.question_worthy == "1" for each in known}


def component_called(store: Store, text: str) -> tuple[str | None, str | None]:
    """Return (component, nearest known name): the component None where the text names none, small typos allowed."""
    lexicon = Lexicon.from_values(lexicon_values("en", *names_of(store)))
    known = {
        phrase: identity for phrase, meanings in lexicon.phrases.items() for kind, identity in meanings
        if kind == "component"
    }  # fmt: skip
    phrase = normalised(text)
    if phrase in known:
        return known[phrase], phrase
    nearest = nearest_word(phrase, known)
    slip = near(phrase, lexicon)
    # a typo in a name is understood; a name with something else round it is not
    same = slip is not None and slip.count(" ") == phrase.count(" ")
    return (known.get(slip) if same and slip is not None else None), nearest
