"""Run the calibration campaign: python -m tests.calibration.campaign [--worlds N] [--workers N] [--cluster ADDRESS].

The same seed gives the same table whatever the number of workers, and on a cluster.
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import json
import multiprocessing
import os
import sys
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import astuple, dataclass, fields
from datetime import date
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from tqdm import tqdm

from evidence import __version__
from evidence.model.rules import Rules, load_rules
from tests.calibration.answers import COLUMNS, run_world
from tests.calibration.scores import Score, scores
from tests.calibration.worlds import EXTRA, SCENARIOS, Scenario, load_process, scenario_named

__all__ = ["SEED", "Task", "answers", "main", "run_task"]

SEED = 20_261_127  # used for no tuning of any rule
WORLDS = 500

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Task:
    """One world to be made and answered."""

    scenario: Scenario
    seed: int
    index: int
    rules: Rules


def run_task(task: Task) -> tuple[int, Floats]:
    """Return the number of a world and its answers."""
    return task.index, run_world(task.scenario, task.seed, task.index, task.rules, load_process())


def _kept_in(folder: Path, task: Task) -> Path:
    """Return where a world's answers are kept: named by all that they depend on."""
    made = json.dumps([__version__, task.rules.model_dump(mode="json"), load_process(), astuple(task.scenario)])
    digest = hashlib.sha256(f"{made} {','.join(COLUMNS)}".encode()).hexdigest()[:12]
    return folder / f"{digest}-{task.seed}-{task.index}.npy"


@contextmanager
def _one_thread() -> Iterator[None]:
    # the arrays are small: threads inside a world only get in the way of the worlds beside it
    names = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
    before = {name: os.environ.get(name) for name in names}
    os.environ.update(dict.fromkeys(names, "1"))
    try:
        yield
    finally:
        for name, value in before.items():
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value


def _on_cluster(tasks: Sequence[Task], address: str) -> Iterator[tuple[int, Floats]]:
    from dask.distributed import Client, as_completed

    with Client(address) as client:  # type: ignore[no-untyped-call]
        futures = client.map(run_task, tasks, pure=False)
        for _, result in as_completed(futures, with_results=True):  # type: ignore[no-untyped-call]
            yield result


def _here(tasks: Sequence[Task], workers: int) -> Iterator[tuple[int, Floats]]:
    if workers == 1:
        yield from map(run_task, tasks)
        return
    with _one_thread(), multiprocessing.get_context("spawn").Pool(workers) as pool:
        yield from pool.imap_unordered(run_task, tasks)


def answers(
    scenario: Scenario,
    worlds: int,
    *,
    seed: int = SEED,
    workers: int = 1,
    cluster: str | None = None,
    rules: Rules | None = None,
    progress: bool = False,
    keep: Path | None = None,
) -> list[Floats]:
    """Return the answers of every world of a scenario, in the order of the worlds.

    workers: processes on this machine; cluster: address of a Dask scheduler to use instead, whose workers have this
    checkout on their path; keep: a folder where each world's answers are left, and taken from when a run that was
    broken off goes on (clear it after a change of the code).
    """
    tasks = [Task(scenario, seed, index, rules or load_rules()) for index in range(worlds)]
    place = {task.index: _kept_in(keep, task) for task in tasks} if keep is not None else {}
    found = {index: np.load(path) for index, path in place.items() if path.exists()}
    tasks = [task for task in tasks if task.index not in found]
    done: Iterable[tuple[int, Floats]] = _on_cluster(tasks, cluster) if cluster else _here(tasks, workers)
    bar = tqdm(done, total=worlds, initial=len(found), desc=scenario.name, unit="world", disable=not progress)
    for index, answered in bar:
        found[index] = answered
        if index in place:
            np.save(place[index], answered)
    return [found[index] for index in range(worlds)]


def _write(path: Path, table: Sequence[tuple[str, Score]], worlds: int, seed: int) -> None:
    names = ["class" if each.name == "group" else each.name for each in fields(Score)]
    stamp = [worlds, seed, __version__, load_rules().rule_version, date.today().isoformat()]
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["scenario", *names, "worlds", "seed", "version", "rule_version", "date"])
        for scenario, score in table:
            cells = [f"{cell:.4f}" if isinstance(cell, float) else cell for cell in astuple(score)]
            writer.writerow([scenario, *cells, *stamp])


def _arguments(given: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        prog="python -m tests.calibration.campaign", description=(__doc__ or "").split("\n")[0]
    )
    parser.add_argument("--worlds", type=int, default=WORLDS, help=f"worlds a scenario (default {WORLDS})")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1, help="processes (default: all cores)")
    parser.add_argument("--cluster", metavar="tcp://...", help="address of a Dask scheduler to run on instead")
    parser.add_argument("--scenario", action="append", metavar="NAME", help="one scenario (may be given again)")
    parser.add_argument("--extra", action="store_true", help="also the scenarios beside the seven")
    parser.add_argument("--seed", type=int, default=SEED)
    parser.add_argument("--keep", type=Path, metavar="FOLDER", help="go on with the worlds left there, and leave them")
    parser.add_argument("--out", type=Path, help="file for the table (default: a summary on the screen only)")
    return parser.parse_args(given)


def main(given: Sequence[str] | None = None) -> int:
    """Run the campaign; 0 done, 2 where the input cannot be used."""
    asked = _arguments(given)
    try:
        chosen = [scenario_named(name) for name in asked.scenario or ()] or [
            *SCENARIOS,
            *(EXTRA if asked.extra else ()),
        ]
    except ValueError as problem:
        print(problem, file=sys.stderr)
        return 2
    if asked.worlds < 1 or asked.workers < 1:
        print("--worlds and --workers must be 1 or more.", file=sys.stderr)
        return 2
    if asked.keep:
        asked.keep.mkdir(parents=True, exist_ok=True)
    table: list[tuple[str, Score]] = []
    for scenario in chosen:
        found = answers(
            scenario,
            asked.worlds,
            seed=asked.seed,
            workers=asked.workers,
            cluster=asked.cluster,
            progress=True,
            keep=asked.keep,
        )
        scored = scores(found, load_process())
        table += [(scenario.name, score) for score in scored]
        for score in scored:
            if score.group == "all" and score.k == "all":
                goal = f"   goal {score.goal}: {score.met}" if score.goal else ""
                print(f"  {score.measure:32} {score.value:8.4f} +- {score.mc_error:.4f}  of {score.count}{goal}")
        if asked.out:
            _write(asked.out, table, asked.worlds, asked.seed)
    return 0


if __name__ == "__main__":
    sys.exit(main())
