"""Every threshold is found beside its value and says where it comes from."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

from evidence.model.rule_sources import threshold, thresholds
from evidence.model.shipped import data_folder

# what a source may be: a paper by its DOI or year, a trial run, our own judgement, or what is usual; and since when
KIND = re.compile(
    r"10\.\d{4,}/|\b(19|20)\d\d\)|arXiv|prototype|judgement|common practice|welton2009|in the table|intake\.csv", re.I
)
SINCE = re.compile(r"\b20\d\d-\d\d\b")


def _flat(table: dict[str, object], before: str = "") -> dict[str, object]:
    found: dict[str, object] = {}
    for key, value in table.items():
        found |= _flat(value, f"{before}{key}.") if isinstance(value, dict) else {f"{before}{key}": value}
    return found


def test_the_reader_of_comments_and_the_formats_own_reader_see_the_same_thresholds() -> None:
    raw = _flat(tomllib.loads((data_folder() / "rules.toml").read_text(encoding="utf-8")))
    assert set(thresholds()) == set(raw)
    for key, value in raw.items():
        assert tomllib.loads(f"x = {threshold(key).value}")["x"] == value, key


def test_every_threshold_of_certainty_and_printing_says_its_own_why() -> None:
    text = (data_folder() / "rules.toml").read_text(encoding="utf-8")
    for section in ("printing", "certainty"):
        block = re.split(r"^\[", text.split(f"\n[{section}]\n")[1], flags=re.MULTILINE)[0]
        silent = [line for line in block.splitlines() if re.match(r"\w+ =", line) and " #" not in line]
        assert silent == []


def test_every_threshold_says_what_it_rests_on_and_since_when() -> None:
    # the fineness of a grid is no threshold of evidence; it says what it means beside it
    silent = [
        key
        for key, each in thresholds().items()
        if not key.startswith("likelihood.") and not (KIND.search(each.source) and SINCE.search(each.source))
    ]
    assert silent == []


def test_a_number_sign_in_a_value_is_no_comment(tmp_path: Path) -> None:
    path = tmp_path / "rules.toml"
    path.write_text('# Judgement, 2026-11.\n[one]\n# For words.\nwords = ["a #1", "b"]  # said so\n', encoding="utf-8")
    found = thresholds(path)["one.words"]
    assert found.value == '["a #1", "b"]'
    assert found.source == "said so; For words."
