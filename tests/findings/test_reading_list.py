"""The reading list: whose tables would tell most comes first, with a reason and what to copy."""

from __future__ import annotations

import csv
import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from evidence.findings.compute import compute_findings
from evidence.findings.reading_list import ReadingListEntry, ReadingSources, rank_papers
from evidence.findings.reading_sources import reading_list
from evidence.findings.wanted import Wanted, read_wanted
from evidence.model.problems import InputProblems
from evidence.model.rules import Rules
from evidence.model.shipped import data_folder
from evidence.model.tables import Component, Measurement, Overlap, Study
from evidence.store import Store
from evidence.store.reading import all_rows
from reports.words.catalogue import load_catalogue
from reports.words.reading_words import reading_reason, what_to_copy
from tests.invented import component, evidence_of, measured, overlap

KEPT = "expressed > freeze-dried > kept 25C 30d > reconstituted"


def study(key: str, completeness: str = "full") -> Study:
    return Study(
        key=key, authors="Nobody, A", year="2031", title="Invented", journal="Invented", doi=f"10.1234/{key}",
        completeness=completeness, origin="shipped 1",
    )  # fmt: skip


def abstract(key: str, **given: Any) -> Measurement:
    return measured(study=key, read_from="abstract", **given)


def words(key: str, **given: Any) -> Measurement:
    return abstract(key, in_words="no change", **given)


def parts(entry: ReadingListEntry) -> dict[str, Component]:
    return {gain.component: component(gain.component) for gain in entry.gains if gain.component}


def reason(entry: ReadingListEntry) -> str:
    return reading_reason(entry, parts(entry), load_catalogue())


def copied(entry: ReadingListEntry) -> tuple[str, ...]:
    return what_to_copy(entry, parts(entry), load_catalogue())


def ranked(
    rules: Rules,
    rows: Sequence[Measurement],
    *,
    wanted: Sequence[Wanted] = (),
    overlaps: Sequence[Overlap] = (),
    unidentified: Sequence[str] = (),
    worthy: Sequence[str] = (),
) -> tuple[ReadingListEntry, ...]:
    evidence = evidence_of(rows, overlaps, unidentified)
    findings, _ = compute_findings(evidence, rules)
    keys = dict.fromkeys(row.study for row in rows)
    components: list[Component] = []
    for name in dict.fromkeys([*(row.component for row in rows), *(c for each in wanted for c in each.components)]):
        made = component(name)
        made.question_worthy = "1" if not worthy or name in worthy else "0"
        components.append(made)
    studies = [study(key, "unidentified" if key in unidentified else "full") for key in keys]
    return rank_papers(ReadingSources(findings, rows, studies, components, overlaps, wanted), rules)


def keys(entries: Sequence[ReadingListEntry]) -> list[str]:
    return [entry.key for entry in entries]


def test_a_paper_read_in_full_is_not_on_the_list(rules: Rules) -> None:
    rows = [measured(study="full2031paper", in_words="no change"), words("seen2031abstract")]
    assert keys(ranked(rules, rows)) == ["seen2031abstract"]


def test_the_first_figure_tells_more_than_a_spread_of_its_own(rules: Rules) -> None:
    rows = [
        words("words2031only", component="lactoferrin", n=12, n_kind="donors"),
        abstract("figure2031bare", component="vitamin-c", retained_percent=70, n=12, n_kind="donors"),
    ]
    first, second = ranked(rules, rows)
    assert (first.key, first.gains[0].turns) == ("words2031only", "first figure")
    assert (second.key, second.gains[0].turns) == ("figure2031bare", "own spread")


def test_a_third_figure_tells_less_than_the_first(rules: Rules) -> None:
    two = [measured(study=key, retained_percent=70, n=9, n_kind="donors") for key in ("a2031x", "b2031x")]
    rows = [*two, words("third2031vitamin"), words("first2031lactoferrin", component="lactoferrin")]
    assert keys(ranked(rules, rows)) == ["first2031lactoferrin", "third2031vitamin"]


def test_the_narrowing_is_that_of_the_stated_formula(rules: Rules) -> None:
    """Worked by hand from the formula at the head of reading_list.py; the thresholds are those of rules.toml."""
    (entry,) = ranked(
        rules, [words("words2031only", n=8, n_kind="donors", baseline="expressed", baseline_said="fresh")]
    )
    tau = rules.heterogeneity.fragile.median * math.exp(rules.heterogeneity.shift)
    before = (rules.reading_list.no_figure_taus * tau) ** 2
    se2 = rules.spread.fragile_sd**2 / 8 * math.exp(2 / (2 * 7))
    after = 1 / (1 / before + 1 / (se2 + tau**2))
    assert entry.gains[0].narrows == pytest.approx(1 - math.sqrt(after / before))
    assert entry.gains[0].settles == 0
    assert entry.gain == pytest.approx(rules.reading_list.chance_abstract * entry.gains[0].narrows)


def test_drying_comes_before_freezing(rules: Rules) -> None:
    rows = [words("frozen2031milk", handling="frozen"), words("dried2031milk"), words("kept2031powder", handling=KEPT)]
    found = keys(ranked(rules, rows))
    assert set(found[:2]) == {"dried2031milk", "kept2031powder"} and found[2] == "frozen2031milk"


def test_what_says_nothing_of_drying_or_freezing_is_not_on_the_list(rules: Rules) -> None:
    assert ranked(rules, [words("heated2031milk", handling="expressed > pasteurised holder")]) == ()


def test_what_parents_ask_about_comes_first(rules: Rules) -> None:
    rows = [words("a2031lactoferrin", component="lactoferrin"), words("b2031vitamin")]
    assert keys(ranked(rules, rows, worthy=["vitamin-c"])) == ["b2031vitamin", "a2031lactoferrin"]


def test_settling_the_comparison_counts(rules: Rules) -> None:
    rows = [words("a2031fresh", baseline="expressed", baseline_said="fresh milk"), words("b2031unstated")]
    first, second = ranked(rules, rows)
    assert (first.key, second.key) == ("b2031unstated", "a2031fresh")
    assert "compared with, which is not stated in 1 answer" in reason(first)
    assert "not stated" not in reason(second)
    assert any("fresh, chilled or frozen" in line for line in copied(first))


def test_no_table_turns_powder_per_gram_or_another_milk_into_what_was_kept(rules: Rules) -> None:
    rows = [words("powder2031gram", basis="powder"), words("other2031milk", design="separate milk")]
    assert ranked(rules, rows) == ()


def test_a_paper_that_reports_the_same_milk_again_is_not_wanted(rules: Rules) -> None:
    rows = [words("kept2031paper"), words("same2031milk")]
    pair = overlap("kept2031paper", "same2031milk", keep="kept2031paper")
    assert keys(ranked(rules, rows, overlaps=[pair])) == ["kept2031paper"]


def test_a_paper_nobody_has_identified_says_what_to_do_first(rules: Rules) -> None:
    rows = [words("anon2031paper"), words("known2031paper")]
    known, unknown = ranked(rules, rows, unidentified=["anon2031paper"])
    assert (known.status, unknown.status) == ("abstract only", "not identified")
    assert "has to be found out first" in reason(unknown) and copied(unknown)[0].startswith("Which paper it is")


def test_n_is_asked_for_only_where_it_is_not_printed(rules: Rules) -> None:
    (with_n,) = ranked(rules, [words("a2031paper", n=9, n_kind="donors")])
    (without,) = ranked(rules, [words("a2031paper")])
    assert not any(line.startswith("n: how many mothers") for line in copied(with_n))
    assert any(line.startswith("n: how many mothers") for line in copied(without))


def test_the_reason_names_component_and_handling_in_words(rules: Rules) -> None:
    (entry,) = ranked(rules, [words("a2031paper")])
    assert "would give the first figure for vitamin c (freeze-drying)" in reason(entry)
    assert any("vitamin c" in line and "spread" in line for line in copied(entry))


def test_a_reference_not_found_is_ranked_by_what_it_is_known_to_measure(rules: Rules) -> None:
    rows = [words("a2031paper", handling="frozen")]
    wanted = [
        Wanted("b2031wanted", "Nobody B. Invented, 2031", "", ("freeze-dried",), ("lactoferrin",), "not found"),
        Wanted("c2031wanted", "Nobody C. Invented, 2031", "", ("tube",), ("vitamin-c",), "not found"),
        Wanted("d2031wanted", "Nobody D. Invented, 2031", "", ("freeze-dried",), (), "title only"),
    ]
    found = ranked(rules, rows, wanted=wanted)
    assert keys(found) == ["d2031wanted", "b2031wanted", "a2031paper", "c2031wanted"]
    by_key = {entry.key: entry for entry in found}
    assert "the first result at all for lactoferrin (freeze-drying)" in reason(by_key["b2031wanted"])
    assert "components it does not name" in reason(by_key["d2031wanted"])
    assert by_key["c2031wanted"].gain == 0 and "nothing" in reason(by_key["c2031wanted"])
    assert [entry.rank for entry in found] == [1, 2, 3, 4]


def test_rows_in_any_order_give_the_same_list(rules: Rules) -> None:
    rows = [
        words(f"s{n}2031paper", component=name) for n in range(4) for name in ("vitamin-c", "lactoferrin", "lactose")
    ]
    assert ranked(rules, rows) == ranked(rules, rows[::-1])


def test_an_unknown_component_in_wanted_is_told_with_its_row(tmp_path: Path) -> None:
    text = "key,reference,doi,handlings,components,why\na2031b,Nobody,,freeze-dried,vitaminc;iron,not found\n"
    (tmp_path / "wanted.csv").write_text(text, encoding="utf-8")
    with pytest.raises(InputProblems) as caught:
        read_wanted({"vitamin-c", "iron"}, tmp_path)
    (problem,) = caught.value.problems
    assert (problem.row, problem.column, problem.nearest) == (2, "components", "vitamin-c")


def test_shipped_the_list_leads_with_drying_and_no_paper_stands_twice(shipped_store: Store) -> None:
    found = reading_list(shipped_store)
    assert len({entry.key for entry in found}) == len(found) > 100
    assert all("dried" in entry.gains[0].handling for entry in found[:5])
    gains = [round(entry.gain, 9) for entry in found]
    assert gains == sorted(gains, reverse=True)
    known, say = {each.id: each for each in all_rows(shipped_store, Component)}, load_catalogue("fr")
    assert all(reading_reason(entry, known, say).endswith(".") and what_to_copy(entry, known, say) for entry in found)


def test_shipped_no_paper_on_the_list_was_read_in_full(shipped_store: Store) -> None:
    read = {row.study for row in all_rows(shipped_store, Measurement) if row.read_from in ("full text", "thesis")}
    assert read.isdisjoint(entry.key for entry in reading_list(shipped_store))


def test_shipped_every_reference_not_found_is_on_the_list(shipped_store: Store) -> None:
    with (data_folder() / "wanted.csv").open(encoding="utf-8", newline="") as file:
        wanted = {row["key"] for row in csv.DictReader(file)}
    assert wanted <= {entry.key for entry in reading_list(shipped_store)}
