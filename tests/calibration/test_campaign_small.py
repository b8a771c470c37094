"""A small campaign: bounds loose enough for its Monte Carlo error, and able to fail."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from dask.distributed import LocalCluster
from numpy.typing import NDArray

from evidence.findings.compute import compute_findings
from evidence.findings.finding import Finding, State
from evidence.model.rules import Rules, load_rules
from evidence.model.tables import Measurement
from tests.calibration.answers import COLUMNS, STATES, answer_of
from tests.calibration.campaign import answers, main
from tests.calibration.scores import Score, scores
from tests.calibration.worlds import SCENARIOS, Truth, load_process, make_world, scenario_named

RULES, PROCESS = load_rules(), load_process()
WORLDS = 4


def _run(name: str, rules: Rules | None = None) -> dict[str, Score]:
    found = scores(answers(scenario_named(name), WORLDS, rules=rules, seed=20_300_101), PROCESS)
    return {score.measure: score for score in found if score.group == "all" and score.k == "all"}


@cache
def _table(name: str) -> dict[str, Score]:
    return _run(name)


def _narrow() -> Rules:
    """Return rules under which studies are taken to differ hardly at all."""
    rules = load_rules()
    hardly: dict[str, Any] = {"median": 0.01, "median_low": 0.01, "median_high": 0.01}
    classes = {name: getattr(rules.heterogeneity, name).model_copy(update=hardly) for name in ("bulk", "fragile")}
    return rules.model_copy(update={"heterogeneity": rules.heterogeneity.model_copy(update=classes)})


def test_intervals_hold_the_truth_where_everything_is_printed() -> None:
    coverage = _table("all printed")["coverage"]
    assert coverage.count > 200
    # the goal is 93.5 to 97 %; the Monte Carlo error here is about 1.6 points
    assert coverage.value > 0.90


def test_the_next_study_lies_where_it_was_said_to() -> None:
    assert _table("all printed")["new study"].value > 0.90


def test_losses_are_not_called_about_the_same_though_only_losses_print_figures() -> None:
    score = _table("truth 88, selective")["false reassurance"]
    assert score.count > 80
    assert score.value < 0.02


def test_no_loss_is_claimed_where_nothing_is_lost() -> None:
    # the goal is 2.5 %
    assert _table("truth 100")["loss claimed"].value < 0.06


def test_intervals_that_are_too_narrow_are_seen() -> None:
    assert _run("all printed", _narrow())["coverage"].value < 0.90


def test_the_same_seed_gives_the_same_answers_with_any_number_of_workers() -> None:
    scenario = SCENARIOS[1]
    one, two = (answers(scenario, 2, seed=5, workers=workers) for workers in (1, 2))
    assert all(np.array_equal(a, b, equal_nan=True) for a, b in zip(one, two, strict=True))
    other = answers(scenario, 1, seed=6)[0]
    assert other.shape != one[0].shape or not np.array_equal(other, one[0], equal_nan=True)


def test_a_run_that_was_broken_off_goes_on_and_gives_the_same_answers(tmp_path: Path) -> None:
    scenario = SCENARIOS[1]
    answers(scenario, 1, seed=5, keep=tmp_path)
    (first,) = tmp_path.iterdir()
    np.save(first, marked := np.load(first) + 1)  # so that taking it from there is seen
    two, plain = answers(scenario, 2, seed=5, keep=tmp_path), answers(scenario, 2, seed=5)
    assert np.array_equal(two[0], marked, equal_nan=True)
    assert np.array_equal(two[1], plain[1], equal_nan=True)
    assert len(list(tmp_path.iterdir())) == 2
    answers(SCENARIOS[0], 1, seed=5, keep=tmp_path)  # another scenario takes nothing from there
    assert len(list(tmp_path.iterdir())) == 3


def test_a_cluster_gives_the_same_answers() -> None:
    with LocalCluster(  # type: ignore[no-untyped-call]
        n_workers=1, threads_per_worker=1, processes=False, protocol="tcp", dashboard_address=None
    ) as cluster:
        assert cluster.scheduler_address.startswith("tcp://")
        there = answers(SCENARIOS[1], 2, seed=5, cluster=cluster.scheduler_address)
    here = answers(SCENARIOS[1], 2, seed=5)
    assert all(np.array_equal(a, b, equal_nan=True) for a, b in zip(there, here, strict=True))


def test_worlds_are_what_process_toml_says() -> None:
    random = np.random.default_rng(3)
    worlds = [make_world(scenario_named("selective"), RULES, PROCESS, random) for _ in range(10)]
    rows = [row for world in worlds for row in world.evidence.measurements]
    given = PROCESS["world"]
    assert all(len(world.truths) == given["bulk_questions"] + given["fragile_questions"] for world in worlds)
    with_n = np.mean([row.n is not None for row in rows])
    assert with_n == pytest.approx(given["gives_n"], abs=4 * math.sqrt(0.25 / len(rows)))
    silent = [row for row in rows if not row.number_is and row.in_words == "no change"]
    printed_nothing = [row for row in rows if row.number_is and row.in_words == "no change"]
    # of results not significant 4 in 100 print a figure, and half of those say so
    assert len(printed_nothing) / len(silent) == pytest.approx(0.02 / 0.96, abs=0.019)


def test_printed_spreads_are_those_of_the_class() -> None:
    # the median of the SDs printed is that of the log-normal the world draws from, near enough for 40 rows
    random = np.random.default_rng(4)
    logs = []
    for _ in range(8):
        world = make_world(scenario_named("spread x 1.5"), RULES, PROCESS, random)
        for row in world.evidence.measurements:
            if row.component.startswith("fragile") and row.percent_spread:
                logs.append(math.log(float(row.percent_spread) / float(row.retained_percent)))
    assert len(logs) > 25
    assert math.exp(np.median(logs)) == pytest.approx(1.5 * RULES.spread.fragile_sd, rel=0.35)


@pytest.mark.parametrize(("percent", "false"), [(99.0, 0.0), (85.0, 1.0), (112.0, 1.0)])
def test_a_sentence_is_false_where_the_truth_is_not_what_it_says(percent: float, false: float) -> None:
    finding = _finding(state="about_the_same")
    found = answer_of(finding, Truth("bulk-00", "bulk", math.log(percent / 100), 0.05), RULES)
    assert (found.sentence, found.false) == (1.0, false)


def _finding(state: State) -> Finding:
    world = make_world(scenario_named("all printed"), RULES, PROCESS, np.random.default_rng(1))
    found = next(each for each in compute_findings(world.evidence, RULES)[0] if each.pooled is not None)
    return replace(found, state=state)


def _one_world(*rows: dict[str, float]) -> NDArray[np.float64]:
    blank = dict.fromkeys(COLUMNS, math.nan) | {
        "group": 0.0,
        "k": 3.0,
        "sentence": 0.0,
        "says_loss": 0.0,
        "single": 0.0,
    }
    blank |= {"single_covered": 0.0, "single_width": 0.0, "state": float(STATES.index("amount")), "truth": 80.0}
    return np.array([[(blank | row)[column] for column in COLUMNS] for row in rows])


def _shares(worlds: Sequence[NDArray[np.float64]], measure: str) -> Score:
    return next(s for s in scores(worlds, PROCESS) if (s.group, s.k, s.measure) == ("all", "all", measure))


def test_shares_are_counted_over_all_worlds_and_their_error_between_worlds() -> None:
    # three worlds, of which 2 of 2, 1 of 2 and 0 of 2 intervals cover: share 1/2;
    # error sqrt(3/2 ((2 - 1)^2 + 0 + (0 - 1)^2)) / 6 = sqrt(3) / 6 by hand
    worlds = [_one_world(*({"covered": hit} for hit in hits)) for hits in ((1.0, 1.0), (1.0, 0.0), (0.0, 0.0))]
    found = _shares(worlds, "coverage")
    assert (found.value, found.count) == (0.5, 6)
    assert found.mc_error == pytest.approx(math.sqrt(3) / 6)
    assert found.met == "no"


def test_false_reassurance_is_a_share_of_the_questions_whose_truth_is_a_loss() -> None:
    same = float(STATES.index("about_the_same"))
    rows = [{"covered": 1.0, "state": same, "truth": truth} for truth in (85.0, 95.0, 100.0)]
    world = _one_world(*rows, {"covered": 1.0, "truth": 80.0})
    found = _shares([world], "false reassurance")
    assert (found.value, found.count) == (0.5, 2)


def test_a_scenario_that_is_not_known_is_refused_with_those_that_are(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--scenario", "sunny"]) == 2
    assert "all printed" in capsys.readouterr().err


def test_a_row_of_a_world_has_the_columns_of_the_evidence_table() -> None:
    world = make_world(scenario_named("all printed"), RULES, PROCESS, np.random.default_rng(9))
    row = world.evidence.measurements[0]
    cells = {name: getattr(row, name) for name in Measurement.model_fields}
    assert Measurement.model_validate(cells).model_dump() == cells
    with pytest.raises(AttributeError):
        _ = row.no_such_column  # type: ignore[attr-defined]
