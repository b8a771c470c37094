"""Signing a review: how sure anyone can be, set by hand, kept beside what the figures alone give."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from evidence.findings.adding import who_adds
from evidence.findings.edition import ensure_evidence, findings, shipped_digest
from evidence.findings.finding import Finding
from evidence.model.problems import InputProblems, Problem, nearest_word
from evidence.store.connection import Store
from evidence.store.reading import all_rows, edition

__all__ = ["Signed", "sign_review"]

# column of the table -> what a person types
_OPTIONS = {
    "by": "--by", "reason": "--reason", "date": "--date", "second": "--second", "second_no_interest": "--no-interest",
}  # fmt: skip


@dataclass(frozen=True)
class Signed:
    """A signed review: its id, and the answer as it stands with it."""

    id: str
    finding: Finding
    edition: str


def sign_review(
    store: Store, number: str, certainty: str, by: str, reason: str, *, day: date, second: str = "",
    no_interest: bool = False,
) -> Signed:  # fmt: skip
    """Sign a review of an answer as a row of one's own; earlier ones stay.

    Raises InputProblems where no answer has the number, a name or reason is missing, or raising lacks a second name.
    """
    from evidence.intake.overrides import override_problems
    from evidence.intake.reading import Table
    from evidence.model.rules import load_rules
    from evidence.model.tables import Override
    from evidence.store.importing import import_rows

    ensure_evidence(store)
    found = {each.number: each for each in findings(store)}
    if number not in found:
        allowed = "the number of an answer, as in A-0412"
        raise InputProblems([Problem("NUMBER", None, None, number, allowed, nearest_word(number, found))])
    now = found[number].certainty
    serial = 1 + max((_serial(each.id) for each in all_rows(store, Override) if each.number == number), default=0)
    row = {
        "id": f"{number}-r{serial}", "number": number, "computed": now.computed or now.level, "certainty": certainty,
        "by": " ".join(by.split()), "reason": " ".join(reason.split()), "date": day.isoformat(),
        "second": " ".join(second.split()), "second_no_interest": "yes" if no_interest else "",
    }  # fmt: skip
    problems = override_problems(Table("review", (row,), (0,)), set(found))
    if problems:
        named = [(_OPTIONS.get(each.column or "", "NUMBER"), each) for each in problems]
        raise InputProblems(Problem(option, None, None, each.read, each.allowed) for option, each in named)
    there = edition(store)
    assert there is not None, "ensure_evidence came first"
    done = import_rows(
        store, {"override": [row]}, load_rules(), origin=f"own {who_adds(by)} {day.isoformat()}",
        shipped_digest=shipped_digest(), edition_name=there.name, evidence_of=there.evidence_of,
    )  # fmt: skip
    finding = next(each for each in findings(store) if each.number == number)
    return Signed(str(row["id"]), finding, done.edition)


def _serial(identity: str) -> int:
    return int(identity.rpartition("-r")[2])
