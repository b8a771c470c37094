"""What the measurements identify, by rank; cases that can be seen by eye."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidence.synthesis import NoEstimate
from evidence.synthesis.identify import is_identified, smallest_measurement

# columns: frozen, dried, kept
FROZEN, DRIED, KEPT = [1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]
BOTH, ALL = [1.0, 1.0, 0.0], [1.0, 1.0, 1.0]


def test_a_path_of_measured_steps_is_identified() -> None:
    assert is_identified([FROZEN, DRIED], BOTH)


def test_a_step_nobody_measured_is_not() -> None:
    assert not is_identified([FROZEN, DRIED], ALL)


def test_a_sum_measured_whole_tells_nothing_of_its_parts() -> None:
    assert is_identified([BOTH], BOTH)
    assert not is_identified([BOTH], FROZEN)


def test_a_sum_less_a_part_gives_the_other_part() -> None:
    assert is_identified([BOTH, FROZEN], DRIED)


def test_nothing_is_identified_by_no_rows() -> None:
    assert not is_identified([], FROZEN)
    assert is_identified([], [0.0, 0.0, 0.0])


def test_days_beside_counts_do_not_disturb_the_rank() -> None:
    # columns: jump, days; two times tell both, one time tells only its own sum
    assert is_identified([[1.0, 30.0], [1.0, 180.0]], [1.0, 60.0])
    assert not is_identified([[1.0, 180.0]], [1.0, 60.0])
    assert is_identified([[1.0, 180.0]], [2.0, 360.0])


def test_the_smallest_measurement_is_the_shortest_that_suffices() -> None:
    candidates = [FROZEN, DRIED, KEPT, BOTH, [0.0, 1.0, 1.0], ALL]
    assert smallest_measurement([FROZEN, DRIED], ALL, candidates) == 2
    assert smallest_measurement([FROZEN], ALL, candidates) == 4
    assert smallest_measurement([], ALL, candidates) == 5
    assert smallest_measurement([ALL], ALL, candidates) is None


def test_a_design_of_another_width_is_refused() -> None:
    with pytest.raises(NoEstimate, match="one column a step"):
        is_identified([[1.0, 0.0]], ALL)


@given(
    st.lists(st.lists(st.integers(-2, 2), min_size=3, max_size=3), min_size=1, max_size=4),
    st.lists(st.integers(-3, 3), min_size=4, max_size=4),
)
def test_every_sum_of_rows_is_identified(rows: list[list[int]], weights: list[int]) -> None:
    target = np.array(weights[: len(rows)]) @ np.array(rows, dtype=float)
    assert is_identified(np.array(rows, dtype=float), target)
