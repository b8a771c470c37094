"""How long the copy check takes: `python tests/benchmarks/bench_claims.py` prints a table; nothing is asserted.

A page is 500 words of copy (a long landing page), written from the claims of tests/claims; each is checked once.
"""

from __future__ import annotations

import tempfile
import time
from itertools import cycle, islice
from pathlib import Path

from evidence.findings import findings
from evidence.findings.edition import import_shipped
from evidence.store import open_store
from reports.claims.check import open_checker
from reports.claims.document import blocks_of
from tests.claims.score import read_rows

PAGES, WORDS = 100, 500


def pages() -> list[str]:
    """Return pages of copy as HTML; every page begins elsewhere in the claims."""
    texts = [row["text"] for row in read_rows()]
    made = []
    for start in range(PAGES):
        body: list[str] = []
        count = 0
        for text in islice(cycle(texts), start * 3, None):
            body.append(f"<p>{text} <em>Page {start}.</em></p>")
            count += len(text.split())
            if count >= WORDS:
                break
        made.append("".join(body))
    return made


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        store = open_store(str(Path(folder) / "evidence.sqlite"))
        import_shipped(store)
        findings(store)
        started = time.perf_counter()
        checker = open_checker(store)
        opened, worked = time.perf_counter(), time.process_time()
        count = sum(len(checker.check(blocks_of(page, "html"))) for page in pages())
        done, worked = time.perf_counter(), time.process_time() - worked
        store.close()
    print(f"{'opening the evidence':32}{opened - started:8.2f} s")
    print(f"{f'{PAGES} pages, {count} sentences':32}{done - opened:8.2f} s   (goal: under 10 s)")
    print(f"{'  processor time of it':32}{worked:8.2f} s")
    print(f"{'a sentence':32}{(done - opened) / count * 1000:8.2f} ms")


if __name__ == "__main__":
    main()
