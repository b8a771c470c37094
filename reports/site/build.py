"""Writes all sheets and the list: everything is made aside first and moved into place only if all of it succeeded."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections import Counter
from collections.abc import Callable, Collection, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from multiprocessing import get_context
from pathlib import Path

from reports.sheets.content import SheetContent
from reports.sheets.family.content import FamilyPage
from reports.sheets.family.render import render_family_html, render_family_pdf
from reports.sheets.html import draw_charts, render_html
from reports.sheets.layout import file_name, layout_words, ready
from reports.sheets.pdf import PdfRenderer
from reports.site.evidence_pages import EvidencePage
from reports.site.index import IndexContent, render_index
from reports.site.made import MANIFEST, Made, content_digest, file_digest, read_made

__all__ = ["SiteWritten", "unchanged_site", "write_site"]

INDEX = "index"

Page = SheetContent | FamilyPage


@dataclass(frozen=True)
class SiteWritten:
    """What stands there now: the number of files, their size together, and pages that are not of this edition.

    others are file names, sorted; they were left as they were. unchanged counts pages that stood there already and were
    not made again.
    """

    pages: int
    bytes: int
    others: tuple[str, ...]
    unchanged: int = 0


def write_site(
    out: Path,
    pages: Sequence[Page],
    index: IndexContent,
    evidence: Sequence[EvidencePage] = (),
    texts: Sequence[tuple[str, str]] = (),
    *,
    workers: int | None = None,
    progress: Callable[[int, int], None] | None = None,
    asked: str = "",
) -> SiteWritten:
    """Write slug.html and slug.pdf of every page, index.html, the evidence pages and the texts into the folder out.

    Pages that stand there as they were made, from the same content, are not made again. workers: processes to use
    (None: one a processor; 1: no other process); the bytes do not depend on it. progress is called with (pages done,
    pages in all). asked is kept for unchanged_site. Raises ValueError with every reason together, before anything is
    written.
    """
    _refuse(out, pages, index)
    out.parent.mkdir(parents=True, exist_ok=True)
    before = read_made(out)
    contents = {file_name(page): content_digest(page) for page in pages}
    standing = {
        name for name, digest in contents.items()
        if before.contents.get(name) == digest and before.whole(out, _files(name))
    }  # fmt: skip
    changed = [page for page in pages if file_name(page) not in standing]
    with _aside(out) as folder:
        (folder / f"{INDEX}.html").write_bytes(render_index(index).encode())
        for page in evidence:
            (folder / f"{page.name}.html").write_bytes(page.html.encode())
        for name, text in texts:
            (folder / name).write_text(text, encoding="utf-8")
        for done in _made(changed, folder, workers):
            if progress:
                progress(len(standing) + done, len(pages))
        kept = {name: before.files[name] for page in sorted(standing) for name in _files(page)}
        files = kept | {path.name: file_digest(path.read_bytes()) for path in sorted(folder.iterdir())}
        (folder / MANIFEST).write_text(Made(asked, contents, files).as_text(), encoding="utf-8")
        return _move(folder, out, files, len(standing))


def unchanged_site(out: Path, asked: str) -> SiteWritten | None:
    """Return what stands in the folder where it was made from the same and nothing of it is missing or changed."""
    made = read_made(out)
    if not asked or made.asked != asked or not made.whole(out):
        return None
    size = sum((out / name).stat().st_size for name in made.files)
    return SiteWritten(len(made.files), size, _others(out, made.files), len(made.contents))


def _files(name: str) -> tuple[str, str]:
    return f"{name}.html", f"{name}.pdf"


def _refuse(out: Path, pages: Sequence[Page], index: IndexContent) -> None:
    reasons: list[str] = []
    if out.exists() and not out.is_dir():
        reasons.append(f'"{out}" is a file; the pages need a folder.')
    for sheet in pages:
        try:
            ready(sheet)
            layout_words(sheet.language)
        except ValueError as refused:
            reasons.append(str(refused))
    counts = Counter(file_name(sheet) for sheet in pages)
    reasons += [
        f'{count} pages have the file name "{name}"; each needs its own.' for name, count in counts.items() if count > 1
    ]
    if INDEX in counts:
        reasons.append(f'A page has the file name "{INDEX}", which is the name of the list.')
    missing = sorted({entry.slug for entry in index.entries} - set(counts))
    reasons += [f'The list names "{slug}", but there is no such sheet.' for slug in missing]
    if reasons:
        raise ValueError("\n".join([*reasons, "Nothing was written."]))


@contextmanager
def _aside(out: Path) -> Iterator[Path]:
    folder = Path(tempfile.mkdtemp(prefix=f".{out.name}-", dir=out.parent))
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def _made(pages: Sequence[Page], folder: Path, workers: int | None) -> Iterator[int]:
    """Write every page into the folder; yields how many are done."""
    processes = min(workers or os.cpu_count() or 1, len(pages))
    if processes <= 1:
        for done, page in enumerate(pages, start=1):
            _write_page(page, folder)
            yield done
        return
    # Started afresh, not forked: the typesetter runs threads of its own.
    with ProcessPoolExecutor(processes, mp_context=get_context("spawn"), initializer=_one_thread) as pool:
        tasks = [pool.submit(_write_page, page, folder) for page in pages]
        try:
            for done, task in enumerate(as_completed(tasks), start=1):
                task.result()
                yield done
        finally:
            pool.shutdown(wait=True, cancel_futures=True)


def _one_thread() -> None:
    # One processor each: the typesetter's own threads would only take them from one another.
    os.environ.setdefault("RAYON_NUM_THREADS", "1")


def _write_page(page: Page, folder: Path) -> None:
    name = file_name(page)
    if isinstance(page, FamilyPage):
        html, pdf = render_family_html(page), render_family_pdf(page, _renderer())
    else:
        charts = draw_charts(page)
        html, pdf = render_html(page, charts), _renderer().render(page, charts)
    (folder / f"{name}.html").write_bytes(html.encode())
    (folder / f"{name}.pdf").write_bytes(pdf)


@lru_cache(maxsize=1)
def _renderer() -> PdfRenderer:
    return PdfRenderer()


def _move(folder: Path, out: Path, files: Collection[str], unchanged: int) -> SiteWritten:
    out.mkdir(exist_ok=True)
    (out / MANIFEST).unlink(missing_ok=True)  # a list that a power cut leaves behind would promise too much
    for path in sorted(folder.iterdir(), key=lambda path: (path.name == MANIFEST, path.name)):
        path.replace(out / path.name)
    size = sum((out / name).stat().st_size for name in files)
    return SiteWritten(pages=len(files), bytes=size, others=_others(out, files), unchanged=unchanged)


def _others(out: Path, files: Collection[str]) -> tuple[str, ...]:
    pages = (path.name for path in out.iterdir() if path.suffix in (".html", ".pdf"))
    return tuple(sorted(name for name in pages if name not in files))
