"""Printed figures as numbers: their rounding, their spreads, their P."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import pytest
from scipy import stats

from evidence.effects.printed import PValue, parse_p, parse_pair, parse_printed, sd_from_spread

PUBLISHED = Path(__file__).resolve().parents[1] / "published"


@pytest.mark.parametrize(
    ("text", "value", "rounding"),
    [("69", 69, 0.5), ("-16.5", -16.5, 0.05), ("12.40", 12.4, 0.005), ("1.2e3", 1200, 50), ("3E-2", 0.03, 0.005)],
)
def test_the_digits_printed_show_the_rounding(text: str, value: float, rounding: float) -> None:
    found = parse_printed(text)
    assert found is not None
    assert found.value == pytest.approx(value)
    assert found.rounding == pytest.approx(rounding)


def test_nothing_printed_is_no_number() -> None:
    assert parse_printed("") is None
    assert parse_pair("3.5") is None
    assert parse_pair("3..7.5") == (3.0, 7.5)
    assert parse_p("", 0.0005) is None
    assert sd_from_spread("", "SD", 10) is None


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("0.041", PValue(value=0.041)),
        ("<0.05", PValue(below=0.05)),
        ("<=0.05", PValue(below=0.05)),
        (">0.05", PValue(above=0.05)),
        ("ns", PValue(not_significant=True)),
        ("0.000", PValue(below=0.0005)),
        ("<0", PValue(below=0.0005)),
    ],
)
def test_a_p_is_exact_or_a_limit_and_p_of_zero_is_a_limit(text: str, expected: PValue) -> None:
    assert parse_p(text, 0.0005) == expected


@pytest.mark.parametrize(
    ("p", "nothing_seen"),
    [(PValue(above=0.05), True), (PValue(above=0.001), False), (PValue(value=0.3), True), (PValue(value=0.03), False),
     (PValue(not_significant=True), True), (PValue(below=0.05), False)],
)  # fmt: skip
def test_only_a_p_at_or_above_the_level_says_that_nothing_was_seen(p: PValue, nothing_seen: bool) -> None:
    assert p.says_nothing_seen(0.05) is nothing_seen


def test_a_standard_error_becomes_a_standard_deviation() -> None:
    # common practice, no source: SD = SE sqrt(n)
    assert sd_from_spread("2", "SE", 16) == pytest.approx(8)
    assert sd_from_spread("2", "SD", None) == 2
    assert sd_from_spread("2", "SE", None) is None


def test_an_interval_of_a_mean_becomes_a_standard_deviation_as_in_the_handbook() -> None:
    # Cochrane Handbook for Systematic Reviews of Interventions 5.1, section 7.7.3.2: n = 25, divisor 2 x 2.0639 = 4.128
    # (read in a copy of the text); interval 30.0 to 34.2 and SD 5.09 from memory
    assert sd_from_spread("30.0..34.2", "CI95", 25) == pytest.approx(5.09, abs=0.005)
    assert 2 * stats.t.ppf(0.975, 24) == pytest.approx(4.128, abs=0.0005)


def _range_factors() -> list[tuple[int, float]]:
    with (PUBLISHED / "range_factor.csv").open(encoding="utf-8", newline="") as file:
        return [(int(row["n"]), float(row["xi_printed"])) for row in csv.DictReader(file)]


def test_a_range_becomes_a_standard_deviation_by_the_table_of_wan_2014() -> None:
    # Wan, Wang, Liu and Tong 2014, BMC Med Res Methodol 14:135 (10.1186/1471-2288-14-135), table 1; their closed
    # approximation keeps within 1.5 % of it from five milks on and within 5 % below
    seen = 0
    for n, factor in _range_factors():
        if n < 2:
            assert sd_from_spread("10..20", "range", n) is None
            continue
        sd = sd_from_spread("10..20", "range", n)
        assert sd is not None
        assert 10 / sd == pytest.approx(factor, rel=0.015 if n >= 5 else 0.05), n
        seen += 1
    assert seen == 49


def test_the_table_of_wan_2014_is_the_expected_range_of_normal_values() -> None:
    # an independent look at the table itself: the mean range of n standard normals by quadrature; n = 12 is misprinted
    from scipy.integrate import quad

    for n, factor in _range_factors()[1:]:
        exact, _ = quad(lambda x, n=n: 1 - stats.norm.cdf(x) ** n - stats.norm.sf(x) ** n, -8, 8)
        assert exact == pytest.approx(factor, abs=0.0011 if n == 12 else 0.00055), n


def test_quartiles_of_many_milks_lie_about_135_hundredths_of_an_sd_apart() -> None:
    # 2 x 0.6745, the quartiles of a normal distribution (common practice, no source)
    sd = sd_from_spread("0..1.349", "IQR", 100_000)
    assert sd == pytest.approx(1, rel=1e-3)


@pytest.mark.parametrize(("text", "kind"), [("3..7", "SD"), ("3..7", "SE"), ("-1", "SD"), ("3", "")])
def test_a_spread_that_cannot_be_read_gives_no_standard_deviation(text: str, kind: str) -> None:
    assert sd_from_spread(text, kind, 10) is None


def test_a_single_width_of_a_range_is_taken_as_high_less_low() -> None:
    one, two = sd_from_spread("4", "range", 10), sd_from_spread("3..7", "range", 10)
    assert one is not None and two is not None
    assert math.isclose(one, two)
