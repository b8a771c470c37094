"""A finding as JSON and back: how it is kept in the store, without loading a validator to read one's own writing."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import Any

from evidence.findings.finding import (
    Certainty,
    CertaintyStep,
    Classical,
    Finding,
    NotPooled,
    Points,
    Pooled,
    Review,
    Said,
    Shares,
    ShareStudy,
    StudyEstimate,
)

__all__ = ["finding_from_json", "finding_to_json"]


def finding_to_json(finding: Finding) -> str:
    """Return a finding as JSON."""
    return json.dumps(asdict(finding), ensure_ascii=False, separators=(",", ":"))


def _with_tuples(raw: dict[str, Any]) -> dict[str, Any]:
    return {name: tuple(value) if isinstance(value, list) else value for name, value in raw.items()}


def finding_from_json(text: str) -> Finding:
    """Return the finding that finding_to_json wrote."""
    raw: dict[str, Any] = json.loads(text)
    for name in ("figures", "with_words", "fresh"):
        raw[name] = None if raw[name] is None else Pooled(**raw[name])
    raw["classical"] = None if raw["classical"] is None else Classical(**raw["classical"])
    raw["studies"] = tuple(StudyEstimate(**_with_tuples(each)) for each in raw["studies"])
    raw["said"] = tuple(Said(**_with_tuples(each)) for each in raw["said"])
    raw["not_pooled"] = tuple(NotPooled(**each) for each in raw["not_pooled"])
    raw["baselines"] = tuple((word, count) for word, count in raw["baselines"])
    raw["flags"] = tuple(raw["flags"])
    steps = tuple(CertaintyStep(**step) for step in raw["certainty"]["steps"])
    kept = raw["certainty"]
    reviews = tuple(Review(**review) for review in kept["reviews"])
    raw["certainty"] = Certainty(kept["level"], steps, kept["computed"], reviews)
    if raw.get("shares") is not None:
        raw["shares"] = Shares(
            tuple(ShareStudy(**_with_tuples(each)) for each in raw["shares"]["studies"]),
            tuple(Points(**each) for each in raw["shares"]["together"]),
        )
    return Finding(**raw)
