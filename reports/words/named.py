"""Components and cautions in the language of a page: their names, what they do, and the texts that stand in tables."""

from __future__ import annotations

from evidence.model.tables import Caution, Component, Guidance
from reports.words.catalogue import Catalogue, load_catalogue
from reports.words.names import Name, made_name
from reports.words.typography import typeset

__all__ = ["caution_text", "component_name", "form_words", "group_name", "page_name", "statement_words", "what_it_does"]


def component_name(component: Component, say: Catalogue, *, form: str = "", activity: bool = False) -> Name:
    """Return a component as it stands in a sentence; form and activity are said where that matters."""
    language = say.language
    text = getattr(component, f"sentence_name_{language}") or page_name(component, say)
    grammar = "" if language == "en" else getattr(component, f"grammar_{language}")
    name = made_name(text, grammar, language)
    if form and form.lower() != component.sentence_name_en.lower():
        told = form_words(form, say)
        name = name.with_each(lambda text: say.say("name/form", name=text, form=told))
    processes = component.kind == "activity" and component.group not in ("enzymes", "antioxidants and oxidation")
    if activity and not processes and "activity" not in component.sentence_name_en:
        told = say.say("name/activity", component=name)
        name = made_name(told, say.say("name/activity_grammar") if language != "en" else "", language)
    return name


def form_words(form: str, say: Catalogue) -> str:
    """Return a form in words where the catalogue has them, else as the table writes it."""
    if say.language == "en":
        return form
    words, key = load_catalogue(say.language, "forms"), f"form/{form}"
    return words.say(key) if words.has(key) else form


def page_name(component: Component, say: Catalogue) -> str:
    """Return the plain name of a component as pages head it; English where a language has none."""
    return getattr(component, f"name_{say.language}") or component.name_en


def group_name(component: Component, say: Catalogue) -> str:
    """Return the group a component stands in on pages."""
    key = f"group/{component.group}"
    return say.say(key) if say.has(key) else component.group


def what_it_does(component: Component, say: Catalogue) -> str:
    """Return in a few plain words what a component does; English where a language has none."""
    return typeset(getattr(component, f"what_it_does_{say.language}") or component.what_it_does_en, say.language)


def statement_words(guidance: Guidance, say: Catalogue) -> str:
    """Return what an authority says, in our words; English where a language has none."""
    return typeset(getattr(guidance, f"statement_{say.language}", "") or guidance.statement_in_own_words, say.language)


def caution_text(caution: Caution, say: Catalogue) -> str:
    """Return a caution; English rather than none."""
    return typeset(getattr(caution, f"text_{say.language}") or caution.text_en, say.language)
