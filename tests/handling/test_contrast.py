"""What a comparison isolates: the steps beyond the baseline, or nothing."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as some

from evidence.handling import Chain, Step, contrast, parse_chain
from evidence.handling.vocabulary import load_vocabulary
from tests.handling.test_chains import CHAINS, steps

ISOLATES = {name for name, word in load_vocabulary().steps.items() if word.isolates}


def _isolated(treated: str, baseline: str) -> tuple[str, ...]:
    return tuple(step.name for step in contrast(parse_chain(treated), parse_chain(baseline)).steps)


@given(CHAINS, some.lists(steps().filter(lambda step: step.name in ISOLATES), min_size=1, max_size=4))
def test_baseline_and_isolated_steps_together_are_the_treated_chain(baseline: Chain, more: list[Step]) -> None:
    found = contrast(Chain((*baseline.steps, *more)), baseline)
    assert found.refused is None
    assert found.steps == tuple(more)
    assert found.before == baseline


@given(CHAINS)
def test_a_milk_compared_with_itself_isolates_nothing(chain: Chain) -> None:
    found = contrast(chain, chain)
    assert found.steps == ()
    assert found.refused


DRIED = "expressed > frozen -20C 30d > thawed > freeze-dried > reconstituted"


def test_drying_alone_is_isolated_against_the_same_milk_frozen() -> None:
    found = contrast(parse_chain(DRIED), parse_chain("expressed > frozen -20C 30d > thawed"))
    assert [step.name for step in found.steps] == ["freeze-dried"]
    assert found.already_frozen


def test_freezing_and_drying_together_are_isolated_against_fresh_milk() -> None:
    found = contrast(parse_chain(DRIED), parse_chain("expressed"))
    assert [step.name for step in found.steps] == ["frozen", "freeze-dried"]
    assert not found.already_frozen


def test_against_milk_of_unstated_past_drying_is_isolated() -> None:
    assert _isolated("expressed > not-stated > freeze-dried", "expressed > not-stated") == ("freeze-dried",)


@pytest.mark.parametrize("step", ["reconstituted", "pooled", "not-stated"])
def test_what_only_accompanies_is_never_isolated(step: str) -> None:
    found = contrast(parse_chain(f"expressed > {step}"), parse_chain("expressed"))
    assert found.steps == ()
    assert found.refused
    assert _isolated(f"expressed > {step} > freeze-dried", "expressed") == ("freeze-dried",)


def test_thawing_counts_only_where_it_is_all_that_was_done() -> None:
    assert _isolated("expressed > frozen -20C 30d > thawed", "expressed") == ("frozen",)
    assert _isolated("expressed > frozen -20C 30d > thawed [fridge]", "expressed > frozen -20C 30d") == ("thawed",)


@pytest.mark.parametrize(
    ("treated", "baseline"),
    [
        ("expressed > frozen -80C 30d", "expressed > frozen -20C 30d"),
        ("expressed > frozen -20C 90d", "expressed > frozen -20C 30d"),
        ("expressed > frozen -20C", "expressed > frozen -20C > freeze-dried"),
        ("expressed > pasteurised flash", "expressed > pasteurised holder"),
        ("expressed > freeze-dried", "expressed > spray-dried"),
        ("expressed > chilled 4C 1d > frozen -20C", "expressed > frozen -20C"),
        ("expressed > frozen -80C 30d > thawed > freeze-dried", "expressed > frozen -20C 30d > thawed"),
        ("expressed > pasteurised flash > freeze-dried", "expressed > pasteurised holder"),
    ],
)
def test_a_milk_that_is_not_the_baseline_and_more_isolates_nothing(treated: str, baseline: str) -> None:
    found = contrast(parse_chain(treated), parse_chain(baseline))
    assert found.steps == ()
    assert found.refused


def test_the_same_step_may_come_again() -> None:
    twice = "expressed > frozen -20C 30d > thawed > frozen -20C 30d > thawed"
    assert _isolated(twice, "expressed > frozen -20C 30d > thawed") == ("frozen",)
    assert _isolated(twice, "expressed") == ("frozen", "frozen")
