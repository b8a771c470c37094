"""Built pages in a real browser, one after another: what a script finds on each, in light or dark."""

from __future__ import annotations

import html
import json
import re
import subprocess
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from tests.reports.browser import FLAGS, find_chromium

__all__ = ["chosen_pages", "on_pages", "shortened"]

HOST = """<!DOCTYPE html><html lang="en"><meta charset="utf-8"><title>host</title><pre id="found"></pre><script>
const pages = %(pages)s, prelude = %(prelude)s, found = {};
function loaded(address) {
  return new Promise(function (done) {
    const frame = document.createElement("iframe");
    frame.style = "border:0;width:%(width)dpx;height:%(height)dpx";
    frame.onload = function () { done(frame); };
    %(sandbox)s
    frame.src = address;
    document.body.append(frame);
  });
}
addEventListener("load", async function () {
  for (const address of pages) {
    const frame = await loaded(address), view = frame.contentWindow, page = view.document;
    if (prelude) { view.eval(prelude); }
    found[address] = await (async function () { %(script)s })();
    frame.remove();
  }
  document.getElementById("found").textContent = JSON.stringify(found);
});</script></html>"""
MOST_ROWS = 40


def on_pages(
    pages: Sequence[Path],
    script: str,
    folder: Path,
    *,
    width: int = 390,
    height: int = 844,
    dark: bool = False,
    reduced_motion: bool = False,
    javascript: bool = True,
    prelude: str = "",
) -> dict[Path, Any]:
    """Run a script against each page (`page` the document, `view` its window); return what it returned for each.

    prelude is run in the page first. javascript False: the page's own scripts do not run.
    """
    host = folder / "host.html"
    values = {
        "pages": json.dumps([page.as_uri() for page in pages]), "prelude": json.dumps(prelude).replace("</", "<\\/"),
        "script": script, "width": width, "height": height,
        "sandbox": "" if javascript else 'frame.sandbox = "allow-same-origin";',
    }  # fmt: skip
    host.write_text(HOST % values, encoding="utf-8")
    flags = [flag for flag in FLAGS if not flag.startswith("--virtual-time-budget")]
    flags += ["--virtual-time-budget=600000", "--allow-file-access-from-files", "--disable-web-security"]
    flags += [f"--blink-settings=preferredColorScheme={0 if dark else 1}", f"--window-size={width},{height}"]
    flags += ["--force-prefers-reduced-motion"] if reduced_motion else []
    command = [find_chromium(), *flags, f"--user-data-dir={folder / 'profile'}", "--dump-dom", host.as_uri()]
    shown = subprocess.run(command, capture_output=True, text=True, timeout=600, check=True).stdout
    read = re.search(r'<pre id="found">(.+?)</pre>', shown, flags=re.DOTALL)
    assert read is not None, "The browser returned nothing."
    told = json.loads(html.unescape(read.group(1)))
    return {page: told[page.as_uri()] for page in pages}


def chosen_pages(folder: Path) -> list[Path]:
    """The fewest pages that hold every kind of element, with its classes and in every language, that any page holds."""
    holds = {path: _kinds(path.read_text(encoding="utf-8")) for path in sorted(folder.rglob("*.html"))}
    wanted = set().union(*holds.values())
    chosen: list[Path] = []
    while wanted:
        best = max(holds, key=lambda path: (len(holds[path] & wanted), -path.stat().st_size, str(path)))
        chosen.append(best)
        wanted -= holds[best]
    return sorted(chosen)


def shortened(pages: Sequence[Path], folder: Path) -> list[Path]:
    """The same pages, their longest tables cut to their first rows: thousands alike take minutes to look at."""
    made: list[Path] = []
    for place, path in enumerate(pages):
        text = path.read_text(encoding="utf-8")
        text = re.sub(r"<table\b.*?</table>", lambda found: _cut(found.group()), text, flags=re.DOTALL)
        target = folder / f"{place:02d}-{path.name}"
        target.write_text(text, encoding="utf-8")
        made.append(target)
    return made


def _cut(table: str) -> str:
    rows = list(re.finditer(r"<tr\b.*?</tr>", table, flags=re.DOTALL))
    if len(rows) <= MOST_ROWS:
        return table
    start = rows[MOST_ROWS].start()
    table = table[:start] + re.sub(r"<tr\b.*?</tr>", "", table[start:], flags=re.DOTALL)
    return re.sub(r"<tbody[^>]*>\s*</tbody>", "", table)


def _kinds(page: str) -> set[tuple[str, ...]]:
    body = re.sub(r"<(script|style)\b.*?</\1>", "", page, flags=re.DOTALL)
    (language,) = re.findall(r'<html lang="([\w-]+)"', page)[:1]
    found: set[tuple[str, ...]] = set()
    for tag, attributes in re.findall(r"<([a-z][a-z0-9]*)\b([^>]*)>", body):
        classes = re.findall(r'\bclass="([^"]*)"', attributes)
        role = re.findall(r'\brole="([^"]*)"', attributes)
        found.add((language, tag, *classes, *role))
    return found
