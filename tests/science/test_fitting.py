"""Least squares: against published mixture data, closed forms and another solver."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize

from optimiser.science.fitting import fit_between, least_squares

# J. A. Cornell, Experiments with Mixtures, 3rd ed., Wiley, 2002, chapter 2: elongation
# of yarn (in thousandths of a foot per pound) spun from blends of polyethylene,
# polystyrene and polypropylene, a {3,2} simplex lattice; also in the NIST/SEMATECH
# e-Handbook of Statistical Methods, section 5.5.4.2.
YARN = np.array(
    [
        (1.0, 0.0, 0.0, 11.0),
        (1.0, 0.0, 0.0, 12.4),
        (0.5, 0.5, 0.0, 15.0),
        (0.5, 0.5, 0.0, 14.8),
        (0.5, 0.5, 0.0, 16.1),
        (0.0, 1.0, 0.0, 8.8),
        (0.0, 1.0, 0.0, 10.0),
        (0.0, 0.5, 0.5, 10.0),
        (0.0, 0.5, 0.5, 9.7),
        (0.0, 0.5, 0.5, 11.8),
        (0.0, 0.0, 1.0, 16.8),
        (0.0, 0.0, 1.0, 16.0),
        (0.5, 0.0, 0.5, 17.7),
        (0.5, 0.0, 0.5, 16.4),
        (0.5, 0.0, 0.5, 16.6),
    ]
)
SHARES, ELONGATION = YARN[:, :3], YARN[:, 3]
PAIRS = np.column_stack(
    [SHARES[:, a] * SHARES[:, b] for a, b in ((0, 1), (0, 2), (1, 2))]
)
QUADRATIC = np.column_stack([SHARES, PAIRS])


def ridge(design, observed, noise, prior):
    """The posterior mean and deviation of a linear model, by its closed form."""
    precision = design.T @ np.diag(noise**-2) @ design + np.diag(prior**-2)
    covariance = np.linalg.inv(precision)
    return covariance @ design.T @ (observed / noise**2), np.sqrt(np.diag(covariance))


def test_the_published_mixture_coefficients_come_out():
    fit = least_squares(QUADRATIC, ELONGATION)
    assert fit.coefficients == pytest.approx([11.7, 9.4, 16.4, 19.0, 11.4, -9.6])
    assert fit.error == pytest.approx(0.85375, abs=1e-5)


def test_blending_in_a_straight_line_describes_the_yarn_badly_and_says_so():
    fit = least_squares(SHARES, ELONGATION)
    assert fit.error == pytest.approx(2.536844, abs=1e-6)


def test_barely_held_back_the_same_coefficients_come_out():
    count, columns = QUADRATIC.shape
    found = fit_between(
        QUADRATIC, ELONGATION, ELONGATION, np.full(count, 0.854), np.full(columns, 1e5)
    )
    assert found.values == pytest.approx([11.7, 9.4, 16.4, 19.0, 11.4, -9.6], abs=1e-4)
    assert found.support == pytest.approx(np.ones(columns), abs=1e-6)


def test_held_back_hard_nothing_moves():
    count, columns = QUADRATIC.shape
    found = fit_between(
        QUADRATIC, ELONGATION, ELONGATION, np.ones(count), np.full(columns, 1e-6)
    )
    assert found.values == pytest.approx(np.zeros(columns), abs=1e-6)
    assert found.support == pytest.approx(np.zeros(columns), abs=1e-6)


@given(st.integers(0, 10_000))
def test_readings_give_ridge_regression(seed):
    rng = np.random.default_rng(seed)
    count, columns = rng.integers(1, 9), rng.integers(1, 6)
    design, observed = rng.normal(size=(count, columns)), rng.normal(size=count) * 5
    noise, prior = rng.uniform(0.3, 3, count), rng.uniform(0.3, 3, columns)
    found = fit_between(design, observed, observed, noise, prior)
    mean, deviation = ridge(design, observed, noise, prior)
    assert found.values == pytest.approx(mean, abs=1e-8)
    assert found.doubt == pytest.approx(deviation, rel=1e-8)
    assert found.support == pytest.approx(1 - (deviation / prior) ** 2, abs=1e-8)


@given(st.integers(0, 10_000))
def test_between_bounds_the_least_sum_is_found(seed):
    rng = np.random.default_rng(seed)
    count, columns = rng.integers(1, 12), rng.integers(1, 6)
    design = rng.normal(size=(count, columns))
    start = rng.normal(size=count) * 5
    below = rng.random(count) < 0.3
    low = np.where(below, -np.inf, start)
    high = np.where(below, 1.0, start + rng.choice([0.0, 2.0, np.inf], count))
    noise, prior = rng.uniform(0.3, 3, count), rng.uniform(0.3, 3, columns)
    found = fit_between(design, low, high, noise, prior)

    def total(x):
        reached = design @ x
        miss = np.maximum(reached - high, 0) + np.maximum(low - reached, 0)
        return float(np.sum((miss / noise) ** 2) + np.sum((x / prior) ** 2))

    other = minimize(total, np.zeros(columns), method="BFGS").x
    assert total(found.values) <= total(other) + 1e-6 * (1 + total(other))


def test_bounds_that_are_met_already_move_nothing():
    found = fit_between(np.eye(2), np.full(2, -1.0), np.ones(2), np.ones(2), np.ones(2))
    assert found.values.tolist() == [0.0, 0.0]


def test_without_observations_nothing_is_learnt():
    none = np.zeros(0)
    found = fit_between(np.zeros((0, 2)), none, none, none, np.ones(2))
    assert found.values.tolist() == [0.0, 0.0]
    assert found.support.tolist() == [0.0, 0.0]


@pytest.mark.parametrize(
    ("design", "wrong"),
    [
        (np.eye(2), "more observations"),
        (np.ones((4, 2)), "combinations"),
    ],
)
def test_a_plain_fit_says_what_it_lacks(design, wrong):
    with pytest.raises(ValueError, match=wrong):
        least_squares(design, np.arange(len(design), dtype=float))
