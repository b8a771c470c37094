"""whatstays sheet: one page for one client's own milk, from the path it went."""

from __future__ import annotations

import argparse
import re
from pathlib import Path
from typing import TYPE_CHECKING

from reports.command.bring import add_store_option
from reports.command.language import add_language_option
from reports.command.with_settings import add_settings_option, chosen_settings

if TYPE_CHECKING:
    from evidence.model.problems import Problem
    from evidence.model.rules import Rules

__all__ = ["add_arguments", "read_batch", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of sheet."""
    parser.add_argument(
        "--path", required=True, metavar="CHAIN", dest="chain",
        help='the steps this milk went through, as in "expressed > frozen -20C 60d > thawed > freeze-dried"',
    )  # fmt: skip
    parser.add_argument(
        "--batch", metavar="ID", default="",
        help="your own number of the batch, printed on the page; no client's name: none is asked for or stored",
    )  # fmt: skip
    parser.add_argument("--mass-in", metavar="MASS", help="milk put in, as in 4800g (g, kg, oz, lb: weights)")
    parser.add_argument("--mass-out", metavar="MASS", help="powder that came out, as in 560g")
    parser.add_argument("--bag", metavar="MASS", help="powder in one bag, as in 15g: the page then says how much water")
    parser.add_argument(
        "--out", type=Path, default=Path("sheets"), metavar="DIR", help="folder to write into (default: sheets)"
    )
    parser.add_argument(
        "--unbranded", action="store_true", help="the twin that a clinic may hand out, with no service's name"
    )
    parser.add_argument(
        "--paper",
        choices=("a4", "letter"),
        default=None,
        help="size of the printed page (default: your settings', or a4)",
    )
    add_language_option(parser)
    add_settings_option(parser)
    add_store_option(parser)


def read_batch(text: str, rules: Rules) -> list[Problem]:
    """Return what is wrong with a batch's name."""
    from evidence.model.problems import Problem

    most = rules.client.batch_letters
    if len(text) <= most and re.fullmatch(r"[\w .,/#()+:-]*", text):
        return []
    allowed = f"at most {most} letters, digits, spaces and . , / # ( ) + : - _"
    return [Problem("--batch", None, None, text, allowed)]


def run(options: argparse.Namespace) -> int:
    """Write the sheet and say where it is; exit status 3 where studies say nothing of any of its parts."""
    from evidence.findings import ensure_evidence
    from evidence.findings.mixing import Mixing, read_mixing
    from evidence.findings.path_store import path_evidence
    from evidence.handling import Chain
    from evidence.model.problems import InputProblems, Problem
    from evidence.model.rules import load_rules
    from evidence.model.tables import Caution, Study
    from evidence.store import open_store
    from evidence.store.reading import all_rows, edition
    from reports.command.path import read_chain
    from reports.sheets.brand import dressed
    from reports.sheets.layout import file_name
    from reports.sheets.one_milk import OneMilkMaker
    from reports.sheets.one_milk_page import one_milk_html, one_milk_pdf
    from reports.sheets.pdf import PdfRenderer
    from reports.words.catalogue import load_catalogue
    from reports.words.path_words import PathWords

    rules = load_rules()
    problems = read_batch(options.batch, rules)
    chain: Chain | None = None
    mixing: Mixing | None = None
    try:
        chain = read_chain(options.chain, "--path")
    except InputProblems as found:
        problems += found.problems
    try:
        mixing = read_mixing(options.mass_in, options.mass_out, options.bag, rules)
    except InputProblems as found:
        problems += found.problems
    if problems or chain is None:
        raise InputProblems(problems)
    settings = chosen_settings(options)
    store = open_store(options.store)
    ensure_evidence(store)
    evidence, there = path_evidence(store), edition(store)
    assert there is not None, "ensure_evidence came first"
    words = PathWords(
        dict(evidence.components), {study.key: study for study in all_rows(store, Study)},
        load_catalogue(options.lang, "path"), load_catalogue(options.lang), evidence.rules,
    )  # fmt: skip
    maker = OneMilkMaker(evidence, words, all_rows(store, Caution), there)
    content = maker.sheet(chain, batch=options.batch.strip(), mixing=mixing, unbranded=options.unbranded)
    content = dressed(content, settings, load_catalogue(options.lang, "settings"))
    page = one_milk_html(content)
    print_page = one_milk_pdf(content, PdfRenderer())
    name = options.out / file_name(content)
    try:
        options.out.mkdir(parents=True, exist_ok=True)
        name.with_suffix(".html").write_text(page, encoding="utf-8")
        name.with_suffix(".pdf").write_bytes(print_page)
    except OSError as refused:
        raise InputProblems(
            [Problem("--out", None, None, f"{options.out} ({refused.strerror})", "a folder that can be written")]
        ) from None
    print(f"{name}.html and .pdf")
    return 0 if any(tread.mark != "missing" for row in content.rows for tread in row.stair.treads) else 3
