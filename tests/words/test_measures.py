"""Ounces and Fahrenheit where they are asked for, and nothing else changed."""

from __future__ import annotations

import pytest

from reports.words.catalogue import load_catalogue
from reports.words.measures import ML_A_FLUID_OUNCE, temperatures_in, volume_words
from reports.words.told import Told, trail_of

SAY = load_catalogue(part="in_a_day")


def test_a_fluid_ounce_is_what_the_handbook_says() -> None:
    # NIST Handbook 44, appendix C: 1 fluid ounce (US) = 29.573 53 milliliters
    assert pytest.approx(29.57353, abs=5e-6) == ML_A_FLUID_OUNCE


@pytest.mark.parametrize(
    ("ml", "metric", "us"), [(120, "120 ml", "4 fl oz"), (780, "780 ml", "26.5 fl oz"), (600, "600 ml", "20.5 fl oz")]
)
def test_volumes_in_both_units(ml: float, metric: str, us: str) -> None:
    assert volume_words(ml, "metric", SAY) == metric
    assert volume_words(ml, "us", SAY) == us


@pytest.mark.parametrize(
    ("celsius", "fahrenheit"),
    [
        ("under 70 °C", "under 158 °F"),
        ("at 70 to 76 °C", "at 158 to 169 °F"),
        ("(10 to 30 °C)", "(50 to 86 °F)"),
        ("at −18 °C", "at 0 °F"),  # −0.4
        ("at −80 °C", "at −112 °F"),
        ("at 62,5 °C", "at 144 °F"),  # 144.5, to the even degree
        ("de 70 à 76\u202f°C", "de 158 à 169\u202f°F"),
        ("9 to 45 days at 5 °C", "9 to 45 days at 41 °F"),
        ("vitamin C kept 3 days", "vitamin C kept 3 days"),
    ],
)
def test_temperatures_in_fahrenheit(celsius: str, fahrenheit: str) -> None:
    assert temperatures_in(celsius, "us") == fahrenheit
    assert temperatures_in(celsius, "metric") == celsius


def test_a_sentence_keeps_its_trail() -> None:
    assert trail_of(temperatures_in(Told("at 5 °C", "A-0001"), "us")) == ("A-0001",)
