"""A hash of the shipped files and of the code that reads them: whether what a store keeps is up to date with them."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from functools import lru_cache
from pathlib import Path

from evidence.model.shipped import bibliography_folder, data_folder

__all__ = ["files_digest", "shipped_digest"]


def files_digest(paths: Iterable[Path]) -> str:
    """Return a hash of the names and contents of files, in the order given."""
    digest = hashlib.sha256()
    for path in paths:
        digest.update(path.name.encode() + path.read_bytes())
    return digest.hexdigest()


@lru_cache(maxsize=1)
def shipped_digest() -> str:
    """Return the hash of data, bibliography and the evidence package's own code."""
    code = Path(__file__).resolve().parents[1]
    files = [
        *data_folder().glob("*.*"),
        *(data_folder() / "vocabulary").glob("*"),
        *bibliography_folder().glob("*.bib"),
    ]
    return files_digest([*sorted(files, key=lambda file: file.name), *sorted(code.rglob("*.py"))])
