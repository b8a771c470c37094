"""The reading list in words: why a paper is wanted, in one sentence, and what to copy from it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from evidence.findings.gain import Gain, Status, Turns

__all__ = ["reason_of", "what_to_copy"]

_NAMED = 4
_OPENINGS: dict[Turns, str] = {
    "first figure": "would give the first figure for",
    "new question": "would give the first result at all for",
    "further figure": "would add a figure for",
    "own spread": "would put the study's own spread in place of a borrowed one for",
    "comparison": "would settle the comparison for",
}
_STATUS: dict[Status, str] = {
    "abstract only": "",
    "second hand": " It is known from a review only.",
    "not identified": " Which paper it is has to be found out first.",
    "not found": "",
}


def _joined(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _listed(words: Sequence[str], most: int) -> str:
    each = list(dict.fromkeys(words))
    return _joined(each) if len(each) <= most else f"{', '.join(each[:most])} and {len(each) - most} more"


def _handling(key: str, names: Mapping[str, str]) -> str:
    parts = key.split(":")
    begins = (":".join(parts[:length]) for length in range(len(parts), 0, -1))
    noun = next((names[each] for each in begins if each in names), None)
    # "frozen" alone stands for all kinds of freezing: the first kind's noun
    noun = noun or next((names[each] for each in names if each.startswith(f"{key}:")), None)
    if noun is None and "+" in key:
        return " then ".join(_handling(step, names) for step in key.split("+"))
    return noun or key


def _component(gain: Gain, names: Mapping[str, str]) -> str:
    return names.get(gain.component, "components it does not name")


def _clauses(gains: Sequence[Gain], components: Mapping[str, str], handlings: Mapping[str, str]) -> list[str]:
    clauses = []
    for turns, opening in _OPENINGS.items():
        mine = [gain for gain in gains if gain.turns == turns]
        by_handling: dict[str, list[str]] = {}
        for gain in mine:
            by_handling.setdefault(_handling(gain.handling, handlings), []).append(_component(gain, components))
        parts = [f"{_listed(names, _NAMED)} ({noun})" for noun, names in by_handling.items()]
        if parts:
            clauses.append(f"{opening} {_listed(parts, 3)}")
    return clauses


def reason_of(
    status: Status, gains: Sequence[Gain], components: Mapping[str, str], handlings: Mapping[str, str], why: str
) -> str:
    """Return why a paper is wanted.

    components: id -> name in a sentence; handlings: key or its beginning -> noun; why: what wanted.csv says of it.
    """
    known = f" Known of it: {why}." if why else ""
    if not gains:
        return f"It would bring nothing to what is said on drying or freezing.{known}"
    clauses = _clauses(gains, components, handlings)
    unstated = sum(gain.settles > 0 for gain in gains)
    if unstated:
        answers = "answer" if unstated == 1 else "answers"
        clauses.append(f"may say what the milk was compared with, which is not stated in {unstated} {answers}")
    return f"It {_joined(clauses)}.{_STATUS[status]}{known}"


def what_to_copy(
    status: Status, gains: Sequence[Gain], where: Sequence[str], components: Mapping[str, str]
) -> tuple[str, ...]:
    """Return what to copy from the paper, a line each; where: the places in it that rows were read from."""
    lines = []
    if status == "not identified":
        lines.append("Which paper it is: authors, title, journal, year, DOI or PMID.")
    named = [_component(gain, components) for gain in gains if gain.component]
    names = _listed(named, 8) if named else "every component it measured"
    lines.append(
        f"The table or figure with {names}: the means before and after, each with its unit, its spread and the kind of "
        "spread (SD, SE, range); or the percent kept, with its spread."
    )
    if not gains or any(gain.mothers is None for gain in gains):
        lines.append("n: how many mothers, and whether a row is one mother's milk, a pool or a repeat.")
    if not gains or any(gain.settles > 0 or gain.turns in ("new question", "first figure") for gain in gains):
        lines.append("The milk it was compared with: fresh, chilled or frozen, for how long, in the paper's own words.")
    lines.append("Whether both milks are the same milk, and the exact P of that comparison.")
    lines.append("Temperature and time of every step, container, and for powder its moisture and pack.")
    read = [place for place in where if place]
    if read:
        lines.append(f"So far read from: {_listed(read, 3)}.")
    return tuple(lines)
