"""Exchange finds the designs that were published or can be counted out."""

from itertools import combinations, combinations_with_replacement

import numpy as np
import pytest
from scipy.stats import norm

from optimiser.science.design import below, exchange, leaving, verdict_weight

NOTHING = 1e-9


def lattice(parts):
    """All mixtures of three things in so many parts."""
    return np.array(
        [
            (i / parts, j / parts, (parts - i - j) / parts)
            for i in range(parts + 1)
            for j in range(parts + 1 - i)
        ]
    )


def quadratic(mixtures):
    """Scheffé's canonical polynomial of the second degree: no constant, no squares."""
    crossed = [mixtures[:, i] * mixtures[:, j] for i, j in combinations(range(3), 2)]
    return np.column_stack([mixtures, *crossed])


# Scheffé, J. R. Stat. Soc. B 20:344, 1958: the {3, 2} simplex lattice. That it is
# D-optimal for the quadratic model is Kiefer's, Ann. Math. Stat. 32:298, 1961 (from
# memory; the next test proves it again by the equivalence theorem).
LATTICE_3_2 = {
    (1, 0, 0),
    (0, 1, 0),
    (0, 0, 1),
    (0.5, 0.5, 0),
    (0.5, 0, 0.5),
    (0, 0.5, 0.5),
}


@pytest.mark.parametrize("parts", [4, 10, 12])
def test_six_mixtures_for_the_quadratic_are_scheffe_s_lattice(parts):
    mixtures = lattice(parts)
    found = exchange(quadratic(mixtures)[:, None, :], 6, NOTHING * np.eye(6))
    assert {tuple(mixtures[n]) for n in found.chosen} == LATTICE_3_2


def test_the_lattice_is_d_optimal_by_the_equivalence_theorem():
    # Kiefer and Wolfowitz, Canad. J. Math. 12:363, 1960: a design is D-optimal exactly
    # if no mixture is foretold with more than p / n of the variance of a reading.
    mixtures = quadratic(lattice(20))
    found = exchange(mixtures[:, None, :], 6, NOTHING * np.eye(6))
    rows = mixtures[list(found.chosen)]
    spread = np.einsum("ni,ij,nj->n", mixtures, np.linalg.inv(rows.T @ rows), mixtures)
    assert spread.max() == pytest.approx(1.0, abs=1e-9)


# McLean and Anderson, Technometrics 8:447, 1966, a flare: magnesium, two nitrates,
# binder (intervals and the eight corners from memory; each corner sums to one).
FLARE = [
    (.40, .10, .47, .03), (.40, .10, .42, .08), (.60, .10, .27, .03),
    (.60, .10, .22, .08), (.40, .47, .10, .03), (.40, .42, .10, .08),
    (.60, .27, .10, .03), (.60, .22, .10, .08),
]  # fmt: skip


@pytest.mark.parametrize("count", [4, 5, 6])
def test_exchange_finds_the_best_of_all_designs_of_the_flare(count):
    corners = np.array(FLARE)
    assert corners.sum(axis=1) == pytest.approx(1.0)
    best = max(
        np.linalg.slogdet(corners[list(each)].T @ corners[list(each)])[1]
        for each in combinations_with_replacement(range(8), count)
    )
    found = exchange(corners[:, None, :], count, NOTHING * np.eye(4))
    assert found.value == pytest.approx(best, abs=1e-4)  # the little that was known


@pytest.mark.parametrize("seed", range(5))
def test_towards_predictions_it_leaves_as_little_as_the_best_of_all_designs(seed):
    random = np.random.default_rng(seed)
    rows, wish = random.standard_normal((12, 2, 5)), random.standard_normal((3, 5))
    prior, towards = np.eye(5), wish.T @ wish
    alike = np.repeat(np.arange(6), 2)
    best = min(
        leaving(rows, each, prior, towards)
        for each in combinations(range(12), 3)
        if len({*alike[list(each)]}) == 3
    )
    found = exchange(rows, 3, prior, towards=towards, alike=alike)
    assert found.value == pytest.approx(best)
    assert len({*alike[list(found.chosen)]}) == 3


def test_chances_are_those_of_the_normal_law():
    at = np.linspace(-9, 9, 37)
    assert below(1.0, at, 2.0) == pytest.approx(norm.cdf((1.0 - at) / 2.0))
    assert below(np.inf, at, 2.0) == pytest.approx(1.0)


def test_a_verdict_at_a_lone_limit_tells_two_over_pi_of_a_reading():
    told = verdict_weight(np.array([50.0]), np.array([0.0]), 50.0, np.inf, 5.0)
    assert told[0] == pytest.approx(2.0 / np.pi / 25.0)


def test_a_verdict_tells_less_than_a_reading_and_nothing_far_from_both_limits():
    middle = np.linspace(-100.0, 200.0, 301)
    told = verdict_weight(middle, np.zeros(301), 50.0, 75.0, 5.0)
    assert told.max() < 1.0 / 25.0
    assert told[0] < 1e-9
    assert told[-1] < 1e-9


def test_the_weight_is_how_fast_the_verdicts_change_with_the_figure():
    # Fisher's information by its definition: the mean square of the slope of log p.
    middle, step = 57.0, 1e-4

    def chances(z):
        cuts = norm.cdf((np.array([50.0, 75.0]) - z) / 5.0)
        return np.array([cuts[0], cuts[1] - cuts[0], 1 - cuts[1]])

    slope = (np.log(chances(middle + step)) - np.log(chances(middle - step))) / 2 / step
    told = verdict_weight(np.array([middle]), np.zeros(1), 50.0, 75.0, 5.0)
    assert told[0] == pytest.approx(chances(middle) @ slope**2, rel=1e-5)
