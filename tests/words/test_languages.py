"""Every code the evidence uses has its words in every language, and names bend as their language asks."""

from __future__ import annotations

import csv
import json
import re
import unicodedata
from collections.abc import Iterator

import pytest

from evidence.findings.finding import Finding
from evidence.handling.grammar import UNITS
from evidence.handling.vocabulary import load_vocabulary
from evidence.model.lists import APPRAISAL_QUESTIONS, BASELINE_CLASSES, CLOSED_LISTS
from evidence.model.rules import Rules, load_rules
from evidence.model.shipped import data_folder
from evidence.store import Store
from reports.words.answers import answer_sentences, how_sure, own_milk
from reports.words.brief import brief_answer, short_answer
from reports.words.catalogue import LANGUAGES, Catalogue, load_catalogue
from reports.words.chains import chain_words
from reports.words.handlings import handling_words
from reports.words.level import reading_level
from reports.words.library import Library, load_library
from reports.words.named import caution_text, component_name, group_name, page_name, what_it_does
from reports.words.names import GRAMMAR, Name, made_name
from reports.words.printed import as_printed, reason_words

OTHERS = [language for language in LANGUAGES if language != "en"]
# English words that no French or Spanish sentence of ours holds; names of papers' authors are left out before
ENGLISH = re.compile(r"\b(?:the|with|about|parts of|milk|found|there|before|compared|study|studies|after|still)\b")


@pytest.fixture(scope="module")
def library(shipped_store: Store) -> Library:
    return load_library(shipped_store)


def _rows(name: str) -> Iterator[dict[str, str]]:
    with (data_folder() / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        yield from csv.DictReader(file)


# forms as the Académie's dictionary and the Real Academia's give the article of each noun
@pytest.mark.parametrize(
    ("text", "grammar", "of", "the", "of_the"),
    [
        ("vitamine C", "fs", "de vitamine C", "la vitamine C", "de la vitamine C"),
        ("fer", "ms", "de fer", "le fer", "du fer"),
        ("iode", "ms", "d'iode", "l'iode", "de l'iode"),
        ("énergie", "fs", "d'énergie", "l'énergie", "de l'énergie"),
        ("anticorps IgA", "mp", "d'anticorps IgA", "les anticorps IgA", "des anticorps IgA"),
        ("E. coli", "", "d'E. coli", "E. coli", "d'E. coli"),
    ],
)
def test_french_names_elide_and_contract(text: str, grammar: str, of: str, the: str, of_the: str) -> None:
    name = made_name(text, grammar, "fr")
    assert (name.of, name.the, name.of_the) == (of, the, of_the)


@pytest.mark.parametrize(
    ("text", "grammar", "the", "of_the"),
    [
        ("vitamina C", "fs", "la vitamina C", "de la vitamina C"),
        ("hierro", "ms", "el hierro", "del hierro"),
        ("agua", "fs el", "el agua", "del agua"),
        ("ácidos grasos libres", "mp", "los ácidos grasos libres", "de los ácidos grasos libres"),
    ],
)
def test_spanish_names_contract(text: str, grammar: str, the: str, of_the: str) -> None:
    name = made_name(text, grammar, "es")
    assert (name.the, name.of_the) == (the, of_the)


def test_a_sentence_may_use_every_form_of_a_name_and_of_plain_text_too() -> None:
    say = Catalogue({"a": {"b": "{The_milk}, {of_milk}, {of_the_milk}"}}, "fr")
    assert say.say("a/b", milk=made_name("eau", "fs", "fr")) == "L'eau, d'eau, de l'eau"
    assert say.say("a/b", milk="fer") == "Fer, de fer, de fer"


def test_spanish_and_changes_before_the_sound_i() -> None:
    say = load_catalogue("es")
    assert say.joined(["grasa", "hierro"]) == "grasa y hierro"
    assert say.joined(["zinc", "yodo"]) == "zinc y yodo"
    assert say.joined(["sodio", "inositol"]) == "sodio e inositol"
    assert load_catalogue("fr").joined(["a", "b", "c"]) == "a, b et c"


@pytest.mark.parametrize("language", OTHERS)
def test_every_component_and_handling_has_its_names_and_grammar(language: str) -> None:
    for row in _rows("components"):
        assert row[f"sentence_name_{language}"] and row[f"what_it_does_{language}"] and row[f"name_{language}"], row
        assert row[f"grammar_{language}"] in GRAMMAR, row["id"]
    for row in _rows("handlings"):
        assert row[f"name_{language}"] and row[f"after_{language}"] and row[f"grammar_{language}"], row["id"]
    for row in _rows("cautions"):
        assert row[f"text_{language}"] and row[f"text_{language}"] != row["text_en"], row["id"]
        assert not re.search(r"\d", row[f"text_{language}"]), row["id"]  # no temperature, no days


def test_the_tables_allow_the_grammar_the_words_know() -> None:
    package = json.loads((data_folder() / "datapackage.json").read_text(encoding="utf-8"))
    allowed = {
        word
        for resource in package["resources"]
        for column in resource["schema"]["fields"]
        if column["name"].startswith("grammar_")
        for word in column["constraints"]["enum"]
    }
    assert allowed | {""} == set(GRAMMAR)


def test_every_code_of_rows_and_chains_has_its_words() -> None:
    rows, chains, main = load_catalogue(part="rows"), load_catalogue(part="chains"), load_catalogue()
    assert all(rows.has(f"class/{word}") for word in BASELINE_CLASSES)
    assert all(rows.has(f"stage/{word}") for word in CLOSED_LISTS["stage"] if word not in ("", "not stated"))
    assert all(rows.has(f"printed/spread/{word}") for word in CLOSED_LISTS["spread_kind"] if word)
    assert all(rows.has(f"printed/words/{word}") for word in CLOSED_LISTS["in_words"] if word)
    assert all(rows.has(f"printed/bound/{word}") for word in ("about", "at least", "at most", "up to", "unclear"))
    assert all(rows.has(f"printed/n/{word}") for word in CLOSED_LISTS["n_kind"] if word != "not stated")
    for kind in CLOSED_LISTS["interval_kind"]:
        assert all(rows.has(f"printed/interval/{part}") for part in kind.rsplit(", ", 1) if part), kind
    assert all(main.has(f"appraisal/{question}") for question in APPRAISAL_QUESTIONS)
    assert all(main.has(f"appraisal_answer/{row['answer']}") for row in _rows("appraisals"))
    assert all(chains.has(f"unit/{unit.replace('/', ' per ')}") for unit in UNITS)
    vocabulary = load_vocabulary()
    for step in vocabulary.steps:
        assert chains.has(f"step/{step}"), step
    for row in _rows("vocabulary/methods"):
        assert chains.has(f"step/{row['step']}:{row['method']}"), row
    for row in _rows("vocabulary/conditions"):
        assert chains.has(f"condition/{row['condition']}"), row


def test_every_group_flag_reason_and_recipe_has_its_words(shipped_findings: list[Finding], library: Library) -> None:
    main, rows = load_catalogue(), load_catalogue(part="rows")
    assert all(main.has(f"group/{component.group}") for component in library.components.values())
    held = {row.held for row in library.measurements.values()}
    for found in shipped_findings:
        for each in found.not_pooled:
            # a reason is the rules' own, or the note that stands beside the row
            known = rows.has(f"not_pooled/{each.reason}") if "/" not in each.reason else False
            assert known or each.reason in held or each.reason.startswith("may report the same milk"), each.reason
        for study in found.studies:
            assert all(rows.has(f"row_flag/{flag}") for flag in study.flags), study.flags
            for recipe in study.recipe.split("; "):
                assert rows.has(f"recipe/{re.sub(', (?:capped by P|raised: not significant)$', '', recipe)}"), recipe


@pytest.mark.parametrize("language", OTHERS)
def test_every_shipped_answer_reads_in_the_language_with_its_comparison(
    language: str, shipped_findings: list[Finding], library: Library
) -> None:
    say = load_catalogue(language)
    compared = {"fr": ("par rapport",), "es": ("en comparación", "frente a")}[language]
    for found in shipped_findings:
        told = [*answer_sentences(found, library, say), brief_answer(found, library, say)]
        told += [short_answer(found, library, say), how_sure(found, say), own_milk(found, say)]
        text = " ".join(each for each in told if each)
        assert not re.search(r"[{}]|\bNone\b|\bnan\b", text), text
        assert "de le " not in text and "de les " not in text and "de el " not in text, text
        assert not re.search(r"\bde [aeiouéèêhœ]", text) or language != "fr", text
        if found.pooled is not None:
            assert any(word in told[0] + (told[1] if len(told) > 1 else "") for word in compared), told[0]
        # notes beside single rows and names of papers and forms are not ours to translate
        ours = text if found.state != "listed_only" and not found.form else ""
        assert not ENGLISH.search(ours), (found.number, ENGLISH.search(ours), text)


@pytest.mark.parametrize("language", OTHERS)
def test_names_groups_and_cautions_stand_in_the_language(language: str, library: Library) -> None:
    say, english = load_catalogue(language), load_catalogue()
    for component in library.components.values():
        assert isinstance(component_name(component, say), Name)
        assert what_it_does(component, say) != what_it_does(component, english), component.id
        assert page_name(component, say)
        assert group_name(component, say)
    for caution in library.cautions:
        assert caution_text(caution, say) != caution.text_en
    assert handling_words("frozen:home:9-45d", say).after.startswith(
        {"fr": "après 9 à 45 jours", "es": "tras 9 a 45"}[language]
    )


def test_rows_and_chains_are_worded_in_three_languages(library: Library) -> None:
    chain = "expressed > frozen -20C 60d [home] > thawed > freeze-dried [shelf 40C]"
    assert chain_words(chain, load_catalogue()) == (
        "expressed → frozen, −20 °C, 60 days (at home) → thawed → freeze-dried (plate at 40 °C)"
    )
    french = unicodedata.normalize("NFKC", chain_words(chain, load_catalogue("fr")))
    assert french == "tiré → congelé, −20 °C, 60 jours (à la maison) → décongelé → lyophilisé (plateau à 40 °C)"
    for row in library.measurements.values():
        for language in LANGUAGES:
            assert chain_words(row.handling, load_catalogue(language)), row.id
            assert as_printed(row, load_catalogue(language)) or not row.in_words
    assert reason_words("two different milks were compared", load_catalogue("es")).startswith("se compararon")


def test_reading_level_is_measured_sentence_by_sentence(rules: Rules) -> None:
    text = (
        "The cat sat on the mat. Notwithstanding considerable methodological heterogeneity, investigators hypothesised."
    )
    level = reading_level([text], "en", load_rules())
    hard, easy = level.sentences
    assert easy.text == "The cat sat on the mat." and easy.past is not None and easy.past < 0
    assert hard.past is not None and hard.past > 0 and level.kept == 1
    # Flesch-Kincaid worked by hand: 6 words, 6 syllables, one sentence: 0.39 * 6 + 11.8 * 1 - 15.59
    assert easy.score == pytest.approx(0.39 * 6 + 11.8 - 15.59, abs=0.1)


@pytest.mark.parametrize("language", ["en", "fr", "es"])
def test_steps_taken_together_are_told_in_words_and_never_as_codes(language: str) -> None:
    say, codes = load_catalogue(language), {"frozen", "kept", "chilled", "heated", "pasteurised"}
    with (data_folder() / "questions.csv").open(encoding="utf-8", newline="") as file:
        together = {row["handling"] for row in csv.DictReader(file) if "+" in row["handling"]}
    assert len(together) > 20
    for key in together:
        assert not codes & set(handling_words(key, say).noun.replace(",", " ").split()), key
