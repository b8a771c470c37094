"""Names as sentences need them: bare, with "of", with their article, from gender, number and first sound."""

from __future__ import annotations

import unicodedata
from typing import Any

__all__ = ["GRAMMAR", "Name", "made_name"]

# gender and number; "fs el": a Spanish feminine whose stressed a takes the article el (el agua); "": no article
GRAMMAR = ("", "ms", "fs", "mp", "fp", "fs el")

_FRENCH = {"ms": ("le ", "du "), "fs": ("la ", "de la "), "mp": ("les ", "des "), "fp": ("les ", "des ")}
_SPANISH = {
    "ms": ("el ", "del "), "fs": ("la ", "de la "), "mp": ("los ", "de los "), "fp": ("las ", "de las "),
    "fs el": ("el ", "del "),
}  # fmt: skip


class Name(str):
    """A name and its forms: {component} in a sentence may also be {of_component}, {the_component}, {of_the_component}.

    English has one form for most: "vitamin C", "of vitamin C", "vitamin C".
    """

    of: str
    the: str
    of_the: str

    def __new__(cls, bare: str, of: str = "", the: str = "", of_the: str = "") -> Name:
        """Make a name; forms left out are English ones."""
        made = super().__new__(cls, bare)
        made.of = of or f"of {bare}"
        made.the = the or bare
        made.of_the = of_the or f"of {made.the}"
        return made

    def __getnewargs__(self) -> tuple[str, str, str, str]:  # type: ignore[override]  # more than a plain str needs
        return str(self), self.of, self.the, self.of_the

    def with_each(self, make: Any) -> Name:
        """Return the name with every form put through a function: text to text."""
        return Name(make(str(self)), make(self.of), make(self.the), make(self.of_the))

    def fields(self, name: str) -> dict[str, str]:
        """Return the forms by the field names a sentence may use."""
        return {f"of_{name}": self.of, f"the_{name}": self.the, f"of_the_{name}": self.of_the}


def made_name(text: str, grammar: str, language: str) -> Name:
    """Return a name with the forms its language's rules give it; grammar is one of GRAMMAR."""
    if language == "fr":
        elided = _vowel(text)
        of = f"d'{text}" if elided else f"de {text}"
        if grammar not in _FRENCH:
            return Name(text, of, text, of)
        article, contracted = _FRENCH[grammar]
        if elided and grammar in ("ms", "fs"):
            article, contracted = "l'", "de l'"
        return Name(text, of, article + text, contracted + text)
    if language == "es":
        if grammar not in _SPANISH:
            return Name(text, f"de {text}", text, f"de {text}")
        article, contracted = _SPANISH[grammar]
        return Name(text, f"de {text}", article + text, contracted + text)
    return Name(text)


def _vowel(text: str) -> bool:
    """Return whether French elides before a word: a vowel, or an h, which our words have mute only."""
    first = unicodedata.normalize("NFD", text[:1]).lower()[:1]
    return first in {"a", "e", "i", "o", "u", "y", "œ", "h"}
