"""A real browser for layout tests: opens a page at a width and returns what a script found in it."""

from __future__ import annotations

import html
import json
import os
import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

__all__ = ["find_chromium", "in_browser", "printed_by_browser"]

FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--hide-scrollbars",
    "--virtual-time-budget=4000",
)

HOST = """<!DOCTYPE html><meta charset="utf-8"><iframe id="frame" style="border:0" width="{width}" height="{height}"
srcdoc="{page}"></iframe><pre id="found"></pre><script>addEventListener("load", async function () {{
const view = document.getElementById("frame").contentWindow, page = view.document;
const answer = await (async function () {{ {script} }})();
document.getElementById("found").textContent = JSON.stringify(answer); }});</script>"""


def find_chromium() -> str:
    """The browser's path; without one a test is skipped, but fails where the environment says CI=true."""
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        if os.environ.get("CI") == "true":
            pytest.fail("No chromium on this machine, and CI=true: layout tests may not be left out.")
        pytest.skip("No chromium on this machine.")
    return found


def in_browser(page: str, script: str, folder: Path, width: int = 320, height: int = 844) -> Any:
    """Run a script against the page (`page` the document, `view` its window) and return its value."""
    host = folder / "host.html"
    host.write_text(HOST.format(width=width, height=height, page=html.escape(page), script=script), encoding="utf-8")
    command = [find_chromium(), *FLAGS, f"--user-data-dir={folder / 'profile'}", "--dump-dom", host.as_uri()]
    shown = subprocess.run(command, capture_output=True, text=True, timeout=120, check=True).stdout
    found = re.search(r'<pre id="found">(.*?)</pre>', shown, flags=re.DOTALL)
    assert found is not None, "The browser returned nothing."
    return json.loads(html.unescape(found.group(1)))


def printed_by_browser(page: str, folder: Path) -> Path:
    """The page as the browser prints it: a PDF file."""
    source, target = folder / "page.html", folder / "page.pdf"
    source.write_text(page, encoding="utf-8")
    options = [f"--user-data-dir={folder / 'profile'}", f"--print-to-pdf={target}"]
    subprocess.run([find_chromium(), *FLAGS, *options, source.as_uri()], capture_output=True, timeout=120, check=True)
    return target
