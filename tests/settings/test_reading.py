"""A settings file: what it may say, and every problem told at once with where it stands."""

from __future__ import annotations

from pathlib import Path

import pytest

from evidence.model.problems import InputProblems, Problem
from reports.settings import PLAIN, Settings, find_settings, read_settings

GOOD = """
[service]
name = "Sandhaven Milk Drying"
country = "norway"
contact = "milk@example.org"
pages_at = "https://example.org/milk"
legal_status = ""
[pages]
languages = ["en"]
units = "us"
paper = "Letter"
[look]
main_colour = "#7A1F5C"
second_colour = ""
"""


def written(folder: Path, text: str) -> Path:
    path = folder / "whatstays.toml"
    path.write_text(text, encoding="utf-8")
    return path


def problems(folder: Path, text: str) -> tuple[Problem, ...]:
    with pytest.raises(InputProblems) as found:
        read_settings(written(folder, text))
    return found.value.problems


def changed(old: str, new: str) -> str:
    assert old in GOOD
    return GOOD.replace(old, new)


def test_a_good_file_is_read(tmp_path: Path) -> None:
    read = read_settings(written(tmp_path, GOOD))
    assert (read.name, read.country, read.units, read.paper) == ("Sandhaven Milk Drying", "NO", "us", "letter")
    assert read.main_colour is not None and read.main_colour.light == "#7a1f5c"
    assert read.main_colour.dark != read.main_colour.light  # too dark for a dark page
    assert read.second_colour is None


def test_only_a_name_is_needed(tmp_path: Path) -> None:
    assert read_settings(written(tmp_path, '[service]\nname = "Milk"')) == Settings(name="Milk")
    assert Settings() == PLAIN


def test_all_problems_are_told_at_once_with_file_line_and_key(tmp_path: Path) -> None:
    text = GOOD.replace('"norway"', '"Noray"').replace('"us"', '"metrik"').replace("#7A1F5C", "#ffee00")
    found = problems(tmp_path, text + 'wrong = 1\n[looks]\nlogo = "x"\n')
    told = [problem.sentence() for problem in found]
    assert len(told) == 5
    assert all("whatstays.toml, line " in sentence for sentence in told)
    for words in (
        ("line 4, key country", "'Noray'", "NO (Norway)"),
        ("line 10, key units", "'metrik'", "metric or us", "Nearest known: metric"),
        ("key main_colour", "'#ffee00'", "WCAG 2.2", "Nearest known: #"),
        ("line 15, key wrong", "the keys logo, main_colour, second_colour"),
        ("line 16, key looks", "Nearest known: look"),
    ):
        assert any(all(word in sentence for word in words) for sentence in told), (words, told)


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ('"Sandhaven Milk Drying"', '""', "name"),
        ('"Sandhaven Milk Drying"', '"   "', "name"),
        ('"Sandhaven Milk Drying"', "7", "name"),
        ('"Sandhaven Milk Drying"', '"two\\nlines"', "name"),
        ('"Sandhaven Milk Drying"', '"turned \\u202e round"', "name"),
        ('"Sandhaven Milk Drying"', '"un\\u200bseen"', "name"),
        ('"Sandhaven Milk Drying"', '"Z\\u0300\\u0301\\u0302\\u0303algo"', "name"),
        ('"Sandhaven Milk Drying"', '"----"', "name"),
        ('"Sandhaven Milk Drying"', f'"{"W" * 61}"', "name"),
        ('"milk@example.org"', f'"{"m" * 161}"', "contact"),
        ('"https://example.org/milk"', '"javascript:alert(1)"', "pages_at"),
        ('"https://example.org/milk"', '"example"', "pages_at"),
        ('["en"]', '["xx"]', "languages"),
        ('["en"]', '["en", "en"]', "languages"),
        ('["en"]', '"en"', "languages"),
        ('"Letter"', '"A5"', "paper"),
        ('"#7A1F5C"', '"#ffffff"', "main_colour"),  # the colour of the page itself
        ('"#7A1F5C"', '"#eeebf7"', "main_colour"),
        ('"#7A1F5C"', '"#000000;} .safe {display:none"', "main_colour"),
        ('second_colour = ""', 'second_colour = "#ffffff"', "second_colour"),
        ('second_colour = ""', 'second_colour = "display:none"', "second_colour"),
        ('second_colour = ""', 'logo = "nowhere.svg"', "logo"),
    ],
)
def test_what_is_wrong_is_told_by_its_key(tmp_path: Path, old: str, new: str, key: str) -> None:
    (problem,) = problems(tmp_path, changed(old, new))
    assert problem.column == key
    assert problem.row is not None


def test_a_file_that_is_no_toml_is_told_with_its_line(tmp_path: Path) -> None:
    (problem,) = problems(tmp_path, "[service]\nname = Milk\n")
    assert problem.row == 2
    assert "name = Milk" in problem.sentence()


def test_a_file_that_is_no_text_is_told(tmp_path: Path) -> None:
    path = tmp_path / "whatstays.toml"
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(InputProblems):
        read_settings(path)


def test_the_file_of_a_folder_is_found_by_its_name(tmp_path: Path) -> None:
    assert find_settings(tmp_path) is None
    assert find_settings(written(tmp_path, GOOD).parent) == tmp_path / "whatstays.toml"
