"""How long the house takes: import, findings, pages, a cold answer. Run: python tests/benchmarks/bench_house.py."""

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

from evidence.findings.edition import findings, import_shipped  # noqa: E402
from evidence.store import open_store  # noqa: E402
from reports.command.main import main  # noqa: E402

PAIRS = 7
QUESTION = "does freeze-drying cost vitamin C?"


def _seconds(task: Callable[[], object]) -> float:
    begun = time.perf_counter()
    task()
    return time.perf_counter() - begun


def _cold(*arguments: str) -> float:
    """Return the seconds a new Python takes over something."""
    environment = os.environ | {"PYTHONPATH": str(ROOT)}
    command = [sys.executable, *arguments]
    return _seconds(
        lambda: subprocess.run(command, cwd=ROOT, env=environment, stdout=subprocess.DEVNULL, check=True, timeout=300)
    )


def _line(what: str, value: str, goal: str) -> None:
    print(f"{what:<62} {value:>12}   {goal}")


def run() -> None:
    """Print the table."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        path, out = folder / "evidence.sqlite", folder / "sheets"
        store = open_store(str(path))
        _line("what", "measured", "goal")
        _line(
            "import of the shipped tables into SQLite", f"{_seconds(lambda: import_shipped(store)):.1f} s", "under 5 s"
        )
        _line("the same again", f"{_seconds(lambda: import_shipped(store)):.1f} s", "")
        _line("findings of the edition", f"{_seconds(lambda: findings(store)):.1f} s", "")
        store.close()
        build = ["build", "--out", str(out), "--store", str(path), "--workers", "2"]
        _line("build of all pages, two workers", f"{_seconds(lambda: main(build)):.1f} s", "under 30 s")
        _line("the same again, nothing changed", f"{_cold('-m', 'reports', *build):.1f} s", "under 3 s")
        (out / "vitamin-c.pdf").unlink()
        _line("the same again, one page missing", f"{_cold('-m', 'reports', *build):.1f} s", "under 3 s")
        _cold("-c", "import sqlmodel")
        _cold("-m", "reports", "answer", QUESTION, "--store", str(path))
        pairs = [
            (
                _cold("-c", "import sqlmodel"),
                _cold("-m", "reports", "answer", QUESTION, "--store", str(path)),
            )
            for _ in range(PAIRS)
        ]
        bare, answer = (statistics.median(column) for column in zip(*pairs, strict=True))
        ratio = statistics.median(each[1] / each[0] for each in pairs)
        _line(f'python -c "import sqlmodel", median of {PAIRS}', f"{bare:.2f} s", "")
        _line(f"answer, cold, in turn with it, median of {PAIRS}", f"{answer:.2f} s", "")
        _line("answer over import, median of the pairs", f"{ratio:.2f}", "at most 1")
        sizes = sorted((page.stat().st_size, page.name) for page in out.glob("*.pdf"))
        middle = statistics.median(size for size, _ in sizes)
        _line(f"PDF, median of {len(sizes)}", f"{middle / 1000:.0f} kB", "")
        _line(f"PDF, largest ({sizes[-1][1]})", f"{sizes[-1][0] / 1000:.0f} kB", "under 500 kB")


if __name__ == "__main__":
    run()
