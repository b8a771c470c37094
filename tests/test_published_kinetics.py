"""Kinetics against answers printed elsewhere, in the digits printed there; sources of the data: published/README.md."""

import math

import numpy as np
import pytest

from evidence.synthesis.kinetics import (
    GAS_CONSTANT,
    arrhenius,
    decimal_reduction_time,
    fit_course,
    half_life,
    rate_factor,
    share_left,
    time_until,
)
from tests.synthesis.published_data import Floats, columns

_ZERO_C = 273.15


def _numbers(name: str, column: str) -> Floats:
    return np.array(columns(name)[column], dtype=float)


def _hydrogen_iodide(which: str) -> tuple[Floats, Floats]:
    table = columns("arrhenius_textbook")
    mine = [place for place, kind in enumerate(table["set"]) if kind == which]
    kelvin = np.array([float(table["temperature_k"][place]) for place in mine])
    return kelvin, np.array([float(table["rate_constant_l_per_mol_s"][place]) for place in mine])


def test_activation_energy_from_five_temperatures_is_the_textbook_one() -> None:
    # K1: OpenStax, Chemistry 2e, chapter 12: printed 1.8e5 J/mol, from a slope rounded to two digits (2.2e4 K); the
    # unrounded line lies within 3 % of it
    kelvin, rates = _hydrogen_iodide("HI")
    found = arrhenius(kelvin, rates, gas_constant=8.314)
    assert found.activation_energy / 1000 == pytest.approx(180, rel=0.03)
    assert found.activation_energy / 8.314 == pytest.approx(2.2e4, abs=0.05e4)
    assert found.r2 > 0.99
    # ln k as printed there, to three decimals
    assert np.log(rates[[0, 4]]) == pytest.approx(np.array([-14.860, -3.231]), abs=6e-4)


def test_activation_energy_from_two_temperatures_is_the_textbook_one() -> None:
    # K1, Check Your Learning of the same section: printed 1.1e5 J/mol, two digits
    kelvin, rates = _hydrogen_iodide("N2O5")
    assert arrhenius(kelvin, rates, gas_constant=8.314).activation_energy == pytest.approx(1.1e5, abs=0.05e5)


def test_the_rate_of_a_printed_course_is_the_printed_one() -> None:
    # K2 (a): OpenStax, Chemistry 2e, chapter 12: hydrogen peroxide, printed 0.116 per h
    found = fit_course(_numbers("first_order_textbook", "time_h"), _numbers("first_order_textbook", "concentration_m"))
    assert found.rate == pytest.approx(0.116, abs=5e-4)


def test_times_to_a_printed_loss_are_the_printed_ones() -> None:
    # K2 (b) and (c), same section: k = 9.2e-3 per s, 80.0 % lost: printed 1.7e2 s; k = 0.138 per d, 90 %: 16.7 d
    assert time_until(9.2e-3, 0.2) == pytest.approx(1.7e2, abs=5)
    assert time_until(0.138, 0.1) == pytest.approx(16.7, abs=0.05)


def test_half_lives_of_vitamin_c_in_orange_juice_are_the_printed_ones() -> None:
    # K3: Otarola-Gamarra and others, abstract: 6.49, 9.01 and 9.05 h; the "D" printed there is 1/k, a misprint
    rates = _numbers("orange_juice_vitamin_c", "k_per_min_printed")
    printed = _numbers("orange_juice_vitamin_c", "half_life_h_printed")
    assert [half_life(rate) / 60 for rate in rates] == pytest.approx(list(printed), abs=5e-3)
    # loss after 6 h at 16 C printed 37 %
    assert 100 * (1 - share_left(float(rates[1]), 360.0)) == pytest.approx(37, abs=0.5)


def test_activation_energy_of_vitamin_c_in_orange_juice_is_near_the_printed_one() -> None:
    # K3: printed 3.066 kcal/mol; how it was fitted is not said, the line through the printed rates is 0.8 % off
    kelvin = _numbers("orange_juice_vitamin_c", "temperature_c") + _ZERO_C
    found = arrhenius(kelvin, _numbers("orange_juice_vitamin_c", "k_per_min_printed"), gas_constant=1.987e-3)
    assert found.activation_energy == pytest.approx(3.066, rel=0.01)
    assert found.temperatures == 3


@pytest.mark.parametrize("row", range(4))
def test_times_of_vitamin_c_in_baobab_drink_are_the_printed_ones(row: int) -> None:
    # K4: abstract in a discovery index; k and times to four digits, but 131.78 and 437.78 are 0.1 % high
    rate = float(_numbers("baobab_vitamin_c", "k")[row])
    close = 1.2e-3 if rate == pytest.approx(0.005266) else 4e-4
    assert half_life(rate) == pytest.approx(float(_numbers("baobab_vitamin_c", "half_life_printed")[row]), rel=close)
    printed = float(_numbers("baobab_vitamin_c", "decimal_reduction_time_printed")[row])
    assert decimal_reduction_time(rate) == pytest.approx(printed, rel=close)


def test_acceleration_between_two_temperatures_is_the_printed_one() -> None:
    # K5: Yang, Life Cycle Reliability Engineering, 2007, example 7.1: Ea 0.323 eV, factor 3.46 from 35 to 70 C
    assert rate_factor(0.323, 35 + _ZERO_C, 70 + _ZERO_C, gas_constant=8.617e-5) == pytest.approx(3.46, abs=0.01)


def test_activation_energy_of_accelerated_lives_is_the_printed_one() -> None:
    # K5: printed 0.323 eV by maximum likelihood; ordinary least squares of ln(1 / life) comes within 0.5 %
    kelvin = _numbers("accelerated_life", "temperature_c") + _ZERO_C
    rates = 1.0 / _numbers("accelerated_life", "failure_time")
    assert arrhenius(kelvin, rates, gas_constant=8.617e-5).activation_energy == pytest.approx(0.323, rel=5e-3)


def test_activation_energy_from_a_graph_agrees_with_the_line() -> None:
    # hydrogen iodide at 283, 356, 393, 427 and 508 C: a textbook question (12.13, Arrhenius equation) prints a slope
    # of -2.24e4 K read from a graph and 190 kJ/mol; a line is good to the digits a graph gives, 3 %
    celsius = np.array([283.0, 356.0, 393.0, 427.0, 508.0])
    rates = np.array([3.52e-7, 3.02e-5, 2.19e-4, 1.16e-3, 3.95e-2])
    found = arrhenius(celsius + _ZERO_C, rates)
    assert found.activation_energy / 1000 == pytest.approx(190, rel=0.03)
    assert found.activation_energy / GAS_CONSTANT == pytest.approx(2.24e4, rel=0.03)


def test_a_half_life_of_45_days_gives_the_printed_rate_and_time() -> None:
    # stored yogurt, Chemistry: The Science in Context, 5th ed., chapter 13, problem 68: k 0.0154 per day, and 14 to
    # 15 days until 80 % of the quality is left
    rate = math.log(2.0) / 45.0
    assert rate == pytest.approx(0.0154, abs=5e-5)
    assert half_life(rate) == pytest.approx(45.0)
    assert 14 <= time_until(rate, 0.8) <= 15


def test_a_zero_order_rate_follows_temperature_as_printed() -> None:
    # accelerated shelf-life exercise, free fatty acids at 25, 35 and 45 C: printed ln k = 0.5938 - 1040.8 / T, R2 0.904
    kelvin = np.array([25.0, 35.0, 45.0]) + _ZERO_C
    found = arrhenius(kelvin, [0.0562, 0.0592, 0.0701], gas_constant=1.0)
    assert found.activation_energy == pytest.approx(1040.8, rel=2e-3)
    assert found.log_frequency == pytest.approx(0.5938, abs=0.01)
    assert found.r2 == pytest.approx(0.904, abs=1e-3)


def test_ten_degrees_double_to_quadruple_a_rate_as_the_rule_says() -> None:
    # course notes on shelf life: 12 to 24 kcal/mol give Q10 2 to 4; at about 25 to 35 C
    factors = [rate_factor(energy, 25 + _ZERO_C, 35 + _ZERO_C, gas_constant=1.987e-3) for energy in (12.0, 24.0)]
    assert factors == pytest.approx([2.0, 4.0], rel=0.1)
