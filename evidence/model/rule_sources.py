"""Where each threshold of rules.toml comes from: its own words there, read beside its value."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from evidence.model.shipped import data_folder

__all__ = ["Threshold", "threshold", "thresholds"]

_SECTION = re.compile(r"^\[(?P<name>[\w.\-]+)\]\s*$")
_KEY = re.compile(r'^(?:"(?P<quoted>[^"]+)"|(?P<bare>[\w\-]+))\s*=\s*(?P<rest>.*)$')


@dataclass(frozen=True)
class Threshold:
    """A threshold: section and key joined by a dot, its value as written, and what rules.toml says of it."""

    key: str
    value: str
    source: str


def threshold(key: str) -> Threshold:
    """Return the threshold "section.key" of the shipped rules. Raises KeyError where there is none."""
    return thresholds()[key]


@lru_cache(maxsize=2)
def thresholds(path: Path | None = None) -> dict[str, Threshold]:
    """Return every threshold with its source: the comment lines above it in its section, then the one beside it.

    A section without a comment line of its own has that of the section it belongs to.
    """
    text = (path or data_folder() / "rules.toml").read_text(encoding="utf-8")
    found: dict[str, Threshold] = {}
    spoken: dict[str, str] = {}
    section, above, fresh = "", "", False
    for line in text.splitlines():
        stripped = line.strip()
        if heading := _SECTION.match(stripped):
            section = heading["name"]
            above, fresh = spoken.get(section.rpartition(".")[0], ""), False
        elif stripped.startswith("#"):
            said = stripped.lstrip("# ").strip()
            above = f"{above} {said}" if fresh else said
            spoken.setdefault(section, above)
            if fresh:
                spoken[section] = above
            fresh = True
        elif key := _KEY.match(stripped):
            fresh = False
            value, _, beside = _split(key["rest"])
            own = key["quoted"] or key["bare"]
            name = f"{section}.{own}" if section else own
            found[name] = Threshold(name, value, "; ".join(part for part in (beside, above) if part))
    return found


def _split(rest: str) -> tuple[str, str, str]:
    """Split value and comment; a number sign inside quotation marks belongs to the value."""
    quoted = False
    for place, letter in enumerate(rest):
        if letter == '"':
            quoted = not quoted
        elif letter == "#" and not quoted:
            return rest[:place].strip(), "#", rest[place + 1 :].strip()
    return rest.strip(), "", ""
