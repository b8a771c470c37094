"""axe-core in a real browser: what it finds wrong on pages, by the rules of WCAG 2.2 A and AA and of good practice.

axe-core (Mozilla Public License 2.0) comes inside the Python package axe-playwright-python; only its script is used.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from pathlib import Path

from tests.reports.real_pages import on_pages

__all__ = ["Violation", "violations"]

TAGS = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22a", "wcag22aa", "best-practice")
SCRIPT = """
  page.querySelectorAll("details").forEach(function (part) { part.open = true; });
  const told = await view.axe.run(page, {
    runOnly: { type: "tag", values: %s }, resultTypes: ["violations"], elementRef: false,
  });
  const wrong = [];
  for (const each of told.violations) {
    for (const node of each.nodes) { wrong.push([each.id, node.html.slice(0, 200), node.failureSummary]); }
  }
  return { wrong: wrong, passed: told.passes.length, dark: view.matchMedia("(prefers-color-scheme:dark)").matches };
"""


@dataclass(frozen=True)
class Violation:
    """One thing that axe-core finds wrong: on which page, by which rule, which element, and why."""

    page: str
    rule: str
    element: str
    why: str


@lru_cache(maxsize=1)
def _axe() -> str:
    return (files("axe_playwright_python") / "axe.min.js").read_text(encoding="utf-8")


def violations(pages: Sequence[Path], folder: Path, *, width: int = 390, dark: bool = False) -> list[Violation]:
    """Open the pages one after another at a width, all their details open, and return what axe-core finds."""
    told = on_pages(pages, SCRIPT % json.dumps(TAGS), folder, width=width, dark=dark, prelude=_axe())
    for page, found in told.items():
        assert found["dark"] == dark and found["passed"] > 5, f"{page.name} was not looked at as asked."
    return [Violation(page.name, *wrong) for page, found in told.items() for wrong in found["wrong"]]
