"""Where the shipped tables lie (inside the installed package, or beside it in a checkout), and a user's store."""

from __future__ import annotations

from pathlib import Path

__all__ = ["bibliography_folder", "data_folder", "default_store_path"]

_PACKAGE = Path(__file__).resolve().parents[1]


def _folder(name: str) -> Path:
    installed = _PACKAGE / "_shipped" / name
    return installed if installed.is_dir() else _PACKAGE.parent / name


def data_folder() -> Path:
    """Return the folder of the shipped CSV tables and rules.toml."""
    return _folder("data")


def bibliography_folder() -> Path:
    """Return the folder of the shipped BibTeX files."""
    return _folder("bibliography")


def default_store_path() -> Path:
    """Return the store's file in the user's data folder."""
    from platformdirs import user_data_path

    return user_data_path("whatstays", appauthor=False) / "evidence.sqlite"
