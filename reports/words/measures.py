"""Volumes and temperatures in the reader's units; the units a settings file may ask for."""

from __future__ import annotations

from typing import Literal

__all__ = ["UNITS", "Units"]

Units = Literal["metric", "us"]
UNITS: tuple[Units, ...] = ("metric", "us")
