"""What a settings file says, once it has been checked."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from reports.words.measures import Units

__all__ = ["FILE_NAME", "PAPERS", "PLAIN", "Colour", "Logo", "PaperSize", "Settings"]

FILE_NAME = "whatstays.toml"

PaperSize = Literal["a4", "letter"]
PAPERS: tuple[PaperSize, ...] = ("a4", "letter")

_HEX = re.compile(r"#[0-9a-f]{6}")


@dataclass(frozen=True)
class Colour:
    """A colour on light pages and its twin on dark ones, each as #rrggbb in small letters.

    Raises ValueError for anything else, so that no colour can carry a rule of style into a page.
    """

    light: str
    dark: str

    def __post_init__(self) -> None:
        for value in (self.light, self.dark):
            if not _HEX.fullmatch(value):
                raise ValueError(f"{value!r} is no colour of the form #rrggbb.")


@dataclass(frozen=True)
class Logo:
    """A checked picture: kind svg or png, its bytes, and how many times wider than high it is."""

    kind: Literal["svg", "png"]
    data: bytes
    ratio: float


@dataclass(frozen=True)
class Settings:
    """A service's settings; country is a code of two letters (ISO 3166-1), or "" where none is set.

    Without a name there is no brand, and pages look as the tool itself makes them.
    """

    name: str = ""
    country: str = ""
    contact: str = ""
    legal_status: str = ""
    pages_at: str = ""
    languages: tuple[str, ...] = ("en",)
    units: Units = "metric"
    paper: PaperSize = "a4"
    logo: Logo | None = None
    main_colour: Colour | None = None
    second_colour: Colour | None = None


PLAIN = Settings()
