"""What may be said: every state reached by a case made for it, and the edges between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest

from evidence.findings.finding import Pooled, State, StudyEstimate
from evidence.findings.state import more_cautious, state_of
from evidence.model.rules import Rules
from evidence.model.tables import Measurement
from tests.invented import FRESH, finding_of, measured


def _studies(
    percents: Sequence[float], component: str = "total-fat", n: int = 40, sd: float | None = None, **given: Any
) -> list[Measurement]:
    own = {"percent_spread": sd, "percent_spread_kind": "SD"} if sd else {}
    return [
        measured(study=f"s{i}x2031milk", component=component, retained_percent=p, n=n, n_kind="donors", **own, **given)
        for i, p in enumerate(percents)
    ]


CASES: list[tuple[State, list[Measurement]]] = [
    ("about_the_same", _studies([100, 99, 101, 100, 99, 101, 100, 98], sd=4, **FRESH)),
    ("little_less", _studies([95, 94, 96, 95, 94, 96, 95, 95], sd=3, **FRESH)),
    ("amount", _studies([70, 72, 68, 71, 69], sd=6, **FRESH)),
    ("cant_tell", _studies([80, 100, 115], n=8, sd=12, **FRESH)),
    ("no_loss_seen", _studies([104, 106, 102, 108], n=10, sd=14, **FRESH)),
    ("spread", _studies([15, 60, 100, 40], "vitamin-c", n=6)),
    ("two_studies", _studies([80, 85])),
    ("one_study", _studies([80])),
]


@pytest.mark.parametrize(("state", "rows"), CASES, ids=[case[0] for case in CASES])
def test_each_state_is_reached_and_holds_what_it_says(state: State, rows: list[Measurement], rules: Rules) -> None:
    found = finding_of(rows)
    assert found.state == state
    pooled = found.pooled
    assert pooled is not None
    low, high = pooled.ci_low, pooled.ci_high
    assert pooled.new_low <= low < pooled.retained_percent < high <= pooled.new_high
    margin = 100 * rules.printing.same_margin
    if state == "about_the_same":
        assert 100 - margin <= low <= 100 <= high <= 100 + margin
        assert pooled.new_low >= 80 and pooled.k_studies >= 3
    if state == "little_less":
        assert 100 - margin <= low and high < 100
    if state == "cant_tell":
        assert low < 90 and low <= 100 <= high
    if state == "no_loss_seen":
        assert low >= 90 and low <= 100 <= high and high > 110
    if state == "spread":
        assert pooled.new_high / pooled.new_low > 8


def test_words_alone_give_a_direction_and_no_pooled_figure() -> None:
    found = finding_of([measured(study=f"s{n}x2031milk", in_words="decrease", n=9, n_kind="donors") for n in range(5)])
    assert (found.state, found.pooled, found.headline) == ("words_only", None, None)
    assert len(found.said) == 5


def test_bounds_alone_give_no_pooled_figure() -> None:
    found = finding_of([measured(retained_percent=80, number_is="at most")])
    assert (found.state, found.pooled) == ("words_only", None)
    assert [study.kind for study in found.studies] == ["at_most"]


def test_of_several_bounds_of_one_milk_the_one_that_claims_least_is_kept() -> None:
    at_most = finding_of([measured(retained_percent=p, number_is="at most") for p in (60, 80)])
    at_least = finding_of([measured(retained_percent=p, number_is="at least") for p in (60, 80)])
    assert [round(study.retained_percent) for study in (*at_most.studies, *at_least.studies)] == [80, 60]


def test_bounds_on_both_sides_of_one_study_are_listed() -> None:
    rows = [measured(retained_percent=60, number_is="at least"), measured(retained_percent=90, number_is="at most")]
    assert finding_of(rows).state == "listed_only"


def test_borrowed_spreads_alone_never_reassure() -> None:
    percents = [100, 99, 101, 100, 99, 101, 100, 98]
    assert finding_of(_studies(percents, sd=4)).state == "about_the_same"
    assert finding_of(_studies(percents, n=200)).state not in ("about_the_same", "little_less")


def test_two_studies_never_reassure_however_exact() -> None:
    assert finding_of(_studies([100, 100], n=2000, sd=1)).state == "two_studies"


def _pooled(low: float, high: float, k: int = 3, new: tuple[float, float] | None = None) -> Pooled:
    new_low, new_high = new or (max(low - 2, 81), high + 2)
    return Pooled((low * high) ** 0.5, low, high, new_low, new_high, 0.05, k, k, 0.9, 0.975, 0.95)


def _study(own: bool = True) -> StudyEstimate:
    return StudyEstimate(
        "s", "figure", 100, 0, 0.05, 0.4, None, None, own, "", 9, "fresh", False, ("s-1",), ()
    )  # fmt: skip


@pytest.mark.parametrize(
    ("pooled", "own", "stretched", "expected"),
    [
        (_pooled(91, 109), True, _pooled(90, 110), "about_the_same"),
        (_pooled(90, 110), True, _pooled(90, 110), "about_the_same"),
        (_pooled(91, 99), True, _pooled(90, 99.5), "little_less"),
        # the loss it still allows must not be one
        (_pooled(91, 109, new=(79, 118)), True, _pooled(91, 109), "amount"),
        # it must stay true with wider borrowed spreads
        (_pooled(91, 109), True, _pooled(89, 111), "amount"),
        (_pooled(91, 109), True, _pooled(91, 109, new=(79, 118)), "amount"),
        (_pooled(91, 109), False, _pooled(91, 109), "amount"),
        (_pooled(91, 109, k=2), True, None, "two_studies"),
        (_pooled(89.9, 101), True, None, "cant_tell"),
        (_pooled(90, 110.1), True, None, "no_loss_seen"),
        (_pooled(101, 115), True, None, "amount"),
        (_pooled(60, 99.9), True, None, "amount"),
        (_pooled(50, 150, new=(30, 239)), True, None, "cant_tell"),
        (_pooled(50, 150, new=(30, 241)), True, None, "spread"),
        (_pooled(50, 150, k=1, new=(1, 999)), True, None, "one_study"),
    ],
)
def test_the_edges_between_states(
    pooled: Pooled, own: bool, stretched: Pooled | None, expected: State, rules: Rules
) -> None:
    assert state_of(pooled, [_study(own)], stretched, rules) == expected


def test_the_more_cautious_of_two_sentences_claims_less() -> None:
    same, cant = _pooled(95, 105), _pooled(85, 110)
    assert more_cautious(("cant_tell", cant), ("about_the_same", same))
    assert not more_cautious(("about_the_same", same), ("cant_tell", cant))
    less, none = _pooled(60, 90), _pooled(70, 101)
    assert more_cautious(("amount", none), ("amount", less))
    assert not more_cautious(("amount", less), ("amount", none))
    # where both claim the same neither is: the words are heard too (the wider of the two was too cautious)
    wide, narrow = _pooled(50, 95), _pooled(60, 90)
    assert not more_cautious(("amount", wide), ("amount", narrow))
    assert not more_cautious(("amount", narrow), ("amount", wide))


def test_words_are_heard_where_they_change_no_claim() -> None:
    figures = _studies([60, 55, 62, 58], "vitamin-c", n=12)
    falls = [
        measured(study=f"w{n}x2031milk", in_words="decrease", n=12, n_kind="donors", component="vitamin-c")
        for n in range(2)
    ]
    found = finding_of([*figures, *falls])
    assert found.state == "amount"
    assert found.headline == "with_words"


def test_words_that_make_a_claim_weaker_carry_the_headline() -> None:
    figures = _studies([55, 58, 52], "vitamin-c", n=12)
    silent = [
        measured(study=f"w{n}x2031milk", in_words="no change", n=12, n_kind="donors", component="vitamin-c")
        for n in range(6)
    ]
    without, with_words = finding_of(figures), finding_of([*figures, *silent])
    assert without.state == "amount"
    assert with_words.headline == "with_words"
    assert with_words.with_words is not None and with_words.figures is not None
    assert with_words.with_words.retained_percent > with_words.figures.retained_percent
    assert with_words.with_words.k_studies == 3


def test_words_that_would_make_a_claim_stronger_do_not() -> None:
    figures = _studies([90, 97, 84], "vitamin-c", n=12)
    falls = [
        measured(study=f"w{n}x2031milk", in_words="decrease", n=30, n_kind="donors", component="vitamin-c")
        for n in range(8)
    ]
    found = finding_of([*figures, *falls])
    assert found.headline == "figures"
    assert found.pooled == found.figures


LEVELS = ["high", "moderate", "low", "very low"]


def _steps(rows: list[Measurement]) -> tuple[str, dict[str, int]]:
    found = finding_of(rows).certainty
    return found.level, {step.reason: step.down for step in found.steps}


@pytest.mark.parametrize(
    ("rows", "level", "steps"),
    [
        (CASES[0][1], "high", {}),
        (_studies([80], sd=5, **FRESH), "low", {"one study": 2}),
        (_studies([80, 81], sd=5, **FRESH), "moderate", {"two studies": 1}),
        (_studies([80, 100, 115], n=8, sd=12, **FRESH), "low", {"interval on both sides": 2}),
        (_studies([60, 88, 58, 85, 72, 68], "vitamin-c", sd=9, **FRESH), "moderate", {"wide interval": 1}),
        (_studies([70, 72, 68, 71, 69], sd=6), "moderate", {"few compared with fresh": 1}),
        (_studies([70, 72, 68, 71, 69], n=60, **FRESH), "moderate", {"reported without spread": 1}),
        (_studies([80]), "very low", {"one study": 2, "few compared with fresh": 1, "reported without spread": 1}),
    ],
    ids=["none", "one", "two", "both sides", "wide", "not fresh", "borrowed", "three reasons"],
)
def test_each_step_down_has_its_reason(rows: list[Measurement], level: str, steps: dict[str, int]) -> None:
    assert _steps(rows) == (level, steps)
    assert level == LEVELS[min(sum(steps.values()), 3)]


def test_studies_that_disagree_cost_a_step_where_the_interval_did_not() -> None:
    percents = [50, 90, 52, 88, 54, 86, 56, 84, 58, 82] * 2
    level, steps = _steps(_studies(percents, "vitamin-c", sd=5, **FRESH))
    pooled = finding_of(_studies(percents, "vitamin-c", sd=5, **FRESH)).pooled
    assert pooled is not None
    assert pooled.new_high / pooled.new_low > 2.5 and pooled.ci_high / pooled.ci_low <= 1.5
    assert (level, steps) == ("moderate", {"studies disagree": 1})


def test_chilled_milk_counts_as_near_enough_to_fresh_for_certainty() -> None:
    chilled = {"baseline": "expressed > chilled 4C 48h", "handling": "expressed > chilled 4C 48h > freeze-dried"}
    assert _steps(_studies([70, 72, 68, 71, 69], sd=6, **chilled)) == ("high", {})


def test_half_of_the_studies_fresh_is_enough_and_fewer_is_not() -> None:
    fresh = _studies([70, 72], sd=6, **FRESH)
    other = [replace_study(row, f"t{n}x2031milk") for n, row in enumerate(_studies([68, 71, 69], sd=6))]
    assert "few compared with fresh" not in _steps([*fresh, *other[:2]])[1]
    assert "few compared with fresh" in _steps([*fresh, *other])[1]


def replace_study(row: Measurement, study: str) -> Measurement:
    row.study = study
    return row


def test_as_many_words_as_figures_cost_a_step() -> None:
    figures = _studies([70, 72, 68, 71, 69], sd=6, **FRESH)
    words = [
        measured(study=f"w{n}x2031milk", component="total-fat", in_words="decrease", n=40, n_kind="donors", **FRESH)
        for n in range(5)
    ]
    assert "reported without spread" not in _steps([*figures, *words[:4]])[1]
    assert "reported without spread" in _steps([*figures, *words])[1]


def test_infrared_lactose_alone_is_never_above_low() -> None:
    rows = _studies([99, 100, 101, 100, 99, 100, 101, 100], "lactose", sd=3, assay="mid-infrared", **FRESH)
    assert _steps(rows) == ("low", {"infrared only": 2})
    other = _studies([99, 100, 101, 100, 99, 100, 101], "lactose", sd=3, assay="mid-infrared", **FRESH)
    chromatography = measured(
        study="z1x2031milk", component="lactose", retained_percent=100, n=40, n_kind="donors", percent_spread=3,
        percent_spread_kind="SD", assay="HPLC", **FRESH,
    )  # fmt: skip
    assert _steps([*other, chromatography]) == ("high", {})


def test_without_a_figure_anyone_hardly_knows() -> None:
    found = finding_of(
        [measured(study=f"s{n}x2031milk", in_words="no change", n=90, n_kind="donors") for n in range(9)]
    )
    assert found.certainty.level == "very low"


def test_the_classical_line_stands_beside_two_studies_and_more() -> None:
    found = finding_of(_studies([70, 72, 68, 71, 69], sd=6))
    assert found.classical is not None
    assert found.classical.prediction_low is not None
    two = finding_of(_studies([80, 85]))
    assert two.classical is not None
    assert two.classical.prediction_low is None  # t(k - 2) does not exist for two studies


def test_a_finding_cannot_be_changed() -> None:
    found = finding_of(_studies([80]))
    with pytest.raises(AttributeError):
        found.state = "about_the_same"  # type: ignore[misc]
    assert replace(found, state="amount") != found
