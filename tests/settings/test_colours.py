"""Contrast as WCAG 2.2 defines it, and the nearest colour that has enough of it."""

from __future__ import annotations

import re

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evidence.model.rules import load_rules
from reports.settings import Colour
from reports.settings.colours import least_contrast, named_colour, nearest_passing
from reports.sheets.layout import TEMPLATES
from tests.reports.markup import contrast

COLOURS = st.integers(0, 0xFFFFFF).map(lambda value: f"#{value:06x}")
LIMITS = load_rules().settings


@settings(deadline=None)
@given(COLOURS, COLOURS)
def test_contrast_is_that_of_the_formula_in_wcag(one: str, other: str) -> None:
    # relative luminance and contrast ratio as WCAG 2.2 writes them, worked out apart from the library
    assert least_contrast(one, [other]) == pytest.approx(contrast(one, other), abs=0.005)


def test_black_on_white_is_twenty_one_to_one() -> None:
    assert least_contrast("#000000", ["#ffffff"]) == pytest.approx(21)  # WCAG 2.2, note to "contrast ratio": 1 to 21


@settings(deadline=None)
@given(COLOURS, st.sampled_from([LIMITS.light_backgrounds, LIMITS.dark_backgrounds]), st.sampled_from([3.0, 4.5]))
def test_what_is_offered_passes_and_is_the_same_every_time(colour: str, grounds: tuple[str, ...], ratio: float) -> None:
    offered = nearest_passing(colour, grounds, ratio)
    assert re.fullmatch("#[0-9a-f]{6}", offered)
    assert min(contrast(offered, ground) for ground in grounds) >= ratio
    assert nearest_passing(colour, grounds, ratio) == offered
    assert nearest_passing(offered, grounds, ratio) == offered
    if min(contrast(colour, ground) for ground in grounds) >= ratio:
        assert offered == colour


@pytest.mark.parametrize("ratio", [3.0, 4.5])
def test_of_a_pale_grey_the_lightest_grey_that_passes_is_offered(ratio: float) -> None:
    greys = [f"#{level:02x}{level:02x}{level:02x}" for level in range(256)]
    lightest = [grey for grey in greys if contrast(grey, "#ffffff") >= ratio][-1]
    offered = nearest_passing("#eeeeee", ["#ffffff"], ratio)
    assert abs(int(offered[1:3], 16) - int(lightest[1:3], 16)) <= 1
    assert int(offered[1:3], 16) <= int(lightest[1:3], 16)


def test_the_backgrounds_of_the_rules_are_those_of_the_style_sheet() -> None:
    light, dark = re.findall(r":root\{([^}]*)\}", (TEMPLATES / "base.css").read_text(encoding="utf-8"))[:2]
    for text, grounds in ((light, LIMITS.light_backgrounds), (dark, LIMITS.dark_backgrounds)):
        used = dict(re.findall(r"--(paper|ground|pale):(#[0-9a-f]+)", text))
        full = {
            value if len(value) == 7 else "#" + "".join(2 * digit for digit in value[1:]) for value in used.values()
        }
        assert full == set(grounds)


@pytest.mark.parametrize("text", ["red", "#abc", "#12345678", "#00000g", "#3d3193;}.safe{display:none", "", "#3D3193"])
def test_a_colour_is_six_digits_and_nothing_else(text: str) -> None:
    with pytest.raises(ValueError, match="no colour"):
        Colour(text, "#ffffff")
    with pytest.raises(ValueError, match="no colour"):
        Colour("#000000", text)


def test_a_colour_s_name_is_offered_as_digits() -> None:
    assert named_colour("Navy") == "#000080"  # CSS Color Module 4, named colours
    assert named_colour("#abc") == "#aabbcc"
    assert named_colour("milk") is None
