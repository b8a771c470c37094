"""A sheet of drawing paper: lines, discs and letters in points, handed out as lean SVG for a page and for print."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from functools import lru_cache
from html import escape
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matplotlib.artist import Artist

__all__ = ["ACCENT", "INK", "PALE", "PAPER", "QUIET", "RULE", "Paper", "for_page", "for_print", "text_width"]

# Colours on white paper; the page swaps each for its own variable, so that a drawing follows the dark mode.
INK, QUIET, RULE, PALE, ACCENT, PAPER = "#1e1a2c", "#565068", "#7f7894", "#eeebf7", "#3d3193", "#ffffff"
VARIABLES = {
    INK: "var(--ink)",
    QUIET: "var(--quiet)",
    RULE: "var(--rule)",
    PALE: "var(--pale)",
    ACCENT: "var(--accent)",
    PAPER: "var(--paper)",
}
# What the page's own style sets for the letters of a drawing.
LEFT_TO_THE_PAGE = r'(?<=style=")font-size: [^;]*; font-family: [^;]*; (text-anchor: start; )?'
PRINT_LETTERS = "'Libertinus Serif', 'DejaVu Sans'"


@lru_cache(maxsize=4096)
def text_width(words: str, size: float) -> float:
    """How wide words are, in points, in the widest of the letters a page or a print uses (DejaVu Sans)."""
    from matplotlib.font_manager import FontProperties, findfont, get_font

    font = get_font(findfont(FontProperties(family="DejaVu Sans")))
    font.set_size(size, 72)
    font.set_text(words, 0.0)
    return float(font.get_width_height()[0]) / 64


class Paper:
    """Paper of a width and height in points; x runs right, y runs down from the upper edge."""

    def __init__(self, width: float, height: float) -> None:
        from matplotlib.figure import Figure

        self.height = height
        self._figure = Figure(figsize=(width / 72, height / 72), dpi=72)
        self._figure.patch.set_visible(False)

    def path(self, points: list[tuple[float, float]], colour: str, width: float = 1.0, fill: str = "none") -> None:
        """Draw a line through the points, and fill what it encloses where a fill is given."""
        self.paths([points], colour, width, fill)

    def paths(
        self, lines: list[list[tuple[float, float]]], colour: str, width: float = 1.0, fill: str = "none"
    ) -> None:
        """Draw several lines as one shape."""
        from matplotlib.patches import PathPatch
        from matplotlib.path import Path as Outline

        outline = Outline.make_compound_path(*(Outline([(x, self.height - y) for x, y in line]) for line in lines))
        shape = PathPatch(
            outline, edgecolor=colour, facecolor=fill, linewidth=width, capstyle="butt", joinstyle="miter"
        )
        self._add(shape)

    def disc(self, x: float, y: float, radius: float, colour: str, fill: str) -> None:
        """Draw a round mark around a point."""
        from matplotlib.patches import Circle

        self._add(Circle((x, self.height - y), radius, edgecolor=colour, facecolor=fill, linewidth=1.6))

    def text(self, x: float, y: float, words: str, size: float, colour: str, anchor: str = "left") -> None:
        """Write words on the base line y; anchor is left, center or right."""
        from matplotlib.text import Text

        # parse_math off: a dollar sign in a study's name is a dollar sign.
        self._add(
            Text(x, self.height - y, words, fontsize=size, color=colour, ha=anchor, va="baseline", parse_math=False)
        )

    def svg(self) -> str:
        """The drawing as one `<svg>` element, the same text for the same drawing: no date, no random names."""
        from matplotlib import rc_context

        written = io.StringIO()
        with rc_context({"svg.fonttype": "none", "svg.hashsalt": "whatstays", "path.simplify": False}):
            self._figure.savefig(written, format="svg", transparent=True, metadata={"Date": None, "Creator": None})
        return _lean(written.getvalue())

    def _add(self, artist: Artist) -> None:
        from matplotlib.transforms import IdentityTransform

        artist.set_transform(IdentityTransform())
        self._figure.add_artist(artist)


def for_page(svg: str, css_class: str, words: str) -> str:
    """The drawing for inline use: colours and letters come from the page, words stand in for the picture."""
    opening = f'<svg class="{css_class}" role="img" aria-label="{escape(words)}"'

    def dressed(tag: str) -> str:
        if tag.startswith("<svg"):
            return tag.replace('<svg xmlns="http://www.w3.org/2000/svg"', opening)
        for colour, variable in VARIABLES.items():
            tag = tag.replace(f": {colour}", f": {variable}")
        return re.sub(LEFT_TO_THE_PAGE, "", tag) if tag.startswith("<text") else tag

    return _in_tags(svg, dressed)


def for_print(svg: str) -> str:
    """The drawing for the typesetter: its own colours, the letters of the printed page."""
    return _in_tags(svg, lambda tag: re.sub(r"font-family: [^;\"]*", f"font-family: {PRINT_LETTERS}", tag))


def _lean(svg: str) -> str:
    """Keep the drawing and drop what a page does not need: declarations, metadata, names of groups."""
    body = re.sub(r"<metadata>.*?</metadata>|<defs>.*?</defs>", "", svg[svg.index("<svg") :], flags=re.DOTALL)
    return re.sub(r">\s+<", "><", _in_tags(body, _lean_tag)).strip()


def _lean_tag(tag: str) -> str:
    if tag.startswith("<svg"):
        opening = r'<svg xmlns="http://www.w3.org/2000/svg" viewBox="\1">'
        return re.sub(r'<svg.*viewBox="([^"]*)".*', opening, tag, flags=re.DOTALL)
    if tag.startswith(("<g", "</g")):
        return ""
    tag = re.sub(r' (id|clip-path|transform)="[^"]*"|; stroke-linejoin: miter', "", tag)
    return re.sub(r"\s+", " ", re.sub(r"(\d+\.\d\d)\d+", r"\1", tag))


def _in_tags(svg: str, change: Callable[[str], str]) -> str:
    """Apply a change to the tags only: what a study is called is never touched."""
    return re.sub(r"<[^>]*>", lambda found: change(found.group()), svg)
