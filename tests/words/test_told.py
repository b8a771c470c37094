"""A sentence with a trail is a sentence everywhere else."""

from __future__ import annotations

import copy
import json
import pickle

from reports.sheets.layout import clean, from_attribute
from reports.words.told import Told, trail_of


def test_it_is_the_same_text_in_comparisons_data_and_json() -> None:
    told = Told("About 69 of 100.", "A-0412", "smith2014-3", "A-0412")
    assert told == "About 69 of 100."
    assert json.dumps({"told": told}) == '{"told": "About 69 of 100."}'
    assert told.trail == ("A-0412", "smith2014-3")


def test_its_trail_survives_another_process_a_copy_and_cleaning() -> None:
    told = Told("About 69\x00.", "A-0412")
    assert pickle.loads(pickle.dumps(told)).trail == copy.deepcopy(told).trail == ("A-0412",)
    assert clean((told,))[0] == "About 69."
    assert clean((told,))[0].trail == ("A-0412",)


def test_a_page_prints_it_as_an_attribute_that_holds_nothing_else() -> None:
    assert from_attribute(Told("x", "A-0412", "B-0001")) == ' data-from="A-0412 B-0001"'
    assert from_attribute("x") == ""
    assert from_attribute("x", "") == ""
    assert from_attribute(Told("x", '"><script>')) == ' data-from="&#34;&gt;&lt;script&gt;"'
    assert trail_of([Told("x", "A-1"), "y", Told("z", "A-2", "A-1")]) == ("A-1", "A-2")
