"""What stands in a folder of pages: which content each was made from, so that only what changed is made again."""

from __future__ import annotations

import hashlib
import json
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from importlib import metadata
from pathlib import Path

from evidence import __version__

__all__ = ["MANIFEST", "Made", "asked_digest", "content_digest", "file_digest", "read_made", "rendering_digest"]

MANIFEST = ".made.json"
_SCHEMA = "whatstays-made-1"
# what shapes a page beside our own code and words
_LIBRARIES = ("babel", "jinja2", "markupsafe", "matplotlib", "numpy", "typst")
_OURS = (".py", ".toml", ".po", ".jinja", ".typ", ".css", ".js")


@lru_cache(maxsize=1)
def rendering_digest() -> str:
    """Return a hash of all that turns words into pages: our code, templates and words, and the libraries' versions."""
    digest = hashlib.sha256(f"{__version__} {sys.version_info[:3]}".encode())
    for name in _LIBRARIES:
        digest.update(f" {name} {metadata.version(name)}".encode())
    reports = Path(__file__).resolve().parents[1]
    for path in sorted(path for path in reports.rglob("*") if path.suffix in _OURS):
        digest.update(path.relative_to(reports).as_posix().encode() + path.read_bytes())
    return digest.hexdigest()


def content_digest(content: object) -> str:
    """Return a hash of a page's content, a frozen dataclass of plain values, and of all that would render it."""
    told = f"{type(content).__qualname__} {content!r} {rendering_digest()}"
    return hashlib.sha256(told.encode("utf-8", "surrogatepass")).hexdigest()


def asked_digest(edition: str, shipped: str, choices: object) -> str:
    """Return a hash of all that a whole folder follows from: the store's edition, shipped files, choices, rendering."""
    return hashlib.sha256(f"{edition} {shipped} {choices!r} {rendering_digest()}".encode()).hexdigest()


@dataclass(frozen=True)
class Made:
    """A folder's list: asked is the hash of all it follows from ("" unknown), contents page -> content's hash, files
    name -> the file's own hash.
    """

    asked: str = ""
    contents: Mapping[str, str] = field(default_factory=dict)
    files: Mapping[str, str] = field(default_factory=dict)

    def whole(self, folder: Path, names: Sequence[str] | None = None) -> bool:
        """Return whether files (all of them, or those named) stand in the folder as they were made."""
        return all(
            name in self.files and _is(folder / name, self.files[name])
            for name in (self.files if names is None else names)
        )

    def as_text(self) -> str:
        """Return it as it is kept."""
        told = {
            "schema": _SCHEMA, "asked": self.asked, "contents": dict(self.contents), "files": dict(self.files),
        }  # fmt: skip
        return json.dumps(told, indent=0, sort_keys=True) + "\n"


def file_digest(data: bytes) -> str:
    """Return the hash of a file's bytes."""
    return hashlib.sha256(data).hexdigest()


def _is(path: Path, digest: str) -> bool:
    try:
        return file_digest(path.read_bytes()) == digest
    except OSError:
        return False


def read_made(folder: Path) -> Made:
    """Return what is known of a folder; a list that is missing or spoilt knows nothing, and all is made again."""
    try:
        raw = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))
        if raw["schema"] != _SCHEMA:
            return Made()
        tables = [{str(key): str(value) for key, value in raw[name].items()} for name in ("contents", "files")]
        return Made(str(raw["asked"]), *tables)
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return Made()
