"""whatstays pool: your own log ratios and variances, pooled the classical way or with a heterogeneity you name."""

from __future__ import annotations

import argparse
import json
from dataclasses import asdict
from pathlib import Path

__all__ = ["add_arguments", "run"]

_SCHEMA = "whatstays-pool-1"


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of pool."""
    parser.add_argument("file", type=Path, metavar="FILE.csv", help="columns study, log_ratio, variance; UTF-8")
    parser.add_argument("--estimator", choices=("reml", "dl", "pm"), default="reml", help="of tau2 (default: reml)")
    parser.add_argument(
        "--interval", choices=("hk", "hk-floor", "wald"), default="hk-floor", help="of the mean (default: hk-floor)"
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
    from evidence.synthesis import GridSettings, NoEstimate, TauPrior, pool_own_rows, pool_own_rows_shared

    effects, rules = read_own_effects(options.file), load_rules()
    rho = rules.spread.between_row_correlation
    try:
        if options.shared_tau is None:
            found = pool_own_rows(effects, rho=rho, estimator=options.estimator, interval=options.interval)
        else:
            median, log_sd = _shared_tau(options.shared_tau)
            grid = GridSettings(**rules.likelihood.model_dump())
            found = pool_own_rows_shared(effects, rho=rho, prior=TauPrior(median, log_sd), grid=grid)
    except NoEstimate as refused:
        allowed = "effects that can be pooled"
        raise InputProblems([Problem(options.file.name, None, None, str(refused), allowed)]) from None
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
