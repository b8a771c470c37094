"""Prints what pooling many groups costs, beside statsmodels in the same run: python tests/benchmarks/bench_many.py."""

import sys
import time
import tracemalloc
import warnings
from collections.abc import Callable
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from statsmodels.stats.meta_analysis import combine_effects

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from evidence import pool_many
from evidence.synthesis import pool

Floats = NDArray[np.float64]
ROWS_A_GROUP = 8
SAMPLE = 60  # groups that are pooled one by one; their time a group is what is compared


def rows(groups: int, sizes: NDArray[np.int64] | None = None) -> tuple[Floats, Floats, NDArray[np.int64]]:
    """Return effects, variances and groups, shuffled: eight rows a group, or the sizes given."""
    draw = np.random.default_rng(groups)
    group = np.repeat(np.arange(groups), ROWS_A_GROUP if sizes is None else sizes)
    variances = draw.uniform(0.01, 0.1, group.size)
    effects = draw.normal(-0.3, 0.2, groups)[group] + draw.normal(0.0, np.sqrt(variances + 0.05))
    shuffled = draw.permutation(group.size)
    return effects[shuffled], variances[shuffled], group[shuffled]


def seconds(task: Callable[[], object], repeats: int = 7) -> float:
    """Return the shortest time of a run, the one that other work on the machine disturbed least."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        task()
        times.append(time.perf_counter() - start)
    return min(times)


def peak_megabytes(task: Callable[[], object]) -> float:
    """Return the most memory held at once while the task runs, without what it was given."""
    tracemalloc.start()
    task()
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak / 1e6


def one_by_one(groups: int) -> list[tuple[Floats, Floats]]:
    """Return the first groups as separate arrays."""
    effects, variances, group = rows(groups)
    return [(effects[group == number], variances[group == number]) for number in range(SAMPLE)]


def beside_statsmodels(groups: int) -> None:
    """Print microseconds a group at 8 rows a group, and how many times faster."""
    samples = one_by_one(groups)
    effects, variances, group = rows(groups)
    ours = {
        name: seconds(lambda name=name: pool_many(effects, variances, group, estimator=name)) / groups
        for name in ("reml", "dl", "pm")
    }
    theirs = {
        name: seconds(lambda name=name: [combine_effects(y, v, method_re=name) for y, v in samples]) / SAMPLE
        for name in ("iterated", "dl")
    }
    single = seconds(lambda: [pool(y, v) for y, v in samples]) / SAMPLE
    print(f"{groups:,} groups of {ROWS_A_GROUP} rows, microseconds a group, and times faster than statsmodels")
    print(f"{'task':<44}{'us':>9}{'than iterated':>15}{'than dl':>9}")
    for name, cost in theirs.items():
        print(f"{'statsmodels combine_effects, ' + name:<44}{1e6 * cost:>9.1f}{'':>15}{'':>9}")
    for name, cost in {"pool, reml, with Q-profile": single, **{f"pool_many, {n}": c for n, c in ours.items()}}.items():
        ratios = f"{theirs['iterated'] / cost:>15.0f}{theirs['dl'] / cost:>9.0f}"
        print(f"{name:<44}{1e6 * cost:>9.1f}{ratios}")


def against_rows() -> None:
    """Print time and memory for more and more rows, groups of eight and of unequal size."""
    print()
    print("pool_many, reml")
    print(f"{'rows':>10}{'groups':>10}  {'sizes':<12}{'seconds':>9}{'us a row':>10}{'peak MB':>9}{'bytes a row':>13}")
    for count in (10_000, 100_000, 1_000_000):
        unequal = np.random.default_rng(count).geometric(1 / ROWS_A_GROUP, count // ROWS_A_GROUP)
        for name, sizes in (("8", None), ("1 and more", unequal)):
            effects, variances, group = rows(count // ROWS_A_GROUP, sizes)

            def task(y: Floats = effects, v: Floats = variances, g: NDArray[np.int64] = group) -> object:
                return pool_many(y, v, g)

            taken, megabytes, number = seconds(task), peak_megabytes(task), effects.size
            sized = f"{number:>10,}{count // ROWS_A_GROUP:>10,}  {name:<12}"
            print(
                f"{sized}{taken:>9.3f}{1e6 * taken / number:>10.2f}{megabytes:>9.1f}{1e6 * megabytes / number:>13.0f}"
            )


def main() -> None:
    """Print both tables."""
    warnings.simplefilter("ignore")  # combine_effects takes the root of a negative variance where Q is below its df
    beside_statsmodels(10_000)
    against_rows()


if __name__ == "__main__":
    main()
