"""Brings the translators' files up to date with the English: python -m reports.words.translations.

New sentences come in empty, changed ones keep their old translation marked fuzzy, with the English it was made from;
gone ones are removed. One file a language; msgctxt is part/section/key, msgid the English text.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path

from babel.messages.catalog import Catalog, Message
from babel.messages.pofile import denormalize, read_po, write_po

from reports.words.catalogue import LANGUAGES, MAIN, Table, english_messages, is_plural

__all__ = ["English", "brought_up_to_date", "english", "faults", "fields", "parts", "po_bytes", "po_path", "read"]

# the plural rules of the gettext manual ("Plural forms"); sentences here never count millions, so two forms do
PLURAL_RULES = {"fr": "nplurals=2; plural=(n > 1);", "es": "nplurals=2; plural=(n != 1);"}

_PREVIOUS = re.compile(r"\| msgid(?:_plural)? (?P<text>\".*\")")

FOLDER = Path(__file__).parent

# the automatic values of a plural: a language may leave one out where its word says the number already
_COUNTED = {"n", "N", "n_f", "N_f", "digits"}


@dataclass(frozen=True)
class English:
    """One message of the source: where it stands, and its text, two where it is a plural."""

    context: str
    texts: tuple[str, ...]

    @property
    def id(self) -> str | tuple[str, ...]:
        """The message as gettext keeps it."""
        return self.texts[0] if len(self.texts) == 1 else self.texts


def parts() -> list[str]:
    """Return the parts of the catalogue there are, main first."""
    others = sorted(path.name.removesuffix(".en.toml") for path in FOLDER.glob("*.en.toml"))
    return [MAIN, *others]


def english() -> list[English]:
    """Return every message of every part, in the order of the files."""
    return [message for part in parts() for message in _messages(english_messages(part), part)]


def _messages(table: Table, place: str) -> Iterator[English]:
    for key, found in table.items():
        here = f"{place}/{key}"
        if isinstance(found, str):
            if found:  # an empty one says nothing in any language
                yield English(here, (found,))
        elif is_plural(found):
            yield English(here, (found["one"], found["other"]))
        else:
            yield from _messages(found, here)


def po_path(language: str) -> Path:
    """Return where a language's translations stand."""
    return FOLDER / f"{language}.po"


def read(language: str) -> Catalog:
    """Read a language's file as it stands."""
    return read_po(BytesIO(po_path(language).read_bytes()), locale=language)


def brought_up_to_date(old: Catalog, source: list[English], language: str) -> Catalog:
    """Return the catalogue of a language with every message of the source, translations kept where there are any."""
    before = {message.context: message for message in old if message.id}
    new = _empty(language)
    for each in source:
        found = before.get(each.context)
        empty = "" if len(each.texts) == 1 else ("",) * new.num_plurals
        made = Message(each.id, empty, context=each.context)
        if found is not None and len(_texts(found.id)) == len(each.texts):
            made.string = found.string
            made.user_comments = [line for line in found.user_comments if not line.startswith("|")]
            if found.id != each.id and any(_texts(found.string)):
                made.flags.add("fuzzy")
                made.previous_id = list(_texts(found.id))
            elif found.fuzzy:
                made.flags.add("fuzzy")
                made.previous_id = list(found.previous_id) or _previous(found)
        new[each.id] = made
    return new


def _previous(message: Message) -> list[str]:
    """Return the English a fuzzy translation was made from; the reader of files hands it over as comments."""
    found = (_PREVIOUS.fullmatch(line) for line in message.user_comments)
    return [denormalize(match["text"]) for match in found if match is not None]


def _empty(language: str) -> Catalog:
    made = Catalog(locale=language, fuzzy=False)
    made.mime_headers = [("Plural-Forms", PLURAL_RULES[language])]
    return made


def po_bytes(catalogue: Catalog) -> bytes:
    """Return the file: the same bytes for the same messages, one sentence a line, no date and no tool's name."""
    head = [
        "Project-Id-Version: whatstays",
        f"Language: {catalogue.locale_identifier}",
        "MIME-Version: 1.0",
        "Content-Type: text/plain; charset=utf-8",
        "Content-Transfer-Encoding: 8bit",
        f"Plural-Forms: {catalogue.plural_forms}",
    ]
    header = 'msgid ""\nmsgstr ""\n' + "".join(f'"{line}\\n"\n' for line in head) + "\n"
    written = BytesIO()
    write_po(
        written, catalogue, width=0, omit_header=True, no_location=True, ignore_obsolete=True, include_previous=True
    )
    return header.encode() + written.getvalue()


def _texts(value: object) -> tuple[str, ...]:
    return (value,) if isinstance(value, str) else tuple(value or ())  # type: ignore[arg-type]


def fields(text: str) -> set[str]:
    """Return the names between braces."""
    from string import Formatter

    return {name for _, name, _, _ in Formatter().parse(text) if name is not None}


def faults(catalogue: Catalog, source: list[English], language: str) -> list[str]:
    """Return what is wrong with a language, a sentence each: missing, untranslated, stale, fields, plural rule."""
    told: list[str] = []
    by_context = {message.context: message for message in catalogue if message.id}
    right = PLURAL_RULES[language]
    if catalogue.plural_forms != right:
        told.append(f"{language}: Plural-Forms is {catalogue.plural_forms}; the language's rule is {right}")
    known = {each.context for each in source}
    told += [f"{language}: {context} is no longer in the English" for context in by_context if context not in known]
    for each in source:
        found = by_context.get(each.context)
        if found is None:
            told.append(f"{language}: {each.context} is missing")
        elif found.id != each.id:
            told.append(f"{language}: {each.context} translates an older English: {found.id!r}")
        elif found.fuzzy or not all(_texts(found.string)):
            told.append(f"{language}: {each.context} is not translated")
        else:
            told += [f"{language}: {each.context}: {fault}" for fault in field_faults(each, _texts(found.string))]
    return told


def field_faults(each: English, strings: tuple[str, ...]) -> list[str]:
    """Return where a translation's fields differ from the English; capitals and forms of a name count as the same."""
    plural = len(each.texts) > 1
    wanted = _plain(set().union(*(fields(text) for text in each.texts)), plural)
    told = []
    for text, string in zip(each.texts, strings, strict=False):
        has = _plain(fields(string), plural)
        if string and not _plain(fields(text), plural) <= has <= wanted:
            told.append(f"has the fields {sorted(has)}, the English {sorted(wanted)}")
    return told


def _plain(names: set[str], plural: bool) -> set[str]:
    bare = {name.lower() for name in names - (_COUNTED if plural else set())}
    return {re.sub("^(?:of_the|of|the)_", "", name) for name in bare}


def main() -> None:
    """Write every language's file anew."""
    source = english()
    for language in LANGUAGES:
        if language == "en":
            continue
        path = po_path(language)
        old = read(language) if path.exists() else _empty(language)
        made = brought_up_to_date(old, source, language)
        path.write_bytes(po_bytes(made))
        todo = sum("not translated" in fault for fault in faults(made, source, language))
        print(f"{path.name}: {len(source)} sentences, {todo} to translate")


if __name__ == "__main__":
    main()
