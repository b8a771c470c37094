"""A reply: what is answered to one question, as --json prints it."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any, Literal

from reports.desk.cards import StudyCited

__all__ = ["SCHEMA", "Reply", "Status", "StudyCited"]

SCHEMA = "whatstays-answer-2"
Status = Literal["answered", "words_only", "no_evidence", "not_understood", "redirect"]


@dataclass(frozen=True)
class Reply:
    """One answer, as --json prints it; every key is always there, null where it does not exist.

    retained_percent and ci_* in percent (a germ count: treated per 100 before); interval_kind "shared": with the
    heterogeneity that similar questions lend, at interval_level. baselines counts the studies behind it by what they
    compared with. question: what was understood; say: words to say on the phone; email: words to write; lang: the
    reply's language, "und" where the message is in a language that cannot be read.
    """

    schema: str
    status: Status
    number: str | None
    component: str | None
    handling: str | None
    retained_percent: float | None
    ci_low: float | None
    ci_high: float | None
    interval_kind: str | None
    k_studies: int
    k_rows: int
    baselines: dict[str, int]
    flags: tuple[str, ...]
    certainty: str | None
    how_sure: str | None
    sentence: str
    others: tuple[str, ...]
    studies: tuple[StudyCited, ...]
    cautions: tuple[str, ...]
    edition: str
    evidence_of: str
    redirect_to: str | None = None
    alternatives: tuple[str, ...] = ()
    interval_level: float | None = None
    question: str = ""
    redirect: str | None = None
    say: str = ""
    email: str = ""
    lang: str = "en"

    def as_json(self) -> dict[str, Any]:
        """Return the reply as plain values."""
        return asdict(self)
