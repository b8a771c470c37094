"""Whether a file is a spreadsheet that is safe to unpack, seen before any of it is read (Office Open XML, ECMA-376)."""

from __future__ import annotations

import re
import zipfile
from collections.abc import Iterator
from pathlib import Path
from xml.etree import ElementTree

from evidence.model.problems import InputProblems, Problem
from evidence.model.rules import SpreadsheetRules

__all__ = ["merged_cells", "refuse_unsafe"]

_CHUNK = 1 << 20
_OVERLAP = 256
# a compound file: an old binary spreadsheet, or a new one locked with a password
_COMPOUND = bytes.fromhex("d0cf11e0a1b11ae1")
_ENTITIES = re.compile(rb"<!\s*(DOCTYPE|ENTITY)|<\0!\0D\0O\0C\0T\0Y|\0<\0!\0D\0O\0C\0T\0Y", re.IGNORECASE)
_MERGED = re.compile(rb"<(?:\w+:)?mergeCell\s[^>]*?ref=[\"']([A-Z]+\d+(?::[A-Z]+\d+)?)[\"']")
_MEGABYTE = 1_000_000


def _refuse(path: Path, read: str, allowed: str) -> InputProblems:
    return InputProblems([Problem(path.name, None, None, read, allowed)])


def _chunks(archive: zipfile.ZipFile, part: str) -> Iterator[bytes]:
    """Yield a part in pieces that overlap, so that nothing short is cut in two."""
    tail = b""
    with archive.open(part) as file:
        while piece := file.read(_CHUNK):
            yield tail + piece
            tail = piece[-_OVERLAP:]


def _first_bytes(path: Path) -> bytes:
    if path.is_dir():
        raise _refuse(path, "a folder", "a spreadsheet (.xlsx)")
    if path.exists() and not path.is_file():
        raise _refuse(path, "a device or a pipe", "a spreadsheet (.xlsx)")
    try:
        with path.open("rb") as file:
            return file.read(len(_COMPOUND))
    except FileNotFoundError:
        raise _refuse(path, str(path), "a file that exists") from None
    except OSError as error:
        raise _refuse(path, error.strerror or "no access", "a file that can be read") from None


def refuse_unsafe(path: Path, limits: SpreadsheetRules) -> None:
    """Raise InputProblems where a file is no .xlsx, is locked, or would unpack into more than the limits allow."""
    begins = _first_bytes(path)
    if not begins:
        raise _refuse(path, "an empty file", "a spreadsheet (.xlsx)")
    if begins == _COMPOUND:
        allowed = "an .xlsx file without a password: save it again as .xlsx, with no password"
        raise _refuse(path, "a spreadsheet locked with a password, or in the old .xls format", allowed)
    try:
        with zipfile.ZipFile(path) as archive:
            parts = archive.infolist()
            _refuse_parts(path, parts, limits)
            for part in parts:
                if part.filename.endswith((".xml", ".rels")):
                    _refuse_entities(path, archive, part.filename)
    except InputProblems:
        raise
    except (zipfile.BadZipFile, zipfile.LargeZipFile, EOFError, OSError, NotImplementedError, ValueError) as error:
        raise _refuse(path, f"no whole spreadsheet ({error})", "an .xlsx file that opens") from None
    except Exception as error:  # zlib and lzma raise errors of their own on damaged data
        raise _refuse(path, f"a damaged file ({type(error).__name__})", "an .xlsx file that opens") from None


def _refuse_parts(path: Path, parts: list[zipfile.ZipInfo], limits: SpreadsheetRules) -> None:
    names = [part.filename for part in parts]
    if any(part.flag_bits & 1 for part in parts):
        raise _refuse(path, "a locked archive", "an .xlsx file without a password")
    if "xl/workbook.xml" not in names:
        raise _refuse(path, "an archive that holds no workbook", "a spreadsheet saved as .xlsx")
    if len(set(names)) < len(names):
        raise _refuse(path, "an archive with two parts of one name", "an .xlsx file that a spreadsheet program saved")
    size = sum(part.file_size for part in parts)
    packed = max(1, sum(part.compress_size for part in parts))
    if size > limits.most_unpacked_megabytes * _MEGABYTE:
        allowed = f"at most {limits.most_unpacked_megabytes:g} MB when unpacked"
        raise _refuse(path, f"{size / _MEGABYTE:,.0f} MB when unpacked", allowed)
    if size > limits.ratio_from_megabytes * _MEGABYTE and size / packed > limits.most_unpacked_ratio:
        allowed = f"at most {limits.most_unpacked_ratio:g} times its own size when unpacked"
        raise _refuse(path, f"a file that unpacks to {size / packed:,.0f} times its size", allowed)


def _refuse_entities(path: Path, archive: zipfile.ZipFile, part: str) -> None:
    for chunk in _chunks(archive, part):
        if _ENTITIES.search(chunk):
            raise _refuse(path, f"definitions of its own in {part}", "an .xlsx file that a spreadsheet program saved")


def _sheet_parts(archive: zipfile.ZipFile) -> dict[str, str]:
    """Return sheet name -> part, from the workbook and its relations."""
    relations = ElementTree.fromstring(archive.read("xl/_rels/workbook.xml.rels"))
    targets = {each.get("Id", ""): each.get("Target", "") for each in relations}
    found: dict[str, str] = {}
    for element in ElementTree.fromstring(archive.read("xl/workbook.xml")).iter():
        if element.tag.endswith("}sheet"):
            relation = next((value for name, value in element.items() if name.endswith("}id")), "")
            target = targets.get(relation, "")
            found[element.get("name", "")] = target.lstrip("/") if target.startswith("/") else f"xl/{target}"
    return found


def merged_cells(path: Path, sheet: str) -> tuple[str, ...]:
    """Return the merged ranges of a sheet, such as B4:B9; the file must have passed refuse_unsafe."""
    with zipfile.ZipFile(path) as archive:
        part = _sheet_parts(archive).get(sheet)
        if part is None or part not in archive.namelist():
            return ()
        ranges = [found.decode() for chunk in _chunks(archive, part) for found in _MERGED.findall(chunk)]
    return tuple(dict.fromkeys(ranges))
