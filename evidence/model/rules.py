"""The thresholds of data/rules.toml, typed; no rule carries a number of its own in code."""

from __future__ import annotations

import tomllib
from functools import lru_cache
from pathlib import Path

from pydantic import BaseModel, ConfigDict

from evidence.model.shipped import data_folder

__all__ = ["Rules", "load_rules"]


class _Section(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class FreshRules(_Section):
    bulk_hours: float
    fragile_hours: float
    quick_hours: float
    quick_components: tuple[str, ...]
    words: tuple[str, ...]


class GateRules(_Section):
    bound_at_or_below_percent: float
    hold_bulk_above_percent: float
    percent_against_means_points: float
    unlabelled_spread_cv: float
    unlabelled_spread_fraction: float
    use_unresolved_second_readings: bool
    mothers_per_sample: float
    p_zero_means_below: float


class SpreadRules(_Section):
    bulk_sd: float
    fragile_sd: float
    refit_from_studies: int
    bulk_sd_low: float
    bulk_sd_high: float
    fragile_sd_low: float
    fragile_sd_high: float
    count_sd: float
    between_row_correlation: float
    paired_correlation_bulk: float
    paired_correlation_fragile: float
    no_n_divisor: float
    one_pool_divisor: float
    p_exact_lowest: float
    p_exact_highest: float
    p_rounding_multiple: float
    p_assumed_if_significant: float
    interval_symmetry_low: float
    interval_symmetry_high: float
    titre_lowest_se: float
    u_means: float
    u_p_lowest: float
    u_borrowed: float
    u_no_n: float


class TauRules(_Section):
    median: float
    log_sd: float
    median_low: float
    median_high: float


class HeterogeneityRules(_Section):
    shift: float
    refit_from_questions: int
    log_sd_factors: tuple[float, ...]
    bulk: TauRules
    fragile: TauRules
    count: TauRules
    marker: TauRules


class LikelihoodRules(_Section):
    mu_points: int
    tau_points: int
    se_nodes: int
    not_significant_reach: float


class PrintingRules(_Section):
    range_level: float
    new_study_level: float
    one_study_level: float
    path_level: float
    share_studies: int
    same_margin: float
    same_new_study_low_percent: float
    same_studies: int
    same_borrowed_stretch: float
    cant_tell_below_percent: float
    spread_headline_factor: float
    smallest_loss_power_quantile: float


class CertaintyRules(_Section):
    one_study_steps: int
    two_studies_steps: int
    amount_and_interval_steps: int
    both_sides_steps: int
    infrared_only_steps: int
    wide_low_percent: float
    wide_high_percent: float
    wide_factor: float
    disagreement_factor: float
    fresh_share: float
    own_spread_share: float
    infrared_only_components: tuple[str, ...]


class BandRules(_Section):
    freezer_days: tuple[float, ...]
    fridge_hours: tuple[float, ...]
    room_hours: tuple[float, ...]
    powder_days: tuple[float, ...]
    heat_c: tuple[float, ...]
    heat_banded: tuple[str, ...]
    deep_freezer_at_or_below_c: float
    freezer_at_or_below_c: float
    powder_warm_above_c: float
    powder_cold_below_c: float


class SensitivityRules(_Section):
    correlations: tuple[float, ...]
    common_effect_tau: float
    low_concern: tuple[str, ...]
    small_studies_from: int


class PageRules(_Section):
    look_again_months: int
    fold_factor: float


class ReadingRules(_Section):
    english_grade_most: float
    spanish_inflesz_least: float


class SpreadsheetRules(_Section):
    most_rows: int
    most_columns: int
    most_unpacked_megabytes: float
    ratio_from_megabytes: float
    most_unpacked_ratio: float
    most_problems: int


class PathRules(_Section):
    group_fallback: bool
    fallback_components: int
    standard_chain: str
    most_asked: tuple[str, ...]
    usual_study_mothers: float
    widest_points: float
    sure_studies: int
    inconsistency_p: float


class ClientRules(_Section):
    lowest_yield_percent: float
    highest_yield_percent: float
    batch_letters: int


class StorageRules(_Section):
    studies_with_times: int
    times_each: int
    times_in_all: int
    studies_in_all: int
    sensitivity_times: int
    arrhenius_temperatures: int
    beyond_temperature_c: float
    left_percent: float


class ReadingListRules(_Section):
    no_figure_taus: float
    expected_mothers: int
    comparison_weight: float
    other_component_weight: float
    joined_weight: float
    unknown_components: int
    chance_abstract: float
    chance_second_hand: float
    chance_held: float
    chance_not_identified: float
    chance_not_found: float
    handling_weight: dict[str, float]


class InADayRules(_Section):
    sheet_age_months: float
    older_age_months: float
    drinks_ml: float
    drinks_ml_from_months: float
    drinks_ml_older: float
    drinks_ml_until_months: float
    most_age_months: float
    most_drinks_ml: float
    kinds: tuple[str, ...]
    average_in_milk_kinds: tuple[str, ...]
    average_in_milk_below_months: float
    other_milks: tuple[str, ...]
    doubts: tuple[str, ...]
    countries: dict[str, tuple[str, ...]]


class SettingsRules(_Section):
    contrast_text: float
    contrast_lines: float
    light_backgrounds: tuple[str, ...]
    dark_backgrounds: tuple[str, ...]
    name_most_letters: int
    line_most_letters: int
    logo_most_kilobytes: float
    logo_most_pixels: int
    logo_widest: float


class ClaimRules(_Section):
    figure_points: float
    fraction_points: float
    all_kept_percent: float
    small_count: int
    most_unpacked_megabytes: float


class Rules(_Section):
    """All thresholds; each stands in rules.toml with its source and date."""

    rule_version: str
    fresh: FreshRules
    gate: GateRules
    spread: SpreadRules
    heterogeneity: HeterogeneityRules
    likelihood: LikelihoodRules
    printing: PrintingRules
    certainty: CertaintyRules
    bands: BandRules
    sensitivity: SensitivityRules
    pages: PageRules
    reading: ReadingRules
    spreadsheet: SpreadsheetRules
    reading_list: ReadingListRules
    path: PathRules
    client: ClientRules
    storage: StorageRules
    settings: SettingsRules
    claims: ClaimRules
    in_a_day: InADayRules


@lru_cache(maxsize=4)
def load_rules(path: Path | None = None) -> Rules:
    """Read rules.toml (the shipped one by default).

    Raises pydantic.ValidationError where a threshold is missing, unknown or of the wrong type.
    """
    text = (path or data_folder() / "rules.toml").read_text(encoding="utf-8")
    return Rules.model_validate(tomllib.loads(text))
