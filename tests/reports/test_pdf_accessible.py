"""Every kind of print page, read by its tags as a screen reader would: ISO 14289-1 (PDF/UA-1), as a program sees it.

The typesetter checks the same standard while it writes (sheets/pdf.py); these tests read what came out, with another
library. The numbers behind the checks are clauses of ISO 14289-1:2014.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader
from pypdf.generic import ArrayObject, DictionaryObject

PER_KIND = 3


def _kind(path: Path, components: set[str]) -> str:
    stem = path.stem
    owner = max((name for name in components if stem == name or stem.startswith(f"{name}-")), key=len, default="")
    return f"{path.parent.name}/*{stem.removeprefix(owner)}" if owner else f"{path.parent.name}/{stem}"


@pytest.fixture(scope="module")
def printed(built_pages: Path) -> list[Path]:
    """Of every kind of print page the smallest, the largest and one between."""
    from evidence.model.shipped import data_folder

    components = {line.split(",")[0] for line in (data_folder() / "components.csv").read_text("utf-8").splitlines()}
    kinds: dict[str, list[Path]] = defaultdict(list)
    for path in sorted(built_pages.rglob("*.pdf")):
        kinds[_kind(path, components)].append(path)
    chosen: list[Path] = []
    for paths in kinds.values():
        by_size = sorted(paths, key=lambda path: (path.stat().st_size, path.name))
        chosen += list(dict.fromkeys([by_size[0], by_size[len(by_size) // 2], by_size[-1]]))[:PER_KIND]
    assert chosen
    return chosen


@dataclass
class Tree:
    """What the structure tree holds: kinds of element in reading order, and alternative texts of figures."""

    kinds: list[str] = field(default_factory=list)
    figures: list[str] = field(default_factory=list)
    tables: list[list[str]] = field(default_factory=list)


def _children(element: Any) -> Iterator[DictionaryObject]:
    inside = element.get("/K")
    inside = inside.get_object() if inside is not None else ArrayObject()
    for child in inside if isinstance(inside, ArrayObject) else [inside]:
        found = child.get_object()
        if isinstance(found, DictionaryObject) and "/S" in found:
            yield found


def _walk(element: Any, tree: Tree, table: list[str] | None = None) -> None:
    for child in _children(element):
        kind = str(child["/S"]).removeprefix("/")
        tree.kinds.append(kind)
        mine = table
        if kind == "Table":
            mine = []
            tree.tables.append(mine)
        elif table is not None:
            table.append(kind)
        if kind == "Figure":
            tree.figures.append(str(child.get("/Alt", "")))
        _walk(child, tree, mine)


def _read(path: Path) -> tuple[PdfReader, Any, Tree]:
    reader = PdfReader(path)
    tree = Tree()
    _walk(reader.root_object["/StructTreeRoot"], tree)
    return reader, reader.root_object, tree


def _squeezed(text: str) -> str:
    return re.sub(r"\s+", "", text)


def test_a_file_says_that_it_is_tagged_in_which_language_and_by_what_title(printed: list[Path]) -> None:
    for path in printed:
        reader, catalogue, _ = _read(path)
        assert catalogue["/MarkInfo"]["/Marked"].value is True, path.name  # 7.1
        assert str(catalogue["/Lang"])[:2] in ("en", "fr", "es"), path.name  # 7.2
        assert catalogue["/ViewerPreferences"]["/DisplayDocTitle"].value is True, path.name  # 7.1
        described = catalogue["/Metadata"].get_object().get_data().decode()
        assert re.search(r"<pdfuaid:part>1</pdfuaid:part>", described), path.name  # clause 5
        (title,) = re.findall(r"<dc:title>.*?<rdf:li[^>]*>(.+?)</rdf:li>", described, flags=re.DOTALL)
        assert reader.metadata is not None and reader.metadata.title, path.name
        assert len(title) > 5, path.name


def test_a_file_longer_than_a_page_has_bookmarks(printed: list[Path]) -> None:
    for path in printed:
        reader, *_ = _read(path)
        assert len(reader.pages) == 1 or len(reader.outline) >= 2, path.name


def test_headings_come_in_order(printed: list[Path]) -> None:
    # 7.4.2: no level is left out on the way down
    for path in printed:
        levels = [int(kind[1]) for kind in _read(path)[2].kinds if re.fullmatch(r"H[1-6]", kind)]
        before = 1 if "Title" in _read(path)[2].kinds else 0
        for level in levels:
            assert level <= before + 1, (path.name, levels)
            before = level


def test_every_figure_is_told_in_words_that_the_page_does_not_print_again(printed: list[Path]) -> None:
    # 7.3
    for path in printed:
        reader, _, tree = _read(path)
        page = _squeezed(" ".join(each.extract_text() for each in reader.pages))
        for words in tree.figures:
            assert words.strip(), path.name
            assert _squeezed(words) not in page, (path.name, words)


def test_tables_have_heading_cells(printed: list[Path]) -> None:
    # 7.5
    for path in printed:
        for kinds in _read(path)[2].tables:
            assert "TH" in kinds and "TR" in kinds, path.name


def test_every_font_is_in_the_file(printed: list[Path]) -> None:
    # 7.21.4.1
    for path in printed:
        for page in PdfReader(path).pages:
            resources: Any = page["/Resources"].get_object()
            for font in resources.get("/Font", {}).values():
                found = font.get_object()
                inner = found["/DescendantFonts"][0].get_object() if "/DescendantFonts" in found else found
                described = inner["/FontDescriptor"].get_object()
                assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(described), (path.name, found["/BaseFont"])


def test_links_stand_in_the_tree_and_pages_are_read_in_its_order(printed: list[Path]) -> None:
    # 7.18.3 and 7.18.5
    for path in printed:
        reader, _, tree = _read(path)
        notes = [note.get_object() for page in reader.pages for note in page.get("/Annots") or []]
        links = [note for note in notes if note["/Subtype"] == "/Link"]
        assert not links or "Link" in tree.kinds, path.name
        assert all("/StructParent" in note and note.get("/Contents") for note in links), path.name
        assert all(page.get("/Tabs") == "/S" for page in reader.pages if page.get("/Annots")), path.name
