"""What a question asks: names and synonyms, small slips, handlings, times; and what is for someone else."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from evidence.store import Store
from reports.desk.reply import covers, vocabulary_of
from reports.desk.understand import Vocabulary, find_redirects, normalised, understand


@pytest.fixture(scope="module")
def vocabulary(shipped_store: Store) -> Vocabulary:
    return vocabulary_of(shipped_store)


@pytest.mark.parametrize(
    ("text", "components", "handlings"),
    [
        ("does freeze-drying cost vitamin C?", ("vitamin-c",), ("freeze-dried",)),
        ("Does LYOPHILISATION cost Vitamin-C", ("vitamin-c",), ("freeze-dried",)),
        ("ascorbic acid in the freezer", ("vitamin-c",), ("frozen:home",)),
        ("is lactoferrin gone after pasteurisation", ("lactoferrin",), ("pasteurised:holder",)),
        ("what about fat and vitamin c in the fridge", ("total-fat", "vitamin-c"), ("chilled",)),
        ("lactoferin", ("lactoferrin",), ()),
        ("vitamine c", ("vitamin-c",), ()),
        ("lysozime after freze drying", ("lysozyme",), ("freeze-dried",)),
        ("vitaminc", ("vitamin-c",), ()),
        ("vitamn c frozn", ("vitamin-c",), ("frozen:home",)),
        ("lattoferrina", ("lactoferrin",), ()),
    ],
)
def test_names_synonyms_and_small_slips_are_understood(
    text: str, components: tuple[str, ...], handlings: tuple[str, ...], vocabulary: Vocabulary
) -> None:
    asked = understand(text, vocabulary)
    assert (asked.components, asked.handlings) == (components, handlings)


@pytest.mark.parametrize(
    "text", ["", "?", "hello there", "how much do you charge", "what is the weather", "qwertyuiop"]
)
def test_nothing_is_read_into_a_question_that_names_nothing(text: str, vocabulary: Vocabulary) -> None:
    asked = understand(text, vocabulary)
    assert (asked.components, asked.everything) == ((), False)


@pytest.mark.parametrize("text", ["vitamin q", "vitamin x after freezing", "vitamin c7", "omega 8"])
def test_a_letter_or_a_digit_that_tells_two_names_apart_is_never_a_slip(text: str, vocabulary: Vocabulary) -> None:
    # "vitamins" in general may be offered, another vitamin may not
    assert set(understand(text, vocabulary).components) <= {"vitamins"}


def test_a_question_on_all_nutrients_is_one_on_everything_unless_it_names_one(vocabulary: Vocabulary) -> None:
    assert understand("does drying cost nutrients?", vocabulary).everything
    assert not understand("does drying cost nutrients such as vitamin C?", vocabulary).everything


@pytest.mark.parametrize(
    ("text", "days"),
    [
        ("after 3 months in the freezer", 3 * 30.4),
        ("after two days in the fridge", 2),
        ("for a week", 7),
        ("after 12 hours", 0.5),
        ("after 1.5 years", 1.5 * 365),
        ("in the freezer", None),
        ("after months", None),
    ],
)
def test_a_time_is_read_in_digits_and_words(text: str, days: float | None, vocabulary: Vocabulary) -> None:
    assert understand(f"vitamin C {text}", vocabulary).days == (None if days is None else pytest.approx(days, rel=1e-3))


@pytest.mark.parametrize(
    ("handling", "days", "covered"),
    [
        ("frozen:home:9-45d", 30, True),
        ("frozen:home:9-45d", 45, True),
        ("frozen:home:9-45d", 45.5, False),
        ("frozen:home:9-45d", 8, False),
        ("frozen:home:9-45d", 8.5, True),
        ("frozen:home:to-8d", 8, True),
        ("frozen:home:to-8d", 9, False),
        ("frozen:home:over-120d", 120, False),
        ("frozen:home:over-120d", 121, True),
        ("chilled:25-72h", 2, True),
        ("chilled:to-24h", 2, False),
        ("frozen:home:not-statedd", 30, False),
        ("freeze-dried", 90, False),
        ("scalded", 1, False),
        ("freeze-dried", None, True),
        ("frozen:home:9-45d", None, True),
    ],
)
def test_a_time_asked_for_meets_its_window_and_no_other(handling: str, days: float | None, covered: bool) -> None:
    if days is None:
        assert covers(handling, days)
    else:
        assert covers(handling, days) is covered


@pytest.mark.parametrize(
    ("text", "first"),
    [
        ("my baby has a fever, does vitamin C help?", "help-now"),
        ("he is limp and there is blood", "help-now"),
        ("is it safe? and she has a rash", "help-now"),
        ("is dried milk safe", "safety"),
        ("how hot should the water be", "water"),
        ("how long once opened", "opened-pack"),
        ("can I take antibiotics", "medicines"),
        ("he was born early", "premature"),
        ("is it legal", "law"),
        ("what is the price", "price"),
    ],
)
def test_questions_for_someone_else_are_sent_there_and_harm_comes_first(text: str, first: str) -> None:
    found = find_redirects(text)
    assert found[0].id == first
    assert [each.urgent for each in found] == sorted((each.urgent for each in found), reverse=True)


@pytest.mark.parametrize("text", ["safely stored?", "rashers", "bloody", "unlimped", "vitamin C", "a feverfew tea"])
def test_part_of_another_word_sends_nobody_away(text: str) -> None:
    assert find_redirects(text) == []


def test_normalised_text_is_plain() -> None:
    assert normalised("  Freeze-Drying: Vitamin  C?! ") == "freeze drying vitamin c"
    assert normalised(normalised("α-Lactalbumin, 4 °C.")) == normalised("α-Lactalbumin, 4 °C.")


@settings(max_examples=80, deadline=None)
@given(some.text(max_size=200))
def test_no_text_breaks_the_understanding(vocabulary: Vocabulary, text: str) -> None:
    asked = understand(text, vocabulary)
    assert set(asked.components) <= set(vocabulary.components.values())
    find_redirects(text)
