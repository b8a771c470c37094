"""What a component's group shows for a step the component lacks: a labelled assumption, off by default."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from statistics import median

from evidence.findings.path_model import PathModel
from evidence.findings.path_rows import StepAsked, Strand
from evidence.model.lists import PooledClass
from evidence.model.rules import Rules
from evidence.synthesis import TauPrior

__all__ = ["Assumption", "group_shows"]


@dataclass(frozen=True)
class Assumption:
    """What others of the group kept in a step: the middle one, the least and the most, and which others."""

    step: str
    retained_percent: float
    lowest: float
    highest: float
    components: tuple[str, ...]


def group_shows(
    steps: Iterable[StepAsked], peers: Sequence[Strand], priors: Mapping[PooledClass, TauPrior], rules: Rules
) -> list[Assumption]:
    """Return an assumption for each step that enough of the group were measured in; peers: the others' strands."""
    found = []
    for step in steps:
        kept: dict[str, float] = {}
        for strand in peers:
            if strand.direct(step.key) and strand.component not in kept:
                model = PathModel(strand, priors[strand.group], rules)
                amount = model.amount([model.part(step)])
                if amount is not None:
                    kept[strand.component] = amount.retained_percent
        if len(kept) >= rules.path.fallback_components:
            amounts = sorted(kept.values())
            found.append(Assumption(step.text, median(amounts), amounts[0], amounts[-1], tuple(sorted(kept))))
    return found
