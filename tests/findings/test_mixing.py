"""Water for one bag: a mass balance of the client's own weighings, and masses that cannot be right refused."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evidence.findings.mixing import read_mixing
from evidence.model.problems import InputProblems
from evidence.model.rules import Rules, load_rules


def _refusal(mass_in: str | None, mass_out: str | None, bag: str | None) -> str:
    with pytest.raises(InputProblems) as refused:
        read_mixing(mass_in, mass_out, bag, load_rules())
    return str(refused.value)


def test_ten_parts_of_milk_give_about_one_part_of_powder_so_nine_parts_of_water_make_it_up(rules: Rules) -> None:
    # human milk is roughly 90 % water: common practice, no source
    mixing = read_mixing("1000g", "100g", "10g", rules)
    assert mixing is not None
    assert mixing.milk_for_powder == pytest.approx(10)
    assert mixing.water_g == pytest.approx(90)
    assert mixing.made_up_g == pytest.approx(100)


def test_the_plausible_yield_holds_the_dry_matter_that_was_measured(rules: Rules) -> None:
    # 8.58 to 17.49 g in 100 mL, 50 women: Am J Clin Nutr 1976;29:242-254 (composition.csv, dry-matter-02)
    for dry in ("8.58g", "17.49g"):
        assert read_mixing("100g", dry, "1g", rules) is not None
    assert "from 7 to 22 of every 100" in _refusal("100g", "1g", "1g")
    assert "from 7 to 22 of every 100" in _refusal("100g", "90g", "1g")


@settings(max_examples=50, deadline=None)
@given(
    st.floats(200, 20_000), st.floats(0.08, 0.2), st.floats(0.05, 0.95)
)  # fmt: skip
def test_powder_and_water_weigh_what_the_milk_weighed(milk: float, dry: float, share: float) -> None:
    mixing = read_mixing(f"{milk:.3f}g", f"{milk * dry:.3f} g", f"{milk * dry * share:.4f}g", load_rules())
    assert mixing is not None
    # the bag's share of the powder came from the same share of the milk
    assert mixing.made_up_g == pytest.approx(mixing.bag.grams / mixing.powder.grams * mixing.milk.grams)
    assert mixing.water_g > 0


@pytest.mark.parametrize(
    ("written", "grams"),
    # exact by definition of the international avoirdupois pound, 0.45359237 kg (1959), and 16 ounces in it
    [("1lb", 453.59237), ("1 oz", 28.349523125), ("4.8 KG", 4800.0), (" 15 g ", 15.0)],
)
def test_masses_are_read_in_the_units_scales_show(written: str, grams: float, rules: Rules) -> None:
    mixing = read_mixing("100 kg", "12 kg", written, rules)
    assert mixing is not None
    assert mixing.bag.grams == pytest.approx(grams)


def test_a_volume_is_no_mass() -> None:
    assert "weigh it" in _refusal("4800 ml", "560g", "15g")


@pytest.mark.parametrize("nonsense", ["", "g", "-5g", "4,8 kg", "1e9kg", "5 stone", "nan g", "0g", "5g6", "١٥g5"])
def test_what_is_no_mass_is_told_with_what_is(nonsense: str) -> None:
    told = _refusal("4800g", "560g", nonsense)
    assert told.startswith("--bag: read") and "allowed:" in told


def test_more_powder_than_milk_is_refused() -> None:
    assert "less than --mass-in" in _refusal("560g", "4800g", "15g")
    assert "less than --mass-in" in _refusal("560g", "560g", "15g")


def test_a_bag_holds_no_more_than_all_the_powder() -> None:
    assert "no more than all the powder" in _refusal("4800g", "560g", "600g")


def test_masses_come_all_three_or_not_at_all(rules: Rules) -> None:
    assert read_mixing(None, None, None, rules) is None
    assert "together with --mass-out and --bag" in _refusal("4800g", None, None)


def test_everything_that_is_wrong_is_told_at_once() -> None:
    assert len(_refusal("many", "5 stone", "a bit").splitlines()) == 3


def test_masses_that_cannot_be_right_are_told_beside_one_that_cannot_be_read() -> None:
    told = _refusal("4.8kg", "5.6kg", "15ml")
    assert "weigh it" in told and "less than --mass-in" in told
