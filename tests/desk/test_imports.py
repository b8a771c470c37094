"""What a cold answer loads: reading a message and replying need neither tables nor statistics."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from evidence.store import Store
from reports.desk.notes import notes_for

ROOT = Path(__file__).resolve().parents[2]
# everything outside the standard library that `answer` may load; rapidfuzz only where a word is misspelt
ALLOWED = {"evidence", "reports"}
SLIP = {"rapidfuzz", "_rapidfuzz_cpp"}
ASKED = """
import sys
from reports.command.main import main
status = main(["answer", sys.argv[1], "--store", sys.argv[2], "--lang", sys.argv[3]])
loaded = {name.split(".")[0] for name in sys.modules} - set(sys.stdlib_module_names)
print("LOADED", *sorted(loaded))
raise SystemExit(status)
"""


def _loaded(question: str, path: Path, language: str) -> set[str]:
    done = subprocess.run(
        [sys.executable, "-c", ASKED, question, str(path), language],
        cwd=ROOT, env=os.environ | {"PYTHONPATH": str(ROOT)}, capture_output=True, text=True, check=False, timeout=300,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    last = done.stdout.strip().splitlines()[-1]
    # what an interpreter loads by itself at its start, such as editable installs' hooks, is not the answer's doing
    bare = subprocess.run(
        [sys.executable, "-c", "import sys; print(*{name.split('.')[0] for name in sys.modules})"],
        cwd=ROOT, capture_output=True, text=True, check=True, timeout=300,
    )  # fmt: skip
    return set(last.split()[1:]) - set(bare.stdout.split())


def test_a_cold_answer_loads_nothing_but_ourselves(shipped_store: Store, shipped_path: Path) -> None:
    notes_for(shipped_store)  # kept once an edition
    for question, language in (
        ("does freeze-drying cost vitamin C?", "en"),
        ("la vitamine C reste-t-elle après lyophilisation ?", "fr"),
        ("frozen two months and then dried, how much fat is left?", "es"),
    ):
        assert _loaded(question, shipped_path, language) - {"__mp_main__"} <= ALLOWED, question


def test_a_misspelt_word_loads_the_library_for_slips_alone(shipped_store: Store, shipped_path: Path) -> None:
    notes_for(shipped_store)
    loaded = _loaded("does freeze-drying cost lysozime?", shipped_path, "en")
    assert loaded & SLIP
    assert {name for name in loaded if "cython" not in name} <= ALLOWED | SLIP  # its compiled parts bring Cython's own
