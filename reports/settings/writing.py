"""A settings file written for its owner: every key with a note in plain words, blank where nothing was said."""

from __future__ import annotations

import json
import textwrap
from collections.abc import Mapping, Sequence

from reports.settings.reading import KEYS
from reports.words.catalogue import Catalogue

__all__ = ["settings_text"]

_WIDTH = 110


def settings_text(
    values: Mapping[str, str | Sequence[str]], say: Catalogue, *, known: Sequence[str], kilobytes: float
) -> str:
    """Return the text of a settings file (TOML) with these values by key; a key that is missing is written blank."""
    lines = [*_note(say.say("file/head")), *_note(say.say("file/locked"))]
    for section, keys in KEYS.items():
        lines += ["", f"[{section}]"]
        for key in keys:
            lines += _note(say.say(f"file/{key}", known=", ".join(known), kilobytes=f"{kilobytes:g}"))
            value = values.get(key, "")
            # a JSON text or list of texts is one of TOML as well
            lines.append(f"{key} = {json.dumps(value if isinstance(value, str) else list(value), ensure_ascii=False)}")
    return "\n".join(lines) + "\n"


def _note(words: str) -> list[str]:
    return textwrap.wrap(words, _WIDTH, initial_indent="# ", subsequent_indent="# ", break_on_hyphens=False)
