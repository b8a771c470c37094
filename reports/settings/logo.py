"""A logo is a picture and nothing else: small, without scripts, and without anything fetched from elsewhere."""

from __future__ import annotations

import io
import re
from pathlib import Path
from typing import TYPE_CHECKING
from xml.etree.ElementTree import Element, ParseError

from reports.settings.settings import Logo

if TYPE_CHECKING:
    from evidence.model.rules import SettingsRules

__all__ = ["read_logo"]

_SVG = "{http://www.w3.org/2000/svg}"
# what draws; letters are left out because a machine without the font would draw others
_DRAWS = {
    "svg", "g", "defs", "title", "desc", "metadata", "path", "rect", "circle", "ellipse", "line", "polyline", "polygon",
    "clipPath", "mask", "linearGradient", "radialGradient", "stop", "style",
}  # fmt: skip
# notes that drawing programs leave in their files, and draw nothing
_NOTES = (
    "{http://www.w3.org/1999/02/22-rdf-syntax-ns#}", "{http://creativecommons.org/ns#}", "{http://purl.org/dc/elements/1.1/}",
    "{http://www.inkscape.org/namespaces/inkscape}", "{http://sodipodi.sourceforge.net/DTD/sodipodi-0.dtd}",
)  # fmt: skip
_ELSEWHERE = re.compile(r"url\s*\((?!\s*['\"]?#)|@import|@keyframes|animation|javascript:|\\", re.IGNORECASE)


def read_logo(path: Path, limits: SettingsRules) -> Logo | list[str]:
    """Return the checked picture, or what is wrong with it, each as a phrase ("a script inside it")."""
    try:
        data = path.read_bytes()
    except OSError as refused:
        return [f"a file that cannot be read ({refused.strerror or refused})"]
    if len(data) > 1024 * limits.logo_most_kilobytes:
        return [f"{len(data) / 1024:.0f} kilobytes"]
    if data.startswith(b"\x89PNG\r\n\x1a\n"):
        return _png(data, limits)
    if b"<svg" in data:
        return _svg(data, limits)
    return ["neither an SVG nor a PNG picture"]


def _shape(width: float, height: float, limits: SettingsRules) -> list[str]:
    if not (width > 0 and height > 0):
        return ["no width or no height"]
    ratio = width / height
    if ratio > limits.logo_widest or ratio < 1 / limits.logo_widest:
        return [f"a shape of {width:g} by {height:g}"]
    return []


def _png(data: bytes, limits: SettingsRules) -> Logo | list[str]:
    from PIL import Image

    try:
        with Image.open(io.BytesIO(data), formats=["PNG"]) as picture:
            width, height = picture.size
            wrong = _shape(width, height, limits)
            if max(width, height) > limits.logo_most_pixels:
                wrong.append(f"{width} by {height} pixels")
            if getattr(picture, "n_frames", 1) != 1:
                wrong.append("a picture that moves")
            if wrong:
                return wrong
            picture.load()
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        return ["a PNG picture that is damaged"]
    return Logo("png", data, width / height)


def _svg(data: bytes, limits: SettingsRules) -> Logo | list[str]:
    from xml.etree import ElementTree

    if b"<!DOCTYPE" in data or b"<!ENTITY" in data:
        return ["a DOCTYPE or an entity inside it (save it as plain SVG)"]
    try:
        root = ElementTree.fromstring(data)
    except (ParseError, ValueError, LookupError):
        return ["an SVG picture that is damaged"]
    if root.tag != f"{_SVG}svg":
        return ["a file whose outermost element is not an svg"]
    wrong = [found for element in root.iter() for found in _not_drawing(element)]
    size = _svg_size(root)
    wrong += ["no viewBox that says how wide and high it is"] if size is None else _shape(*size, limits)
    if wrong or size is None:
        return list(dict.fromkeys(wrong))
    return Logo("svg", data, size[0] / size[1])


def _not_drawing(element: Element) -> list[str]:
    """Return what an element does beside drawing."""
    wrong: list[str] = []
    if not isinstance(element.tag, str):
        return wrong  # a comment
    if element.tag.startswith(_SVG):
        name = element.tag.removeprefix(_SVG)
        if name not in _DRAWS:
            what = {"script": "a script", "text": "letters (turn them into paths)"}.get(name, f"the element {name}")
            wrong.append(f"{what} inside it")
        if name == "style" and _ELSEWHERE.search("".join(element.itertext())):
            wrong.append("a style that moves or fetches something")
    elif not element.tag.startswith(_NOTES):
        wrong.append(f"the element {element.tag.rsplit('}', 1)[-1]} inside it")
    for name, value in element.attrib.items():
        bare = name.rsplit("}", 1)[-1].lower()
        if bare.startswith("on"):
            wrong.append(f"a script inside it ({bare})")
        elif bare == "href" and not value.startswith("#"):
            wrong.append("a link to something elsewhere")
        elif _ELSEWHERE.search(value):
            wrong.append(f"something that moves or is fetched from elsewhere ({bare})")
    return wrong


def _svg_size(root: Element) -> tuple[float, float] | None:
    try:
        numbers = [float(part) for part in re.split(r"[\s,]+", root.get("viewBox", "").strip())]
    except ValueError:
        return None
    return (numbers[2], numbers[3]) if len(numbers) == 4 else None
