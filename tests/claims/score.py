"""How the check does on claims written before it: `python -m tests.claims.score`.

Prints both halves of each lot by kind, verdict, component, handling and language; lists the misses of the half to
tune on only.
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path

from evidence.findings import findings
from evidence.findings.edition import import_shipped
from evidence.store import open_store
from evidence.store.connection import Store
from reports.claims.check import Claim, open_checker
from reports.claims.judgement import TO_CHANGE

CLAIMS = Path(__file__).with_name("claims.csv")
# the lots in the order in which they were written, each by its first and last number
LOTS = ((1, 221), (222, 323), (324, 443), (444, 483))
UNTUNED = 3  # from this lot on no half was tuned to
FIELDS = ("kind", "verdict", "component", "handling", "lang")


@dataclass(frozen=True)
class Scored:
    """A written claim, what the check said, and the fields in which they differ."""

    row: dict[str, str]
    claim: Claim

    @property
    def said(self) -> dict[str, str]:
        return {field: getattr(self.claim, field) or "" for field in FIELDS}

    @property
    def missed(self) -> tuple[str, ...]:
        return tuple(field for field in FIELDS if self.said[field] != self.row[field])

    @property
    def let_pass(self) -> bool:
        """Whether it should change and the check lets it stand."""
        return self.row["verdict"] in TO_CHANGE and not self.claim.to_change

    @property
    def false_alarm(self) -> bool:
        """Whether it claims nothing and the check stops it."""
        return self.row["verdict"] == "none" and self.claim.to_change

    @property
    def falsely_supported(self) -> bool:
        return self.claim.verdict == "supported" and self.row["verdict"] != "supported"


def tuned(row: dict[str, str]) -> bool:
    """Return whether a row belongs to the half to tune on: the SHA-256 of its id is even."""
    return int(hashlib.sha256(row["id"].encode()).hexdigest(), 16) % 2 == 0


def lot_of(row: dict[str, str]) -> int:
    """Return the place of the lot that a row belongs to, from 0."""
    number = int(row["id"][1:])
    return next(place for place, (first, last) in enumerate(LOTS) if first <= number <= last)


def read_rows() -> list[dict[str, str]]:
    """Return the written claims."""
    with CLAIMS.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def score(store: Store) -> list[Scored]:
    """Return every written claim with what the check says of it, each alone and its language untold."""
    checker = open_checker(store)
    done = []
    for row in read_rows():
        claims = checker.check([row["text"]])
        assert len(claims) == 1, row
        done.append(Scored(row, claims[0]))
    return done


def table(scored: Iterable[Scored]) -> dict[str, int]:
    """Return how many rows there are, how many were met in each field, and how many went wrong in each way."""
    rows = list(scored)
    met = {field: sum(field not in each.missed for each in rows) for field in FIELDS}
    worst = {
        "falsely supported": sum(each.falsely_supported for each in rows),
        "let pass": sum(each.let_pass for each in rows),
        "false alarms": sum(each.false_alarm for each in rows),
    }
    return {"rows": len(rows), **met, **worst}


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--store", help="a store with the shipped evidence (default: a new one)")
    path = options.parse_args().store
    with tempfile.TemporaryDirectory() as folder:
        store = open_store(path or str(Path(folder) / "evidence.sqlite"))
        if not path:
            import_shipped(store)
            findings(store)
        scored = score(store)
        store.close()
    for lot, (first, last) in enumerate(LOTS):
        for name, half in (("tuned", True), ("untouched", False)):
            told = table(each for each in scored if lot_of(each.row) == lot and tuned(each.row) == half)
            print(f"c{first:03} to c{last:03} {name:10}", "  ".join(f"{key} {value}" for key, value in told.items()))
    for each in scored:
        if each.missed and tuned(each.row) and lot_of(each.row) < UNTUNED:
            differs = "; ".join(f"{f}: {each.said[f] or '-'} for {each.row[f] or '-'}" for f in each.missed)
            print(f"  {each.row['id']} {each.row['text']}\n      {differs}")


if __name__ == "__main__":
    main()
