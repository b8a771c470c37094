"""A problem is a sentence: where, what was read, what is allowed, the nearest known word."""

from __future__ import annotations

from evidence.model.problems import InputProblems, Problem, nearest_word


def test_a_problem_says_where_what_was_read_and_what_is_allowed() -> None:
    said = Problem("rows.csv", 7, "n_kind", "mother", "donors, pools", "donors").sentence()
    for part in ("rows.csv", "row 7", "n_kind", "'mother'", "donors, pools", "Nearest known: donors"):
        assert part in said


def test_a_whole_file_has_no_row() -> None:
    said = Problem("rows.csv", None, None, "an empty file", "a heading").sentence()
    assert "row " not in said and "column" not in said and "None" not in said


def test_what_was_read_is_cut_where_it_is_long() -> None:
    assert len(Problem("rows.csv", 7, "notes", "x" * 10_000, "less").sentence()) < 200


def test_the_nearest_word_is_found_through_a_slip_and_nothing_is_forced() -> None:
    assert nearest_word("lactoferin", ["lactose", "lactoferrin", "iron"]) == "lactoferrin"
    assert nearest_word("qqqq", ["lactose", "lactoferrin", "iron"]) is None
    assert nearest_word("anything", []) is None


def test_all_problems_come_together() -> None:
    both = InputProblems([Problem("a.csv", 2, "n", "x", "a number"), Problem("b.bib", None, None, "y", "an entry")])
    assert len(both.problems) == 2
    assert "a.csv" in str(both) and "b.bib" in str(both)
