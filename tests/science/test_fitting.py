"""Least squares: against published mixture data, closed forms and another solver."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import minimize

from optimiser.science import fitting
from optimiser.science.fitting import each_left_out, fit_between, least_squares

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


def bounded(count, seed):
    """Rows, their bounds (some open, some one point), noise and prior."""
    random = np.random.default_rng(seed)
    design = random.random((count, 4))
    middle = design @ np.array([2.0, -1.0, 0.0, 3.0]) + random.standard_normal(count)
    width = random.choice([0.0, 1.0, 4.0, np.inf], count)
    other = random.choice([0.0, 1.0, 4.0], count)
    noise, prior = random.uniform(0.5, 2.0, count), random.uniform(0.5, 2.0, 4)
    return design, middle - other, middle + width, noise, prior


@pytest.mark.parametrize("seed", range(6))
def test_what_is_left_out_is_foretold_by_a_fit_to_the_others_alone(seed):
    design, low, high, noise, prior = bounded(30, seed)
    told = each_left_out(design, low, high, noise, prior)
    for index, row in enumerate(design):
        rows = np.arange(30) != index
        others = (design[rows], low[rows], high[rows], noise[rows], prior)
        assert told[index] == pytest.approx(row @ fit_between(*others).values, abs=1e-8)


def test_one_observation_left_out_leaves_nothing_to_foretell_it_by():
    told = each_left_out(
        *(np.array(each) for each in ([[2.0]], [3.0], [4.0], [1.0])), np.ones(1)
    )
    assert told == pytest.approx([0.0])


def test_only_what_the_fit_misses_is_fitted_anew(monkeypatch):
    fits, least = [], fitting._least
    monkeypatch.setattr(
        fitting, "_least", lambda *given: fits.append(1) or least(*given)
    )
    design, low, high, noise, prior = bounded(60, 7)
    predicted = design @ fit_between(design, low, high, noise, prior).values
    missed = int(((predicted < low) | (predicted > high)).sum())
    fits.clear()
    each_left_out(design, low, high, noise, prior)
    assert len(fits) == 1 + missed < 50
