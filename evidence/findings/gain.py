"""What one paper, read in full, would bring to one finding."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

__all__ = ["Gain", "Status", "Turns"]

Status = Literal["abstract only", "second hand", "not identified", "not found"]
# what the full table would turn a paper's part in a finding into
Turns = Literal["first figure", "further figure", "own spread", "comparison", "new question"]


@dataclass(frozen=True)
class Gain:
    """What one paper would bring to one finding; number is empty where nobody has measured the question yet.

    narrows: share by which the standard error would shrink; settles: share of the finding's studies whose unstated
    comparison it would settle; gain: both, weighted. mothers: the number printed, None where it is not.
    """

    number: str
    component: str
    handling: str
    turns: Turns
    narrows: float
    settles: float
    gain: float
    mothers: float | None
