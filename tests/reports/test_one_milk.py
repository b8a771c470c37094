"""The page of one client's milk as laid out: hostile text stays text, small pictures outlive a photocopy."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import pytest

from evidence.findings.mixing import read_mixing
from evidence.findings.path_store import path_evidence
from evidence.handling import parse_chain
from evidence.model.tables import Caution, Study
from evidence.store import Store
from evidence.store.reading import all_rows, edition
from reports.charts.paper import INK, QUIET
from reports.charts.small_stair import FLOOR, MOST, TOP, draw_small_stair
from reports.charts.stair import Stair, Tread
from reports.sheets.one_milk import OneMilkContent, OneMilkMaker
from reports.sheets.one_milk_page import one_milk_html
from reports.words.catalogue import load_catalogue
from reports.words.one_milk import expected
from reports.words.path_words import PathWords
from tests.reports.axe import violations
from tests.reports.browser import in_browser
from tests.reports.markup import read_page
from tests.reports.sample import HOSTILE


@pytest.fixture(scope="module")
def maker(shipped_store: Store) -> OneMilkMaker:
    """The maker of sheets for the shipped edition."""
    evidence, there = path_evidence(shipped_store), edition(shipped_store)
    assert there is not None
    words = PathWords(
        dict(evidence.components), {study.key: study for study in all_rows(shipped_store, Study)},
        load_catalogue(part="path"), load_catalogue(), evidence.rules,
    )  # fmt: skip
    return OneMilkMaker(evidence, words, all_rows(shipped_store, Caution), there)


@pytest.fixture(scope="module")
def content(maker: OneMilkMaker) -> OneMilkContent:
    """The sheet of the usual client's milk."""
    rules = maker.evidence.rules
    mixing = read_mixing("4800g", "560g", "15g", rules)
    return maker.sheet(parse_chain(rules.path.standard_chain), batch="7", mixing=mixing)


def test_hostile_text_stays_text(content: OneMilkContent) -> None:
    page = read_page(one_milk_html(replace(content, eyebrow=HOSTILE, lead=HOSTILE, water=(HOSTILE,))))
    assert not page.named("script")
    assert page.words().count(HOSTILE) == 3


def test_no_page_goes_out_without_cautions(content: OneMilkContent) -> None:
    with pytest.raises(ValueError, match="cautions"):
        one_milk_html(replace(content, keeping_safe=()))


def test_every_number_stands_with_what_it_was_compared_with(content: OneMilkContent) -> None:
    for row in content.rows:
        if re.search(r"\d+ fits", row.expected) or "at least" in row.expected:
            assert "parts in fresh milk" in row.expected or "in the milk just before" in row.expected


def test_what_is_expected_is_what_the_path_answer_holds(maker: OneMilkMaker) -> None:
    # the whole way, a part of it, one step alone, nothing: each sentence carries its own numbers and no others
    chain = parse_chain("expressed > frozen -20C 60d > thawed")
    answer = maker.evidence.answer("total-fat", chain, thorough=False)
    reach = answer.reach
    assert reach.retained_percent is not None and reach.ci_low is not None and reach.ci_high is not None
    numbers = [f"{value:.0f}" for value in (reach.retained_percent, 100, reach.ci_low, reach.ci_high)]
    assert re.findall(r"\d+", expected(answer, maker.words)) == numbers


def test_the_page_fits_a_small_phone(content: OneMilkContent, tmp_path: Path) -> None:
    script = "return [page.documentElement.scrollWidth, page.documentElement.clientWidth]"
    wide, room = in_browser(one_milk_html(content), script, tmp_path, width=320)
    assert wide <= room


@pytest.mark.parametrize(("width", "dark"), [(390, False), (1280, True)], ids=["phone in light", "desk in dark"])
def test_axe_finds_nothing_on_the_page(content: OneMilkContent, tmp_path: Path, width: int, dark: bool) -> None:
    page = tmp_path / "milk.html"
    page.write_text(one_milk_html(content), encoding="utf-8")
    assert violations([page], tmp_path, width=width, dark=dark) == []


def _small(*treads: Tread) -> str:
    marks = {"measured": "m", "joined": "j", "ends": "e", "missing": "?"}
    stair = Stair("Iron", "fresh", "parts", marks, ("a", "b", "c"), treads)  # type: ignore[arg-type]
    return draw_small_stair(stair, "words").for_print


def test_small_treads_stand_where_the_numbers_say_and_nothing_is_pale() -> None:
    svg = _small(
        Tread(1, "frozen", "freezing", "measured", 60.0, 40.0, 80.0, "about 60", "one study"),
        Tread(2, "dried", "drying", "ends", None, 10.0, 50.0, "at least 10", "one study"),
        Tread(3, "kept", "keeping", "missing", None, None, None, "not known", "nobody"),
    )
    level = FLOOR - (FLOOR - TOP) * 60 / MOST
    heights = [float(y) for y in re.findall(r"[ML][\d.]+ ([\d.]+)", svg.replace("M ", "M").replace("L ", "L"))]
    assert any(abs(height - level) < 0.02 for height in heights)
    assert svg.count(">?<") == 1
    assert set(re.findall(r"#[0-9a-f]{6}", svg)) <= {INK, QUIET}
    assert all(float(width) >= 0.75 for width in re.findall(r"stroke-width: ([\d.]+)", svg))
