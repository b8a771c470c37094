"""Text, Markdown, pages and word processor files: every visible sentence once, in order, unchanged."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import docx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from evidence.model.problems import InputProblems
from reports.claims.document import blocks_of, read_blocks, visible_text
from reports.claims.split import sentences_of, split_block

W = 'xmlns:w="http://schemas.openxmlformats.org/wordprocessingml/2006/main"'


def _stands_in_order(sentences: list[str], text: str) -> None:
    """Assert that the sentences are pieces of the text, one after the other, with nothing but blanks between."""
    place = 0
    for sentence in sentences:
        found = text.index(sentence, place)
        assert not text[place:found].strip(), text[place:found]
        place = found + len(sentence)
    assert not text[place:].strip(), text[place:]


@settings(max_examples=200, deadline=None)
@given(st.text(max_size=400))
def test_sentences_of_any_text_put_together_are_the_text(text: str) -> None:
    for kind in ("txt", "html", "md"):
        blocks = blocks_of(text, kind)
        _stands_in_order(sentences_of(blocks), visible_text(blocks))
    _stands_in_order(sentences_of(blocks_of(text)), text)


words = st.sampled_from(
    [
        "Vitamin",
        "C.",
        "stays!",
        "97",
        "%",
        "(of",
        "it)",
        "e.g.",
        "«Alles»",
        '"No',
        'loss."',
        "he",
        "says…",
        "¿Qué?",
        "1.5",
        "mL",
        "-",
        "*",
        "#",
        "1.",
        "<b>",
        "&amp;",
        "。",
        "A.B.",
        "Dr.",
        "X",
    ]
)


@settings(max_examples=200, deadline=None)
@given(st.lists(st.tuples(words, st.sampled_from([" ", "\n", "\n\n", "\t", " "])), max_size=40))
def test_sentences_of_text_with_many_ends_put_together_are_the_text(pieces: list[tuple[str, str]]) -> None:
    text = "".join(word + blank for word, blank in pieces)
    _stands_in_order(sentences_of(blocks_of(text)), text)


@pytest.mark.parametrize(
    ("block", "sentences"),
    [
        ("Vitamin C. Iron.", ["Vitamin C.", "Iron."]),
        ("About 1.5 mL, e.g. a drop. More.", ["About 1.5 mL, e.g. a drop.", "More."]),
        ("“No loss.” That is the promise!", ["“No loss.”", "That is the promise!"]),
        ("“No loss,” says Dr. Grey. Really?", ["“No loss,” says Dr. Grey.", "Really?"]),
        ("¿Se pierde algo? ¡No!", ["¿Se pierde algo?", "¡No!"]),
        ("Rien ne se perd… Vraiment ?", ["Rien ne se perd…", "Vraiment ?"]),
        ("营养素全部保留。安全。", ["营养素全部保留。", "安全。"]),
    ],
)
def test_where_a_sentence_ends(block: str, sentences: list[str]) -> None:
    assert split_block(block) == sentences


def test_lines_of_a_paragraph_belong_together_and_items_do_not() -> None:
    text = "# Title\n\nWe keep\nall nutrients.\n\n- safe\n- tested\n1. dried\n"
    assert sentences_of(blocks_of(text)) == ["# Title", "We keep\nall nutrients.", "- safe", "- tested", "1. dried"]


PAGE = """<!doctype html><html><head><title>All nutrients kept</title>
<meta name="description" content="Sterile &amp; safe.">
<script type="application/ld+json">{"@type": "Product", "description": "Approved by doctors."}</script>
<style>p::before { content: "never shown" }</style><script>var x = "hidden words";</script></head>
<body><h1>We <em>love</em> milk</h1><p>No<b>thing</b> is lost.<br>Ever. <img src=a alt="A happy baby"></p>
<ul><li>gentle<li>quick</ul><table><tr><td>Vitamin C</td><td>97&nbsp;%</td></tr></table>
<a href=x title="Better than formula">more</a><details><summary>Open</summary>Hidden until asked.</details>
<noscript>Without script.</noscript><!-- a note --><input type=submit value="Order now">
<template>not shown</template></body>"""


def test_a_page_is_read_as_it_is_seen_with_titles_descriptions_and_alternative_texts() -> None:
    blocks = blocks_of(PAGE, "html")
    text = visible_text(blocks)
    for seen in (
        "All nutrients kept", "Sterile & safe.", "Approved by doctors.", "We love milk", "Nothing is lost. Ever.",
        "A happy baby", "gentle", "quick", "Vitamin C", "97\xa0%", "Better than formula", "more", "Hidden until asked.",
        "Without script.", "Order now",
    ):  # fmt: skip
        assert seen in text, seen
    for unseen in ("never shown", "hidden words", "a note", "not shown", "<", "var x"):
        assert unseen not in text, unseen
    assert sum(block == "Vitamin C" for block in blocks) == 1


def test_markdown_is_read_as_it_is_shown() -> None:
    text = (
        "---\ntitle: No loss at all\n---\n# Our *milk*\n\nAll **nutrients** [kept](x 'Safe')\\.\n\n"
        "| a | b |\n|---|---|\n| 1 | 2 |\n\n![sterile](p.png)\n"
    )
    shown = visible_text(blocks_of(text, "md"))
    for part in ("No loss at all", "Our milk", "All nutrients kept.", "Safe", "sterile", "a", "2"):
        assert part in shown
    assert "**" not in shown and "|" not in shown and "p.png" not in shown


def _docx(path: Path, document: str, **parts: str | bytes) -> str:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("word/document.xml", document)
        for name, text in parts.items():
            archive.writestr(name.replace("__", "/"), text)
    return str(path)


def _paragraph(text: str) -> str:
    return f"<w:p><w:r><w:t>{text}</w:t></w:r></w:p>"


def test_a_word_file_is_read_with_cells_headers_titles_and_pictures(tmp_path: Path) -> None:
    body = (
        f"<w:p><w:r><w:t>No</w:t></w:r><w:r><w:t>thing is lost. </w:t></w:r></w:p>"
        f"<w:tbl><w:tr><w:tc>{_paragraph('Vitamin C')}</w:tc><w:tc>{_paragraph('97 %')}</w:tc></w:tr></w:tbl>"
        f'<w:p><w:drawing><docPr xmlns="urn:x" descr="A sterile room"/></w:drawing></w:p>'
        "<w:p><w:r><w:delText>gone</w:delText></w:r></w:p>"
    )
    name = _docx(
        tmp_path / "copy.docx",
        f"<w:document {W}><w:body>{body}</w:body></w:document>",
        word__header1_xml="",
        docProps__core_xml="",
    )
    with zipfile.ZipFile(name, "a") as archive:
        archive.writestr("word/header1.xml", f"<w:hdr {W}>{_paragraph('Safe milk')}</w:hdr>")
        archive.writestr("docProps/core.xml", "<x xmlns:dc='urn:y'><dc:title>Better than fresh</dc:title></x>")
    blocks = read_blocks(name)
    assert blocks == ["Better than fresh", "Safe milk", "Nothing is lost.", "Vitamin C", "97 %", "A sterile room"]


def test_a_word_file_made_by_a_word_processor_s_library_is_read(tmp_path: Path) -> None:
    made = docx.Document()
    made.add_heading("Our milk", 1)
    made.add_paragraph("Freeze-drying retains all nutrients.", style="List Bullet")
    made.add_table(1, 1).cell(0, 0).text = "Sterile."
    made.save(tmp_path / "made.docx")
    shown = visible_text(read_blocks(str(tmp_path / "made.docx")))
    assert [part in shown for part in ("Our milk", "Freeze-drying retains all nutrients.", "Sterile.")] == [True] * 3


def _bomb() -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("word/document.xml", b" " * 200_000_000)
    return packed.getvalue()


def _laughs() -> bytes:
    entities = "".join(f'<!ENTITY a{n} "{f"&a{n - 1};" * 10 if n else "lol"}">' for n in range(10))
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("word/document.xml", f"<!DOCTYPE x [{entities}]><x>&a9;</x>")
    return packed.getvalue()


def _empty_archive() -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w") as archive:
        archive.writestr("readme.txt", "nothing here")
    return packed.getvalue()


@pytest.mark.parametrize(
    ("name", "data", "told"),
    [
        ("bomb.docx", _bomb(), "50 MB"),
        ("laughs.docx", _laughs(), "document type declaration"),
        ("other.docx", _empty_archive(), "no document inside"),
        ("text.docx", b"just words", "word processor"),
        ("cut.docx", _empty_archive()[:40], "word processor"),
        ("picture.txt", b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "zero bytes"),
        ("latin.txt", "Réconfort".encode("latin-1"), "UTF-8"),
        ("sheet.xlsx", b"PK", ".docx"),
        ("page", b"words", "no ending"),
    ],
    ids=("bomb", "laughs", "other", "text", "cut", "picture", "latin", "sheet", "page"),
)
def test_what_cannot_be_read_is_said_in_a_sentence(name: str, data: bytes, told: str, tmp_path: Path) -> None:
    path = tmp_path / name
    path.write_bytes(data)
    with pytest.raises(InputProblems) as found:
        read_blocks(str(path))
    (problem,) = found.value.problems
    assert told in problem.sentence() and name in problem.sentence()


def test_a_missing_file_is_said_in_a_sentence(tmp_path: Path) -> None:
    with pytest.raises(InputProblems, match="No such file"):
        read_blocks(str(tmp_path / "none.txt"))


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=300))
def test_any_bytes_as_a_word_file_are_read_or_refused(data: bytes) -> None:
    from reports.claims.word import word_blocks

    with pytest.raises(InputProblems):
        word_blocks("any.docx", data)


def test_deep_nesting_breaks_nothing(tmp_path: Path) -> None:
    assert "deep" in visible_text(blocks_of("<div>" * 20_000 + "deep", "html"))
    inside = "<w:ins>" * 2_000 + _paragraph("deep") + "</w:ins>" * 2_000
    assert read_blocks(_docx(tmp_path / "deep.docx", f"<w:document {W}>{inside}</w:document>")) == ["deep"]
    assert visible_text(blocks_of("> " * 100 + "deep", "md"))
