"""whatstays demo: pages of an invented service's invented series, marked as invented, in a store of their own."""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path

__all__ = ["add_arguments", "run"]


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Add the options of demo."""
    parser.add_argument(
        "--out",
        type=Path,
        default=Path("demo-sheets"),
        metavar="DIR",
        help="folder to write into (default: demo-sheets)",
    )


def run(options: argparse.Namespace) -> int:
    """Write the invented pages."""
    from evidence.findings.edition import import_alone
    from evidence.model.shipped import data_folder
    from evidence.store import open_store
    from reports.site.build import write_site
    from reports.site.compose import compose_site
    from reports.words.catalogue import load_catalogue

    folder = data_folder() / "demo"
    with tempfile.TemporaryDirectory() as aside:
        store = open_store(str(Path(aside) / "demo.sqlite"))
        import_alone(store, [folder / "study.bib", folder / "measurements.csv"])
        site = compose_site(store, banner=load_catalogue().say("demo/banner"))
        store.close()
    write_site(options.out, site.pages, site.index, site.evidence, site.texts)
    print(f"{len(site.sheets)} INVENTED sheets and an index: {options.out / 'index.html'}")
    return 0
