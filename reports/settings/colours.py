"""Colours that can be read: contrast as WCAG 2.2 defines it, and the nearest colour that has enough of it.

Contrast: WCAG 2.2, success criteria 1.4.3 (text 4.5:1) and 1.4.11 (lines and marks 3:1). Nearness: Oklch, a
colour space in which equal steps look equal (Ottosson 2020, "A perceptual color space for image processing").
"""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["least_contrast", "named_colour", "nearest_passing"]

_HALVINGS = 24
_STEP = 0.0005  # of Oklch lightness, 0 to 1: finer than eight bits a channel can show


def least_contrast(colour: str, backgrounds: Sequence[str]) -> float:
    """Return the lowest contrast ratio (1 to 21) of a colour (#rrggbb) against several backgrounds."""
    from coloraide import Color

    return min(Color(colour).contrast(ground, method="wcag21") for ground in backgrounds)


def named_colour(text: str) -> str | None:
    """Return #rrggbb for a colour in another way of writing ("navy", "#abc"), None for no colour."""
    from coloraide import Color

    found = Color.match(text.strip().lower(), fullmatch=True)
    return None if found is None else _hex(found.color)


def nearest_passing(colour: str, backgrounds: Sequence[str], ratio: float) -> str:
    """Return the nearest colour of the same hue that stands out from every background by at least the ratio.

    On light backgrounds it is darker, on dark ones lighter, with as much of its strength as a screen can show. The
    colour itself where it passes. Raises ValueError where neither black nor white would pass.
    """
    from coloraide import Color

    if least_contrast(colour, backgrounds) >= ratio:
        return colour
    away = next((end for end in ("#000000", "#ffffff") if least_contrast(end, backgrounds) >= ratio), None)
    if away is None:
        raise ValueError(f"No colour stands out {ratio}:1 from all of {', '.join(backgrounds)}.")
    start, strength, hue = Color(colour).convert("oklch").coords(nans=False)
    end = 0.0 if away == "#000000" else 1.0

    def at(lightness: float) -> str:
        return _hex(Color("oklch", [lightness, strength, hue]))

    failing, passing = start, end
    for _ in range(_HALVINGS):
        middle = (failing + passing) / 2
        if least_contrast(at(middle), backgrounds) >= ratio:
            passing = middle
        else:
            failing = middle
    while least_contrast(at(passing), backgrounds) < ratio:  # eight bits a channel round either way
        passing = max(0.0, passing - _STEP) if end == 0.0 else min(1.0, passing + _STEP)
    return at(passing)


def _hex(colour: object) -> str:
    made: str = colour.convert("srgb").fit(method="oklch-chroma").to_string(hex=True, alpha=False)  # type: ignore[attr-defined]
    return made.lower() if len(made) == 7 else "#" + "".join(2 * letter for letter in made[1:].lower())
