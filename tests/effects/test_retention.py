"""What "still there" means: true retention after Murphy, Criner and Gray 1975."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as some

from evidence.effects import Effect, LeftOut, effect_of
from evidence.model.rules import Rules, load_rules
from tests.invented import measured

PUBLISHED = Path(__file__).resolve().parents[1] / "published"
# common practice, no source: human milk holds 11 to 13 % solids, so ten parts give about one part of powder or a little
# more; water is added back to the mass it had
POWDER_PER_MILK = some.floats(0.09, 0.14)


def true_retention(per_g_after: float, g_after: float, per_g_before: float, g_before: float) -> float:
    """Murphy, Criner and Gray 1975 (J Agric Food Chem 23:1153), as printed in food tables: (Nc Gc) / (Nr Gr) 100."""
    return 100 * per_g_after * g_after / (per_g_before * g_before)


@given(some.floats(0.05, 1.0), some.floats(0.5, 500), POWDER_PER_MILK)
def test_milk_made_up_to_its_original_mass_gives_true_retention(kept: float, before: float, powder_mass: float) -> None:
    milk_mass = 1.0
    nutrient_in_powder = kept * before * milk_mass
    per_g_powder = nutrient_in_powder / powder_mass
    per_g_made_up = per_g_powder * powder_mass / milk_mass
    row = measured(baseline_mean=repr(before), treated_mean=repr(per_g_made_up), unit="mg/kg")
    found = effect_of(row, "fragile", load_rules())
    assert isinstance(found, Effect) and found.retained_percent is not None
    expected = true_retention(per_g_powder, powder_mass, before, milk_mass)
    if found.kind == "figure":
        assert found.retained_percent == pytest.approx(expected)
    else:
        assert found.kind == "at_most" and expected <= load_rules().gate.bound_at_or_below_percent + 1e-9


@given(some.floats(0.3, 1.0), POWDER_PER_MILK)
def test_powder_per_gram_against_milk_per_gram_would_claim_a_gain_and_is_refused(kept: float, powder: float) -> None:
    before = 10.0
    per_g_powder = kept * before / powder
    assert 100 * per_g_powder / before > true_retention(per_g_powder, powder, before, 1) * 6
    row = measured(baseline_mean=repr(before), treated_mean=repr(per_g_powder), basis="powder")
    for group in ("bulk", "fragile"):
        found = effect_of(row, group, load_rules())
        assert isinstance(found, LeftOut)
        assert "powder" in found.reason


@pytest.mark.parametrize("basis", ["powder", "solids", "fat", "protein"])
def test_only_what_is_per_amount_of_milk_is_pooled(basis: str, rules: Rules) -> None:
    found = effect_of(measured(retained_percent=90, basis=basis), "fragile", rules)
    assert isinstance(found, LeftOut)
    assert basis in found.reason


def _spinach() -> list[dict[str, str]]:
    with (PUBLISHED / "spinach_retention.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_printed_retention_factors_with_a_weight_yield_are_true_retention(rules: Rules) -> None:
    # Phenol-Explorer retention factors, entries 93 and 95 (spinach, microwaved in water), yield 0.65 of USDA
    # Agriculture
    # Handbook 102: factor = content after / content before x yield. One factor is cut instead of rounded (0.38 for
    # 0.3889).
    rows = _spinach()
    assert len(rows) == 6
    for each in rows:
        before, after, mass = (float(each[name]) for name in ("content_before", "content_after", "yield_factor"))
        printed = float(each["retention_factor_printed"])
        assert true_retention(after, mass, before, 1) / 100 == pytest.approx(printed, abs=0.01)
        # the same content given per mass put in, as milk made up to its mass is
        found = effect_of(measured(baseline_mean=before, treated_mean=repr(after * mass)), "fragile", rules)
        assert isinstance(found, Effect) and found.retained_percent is not None
        assert found.retained_percent / 100 == pytest.approx(printed, abs=0.01)


def test_apparent_retention_of_the_same_food_differs_by_its_yield(rules: Rules) -> None:
    # two of the six would even look like a gain if the change of mass were forgotten
    gains = [each for each in _spinach() if float(each["content_after"]) > float(each["content_before"])]
    assert len(gains) == 2
    assert all(float(each["retention_factor_printed"]) < 1 for each in gains)


@pytest.mark.parametrize("case", ["4", "5"])
def test_a_food_dried_by_the_textbook_s_masses_and_made_up_again_has_lost_nothing(case: str, rules: Rules) -> None:
    # Singh and Heldman, Introduction to Food Engineering, chapter 1, as printed in slides and in a student solution:
    # 10 kg at 75 % water hold 2.5 kg solids; 10 kg at 320 % dry basis hold 7.619 kg water
    with (PUBLISHED / "moisture_basis.csv").open(encoding="utf-8", newline="") as file:
        row = next(each for each in csv.DictReader(file) if each["case"] == case)
    food, printed = float(row["mass_kg"]), float(row["printed"])
    solids = printed if row["asked"] == "kg solids" else food - printed
    per_kg_food = 4.0
    per_kg_powder = per_kg_food * food / solids
    assert true_retention(per_kg_powder, solids, per_kg_food, food) == pytest.approx(100)
    made_up = measured(baseline_mean=per_kg_food, treated_mean=repr(per_kg_powder * solids / food))
    found = effect_of(made_up, "fragile", rules)
    assert isinstance(found, Effect)
    assert found.retained_percent == pytest.approx(100)
    powder = measured(baseline_mean=per_kg_food, treated_mean=repr(per_kg_powder), basis="powder")
    assert isinstance(effect_of(powder, "fragile", rules), LeftOut)
