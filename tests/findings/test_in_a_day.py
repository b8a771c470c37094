"""Amounts in a day: what milk holds x what is still there x what a child drinks; whose figures stand beside them."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evidence.findings.in_a_day import Kept, content_of, figures_for, in_a_day, kept_of, usual_drinks_ml
from evidence.model.rules import load_rules
from evidence.model.tables import Composition, Intake
from evidence.store import Store
from evidence.store.reading import all_rows
from tests.invented import FRESH, finding_of, measured

RULES = load_rules().in_a_day


def milk(identity: str, value: str, unit: str = "mg/L", **more: str) -> Composition:
    return Composition(
        id=identity, component="vitamin-c", value=value, unit=unit, reference="invented", origin="shipped 1", **more
    )


def figure(identity: str, value: str, kind: str = "AI", unit: str = "mg/day", **more: str) -> Intake:
    values = {"authority": "One", "country": "US; Canada", "age_from_months": "0", "age_to_months": "6"} | more
    return Intake(
        id=identity, component="vitamin-c", kind=kind, value=value, unit=unit, document="invented", origin="x", **values
    )


def test_ranges_are_multiplied_end_by_end() -> None:
    finding = finding_of([measured(study=f"s{i}x2031milk", retained_percent=p, n=30) for i, p in enumerate((70, 80))])
    assert finding.pooled is not None and finding.state == "two_studies"
    day = in_a_day("vitamin-c", [finding], [milk("a", "40"), milk("b", "60")], [], 3, 500, "", RULES)
    assert day.fresh == pytest.approx((20, 30))  # 40 and 60 mg a litre x half a litre
    ((kept, low, high),) = day.left
    assert (kept.low, kept.high) == (finding.pooled.ci_low, finding.pooled.ci_high)  # a range, never an average
    assert low == pytest.approx(20 * finding.pooled.ci_low / 100)
    assert high == pytest.approx(30 * finding.pooled.ci_high / 100)


def test_one_study_without_a_range_is_its_own_number_and_with_one_its_range() -> None:
    alone = kept_of(finding_of([measured(retained_percent=69, n=5)]))
    assert isinstance(alone, Kept) and alone.low == alone.high == pytest.approx(69)
    spread = {"percent_spread": 10, "percent_spread_kind": "SD", "n": 20, "n_kind": "donors", "spread_of": "milks"}
    ranged = kept_of(finding_of([measured(retained_percent=69, **FRESH, **spread)]))
    assert isinstance(ranged, Kept) and ranged.low < 69 < ranged.high


def test_where_studies_differ_too_much_the_limits_for_another_laboratory_are_used() -> None:
    rows = [measured(study=f"s{i}x2031milk", retained_percent=p, n=6) for i, p in enumerate((15, 60, 100, 40))]
    finding = finding_of(rows)
    kept = kept_of(finding)
    assert finding.state == "spread" and finding.pooled is not None
    assert isinstance(kept, Kept) and (kept.low, kept.high) == (finding.pooled.new_low, finding.pooled.new_high)


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        (measured(in_words="decrease"), "no figure"),
        (measured(retained_percent=70, measured_as="activity"), "other measure"),
        (measured(retained_percent=70, form="reduced"), "form"),
        (measured(retained_percent=70, component="total-bacteria", measured_as="count"), "other measure"),
    ],
)
def test_words_activities_forms_and_germs_give_no_amount(row: object, reason: str) -> None:
    finding = finding_of([row])  # type: ignore[list-item]
    assert kept_of(finding) == reason
    day = in_a_day("vitamin-c", [finding], [milk("a", "40")], [], 3, 500, "", RULES)
    assert day.left == () and day.why == ((finding, reason),)
    assert day.fresh == pytest.approx((20, 20))


def test_a_total_counts_as_the_whole() -> None:
    assert isinstance(kept_of(finding_of([measured(retained_percent=70, form="total")])), Kept)


def test_only_figures_a_volume_of_mature_milk_of_the_whole_component_count() -> None:
    rows = [
        milk("used", "50"), milk("also", "4.0..6.0", "mg/dL", spread_low="4.0", spread_high="6.0", spread_kind="range"),
        milk("young", "90", stage="colostrum"), milk("early", "80", population="preterm, week 2"),
        milk("part", "10", basis="per litre; reduced form only"), milk("share", "4", "% of fatty acids"),
        milk("weight", "5", "mg/100 g"), milk("doubt", "99", notes="single site, use with caution"),
        milk("seen", "7..90", n="50", spread_low="7", spread_high="90", spread_kind="range"),
    ]  # fmt: skip
    content = content_of(rows, [], RULES)
    assert content is not None
    assert content.ids == ("used", "also")
    assert (content.unit, content.low, content.high) == ("mg", pytest.approx(40), pytest.approx(60))
    assert {each.id for each in content.left_out} == {"young", "early", "part", "share", "weight", "doubt"}
    assert content.mothers is not None  # fifty mothers' lowest and highest are no averages
    assert (content.mothers.id, content.mothers.kind) == ("seen", "lowest and highest")


def test_a_form_counts_where_the_authority_counts_that_form() -> None:
    rows = [milk("part", "10", basis="per litre, mean; alpha-tocopherol only")]
    assert content_of(rows, [figure("x", "4")], RULES) is None
    content = content_of(rows, [figure("x", "4", notes="as alpha-tocopherol")], RULES)
    assert content is not None and content.ids == ("part",)


def test_equivalents_are_never_mixed_with_the_plain_thing() -> None:
    rows = [milk("plain", "485", "ug/L"), milk("rae", "400", "ug RAE/L")]
    content = content_of(rows, [figure("x", "400", unit="ug RAE/day")], RULES)
    assert content is not None and (content.ids, content.equivalent) == (("rae",), "RAE")
    assert figures_for([figure("y", "400", unit="ug/day")], 3, "", content, RULES) == ((), False)


def test_most_mothers_are_two_standard_deviations_either_side() -> None:
    content = content_of([milk("a", "3.2", "g/dL", spread_low="0.5", spread_kind="SD", n="20")], [], RULES)
    assert content is not None and content.mothers is not None
    assert (content.mothers.low, content.mothers.high) == (pytest.approx(22), pytest.approx(42))
    wide = content_of([milk("a", "330", spread_low="417", spread_kind="SD")], [], RULES)
    assert wide is not None and wide.mothers is None  # such a spread is not symmetric: below nothing
    precise = content_of([milk("a", "261", spread_low="238", spread_high="284", spread_kind="CI95")], [], RULES)
    assert precise is not None and precise.mothers is None  # where an average lies is not how mothers differ


@pytest.mark.parametrize(
    ("age", "expected"),
    [
        (0, ["young"]),
        (3, ["young"]),
        (6.9, ["young"]),
        (7, ["older"]),
        (11.9, ["older"]),
        (12, ["child"]),
        (14, ["child"]),
        (47.9, ["child"]),
        (48, []),
    ],
)
def test_a_figure_covers_its_months(age: float, expected: list[str]) -> None:
    rows = [figure("young", "40"), figure("older", "50", age_from_months="7", age_to_months="12")]
    rows.append(figure("child", "15", "RDA", age_from_months="12", age_to_months="47"))
    content = content_of([milk("a", "40")], rows, RULES)
    found, _ = figures_for(rows, age, "", content, RULES)
    assert [each.id for each in found] == expected
    assert all(each.average_in_milk == (age < 7) for each in found)


def test_a_country_goes_by_its_authority_and_without_one_all_stand_side_by_side() -> None:
    rows = [
        figure("us", "40"), figure("uk", "25", "RNI", authority="Two", country="UK"),
        figure("who", "25", "RNI", authority="Three", country="international"),
        figure("top", "400", "UL", authority="Two", country="UK"),
        figure("eu", "20", "PRI", country="EU", authority="Four"),
    ]  # fmt: skip
    content = content_of([milk("a", "40")], rows, RULES)

    def shown(country: str) -> tuple[list[str], bool]:
        found, own = figures_for(rows, 3, country, content, RULES)
        return [each.id for each in found], own

    assert shown("GB") == (["uk"], True)
    assert shown("CA") == (["us"], True)
    assert shown("FR") == (["eu"], True)
    for country in ("", "NO", "ZZ"):
        assert shown(country) == (["eu", "uk", "us", "who"], False)


def test_a_recommended_intake_is_never_called_the_average_in_milk() -> None:
    rows = [figure("us", "40"), figure("uk", "25", "RNI", authority="Two")]
    found, _ = figures_for(rows, 3, "", content_of([milk("a", "40")], rows, RULES), RULES)
    assert {each.id: each.average_in_milk for each in found} == {"us": True, "uk": False}


@settings(deadline=None)
@given(st.floats(1, 2000), st.floats(1, 3))
def test_twice_the_milk_is_twice_the_amount(ml: float, times: float) -> None:
    one, more = (in_a_day("x", [], [milk("a", "40")], [], 3, each, "", RULES).fresh for each in (ml, ml * times))
    assert one is not None and more is not None
    assert more[0] == pytest.approx(one[0] * times)


def test_usual_amounts_end_with_the_ages_for_which_a_source_gives_them() -> None:
    # DRI reports: 0.78 L a day for 0 to 6 months, 0.6 L for 7 to 12
    assert (usual_drinks_ml(3, RULES), usual_drinks_ml(9, RULES), usual_drinks_ml(14, RULES)) == (780, 600, None)


def _shipped(store: Store, component: str, age: float, ml: float) -> tuple[float, float]:
    composition = [row for row in all_rows(store, Composition) if row.component == component]
    intake = [row for row in all_rows(store, Intake) if row.component == component]
    fresh = in_a_day(component, [], composition, intake, age, ml, "", RULES).fresh
    assert fresh is not None
    return fresh


def test_vitamin_a_of_the_first_months_is_what_the_authority_worked_out(shipped_store: Store) -> None:
    # DRI report on vitamin A (National Academies, 2001), p. 110: 485 ug/L x 0.78 L/day, rounded to 400
    assert _shipped(shipped_store, "vitamin-a", 3, 780) == pytest.approx((378.3, 378.3))


def test_magnesium_of_the_first_months_is_what_the_authority_worked_out(shipped_store: Store) -> None:
    # DRI report on magnesium (National Academies, 1997): 34 mg/L x 780 mL/day
    low, high = _shipped(shipped_store, "magnesium", 3, 780)
    assert low == pytest.approx(34 * 0.78) or high == pytest.approx(34 * 0.78)
