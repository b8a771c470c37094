"""What a figure was compared with, in words: it stands in the same sentence as the number."""

from __future__ import annotations

from collections.abc import Sequence

from evidence.findings.finding import Finding, Said, StudyEstimate
from evidence.model.lists import BaselineClass
from reports.words.catalogue import Catalogue

__all__ = ["against_phrase", "compared_phrase", "compared_with", "hundred_is"]

# the order in which parts of a mixed comparison are told
_ORDER: tuple[BaselineClass, ...] = (
    "fresh", "chilled", "frozen", "heat-treated", "otherwise treated", "dried", "not stated",
)  # fmt: skip


def _key(word: BaselineClass) -> str:
    return word.replace(" ", "-")


def _counted(finding: Finding) -> list[tuple[BaselineClass, int]]:
    """Return the baselines behind the headline: of the studies with figures where there are any, else of all."""
    return _tally([study.baseline for study in finding.behind])


def _tally(words: Sequence[BaselineClass]) -> list[tuple[BaselineClass, int]]:
    return [(word, words.count(word)) for word in _ORDER if word in words]


def compared_phrase(finding: Finding, say: Catalogue, words: Sequence[BaselineClass] | None = None) -> str:
    """Return "compared with fresh milk", or the same for whatever it was; with counts where studies differ."""
    return _phrase(_counted(finding) if words is None else _tally(words), say)


def compared_with(words: Sequence[BaselineClass], say: Catalogue) -> str:
    """Return the same for classes of baselines, one a study, without a finding."""
    return _phrase(_tally(words), say)


def _phrase(counts: Sequence[tuple[BaselineClass, int]], say: Catalogue) -> str:
    if len(counts) == 1:
        return say.say(f"compared/{_key(counts[0][0])}")
    parts = [say.count(f"compared/mixed_{_key(word)}", count) for word, count in counts]
    return say.say("compared/mixed", parts=say.joined(parts))


def hundred_is(finding: Finding, say: Catalogue) -> str:
    """Return what the 100 of the bar stands for."""
    counts = _counted(finding)
    return say.say(f"hundred/{_key(counts[0][0])}" if len(counts) == 1 else "hundred/mixed")


def against_phrase(studies: Sequence[StudyEstimate | Said], say: Catalogue) -> str:
    """Return "against fresh milk" and its like, the short form."""
    classes = {study.baseline for study in studies}
    return say.say("against/" + (_key(classes.pop()) if len(classes) == 1 else "mixed"))
