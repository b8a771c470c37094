"""How fast the desk reads and replies: cold, warm, and on odd text. Run: python tests/benchmarks/bench_desk.py."""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))

from evidence.store import open_store  # noqa: E402
from reports.desk.desk import Desk  # noqa: E402
from reports.desk.notes import notes_for  # noqa: E402
from tests.desk.score import cases  # noqa: E402

PAIRS = 9
QUESTIONS = (
    "does freeze-drying cost vitamin C?",
    "lysozime after freze drying",
    "combien de vitamine C reste-t-il dans le lait congelé trois mois ?",
)


def _seconds(task: Callable[[], object]) -> float:
    begun = time.perf_counter()
    task()
    return time.perf_counter() - begun


def _cold(*arguments: str) -> float:
    """Return the seconds a new Python takes over something."""
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    command = [sys.executable, *arguments]
    return _seconds(
        lambda: subprocess.run(command, cwd=ROOT, env=environment, stdout=subprocess.DEVNULL, check=False, timeout=300)
    )


def _line(what: str, value: str, goal: str = "") -> None:
    print(f"{what:<66} {value:>12}   {goal}")


def run() -> None:
    """Print the table."""
    with tempfile.TemporaryDirectory() as name:
        path = Path(name) / "evidence.sqlite"
        store = open_store(str(path))
        _line("what", "measured", "goal")
        _line("a new store, with all that the desk keeps", f"{_seconds(lambda: notes_for(store)):.1f} s")
        _line("the store's file", f"{path.stat().st_size / 1e6:.1f} MB")
        desk = Desk(notes_for(store))
        for question in QUESTIONS:
            _cold("-m", "reports", "answer", question, "--store", str(path))
            pairs = [
                (_cold("-c", "import sqlmodel"), _cold("-m", "reports", "answer", question, "--store", str(path)))
                for _ in range(PAIRS)
            ]
            ratio = statistics.median(answer / bare for bare, answer in pairs)
            cold = statistics.median(answer for _, answer in pairs)
            _line(f"cold: {question[:58]}", f"{cold:.2f} s")
            _line(
                "  over importing sqlmodel, in turn with it, median of the pairs", f"{ratio:.2f}", "at most 1, best 0.5"
            )
        messages = [case.message for half in ("tuned", "untouched") for case in cases(half)]
        for message in messages:
            desk.replies(message)
        rounds = 10
        begun = time.process_time()  # one core, whatever else the machine does
        for message in messages * rounds:
            desk.replies(message)
        spent = time.process_time() - begun
        _line(
            f"warm: messages a second, {len(messages)} of the corpora", f"{rounds * len(messages) / spent:.0f}", "1000"
        )
        for size in (10_000, 100_000, 1_000_000):
            text = ("does freze drying cost vitamn c? 3 months at 14F " * (size // 48))[:size]
            _line(
                f"one message of {size / 1000:.0f} kB",
                f"{_seconds(lambda text=text: desk.replies(text)):.2f} s",
                "linear",
            )
        store.close()


if __name__ == "__main__":
    run()
