"""The SD between milks that rows without a spread are lent, fitted from the rows that print their own."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pytest

from evidence.findings.compute import share
from evidence.findings.lent_spread import lent_spread, with_spreads
from evidence.model.rules import Rules
from evidence.model.tables import Measurement
from tests.invented import component, evidence_of, measured

SDS = [0.1, 0.2, 0.4, 0.2, 0.1, 0.4, 0.2, 0.2, 0.1, 0.4]


def _rows(sds: Sequence[float], name: str = "vitamin-c") -> list[Measurement]:
    # 80 % with SD 80 x s points: the SD of the ln ratio is s
    return [
        measured(
            study=f"s{i}x2031milk", component=name, retained_percent=80, percent_spread=f"{80 * sd:.1f}",
            percent_spread_kind="SD", spread_of="milks", n=10, n_kind="donors",
        )
        for i, sd in enumerate(sds)
    ]  # fmt: skip


def _lent(rows: Sequence[Measurement], rules: Rules) -> dict[str, tuple[float, int, int]]:
    found = lent_spread([component("vitamin-c"), component("total-fat")], rows, frozenset(), rules)
    return {group: (each.sd, each.studies, len(each.fitted_on)) for group, each in found.items()}


def test_ten_studies_lend_their_geometric_mean(rules: Rules) -> None:
    # three of 0.1, four of 0.2, three of 0.4: the geometric mean is 0.2
    found = _lent(_rows(SDS), rules)
    assert found["fragile"] == (pytest.approx(0.2, abs=1e-4), 10, 10)
    assert found["bulk"] == (rules.spread.bulk_sd, 0, 0)


def test_nine_studies_lend_nothing(rules: Rules) -> None:
    assert _lent(_rows(SDS[:9]), rules)["fragile"] == (rules.spread.fragile_sd, 9, 0)


def test_several_rows_of_one_study_are_one_study(rules: Rules) -> None:
    again = _rows(SDS[:3])  # rows of the first three studies once more
    assert _lent([*_rows(SDS[:9]), *again], rules)["fragile"][1:] == (9, 0)


def test_what_is_lent_stays_inside_its_limits(rules: Rules) -> None:
    assert _lent(_rows([0.9] * 10), rules)["fragile"][0] == rules.spread.fragile_sd_high
    assert _lent(_rows([0.01] * 10, "total-fat"), rules)["bulk"][0] == rules.spread.bulk_sd_low


def test_an_sd_behind_a_p_is_not_the_study_s_own(rules: Rules) -> None:
    by_p = [
        measured(study=f"p{i}x2031milk", retained_percent="60.0", p="0.03", p_of="this contrast", n=10, n_kind="donors")
        for i in range(10)
    ]
    assert _lent(by_p, rules)["fragile"] == (rules.spread.fragile_sd, 0, 0)


def test_rows_without_a_spread_are_lent_the_fitted_one(rules: Rules) -> None:
    alone = measured(study="alone2032milk", retained_percent=70, n=16, n_kind="donors")
    asked, shared, changed = share(evidence_of([*_rows(SDS), alone]), rules)
    (mine,) = [study for each in asked for study in each.gathered.studies if study.study == "alone2032milk"]
    assert mine.se == pytest.approx(0.2 / math.sqrt(16), rel=1e-3)
    assert shared["fragile"].spread == changed.spread.fragile_sd
    assert len(shared["fragile"].spread_fitted_on) == 10


def test_other_spreads_stay_as_they_are(rules: Rules) -> None:
    changed = with_spreads(rules, {"fragile": 0.5, "count": 9.0})
    assert (changed.spread.fragile_sd, changed.spread.bulk_sd, changed.spread.count_sd) == (
        0.5, rules.spread.bulk_sd, rules.spread.count_sd,
    )  # fmt: skip
