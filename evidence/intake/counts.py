"""What a bundle holds, counted the way a reader asks: figures, second readings, identifiers, topics, baselines."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from typing import Any

__all__ = ["FIGURES", "measurement_counts"]

# a row carries a figure where one of these is printed
FIGURES = ("retained_percent", "change_percent", "treated_mean", "diff_mean", "interval_low", "interval_high")
# steps that only go along with another
_BESIDE = {"thawed", "reconstituted", "pooled", "expressed", "not-stated"}

Row = Mapping[str, Any]


def has_figure(row: Row) -> bool:
    """Return whether a measurement prints a figure."""
    return any(row[column] for column in FIGURES)


def _topic(handling: str) -> str:
    # a chain prints as its steps, so its words need no parsing again here
    steps = [step.split()[0] for step in handling.split(" > ")]
    telling = [step for step in steps if step not in _BESIDE]
    return telling[-1] if telling else "none"


def _counted(words: Iterable[str]) -> str:
    return ", ".join(f"{word} {count}" for word, count in sorted(Counter(words).items(), key=lambda i: (-i[1], i[0])))


def _share(part: int, whole: int) -> str:
    return f"{part} of {whole}" + (f" ({100 * part / whole:.0f} %)" if whole else "")


def measurement_counts(measurements: Iterable[Row], studies: Iterable[Row]) -> list[tuple[str, str]]:
    """Return (what is counted, how many) for rows of measurements and the studies behind them."""
    rows = list(measurements)
    numeric = [row for row in rows if has_figure(row)]
    settled = [row for row in numeric if row["second_read"] or row["held"]]
    identified = {study["key"] for study in studies if study["doi"] or study["pmid"]}
    behind, figures = {row["study"] for row in rows}, {row["study"] for row in numeric}
    return [
        ("studies", str(len(behind))),
        ("components", str(len({row["component"] for row in rows}))),
        ("rows with a figure", _share(len(numeric), len(rows))),
        ("of these read a second time", _share(sum(bool(row["second_read"]) for row in numeric), len(numeric))),
        ("of these settled, or held with the reason", _share(len(settled), len(numeric))),
        ("studies with a DOI or PMID", _share(len(behind & identified), len(behind))),
        ("of studies with a figure", _share(len(figures & identified), len(figures))),
        ("rows by last step", _counted(_topic(row["handling"]) for row in rows)),
        ("rows by what they were compared with", _counted(row["baseline_class"] for row in rows)),
        ("figures by what they were compared with", _counted(row["baseline_class"] for row in numeric)),
    ]
