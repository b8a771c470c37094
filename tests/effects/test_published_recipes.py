"""Standard errors against printed examples of how others got theirs."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import pytest

from evidence.effects import Effect, effect_of
from evidence.effects.recipes import from_difference, from_exact_p, from_interval, from_means
from evidence.model.rules import Rules
from tests.invented import measured

PUBLISHED = Path(__file__).resolve().parents[1] / "published"


def _one(name: str) -> dict[str, float]:
    with (PUBLISHED / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return {key: float(value) for key, value in next(csv.DictReader(file)).items()}


def test_the_se_of_paired_differences_is_the_handbook_s(rules: Rules) -> None:
    # Cochrane Handbook 5.1 (2011), section 16.4.6.4: SE 0.632 from the SD of the differences, 0.583 from r = 0.68.
    # With both means set to 1 a coefficient of variation is an SD and the delta method is exact.
    row = _one("crossover_imputed_correlation")
    n = row["n_pairs"]
    printed = from_difference(row["sd_diff_case1"], 1, 1, 0, n)
    imputed = from_means(row["sd_c"], row["sd_e"], row["correlation_case2"], n, rules.spread)
    assert printed is not None and imputed is not None
    assert round(printed.se, 3) == 0.632
    assert round(imputed.se, 3) == 0.583


def test_the_log_ratio_and_its_variance_are_the_textbook_s(rules: Rules) -> None:
    # Borenstein, Hedges, Higgins, Rothstein, Introduction to Meta-Analysis, 2009, response ratio. FROM MEMORY:
    # ln R 0.1871 (cut), V 0.0246, SE 0.1568, R 1.2058, interval 0.8867 to 1.6397. Separate arms: correlation 0.
    row = _one("response_ratio")
    cv = [row["sd_pooled"] / row[f"mean_{arm}"] for arm in (1, 2)]
    found = from_means(cv[1], cv[0], 0, row["n_1"], rules.spread)
    assert found is not None
    milk = measured(baseline_mean=row["mean_2"], treated_mean=row["mean_1"])
    effect = effect_of(milk, "fragile", rules)
    assert isinstance(effect, Effect) and effect.log_ratio is not None
    assert math.floor(effect.log_ratio * 1e4) / 1e4 == 0.1871
    assert effect.retained_percent == pytest.approx(120.58, abs=0.005)
    assert round(found.se**2, 4) == 0.0246
    assert round(found.se, 4) == 0.1568
    assert round(math.exp(effect.log_ratio - 1.96 * found.se), 4) == 0.8867
    assert math.exp(effect.log_ratio + 1.96 * found.se) == pytest.approx(1.6397, abs=1e-4)


MANY = 10_000_000  # milks: t becomes the normal


def test_the_se_behind_a_ratio_s_interval_is_that_of_altman_and_bland(rules: Rules) -> None:
    # Altman and Bland, BMJ 343 (2011) d2304: method read; figures FROM MEMORY: ln ratio -0.211, SE 0.0753 (from rounded
    # logs), z 2.80, P 0.005
    row = _one("interval_to_p")
    found = from_interval(row["ci_low"], row["ci_high"], row["ratio"], MANY, rules.spread)
    assert found is not None
    y = math.log(row["ratio"])
    z = abs(y) / found.se
    assert round(y, 3) == -0.211
    assert found.se == pytest.approx(0.0753, abs=0.0001)
    assert round(z, 2) == 2.80
    assert round(math.exp(-0.717 * z - 0.416 * z**2), 3) == 0.005


def test_the_way_back_from_p_gives_the_same_se(rules: Rules) -> None:
    # the same example backwards: P is known to one digit, 0.0045 to 0.0055
    y = math.log(_one("interval_to_p")["ratio"])
    low, high = (from_exact_p(y, p, MANY, 0, rules.spread) for p in (0.0045, 0.0055))
    assert low is not None and high is not None
    assert low.se < 0.0753 < high.se


def test_the_se_behind_an_exact_p_is_the_handbook_s(rules: Rules) -> None:
    # Cochrane Handbook 5.1, section 7.7.3.3 (read in a copy of the text): difference 3.8, P 0.008, t 2.78 with 45
    # degrees of freedom, SE 1.37
    found = from_exact_p(3.8, 0.008, 46, 0, rules.spread)
    assert found is not None
    assert round(found.se, 2) == 1.37
