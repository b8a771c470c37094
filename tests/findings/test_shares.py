"""Shares: both values as printed, differences in points, and no parts still there."""

from __future__ import annotations

from typing import Any

import pytest

from evidence.effects import LeftOut, Share, share_of
from evidence.findings.kept import finding_from_json, finding_to_json
from evidence.model.rules import Rules
from evidence.model.tables import Measurement
from tests.invented import FRESH, finding_of, measured

ALIVE = {"component": "cell-viability", "measured_as": "share", "unit": "% viable cells", "assay": "trypan blue"}


def _share(name: str, before: float, after: float, **given: Any) -> Measurement:
    return measured(study=f"{name}2031milk", baseline_mean=before, treated_mean=after, **{**ALIVE, **FRESH, **given})


def test_both_values_of_a_share_are_kept_and_no_logarithm_is_taken(rules: Rules) -> None:
    found = share_of(_share("alpha", 92, 78), rules)
    assert isinstance(found, Share)
    assert (found.before, found.after, found.points) == (92, 78, -14)


@pytest.mark.parametrize(
    ("given", "why"),
    [
        ({"change_percent": -4}, "read in two ways"),
        ({"baseline_mean": 92}, "only one"),
        ({"baseline_mean": 920, "treated_mean": 780}, "between 0 and 100"),
        ({"baseline_mean": 92, "treated_mean": 78, "unit": "cells"}, "between 0 and 100"),
        ({"baseline_mean": 92, "treated_mean": 78, "number_is": "at least"}, "bound"),
        ({"baseline_mean": 92, "treated_mean": 78, "design": "separate milk"}, "different milks"),
        ({"baseline_mean": 92, "treated_mean": 78, "read_from": "memory"}, "never pooled"),
    ],
)
def test_what_is_no_pair_of_shares_is_listed_with_its_reason(given: dict[str, Any], why: str, rules: Rules) -> None:
    found = share_of(measured(**{**ALIVE, **given}), rules)
    assert isinstance(found, LeftOut)
    assert why in found.reason


def test_a_difference_in_points_beside_one_value_gives_the_other(rules: Rules) -> None:
    found = share_of(measured(baseline_mean=92, diff_mean=-14, **ALIVE), rules)
    assert isinstance(found, Share) and found.after == 78


def test_two_studies_of_one_assay_are_told_and_not_averaged() -> None:
    found = finding_of([_share("alpha", 92, 78), _share("beta", 80, 70)])
    assert found.pooled is None and found.shares is not None
    assert [(study.before, study.after) for study in found.shares.studies] == [(92, 78), (80, 70)]
    assert found.shares.together == ()


def test_three_studies_of_one_assay_are_averaged_in_points() -> None:
    # -14, -10, -12: mean -12, SD 2; t(0.9875, 2) = 6.205 in a printed table: 6.205 x 2 / sqrt(3) = 7.165
    rows = [_share("alpha", 92, 78), _share("beta", 80, 70), _share("gamma", 60, 48)]
    found = finding_of([*rows, _share("delta", 90, 20, assay="propidium iodide"), _share("eta", 90, 10, assay="")])
    assert found.shares is not None
    (together,) = found.shares.together
    assert (together.assay, together.k_studies) == ("trypan blue", 3)
    assert together.points == pytest.approx(-12)
    assert (together.low, together.high) == (pytest.approx(-19.165, abs=0.002), pytest.approx(-4.835, abs=0.002))


def test_rows_of_one_study_are_one_pair() -> None:
    found = finding_of([_share("alpha", 92, 78), _share("alpha", 88, 80)])
    assert found.shares is not None
    (study,) = found.shares.studies
    assert (study.before, study.after, len(study.rows)) == (90, 79, 2)


def test_shares_are_kept_and_read_back() -> None:
    found = finding_of([_share("alpha", 92, 78), _share("beta", 80, 70), _share("gamma", 60, 48)])
    assert finding_from_json(finding_to_json(found)) == found


def test_an_amount_has_no_shares() -> None:
    assert finding_of([measured(retained_percent=80)]).shares is None
