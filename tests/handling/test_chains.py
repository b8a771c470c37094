"""Handling chains: whatever the vocabulary can say prints and parses back the same; the rest is refused by name."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as some

from evidence.handling import Chain, HandlingError, Step, parse_chain
from evidence.handling.grammar import UNITS, Condition, Measure
from evidence.handling.vocabulary import load_vocabulary

WORDS = load_vocabulary()
NUMBERS = some.decimals(min_value=-200, max_value=2000, places=1).map(str) | some.integers(-80, 2000).map(str)


@some.composite
def measures(draw: some.DrawFn, unit: str) -> Measure:
    return Measure(
        draw(NUMBERS),
        draw(some.none() | NUMBERS),
        unit,
        draw(some.sampled_from([None, "<=", ">=", "<", ">"])),
        draw(some.booleans()),
    )


@some.composite
def conditions(draw: some.DrawFn) -> Condition:
    name = draw(some.sampled_from(sorted(WORDS.conditions)))
    takes = WORDS.conditions[name]
    units = [unit for unit, (quantity, _) in UNITS.items() if quantity == takes]
    return Condition(name, draw(measures(draw(some.sampled_from(units)))) if takes else None)


@some.composite
def steps(draw: some.DrawFn) -> Step:
    name = draw(some.sampled_from(sorted(WORDS.steps)))
    method = draw(some.sampled_from([None, *WORDS.methods.get(name, ())]))
    units = draw(some.lists(some.sampled_from(list(UNITS)), max_size=4, unique_by=lambda unit: UNITS[unit][0]))
    return Step(
        name,
        method,
        tuple(draw(measures(unit)) for unit in units),
        tuple(draw(some.lists(conditions(), max_size=4))),
    )


CHAINS = some.lists(steps(), min_size=1, max_size=8).map(lambda made: Chain(tuple(made)))


@given(CHAINS)
def test_any_chain_of_the_vocabulary_prints_and_parses_back_the_same(chain: Chain) -> None:
    printed = str(chain)
    assert parse_chain(printed) == chain
    assert str(parse_chain(printed)) == printed


@given(CHAINS)
def test_spaces_around_the_arrows_and_words_change_nothing(chain: Chain) -> None:
    assert parse_chain("  " + str(chain).replace(" ", "   ") + " ") == chain


def test_the_chain_of_the_design_is_read_as_its_steps() -> None:
    text = (
        "expressed > frozen -18..-20C 30d [bag] > thawed [fridge] > freeze-dried [shelf 40C] > "
        "kept 25C <=90d [dark, sealed] > reconstituted"
    )
    chain = parse_chain(text)
    assert str(chain) == text
    assert chain.names() == ("expressed", "frozen", "thawed", "freeze-dried", "kept", "reconstituted")
    frozen, kept = chain.steps[1], chain.steps[4]
    assert frozen.measure("temperature") == Measure("-18", "-20", "C")
    assert frozen.measure("duration") == Measure("30", None, "d")
    assert kept.measure("duration") == Measure("90", None, "d", "<=")
    assert chain.steps[3].conditions == (Condition("shelf", Measure("40", None, "C")),)
    assert kept.measure("pressure") is None


def test_a_bound_glued_to_its_number_does_not_part_two_steps() -> None:
    assert parse_chain("expressed > frozen >30d").names() == ("expressed", "frozen")


@pytest.mark.parametrize(
    ("text", "read", "nearest"),
    [
        ("expressed > frozenn -20C", "frozenn", "frozen"),
        ("expressed > lyophilised", "lyophilised", "freeze-dried"),
        ("expressed > refrigerated 4C", "refrigerated", "chilled"),
        ("expressed > pasteurised holdr", "holdr", "holder"),
        ("expressed > frozen -20C [plstic]", "plstic", "plastic"),
        ("expressed > frozen -20C [fridg]", "fridg", "fridge"),
    ],
)
def test_an_unknown_word_is_refused_with_the_nearest_known_one(text: str, read: str, nearest: str) -> None:
    with pytest.raises(HandlingError) as refused:
        parse_chain(text)
    assert refused.value.read == read
    assert refused.value.nearest == nearest


@pytest.mark.parametrize("token", ["30days", "20", "-20K", "4hours", "3mpa"])
def test_an_unknown_unit_is_refused_with_the_units_there_are(token: str) -> None:
    with pytest.raises(HandlingError) as refused:
        parse_chain(f"expressed > frozen {token}")
    assert refused.value.read == token
    assert all(unit in refused.value.allowed for unit in UNITS)


@pytest.mark.parametrize(
    "text",
    [
        "", "   ", " > frozen", "expressed > ", "expressed > > frozen", "expressed > frozen -20C -30C",
        "expressed > frozen [bag", "expressed > frozen []", "expressed > frozen [bag] -20C", "expressed > frozen bag]",
        "expressed > freeze-dried [shelf]", "expressed > freeze-dried [shelf 3h]", "expressed > frozen [bag 40C]",
        "expressed > frozen about", "expressed > frozen about about 3d", "expressed > chilled holder",
        "expressed > frozen 3..d", "expressed > frozen nand", "Expressed",
    ],
)  # fmt: skip
def test_a_broken_chain_is_refused_and_never_half_read(text: str) -> None:
    with pytest.raises(HandlingError):
        parse_chain(text)
