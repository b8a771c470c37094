"""Prints how long pooling takes, beside statsmodels in the same run: python tests/benchmarks/bench_pooling.py."""

import statistics
import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from statsmodels.stats.meta_analysis import combine_effects

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from evidence.synthesis import GridSettings, TauPrior, fit_tau_median, pool, posterior

GRID = GridSettings(mu_points=281, tau_points=45, se_nodes=5, not_significant_reach=2.1)
PRIOR = TauPrior(median=0.36, log_sd=0.5, shift=0.2)
ROWS = [
    ("figure", -0.5, 0.15, 0.7),
    ("no_change", 0.0, 0.10, 0.7),
    ("figure", -0.1, 0.05, 0.2),
    ("fall", 0.0, 0.10, 0.7),
    ("figure", -0.3, 0.08, 0.7),
    ("no_change", 0.0, 0.12, 0.7),
    ("at_most", -0.2, 0.07, 0.8),
    ("rise", 0.0, 0.10, 0.7),
]


def milliseconds(task: Callable[[], object], repeats: int = 60) -> float:
    """Return the median time of one run, after one run to warm up."""
    task()
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        task()
        times.append(time.perf_counter() - start)
    return 1000.0 * statistics.median(times)


def question(rows: int) -> Callable[[], object]:
    """Return the posterior of the first rows as a task."""
    kind, log_ratio, se, u = zip(*ROWS[:rows], strict=True)
    return lambda: posterior(kind, log_ratio, se, u, prior=PRIOR, grid=GRID)


def main() -> None:
    """Time every task and print the table."""
    draw = np.random.default_rng(1)
    effects, variances = draw.normal(-0.3, 0.3, 8), draw.uniform(0.01, 0.1, 8)
    many, many_variances = draw.normal(-0.3, 0.3, 500), draw.uniform(0.01, 0.1, 500)
    fits = [(draw.normal(-0.3, 0.4, 2), draw.uniform(0.05, 0.2, 2), np.full(2, 0.7)) for _ in range(15)]
    tasks: dict[str, Callable[[], object]] = {
        "pool k=8, REML, hk-floor, Q-profile": lambda: pool(effects, variances),
        "pool k=8, DL, wald, Q-profile": lambda: pool(effects, variances, estimator="dl", interval="wald"),
        "statsmodels k=8, DL, no Q-profile": lambda: combine_effects(effects, variances, method_re="dl"),
        "statsmodels k=8, Paule-Mandel": lambda: combine_effects(effects, variances, method_re="pm"),
        "pool k=500, REML": lambda: pool(many, many_variances),
        "posterior, 1 figure": question(1),
        "posterior, 3 rows (1 in words)": question(3),
        "posterior, 6 rows (3 in words)": question(6),
        "posterior, 8 rows (5 in words, bounds)": question(8),
        "fit of the median of tau, 15 questions": lambda: fit_tau_median(
            fits, log_sd=0.5, shift=0.2, low=0.25, high=0.6, grid=GRID
        ),
    }
    print(f"{'task':<42}{'median ms':>10}")
    for name, task in tasks.items():
        print(f"{name:<42}{milliseconds(task, 10 if 'fit' in name else 60):>10.2f}")


if __name__ == "__main__":
    main()
