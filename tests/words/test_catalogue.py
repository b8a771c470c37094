"""The catalogue: plurals, numbers, lists, dates and spaces as each language writes them, and English without Babel."""

from __future__ import annotations

import subprocess
import sys
from datetime import date
from io import BytesIO

import pytest
from babel import Locale
from babel.messages.catalog import Catalog
from babel.messages.plurals import get_plural
from babel.messages.pofile import read_po

from reports.words.catalogue import LANGUAGES, Catalogue, load_catalogue
from reports.words.translations import (
    PLURAL_RULES,
    English,
    brought_up_to_date,
    english,
    faults,
    field_faults,
    po_bytes,
    po_path,
    read,
)  # fmt: skip
from reports.words.typography import NO_BREAK, THIN, typeset

OTHERS = [language for language in LANGUAGES if language != "en"]


def test_a_plural_is_chosen_by_the_number_and_says_it_in_words() -> None:
    say = Catalogue({"of": {"mothers": {"one": "of {n} mother", "other": "of {n} mothers"}}}, main=load_catalogue())
    assert [say.count("of/mothers", n) for n in (1, 2, 12)] == ["of one mother", "of two mothers", "of 12 mothers"]
    with pytest.raises(KeyError, match="plural"):
        say.say("of/mothers")


def test_a_capitalised_field_capitalises_its_value() -> None:
    assert Catalogue({"a": {"b": "{Name} of {name}"}}).say("a/b", name="élan") == "Élan of élan"


def test_lists_follow_the_language() -> None:
    three = ["a", "b", "c"]
    assert load_catalogue("en").joined(three) == "a, b and c"
    assert load_catalogue("en").joined(["a"]) == "a" and load_catalogue("en").joined([]) == ""


# decimal comma in French and Spanish: BIPM, The International System of Units, 9th ed., 5.4.4 allows point or comma;
# the comma is CLDR's for both
def test_numbers_follow_the_language() -> None:
    assert load_catalogue("en").number(-3.25, 2) == "−3.25"
    assert load_catalogue("fr").number(3.25, 1) in ("3,2", "3,3")
    assert load_catalogue("es").number(0.5, 1) == "0,5"
    assert load_catalogue("en").number(1234) == "1234" and load_catalogue("en").number(12345) == "12,345"
    assert load_catalogue("fr").number(12345) == f"12{THIN}345" == load_catalogue("es").number(12345)


def test_dates_follow_the_language_and_no_machine() -> None:
    day = date(2027, 5, 3)
    assert load_catalogue("en").date(day) == "3 May 2027"
    assert load_catalogue("fr").date(day) == "3 mai 2027"
    assert load_catalogue("es").date(day) == "3 de mayo de 2027"
    assert load_catalogue("fr").date(date(2027, 8, 1)) == "1er août 2027"  # the first day is an ordinal in French


def test_spaces_that_must_not_break_do_not() -> None:
    assert typeset("kept at 20 °C for 3 h", "en") == f"kept at 20{NO_BREAK}°C for 3{NO_BREAK}h"
    assert typeset("Pourquoi ? « oui » : 5 % ; non !", "fr") == (
        f"Pourquoi{THIN}? «{THIN}oui{THIN}»{NO_BREAK}: 5{NO_BREAK}%{THIN}; non{THIN}!"
    )
    assert typeset("a : b", "es") == "a : b"
    twice = typeset(typeset("Quoi ? 5 %", "fr"), "fr")
    assert twice == typeset("Quoi ? 5 %", "fr")


def test_an_unknown_language_is_named_with_those_there_are() -> None:
    with pytest.raises(ValueError, match=r'"xx".*en, fr, es'):
        load_catalogue("xx")


def test_english_loads_neither_babel_nor_gettext() -> None:
    code = (
        "import sys; from reports.words.catalogue import load_catalogue; from datetime import date;"
        "say = load_catalogue(); say.number(12345.5, 1); say.date(date(2027, 1, 1)); say.joined(['a', 'b']);"
        "print([name for name in sys.modules if name.startswith(('babel', 'gettext'))])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize("language", OTHERS)
def test_the_plural_rule_is_the_locales(language: str) -> None:
    """Against CLDR's cardinal rules: "one" takes the first form, all else the second."""
    assert read(language).plural_forms == PLURAL_RULES[language]
    from gettext import c2py

    choose = c2py(PLURAL_RULES[language].split("plural=")[1].rstrip(";"))
    for n in range(2000):
        assert choose(n) == (0 if Locale(language).plural_form(n) == "one" else 1), n
    assert get_plural(language).num_plurals >= 2


@pytest.mark.parametrize("language", OTHERS)
def test_a_language_file_is_written_by_the_tool(language: str) -> None:
    there = read(language)
    same = [English(m.context or "", (m.id,) if isinstance(m.id, str) else tuple(m.id)) for m in there if m.id]
    assert po_bytes(brought_up_to_date(there, same, language)) == po_path(language).read_bytes()


@pytest.mark.parametrize("language", OTHERS)
def test_every_sentence_is_translated_and_none_is_stale(language: str) -> None:
    """After new or changed English: python -m reports.words.translations, then fill what it leaves empty or fuzzy."""
    assert faults(read(language), english(), language) == []


@pytest.mark.parametrize("language", OTHERS)
def test_translated_sentences_have_the_fields_of_the_english(language: str) -> None:
    by_context = {message.context: message for message in read(language) if message.id}
    told = []
    for each in english():
        if each.context not in by_context:
            continue
        found = by_context[each.context].string
        strings = (found,) if isinstance(found, str) else tuple(found)
        told += [f"{each.context}: {fault}" for fault in field_faults(each, strings)]
    assert told == []


def _translated(source: list[English], strings: dict[str, str]) -> Catalog:
    made = brought_up_to_date(Catalog(locale="fr"), source, "fr")
    for message in made:
        if message.context in strings:
            message.string = strings[message.context]
    return made


def test_new_changed_and_gone_sentences_are_told() -> None:
    old = [English("main/a/b", ("Hello {name}.",)), English("main/a/gone", ("Gone.",))]
    translated = _translated(old, {"main/a/b": "Bonjour {name}.", "main/a/gone": "Parti."})
    assert faults(translated, old, "fr") == []
    new = [English("main/a/b", ("Good day {name}.",)), English("main/a/new", ("New.",))]
    told = "\n".join(faults(translated, new, "fr"))
    assert "main/a/gone is no longer" in told and "main/a/new is missing" in told and "older English" in told
    updated = brought_up_to_date(translated, new, "fr")
    changed = next(message for message in updated if message.context == "main/a/b")
    assert changed.fuzzy and changed.string == "Bonjour {name}." and list(changed.previous_id) == ["Hello {name}."]
    assert [fault.split(" is ")[1] for fault in faults(updated, new, "fr")] == ["not translated", "not translated"]
    # once more from the file itself, as the tool does: the same bytes, the older English still beside it
    again = brought_up_to_date(read_po(BytesIO(po_bytes(updated)), locale="fr"), new, "fr")
    assert po_bytes(again) == po_bytes(updated) and b'#| msgid "Hello {name}."' in po_bytes(again)


def test_other_fields_and_a_wrong_plural_rule_are_told() -> None:
    source = [English("main/a/b", ("Hello {name}.",)), English("main/a/n", ("{n} cow of {who}", "{n} cows of {who}"))]
    made = _translated(source, {"main/a/b": "Bonjour {nom}."})
    plural = next(message for message in made if message.context == "main/a/n")
    plural.string = ("une vache de {who}", "{n_f} vaches de {who}")
    assert [fault for fault in faults(made, source, "fr") if "fields" in fault] == [
        "fr: main/a/b: has the fields ['nom'], the English ['name']"
    ]
    made.mime_headers = [("Plural-Forms", "nplurals=2; plural=(n != 1);")]
    assert "rule is nplurals=2; plural=(n > 1)" in faults(made, source, "fr")[0]
