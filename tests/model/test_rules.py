"""Thresholds stand in rules.toml, each with where it comes from; none is missing and none is made up."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from pydantic import ValidationError

from evidence.model.rules import load_rules
from evidence.model.shipped import data_folder

TEXT = (data_folder() / "rules.toml").read_text(encoding="utf-8")


def _written(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "rules.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_threshold_that_is_missing_is_refused(tmp_path: Path) -> None:
    without = re.sub(r"^same_margin.*\n", "", TEXT, flags=re.MULTILINE)
    assert without != TEXT
    with pytest.raises(ValidationError, match="same_margin"):
        load_rules(_written(tmp_path, without))


def test_a_threshold_that_no_rule_knows_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ValidationError, match="same_magin"):
        load_rules(_written(tmp_path, TEXT.replace("same_margin", "same_margin = 0.1\nsame_magin", 1)))


def test_a_threshold_that_is_no_number_is_refused(tmp_path: Path) -> None:
    changed = re.sub(r"^bulk_sd = [\d.]+", 'bulk_sd = "wide"', TEXT, flags=re.MULTILINE)
    assert changed != TEXT
    with pytest.raises(ValidationError, match="bulk_sd"):
        load_rules(_written(tmp_path, changed))


def test_rules_cannot_be_changed_once_read() -> None:
    with pytest.raises(ValidationError):
        load_rules().gate.mothers_per_sample = 1.0


def _sections() -> dict[str, str]:
    parts = re.split(r"^\[(.+)\]$", TEXT, flags=re.MULTILINE)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def test_every_section_says_where_its_numbers_come_from_and_since_when() -> None:
    spoken = {name for name, text in _sections().items() if re.search(r"^#.*|#.*", text)}
    silent = {name for name in _sections() if name not in spoken and name.split(".")[0] not in spoken}
    # [likelihood] holds the fineness of a grid, which is no threshold of evidence, and says what it means beside it
    assert silent == set()
    dated = {name for name, text in _sections().items() if re.search(r"#.*20\d\d-\d\d", text)}
    assert {"fresh", "gate", "spread", "heterogeneity", "printing", "certainty", "bands", "pages"} <= dated


def test_the_thresholds_are_those_of_the_method_s_rules() -> None:
    # the project's statistical rules, sections 1 to 5, value by value
    rules = tomllib.loads(TEXT)
    assert rules["gate"] | {
        "bound_at_or_below_percent": 5, "hold_bulk_above_percent": 120, "percent_against_means_points": 2,
        "unlabelled_spread_cv": 0.31, "unlabelled_spread_fraction": 0.25, "p_zero_means_below": 0.0005,
    } == rules["gate"]  # fmt: skip
    assert rules["spread"] | {
        "between_row_correlation": 0.8, "paired_correlation_bulk": 0.8, "paired_correlation_fragile": 0.5,
        "no_n_divisor": 20, "one_pool_divisor": 2, "p_exact_lowest": 0.0001, "p_exact_highest": 0.9,
        "p_rounding_multiple": 3, "interval_symmetry_low": 0.5, "interval_symmetry_high": 2, "titre_lowest_se": 0.35,
        "u_means": 0.4, "u_p_lowest": 0.3, "u_borrowed": 0.7, "u_no_n": 0.8,
    } == rules["spread"]  # fmt: skip
    assert rules["printing"] | {
        "same_margin": 0.1, "same_new_study_low_percent": 80, "same_studies": 3, "same_borrowed_stretch": 1.5,
        "cant_tell_below_percent": 90, "spread_headline_factor": 8, "smallest_loss_power_quantile": 0.8,
    } == rules["printing"]  # fmt: skip
    assert rules["certainty"] | {
        "wide_low_percent": 80, "wide_high_percent": 100, "wide_factor": 1.5, "disagreement_factor": 2.5,
        "fresh_share": 0.5, "own_spread_share": 0.5,
    } == rules["certainty"]  # fmt: skip
    limits = rules["heterogeneity"]
    assert (limits["shift"], limits["refit_from_questions"]) == (0.2, 10)
    assert (limits["bulk"]["median_low"], limits["bulk"]["median_high"], limits["bulk"]["log_sd"]) == (0.05, 0.15, 0.7)
    assert (limits["fragile"]["median_low"], limits["fragile"]["median_high"], limits["fragile"]["log_sd"]) == (
        0.25,
        0.6,
        0.5,
    )
