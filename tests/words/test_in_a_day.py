"""A day in words: amounts never without their comparison, and authorities' figures worded by their kind."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from evidence.findings.finding import Finding
from evidence.model.rules import load_rules
from evidence.model.tables import Component
from evidence.store import Store
from reports.settings import PLAIN
from reports.sheets.in_a_day import DayPart, day_part
from reports.words.catalogue import load_catalogue
from reports.words.choose import DRYING, FREEZING, by_component, leading
from reports.words.in_a_day import Age, DayWords, amount_words
from reports.words.library import load_library
from reports.words.told import trail_of

RULES = load_rules().in_a_day
SAY = load_catalogue(part="in_a_day")
CANNOT_TELL = "can't tell that less is too little"


@pytest.fixture(scope="module")
def part(shipped_store: Store) -> DayPart:
    return day_part(shipped_store, RULES, PLAIN, DayWords(load_library(shipped_store), load_catalogue()))


@pytest.fixture(scope="module")
def led(shipped_findings: list[Finding]) -> dict[str, list[Finding]]:
    found = by_component(shipped_findings)
    return {key: [*leading(mine, DRYING)[:1], *leading(mine, FREEZING)[:1]] for key, mine in found.items()}


def components(part: DayPart) -> list[Component]:
    return [each for _, each in sorted(part.words.library.components.items())]


def test_what_is_left_stands_with_what_it_was_compared_with(part: DayPart, led: dict[str, list[Finding]]) -> None:
    seen = 0
    for component in components(part):
        for text in part.side_one(component, led.get(component.id, [])):
            if "would be" in text:
                seen += 1
                assert "compared with" in text and "stud" in text, text
                assert trail_of(text)
    assert seen >= 5


def test_sentences_are_whole_and_carry_their_trail(part: DayPart, led: dict[str, list[Finding]]) -> None:
    for component in components(part):
        block = part.block(component, led.get(component.id, []))
        texts = [fact for _, fact in block.facts] if block else []
        for text in (*part.side_one(component, led.get(component.id, [])), *texts):
            assert not re.search(r"[{}]|\bNone\b|\bnan\b|  ", text), text
            if re.search(r"(?<![\w-])\d+ (g|mg|µg|kcal)\b", text):
                assert trail_of(text), text


def test_an_adequate_intake_of_the_first_months_is_worded_as_an_average(
    part: DayPart, led: dict[str, list[Finding]]
) -> None:
    fat = part.words.library.components["total-fat"]
    young = " ".join(part.side_one(fat, led["total-fat"]))
    assert "31 g" in young and CANNOT_TELL in young  # DRI summary table: AI for total fat, 0 to 6 months, 31 g
    block = part.block(fat, led["total-fat"])
    assert block is not None
    (older,) = [fact for label, fact in block.facts if "nine months" in label]
    assert "30 g a day" in older and CANNOT_TELL not in older


def test_a_country_shows_its_own_figure_and_another_all(part: DayPart, led: dict[str, list[Finding]]) -> None:
    c = part.words.library.components["vitamin-c"]
    british = " ".join(replace(part, country="GB").side_one(c, led["vitamin-c"]))
    assert "United Kingdom names 25 mg a day" in british and CANNOT_TELL not in british
    everyone = " ".join(part.side_one(c, led["vitamin-c"]))
    assert "authorities name 25 to 40 mg a day" in everyone and "adequate intakes" in everyone


def test_why_no_amount_is_given_is_said(part: DayPart, led: dict[str, list[Finding]]) -> None:
    vitamin_d = part.words.library.components["vitamin-d"]
    assert "no amount in a volume of milk" in " ".join(part.side_one(vitamin_d, led["vitamin-d"]))
    zinc = part.words.library.components["zinc"]
    assert "no study gives a number" in " ".join(part.side_one(zinc, led["zinc"]))


def test_germs_and_markers_have_no_day(part: DayPart, led: dict[str, list[Finding]]) -> None:
    for component in components(part):
        if component.outcome in ("count", "marker", "share", "physical"):
            assert part.side_one(component, led.get(component.id, [])) == ()
            assert part.block(component, led.get(component.id, [])) is None


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (23.4, 78.0, "23 to 78 mg"), (378.3, 378.3, "about 380 mg"), (0.125, 0.164, "0.12 to 0.16 mg"),
        (39.1, 39.4, "about 39 mg"), (9.96, 10.2, "about 10 mg"), (0, 0.5, "0 to 0.50 mg"),
        (1234, 1260, "1,200 to 1,300 mg"),
    ],
)  # fmt: skip
def test_amounts_have_two_digits(low: float, high: float, words: str) -> None:
    assert amount_words(low, high, "mg", SAY).replace(",", "") == words.replace(",", "")


@pytest.mark.parametrize(
    ("age", "words", "months"),
    [
        (Age(1), "one month", 1.0), (Age(14), "14 months", 14.0), (Age(6, "weeks"), "six weeks", 1.38),
        (Age(20, "days"), "20 days", 0.657), (Age(2, "years"), "two years", 24.0),
    ],
)  # fmt: skip
def test_an_age_is_said_as_it_was_given(age: Age, words: str, months: float) -> None:
    assert age.said(SAY) == words
    assert age.months == pytest.approx(months, abs=0.005)
