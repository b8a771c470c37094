"""whatstays pool: your own log ratios and variances, pooled the classical way or with a heterogeneity you name."""

from __future__ import annotations

import argparse
import json
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from evidence.intake.own_effects import OwnEffects
    from evidence.model.rules import Rules
    from evidence.synthesis import OwnPool

__all__ = ["add_arguments", "run"]

_SCHEMA = "whatstays-pool-1"
_MODELS_OF_ROWS = ("three-level", "robust")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of pool."""
    parser.add_argument("file", type=Path, metavar="FILE.csv", help="columns study, log_ratio, variance; UTF-8")
    parser.add_argument("--estimator", choices=("reml", "dl", "pm"), help="of tau2 (default: reml)")
    parser.add_argument("--interval", choices=("hk", "hk-floor", "wald"), help="of the mean (default: hk-floor)")
    parser.add_argument(
        "--rows",
        choices=("combined", *_MODELS_OF_ROWS),
        default="combined",
        help="several rows of one study: combined, their mean stands for the study (default); three-level, rows vary "
        "within studies and studies among each other; robust, that fit with errors that hold whatever links rows",
    )
    parser.add_argument(
        "--row-correlation",
        metavar="R",
        help="how strongly the errors of two rows of one study go together, 0 to below 1 (default: that of the rules)",
    )
    parser.add_argument(
        "--v",
        type=Path,
        metavar="V.csv",
        help="covariance matrix of the rows, in their order: a square of numbers, study names above it or not",
    )
    parser.add_argument(
        "--shared-tau",
        metavar="MEDIAN,LNSD",
        help="a prior of tau (log-normal) in place of an estimate, as in 0.36,0.5",
    )
    parser.add_argument("--json", action="store_true", help="print an object; null where a figure does not exist")


def run(options: argparse.Namespace) -> int:
    """Print the pooled figures."""
    from evidence.intake.own_effects import read_own_effects
    from evidence.model.problems import InputProblems, Problem
    from evidence.model.rules import load_rules
    from evidence.synthesis import NoEstimate

    _refuse_what_does_not_go_together(options)
    effects, rules = read_own_effects(options.file), load_rules()
    try:
        found = _pooled(options, effects, rules)
    except NoEstimate as refused:
        read, allowed = f"{len(effects.study)} rows", f"rows that can be pooled ({str(refused).rstrip('.')})"
        raise InputProblems([Problem(options.file.name, None, None, read, allowed)]) from None
    values = asdict(found)
    if options.json:
        print(json.dumps({"schema": _SCHEMA, **values}, indent=2))
        return 0
    width = max(len(name) for name in values)
    for name, value in values.items():
        shown = "does not exist" if value is None else f"{value:.6g}" if isinstance(value, float) else value
        print(f"{name:<{width}}  {shown}")
    if found.k_studies == 1:
        print("One study: this is its own interval; nothing shows how far the next study would differ.")
    return 0


def _pooled(options: argparse.Namespace, effects: OwnEffects, rules: Rules) -> OwnPool:
    """Return the pooled rows by the way the options ask for."""
    from evidence.synthesis import GridSettings, TauPrior, pool_own_rows, pool_own_rows_shared
    from evidence.synthesis import own_row_models as models

    rho = rules.spread.between_row_correlation
    if options.row_correlation is not None:
        rho = _row_correlation(options.row_correlation)
    matrix = None if options.v is None else _matrix(options.v, effects)
    if options.rows in _MODELS_OF_ROWS:
        rows = models.as_row_blocks(effects, rho=rho, covariance=matrix)
        return models.pool_own_rows_robust(rows) if options.rows == "robust" else models.pool_own_rows_three_level(rows)
    if options.shared_tau is not None:
        median, log_sd = _shared_tau(options.shared_tau)
        prior, grid = TauPrior(median, log_sd), GridSettings(**rules.likelihood.model_dump())
        if matrix is None:
            return pool_own_rows_shared(effects, rho=rho, prior=prior, grid=grid)
        return models.pool_own_rows_shared_with_covariance(effects, matrix, prior=prior, grid=grid)
    estimator, interval = options.estimator or "reml", options.interval or "hk-floor"
    if matrix is None:
        return pool_own_rows(effects, rho=rho, estimator=estimator, interval=interval)
    return models.pool_own_rows_with_covariance(effects, matrix, estimator=estimator, interval=interval)


def _refuse_what_does_not_go_together(options: argparse.Namespace) -> None:
    from evidence.model.problems import InputProblems, Problem

    problems = []
    if options.rows in _MODELS_OF_ROWS:
        with_rows = f"with --rows {options.rows}"
        if options.shared_tau is not None:
            problems.append(Problem("--shared-tau", None, None, with_rows, "with --rows combined"))
        if options.interval is not None:
            allowed = "with --rows combined; the others have an interval of their own"
            problems.append(Problem("--interval", None, None, with_rows, allowed))
        if options.estimator not in (None, "reml"):
            read = f"{options.estimator} {with_rows}"
            problems.append(Problem("--estimator", None, None, read, "reml, or --rows combined"))
    if options.v is not None and options.row_correlation is not None:
        allowed = "one of the two, for the matrix holds what links the rows"
        problems.append(Problem("--row-correlation", None, None, "together with --v", allowed))
    if problems:
        raise InputProblems(problems)


def _matrix(path: Path, effects: OwnEffects) -> tuple[tuple[float, ...], ...]:
    """Return the covariance matrix in the file, or raise InputProblems, also where no errors can have it."""
    from evidence.intake.own_covariance import read_own_covariance
    from evidence.model.problems import InputProblems, Problem
    from evidence.synthesis import NoEstimate
    from evidence.synthesis.covariance import as_covariance

    matrix = read_own_covariance(path, effects)
    try:
        as_covariance(matrix, len(effects.study))
    except NoEstimate as refused:
        read = f"a matrix of {len(matrix)} rows"
        allowed = f"the covariance matrix of errors ({str(refused).rstrip('.')})"
        raise InputProblems([Problem(str(path), None, None, read, allowed)]) from None
    return matrix


def _row_correlation(text: str) -> float:
    from evidence.model.problems import InputProblems, Problem

    try:
        value = float(text)
    except ValueError:
        value = -1.0
    if not 0.0 <= value < 1.0:
        raise InputProblems([Problem("--row-correlation", None, None, text, "a number from 0 to below 1, as in 0.8")])
    return value


def _shared_tau(text: str) -> tuple[float, float]:
    from evidence.model.problems import InputProblems, Problem

    parts = text.split(",")
    try:
        median, log_sd = (float(part) for part in parts)
    except ValueError:
        median, log_sd = 0.0, 0.0
    if not (0 < median < 100 and 0 < log_sd < 100):
        allowed = "the median of tau and the SD of ln tau, both above 0, as in 0.36,0.5"
        raise InputProblems([Problem("--shared-tau", None, None, text, allowed)])
    return median, log_sd
