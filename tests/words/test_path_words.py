"""A path in words: every kind of answer reads, with its comparison beside its number. Invented rows and studies."""

from __future__ import annotations

import re

import pytest

from evidence.findings.path import PathAnswer, answer_path
from evidence.findings.path_rows import make_strands
from evidence.handling import parse_chain
from evidence.model.rules import load_rules
from evidence.model.tables import Measurement, Study
from evidence.synthesis import TauPrior
from reports.words.catalogue import load_catalogue
from reports.words.path_words import PathWords
from tests.invented import FRESH, component, measured

FROZEN = "expressed > frozen -20C 60d > thawed"
DRIED = "expressed > freeze-dried > reconstituted"
WHOLE = f"{FROZEN} > freeze-dried > reconstituted"
KEPT = f"{WHOLE} > kept 22C 120d"
PRIORS = {"bulk": TauPrior(0.05, 0.7, 0.2), "fragile": TauPrior(0.25, 0.5, 0.2)}
NAMES = ("alpha2031milk", "beta2032milk", "gamma2033milk", "delta2034milk")
WORDS = PathWords(
    {name: component(name) for name in ("vitamin-c", "total-fat")},
    {
        name: Study(
            key=name, authors=f"{name[:5].capitalize()}, A.", year=name[-8:-4], title="T", journal="J", origin="x"
        )
        for name in NAMES
    },
    load_catalogue(part="path"),
    load_catalogue(),
    load_rules(),
)


def _frozen(percent: float = 80, **more: object) -> Measurement:
    return measured(study=NAMES[0], retained_percent=percent, handling=FROZEN, n=20, n_kind="donors", **(FRESH | more))


def _dried(percent: float = 70, **more: object) -> Measurement:
    given = {"handling": DRIED} | more
    return measured(study=NAMES[1], retained_percent=percent, n=20, n_kind="donors", **given)


def _said(handling: str) -> Measurement:
    return measured(study=NAMES[2], handling=handling, in_words="no change", n=20, n_kind="donors")


def _answer(chain: str, *rows: Measurement) -> PathAnswer:
    strands = make_strands(component("vitamin-c"), rows, (), frozenset(), load_rules())
    return answer_path("vitamin-c", parse_chain(chain), strands, PRIORS, load_rules())  # type: ignore[arg-type]


ANSWERS = {
    "estimated": (FROZEN, (_frozen(30),), "About 30 of every 100 parts of vitamin c in fresh milk"),
    "cannot tell": (FROZEN, (_frozen(96),), "We can't tell yet what is left of the vitamin c"),
    "two ends": (WHOLE, (_frozen(40), _dried(70)), "At least"),
    "no upper end": (DRIED, (_frozen(), _dried(95)), "No upper end can be given"),
    "no lower end": (WHOLE, (_dried(30),), "At most"),
    "neither end": (WHOLE, (_dried(95),), "We can't tell what is left"),
    "a step not measured": (KEPT, (_frozen(40), _dried(70)), "nobody has published a figure for keeping the powder"),
    "words only": (WHOLE, (_frozen(40), _said(DRIED)), "nobody has published a figure for freeze-drying"),
    "too long": ("expressed > frozen -20C 3y > thawed", (_frozen(),), "the longest anyone looked is 60 days"),
    "too cold": ("expressed > frozen -40C 60d > thawed", (_frozen(),), "it was studied at −20 °C only"),
    "only from frozen": (DRIED, (_dried(70, baseline=FROZEN, handling=f"{FROZEN} > freeze-dried"),), "already frozen"),
}


@pytest.mark.parametrize("kind", ANSWERS)
def test_every_kind_of_answer_reads(kind: str) -> None:
    chain, rows, expected = ANSWERS[kind]
    answer = _answer(chain, *rows)
    told = " ".join(WORDS.headline(answer))
    assert expected.lower() in told.lower()
    everything = [told, *WORDS.readings(answer), *WORDS.missing(answer)]
    for step in answer.steps:
        everything += WORDS.step(step, answer).lines
    for sentence in everything:
        assert "{" not in sentence and "None" not in sentence and "  " not in sentence


@pytest.mark.parametrize("kind", ANSWERS)
def test_a_number_of_the_headline_is_counted_from_fresh_milk(kind: str) -> None:
    chain, rows, _ = ANSWERS[kind]
    for sentence in WORDS.headline(_answer(chain, *rows)):
        if "of every 100" in sentence:
            assert "fresh milk" in sentence


@pytest.mark.parametrize("kind", ANSWERS)
def test_a_step_with_an_amount_says_against_what_and_by_whom(kind: str) -> None:
    chain, rows, _ = ANSWERS[kind]
    answer = _answer(chain, *rows)
    for step in answer.steps:
        if step.amount is not None:
            lines = WORDS.step(step, answer).lines
            assert re.search(r"compared with|joining studies", lines[0])
            assert any(line.startswith("One study:") for line in lines)


def test_what_would_settle_a_silent_past_is_the_same_mothers_milk_fresh_and_dried() -> None:
    answer = _answer(WHOLE, _frozen(), _dried())
    assert WORDS.missing(answer) == ("vitamin c in the same mothers' milk, fresh and after freeze-drying",)


def test_a_single_measured_step_is_not_said_to_be_joined() -> None:
    assert "joining" not in " ".join(WORDS.headline(_answer(FROZEN, _frozen(30))))
    stated = _dried(70, baseline=FROZEN, handling=f"{FROZEN} > freeze-dried")
    assert "worked out by joining studies" in " ".join(WORDS.headline(_answer(WHOLE, _frozen(40), stated)))
