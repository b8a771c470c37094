"""A logo draws and does nothing else."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from PIL import Image

from evidence.model.rules import load_rules
from reports.settings import Logo
from reports.settings.logo import read_logo

LIMITS = load_rules().settings
SVG = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" viewBox="0 0 40 20">{}</svg>'


def read(folder: Path, data: bytes | str) -> Logo | list[str]:
    path = folder / "logo"
    path.write_bytes(data if isinstance(data, bytes) else data.encode())
    return read_logo(path, LIMITS)


def png(width: int, height: int, mode: str = "RGB") -> bytes:
    made = io.BytesIO()
    Image.new(mode, (width, height)).save(made, "PNG")
    return made.getvalue()


@pytest.mark.parametrize(
    "inside",
    [
        '<path d="M0 0L40 20"/>',
        '<defs><linearGradient id="g"><stop offset="0" stop-color="#123456"/></linearGradient></defs>'
        '<rect width="9" height="9" fill="url(#g)" style="stroke:url(\'#g\')"/>',
        "<style>.a{fill:#123456}</style><!-- a note --><g class='a'><circle r='3'/></g>",
    ],
)
def test_a_plain_drawing_is_taken(tmp_path: Path, inside: str) -> None:
    found = read(tmp_path, SVG.format(inside))
    assert isinstance(found, Logo), found
    assert (found.kind, found.ratio) == ("svg", 2.0)


@pytest.mark.parametrize(
    "inside",
    [
        "<script>alert(1)</script>",
        '<rect width="9" height="9" onclick="alert(1)"/>',
        '<a href="javascript:alert(1)"><rect width="9" height="9"/></a>',
        '<image href="https://example.org/x.png"/>',
        '<image xlink:href="data:image/png;base64,AAAA"/>',
        '<foreignObject><p xmlns="http://www.w3.org/1999/xhtml">x</p></foreignObject>',
        '<p xmlns="http://www.w3.org/1999/xhtml">x</p>',
        "<style>@import url(https://example.org/x.css);</style>",
        '<rect width="9" height="9" fill="url(https://example.org/x#g)"/>',
        '<rect width="9" height="9" style="fill:url( //example.org/x )"/>',
        '<rect width="9" height="9"><animate attributeName="x" to="9"/></rect>',
        "<text>approved</text>",
        '<use xlink:href="#a"/>',
    ],
)
def test_whatever_does_more_than_draw_is_refused(tmp_path: Path, inside: str) -> None:
    assert isinstance(read(tmp_path, SVG.format(inside)), list)


@pytest.mark.parametrize(
    "data",
    [
        '<!DOCTYPE svg [<!ENTITY a "aaaa">]>' + SVG.format("<path d='M0 0'/>"),
        SVG.format("<path d='M0 0'/>").replace(' viewBox="0 0 40 20"', ""),
        SVG.format("<path d='M0 0'/>").replace("0 0 40 20", "0 0 40 0"),
        SVG.format("<path d='M0 0'/>").replace("0 0 40 20", "0 0 4000 20"),
        SVG.format("<path d='M0 0'/>").replace("</svg>", ""),
        SVG.format("<path d='M0 0'/>").encode("utf-16"),
        "<html><svg/></html>",
        SVG.format(f"<path d='M0 0{' L1 1' * 20_000}'/>"),
        b"GIF89a" + bytes(40),
        b"",
        png(9, 9)[:40],
        png(2001, 1000),
        png(700, 100),
        b"\x89PNG\r\n\x1a\n" + bytes(100_000),
    ],
    ids=lambda data: str(data[:24]),
)
def test_what_is_damaged_huge_or_no_picture_is_refused(tmp_path: Path, data: bytes | str) -> None:
    assert isinstance(read(tmp_path, data), list)


def test_a_small_png_is_taken(tmp_path: Path) -> None:
    found = read(tmp_path, png(300, 100, "RGBA"))
    assert isinstance(found, Logo)
    assert (found.kind, found.ratio) == ("png", 3.0)


def test_a_file_that_is_not_there_is_told(tmp_path: Path) -> None:
    assert isinstance(read_logo(tmp_path / "nowhere.svg", LIMITS), list)
