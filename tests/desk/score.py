"""How well the desk reads its messages: python -m tests.desk.score [STORE]."""

from __future__ import annotations

import csv
import re
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from reports.desk.desk import Desk
from reports.desk.reply import Reply

FOLDER = Path(__file__).parent / "messages"
# those for working on, and those whose misses nobody reads or mends
TUNED, UNTOUCHED = ("tuned", "later", "second-tuned"), ("untouched", "second-untouched")
ASPECTS = ("component", "handling", "status", "language", "all")
_WINDOW = re.compile(r":((?:to-|over-)?[\d-]+[dh])$")


@dataclass(frozen=True)
class Case:
    """A message and what should be read in it: (component, handling, status) a question."""

    id: str
    lang: str
    message: str
    expected: tuple[tuple[str, str, str], ...]


def cases(half: str) -> list[Case]:
    with (FOLDER / f"{half}.csv").open(encoding="utf-8", newline="") as file:
        return [
            Case(
                row["id"], row["lang"], row["message"],
                tuple(tuple(part.split("|")) for part in row["expected"].split(" ; ")),  # type: ignore[misc]
            )
            for row in csv.DictReader(file)
        ]  # fmt: skip


def _same_handling(want: str, got: str) -> bool:
    """Return whether a key is the one wanted, or one of its bands; an unstated freezer counts as a household one."""
    got = got.replace("frozen:not-stated", "frozen:home", 1)
    window = _WINDOW.search(want)
    if window:
        return got.startswith(want.removesuffix(window[0])) and got.endswith(window[0])
    return got == want or got.startswith(f"{want}:")


def _said(reply: Reply) -> tuple[str, str, str]:
    status = f"redirect:{reply.redirect}" if reply.status == "redirect" else reply.status
    return (reply.component or "", reply.handling or "", status)


def judged(case: Case, replies: Sequence[Reply]) -> dict[str, bool]:
    """Return, aspect by aspect, whether a message was read as it should be."""
    said = [_said(reply) for reply in replies]
    expected = list(case.expected)
    if any(want[0] == "*" for want in expected):
        # every nutrient that was measured: several replies count as one question
        kind = next(want[1] for want in expected if want[0] == "*")
        several = [each for each in said if each[2] in ("answered", "words_only")]
        fits = bool(several) and all(_same_handling(kind, each[1]) for each in several)
        said = [each for each in said if each not in several] + (
            [("*", kind if fits else "?", "answered")] * bool(several)
        )
    same = len(said) == len(expected)
    pairs = list(zip(expected, said, strict=False))
    found = {
        "component": same and all(want[0] == got[0] for want, got in pairs),
        "handling": same and all(_same_handling(want[1], got[1]) for want, got in pairs),
        "status": same and all(want[2] == got[2] for want, got in pairs),
        "language": all(reply.lang == case.lang for reply in replies),
    }
    return found | {"all": all(found.values())}


def scores(desk: Desk, half: str) -> tuple[dict[str, float], list[tuple[Case, list[Reply], dict[str, bool]]]]:
    """Return the share of messages read rightly, aspect by aspect, and the missed ones."""
    judgements = []
    for case in cases(half):
        replies = desk.replies(case.message)
        judgements.append((case, replies, judged(case, replies)))
    share = {aspect: sum(each[2][aspect] for each in judgements) / len(judgements) for aspect in ASPECTS}
    return share, [each for each in judgements if not each[2]["all"]]


def main(arguments: Sequence[str]) -> None:
    import tempfile

    from evidence.store import open_store
    from reports.desk.notes import notes_for

    with tempfile.TemporaryDirectory() as folder:
        store = open_store(arguments[0] if arguments else str(Path(folder) / "evidence.sqlite"))
        desk = Desk(notes_for(store))
        for half in (*TUNED, *UNTOUCHED):
            share, missed = scores(desk, half)
            print(
                f"{half}, {len(cases(half))} messages: "
                + ", ".join(f"{name} {value:.2f}" for name, value in share.items())
            )
            if half not in UNTOUCHED:
                for case, replies, found in missed:
                    wrong = ", ".join(aspect for aspect in ASPECTS[:-1] if not found[aspect])
                    print(f"  {case.id} [{wrong}] {case.message}")
                    print(f"    wanted {' ; '.join('|'.join(want) for want in case.expected)}")
                    print(f"    read   {' ; '.join('|'.join(_said(reply)) for reply in replies)}")
            else:
                print(f"  missed: {', '.join(case.id for case, *_ in missed)}")
        store.close()


if __name__ == "__main__":
    main(sys.argv[1:])
