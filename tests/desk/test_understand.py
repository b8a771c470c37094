"""What a question asks: names and synonyms, small slips, handlings, times; and what is for someone else."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as some

from evidence.store import Store
from reports.desk.cards import covers
from reports.desk.desk import Desk
from reports.desk.notes import notes_for
from reports.desk.questions import Message
from reports.desk.text import normalised


@pytest.fixture(scope="module")
def desk(shipped_store: Store) -> Desk:
    return Desk(notes_for(shipped_store))


def _components(message: Message) -> tuple[str | None, ...]:
    return tuple(dict.fromkeys(asked.component for asked in message.questions))


def _handlings(message: Message) -> tuple[str, ...]:
    return tuple(dict.fromkeys(asked.handling for asked in message.questions if not asked.default))


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
        ("défenses du lait lyophilisé", ("protective-proteins",), ("freeze-dried",)),
        ("grasas buenas en el congelador", ("unsaturated-fatty-acids",), ("frozen:home",)),
        ("good fats", ("unsaturated-fatty-acids",), ()),
        ("not freeze-dried, just frozen: vitamin C?", ("vitamin-c",), ("frozen:home",)),
    ],
)
def test_names_synonyms_and_small_slips_are_understood(
    text: str, components: tuple[str, ...], handlings: tuple[str, ...], desk: Desk
) -> None:
    message = desk.message(text)
    assert (_components(message), _handlings(message)) == (components, handlings)


@pytest.mark.parametrize("text", ["", "?", "hello there", "what is the weather", "qwertyuiop", "mg", "as la se"])
def test_nothing_is_read_into_a_question_that_names_nothing(text: str, desk: Desk) -> None:
    assert desk.message(text).questions == ()


@pytest.mark.parametrize("text", ["vitamin q", "vitamin x after freezing", "vitamin c7", "omega 8"])
def test_a_letter_or_a_digit_that_tells_two_names_apart_is_never_a_slip(text: str, desk: Desk) -> None:
    # "vitamins" in general may be offered, another vitamin may not
    assert set(_components(desk.message(text))) <= {"vitamins", "omega-3-fatty-acids"} - (
        {"omega-3-fatty-acids"} if "vitamin" in text else set()
    )


def test_a_question_on_all_nutrients_is_one_on_everything_unless_it_names_one(desk: Desk) -> None:
    assert _components(desk.message("does drying cost nutrients?")) == (None,)
    assert _components(desk.message("does drying cost nutrients such as vitamin C?")) == ("vitamin-c",)


@pytest.mark.parametrize(
    ("text", "days"),
    [
        ("after 3 months in the freezer", 3 * 30.4),
        ("after two days in the fridge", 2),
        ("for a week in the freezer", 7),
        ("after 12 hours in the fridge", 0.5),
        ("after 1.5 years in the freezer", 1.5 * 365),
        ("frozen overnight", 0.5),
        ("frozen for a year and a half", 547),
        ("3 meses en el congelador", 3 * 30.4),
        ("congelé pendant quinze jours", 15),
        ("frozen 8wks", 56),
        ("frozen from 3 May to 20 June", 48),
        ("frozen jan to march", 59),
        ("frozen nov to feb", 92),
        ("in the freezer", None),
        ("after months in the freezer", None),
        ("frozen, for my 4 month old", None),
    ],
)
def test_a_time_is_read_in_digits_and_words(text: str, days: float | None, desk: Desk) -> None:
    (asked,) = desk.message(f"vitamin C {text}").questions
    assert (asked.days and asked.days[1]) == (None if days is None else pytest.approx(days, rel=1e-2))


@pytest.mark.parametrize(
    ("text", "handling"),
    [
        ("vitamin C at 14F for 8 weeks", "frozen:home"),
        ("vitamin C kept at -80", "frozen:deep"),
        ("vitamin C at minus 20", "frozen:home"),
        ("vitamin C at 39 °F", "chilled"),
        ("vitamin C at 4 degrees", "chilled"),
        ("vitamin C at 25C", "room"),
        ("vitamin C at 62.5 °C", "pasteurised:holder"),
        ("vitamine C à 4 °C", "chilled"),
        ("vitamina C a -20 grados", "frozen:home"),
    ],
)
def test_a_temperature_of_either_system_says_what_was_done(text: str, handling: str, desk: Desk) -> None:
    assert _handlings(desk.message(text)) == (handling,)


@pytest.mark.parametrize(
    ("text", "handlings"),
    [
        ("vitamin C frozen and then dried", ("frozen+freeze-dried", "freeze-dried", "frozen:home")),
        ("vitamin C dried after two months in the freezer", ("frozen+freeze-dried", "freeze-dried", "frozen:home")),
        ("vitamine C, lait congelé puis lyophilisé", ("frozen+freeze-dried", "freeze-dried", "frozen:home")),
        ("vitamina C congelada y luego liofilizada", ("frozen+freeze-dried", "freeze-dried", "frozen:home")),
        ("lipase: I scalded it first, then froze it", ("scalded+frozen", "frozen:home", "scalded")),
        ("is drying better than freezing for vitamin C?", ("freeze-dried", "frozen:home")),
        ("vitamin C: freezing or drying", ("frozen:home", "freeze-dried")),
    ],
)
def test_what_came_first_is_read_and_a_comparison_is_no_path(text: str, handlings: tuple[str, ...], desk: Desk) -> None:
    assert _handlings(desk.message(text)) == handlings


def test_two_components_with_a_handling_each_are_not_mixed(desk: Desk) -> None:
    message = desk.message("does pasteurising cost lactoferrin, and freeze-drying vitamin C?")
    assert [(asked.component, asked.handling) for asked in message.questions] == [
        ("lactoferrin", "pasteurised:holder"),
        ("vitamin-c", "freeze-dried"),
    ]


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
    assert covers(handling, days) is covered


@pytest.mark.parametrize(
    ("text", "first"),
    [
        ("my baby has a fever, does vitamin C help?", "help-now"),
        ("he is limp and there is blood", "help-now"),
        ("is it safe? and she has a rash", "help-now"),
        ("mon bébé a de la fièvre", "help-now"),
        ("mi bebé no respira", "help-now"),
        ("mein Baby hat fever und ist nicht wach", "help-now"),
        ("is dried milk safe", "safety"),
        ("how hot should the water be", "water"),
        ("how long once opened", "opened-pack"),
        ("can I take antibiotics", "medicines"),
        ("he was born early", "premature"),
        ("born at 29 weeks", "premature"),
        ("né à 31 semaines", "premature"),
        ("is it legal", "law"),
        ("what is the price", "price"),
        ("can I take it on the plane", "travel"),
        ("how long can I keep frozen milk", "storage"),
    ],
)
def test_questions_for_someone_else_are_sent_there_and_harm_comes_first(text: str, first: str, desk: Desk) -> None:
    found = desk.message(text).redirects
    harm = desk.clerk("en").harm
    assert found[0] == first
    assert [harm[each] for each in found] == sorted((harm[each] for each in found), reverse=True)


@pytest.mark.parametrize(
    "text", ["safely stored?", "rashers", "bloody", "unlimped", "vitamin C", "a feverfew tea", "born at 40 weeks"]
)
def test_part_of_another_word_sends_nobody_away(text: str, desk: Desk) -> None:
    assert desk.message(text).redirects == ()


def test_white_blood_cells_are_no_blood(desk: Desk) -> None:
    assert desk.message("do white blood cells survive freezing?").redirects == ()


@pytest.mark.parametrize(
    ("text", "language"),
    [
        ("does freeze-drying cost vitamin C?", "en"),
        ("est-ce que la vitamine C reste ?", "fr"),
        ("¿queda vitamina C?", "es"),
        ("Wie viel Vitamin C geht verloren?", "und"),
        ("Quanta vitamina C si perde nel latte materno?", "und"),
        ("Сколько витамина С остаётся?", "und"),
        ("vitamin C", "en"),
    ],
)
def test_the_language_is_told_by_its_small_words(text: str, language: str, desk: Desk) -> None:
    assert desk.message(text).language == language


def test_normalised_text_is_plain() -> None:
    assert normalised("  Freeze-Drying: Vitamin  C?! ") == "freeze drying vitamin c"
    assert normalised(normalised("α-Lactalbumin, 4 °C.")) == normalised("α-Lactalbumin, 4 °C.")


@settings(max_examples=80, deadline=None)
@given(some.text(max_size=200))
def test_no_text_breaks_the_understanding(desk: Desk, text: str) -> None:
    message = desk.message(text)
    names = desk.clerk("en").notes["names"]
    assert {asked.component for asked in message.questions} <= {*names, None}


def test_powder_that_was_kept_is_the_last_step_of_its_way(desk: Desk) -> None:
    text = "vitamin C: frozen at 0°F for 3 months, then freeze-dried and stored 6 months at room temperature"
    message = desk.message(text)
    assert _handlings(message) == ("frozen+freeze-dried+kept", "kept:freeze-dried", "freeze-dried", "frozen:home")
    kept = message.questions[1]
    assert kept.place == "room"
    assert kept.days is not None and kept.days[1] == pytest.approx(6 * 30.4)


@pytest.mark.parametrize(
    ("text", "components"),
    [
        ("vitamins A, D and E after drying", ("vitamin-a", "vitamin-d", "vitamin-e")),
        ("vitamines A, D, E et K", ("vitamin-a", "vitamin-d", "vitamin-e", "vitamin-k")),
        ("¿se conservan las vitaminas A y C?", ("vitamin-a", "vitamin-c")),
        ("vitamin b6, b12", ("vitamin-b6", "vitamin-b12")),
    ],
)
def test_a_list_of_vitamins_is_each_of_them(text: str, components: tuple[str, ...], desk: Desk) -> None:
    assert _components(desk.message(text)) == components


@pytest.mark.parametrize(
    ("text", "band"),
    [("IgA heated to 72 degrees", "70-76c"), ("IgA pasteurised at 80 °C", "over-76c"), ("IgA at 161 °F", "70-76c")],
)
def test_a_heat_is_answered_by_its_own_band(text: str, band: str, desk: Desk) -> None:
    replies = desk.replies(text)
    assert all(band in str(reply.handling) for reply in replies), [reply.handling for reply in replies]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("¿queda grasa tras un año congelada?", "un año"),
        ("lait congelé de février à août, les graisses ?", "février à août"),
        ("fat frozen 2-3 months", "2-3 months"),
    ],
)
def test_a_time_is_shown_as_it_was_written(text: str, said: str, desk: Desk) -> None:
    assert f"[{said}]" in desk.replies(text)[0].question


def test_two_times_in_one_window_are_answered_once(desk: Desk) -> None:
    replies = desk.replies("fat after 5 months and after 6 months in the freezer")
    assert [reply.handling for reply in replies] == ["frozen:home:over-120d"]
