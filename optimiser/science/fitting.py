"""Least squares: plain, held back towards nothing (ridge), and between bounds.

Only numpy, and only arrays: nothing here knows of formulas.
"""

from __future__ import annotations

import numpy as np
from msgspec import Struct

from optimiser.domain.arrays import Floats
from optimiser.science.algebra import need_room

__all__ = ["Fit", "Shift", "each_left_out", "fit_between", "least_squares"]

ROUNDS = 100
CONVERGED = 1e-10


class Fit(Struct, frozen=True):
    """A plain fit, and how well it describes.

    ``error`` is the root mean square of the residuals over the degrees of freedom left.
    """

    coefficients: Floats
    error: float


class Shift(Struct, frozen=True):
    """Coefficients held back towards zero, and what the data say of each.

    ``values`` are in the unit of ``prior``; ``doubt`` is the standard deviation
    left; ``support`` is the share of the prior variance that the data took away, 0
    (nothing learnt) to 1.
    """

    values: Floats
    doubt: Floats
    support: Floats


def least_squares(design: Floats, observed: Floats) -> Fit:
    """Return the ordinary least-squares fit of ``design @ coefficients``.

    Parameters
    ----------
    design : array, shape (n, p)
        One row an observation; p columns that are not combinations of each other.
    observed : array, shape (n,)

    Raises
    ------
    ValueError
        If there are no more observations than columns, or columns depend on others.

    Notes
    -----
    Sources: Gauss; Draper and Smith, Applied Regression Analysis, 3rd ed., 1998,
    chapter 5.
    """
    count, columns = design.shape
    if count <= columns:
        raise ValueError("a fit needs more observations than columns")
    need_room()
    solved, _, rank, _ = np.linalg.lstsq(design, observed, rcond=None)
    if rank < columns:
        raise ValueError("some columns are combinations of others")
    coefficients = np.asarray(solved, dtype=np.float64)
    residual = observed - design @ coefficients
    within = float(residual @ residual)
    return Fit(coefficients, float(np.sqrt(within / (count - columns))))


def fit_between(
    design: Floats, low: Floats, high: Floats, noise: Floats, prior: Floats
) -> Shift:
    """Return the smallest coefficients that bring predictions between bounds.

    Minimises ``sum((distance of design @ x to [low, high] / noise)^2)`` plus
    ``sum((x / prior)^2)``. With ``low == high`` it is ridge regression.

    Parameters
    ----------
    design : array, shape (n, p)
    low, high : array, shape (n,)
        Bounds of each observation; infinite for one that is open to a side.
    noise : array, shape (n,)
        Standard deviation of each observation, above zero.
    prior : array, shape (p,)
        Standard deviation of each coefficient before any observation, above zero.

    Notes
    -----
    The sum is convex, with one least value. Found by Newton's method on its pieces,
    halving the step where it would rise. Source: ridge, Hoerl and Kennard,
    Technometrics 12:55, 1970; as the posterior of a linear model, Bishop, Pattern
    Recognition and Machine Learning, 2006, section 3.3.

    For ``doubt`` and ``support`` a bounded observation counts as a reading with the
    variance of its noise plus that of an even spread between the bounds (width^2 /
    12), and an open one only where it pulls.
    """
    scaled, keep = design * prior, np.eye(design.shape[1])
    x = _least(scaled, (low, high, noise), np.zeros(design.shape[1]))
    pulls = np.isfinite(low) & np.isfinite(high) | (_miss(scaled @ x, low, high) != 0.0)
    width = np.where(np.isfinite(high - low), high - low, 0.0)
    told = scaled[pulls] / np.sqrt(noise**2 + width**2 / 12.0)[pulls, None]
    left = np.diag(np.linalg.inv(told.T @ told + keep))
    return Shift(
        values=x * prior,
        doubt=np.sqrt(left) * prior,
        support=np.clip(1.0 - left, 0.0, 1.0),
    )


def each_left_out(
    design: Floats, low: Floats, high: Floats, noise: Floats, prior: Floats
) -> Floats:
    """Return what a fit to the others predicts of each observation, shape (n,).

    Parameters
    ----------
    design, low, high, noise, prior
        As `fit_between` takes them.

    Notes
    -----
    Where the fit to all of them meets an observation, it adds nothing to the sum and
    no slope, so that fit is the least without it too; only the others are fitted anew.
    """
    scaled = design * prior
    x = _least(scaled, (low, high, noise), np.zeros(design.shape[1]))
    predicted = scaled @ x
    for index in np.flatnonzero(_miss(predicted, low, high)):
        others = np.arange(len(low)) != index
        bounds = low[others], high[others], noise[others]
        predicted[index] = scaled[index] @ _least(scaled[others], bounds, x)
    return predicted


def _least(scaled: Floats, bounds: tuple[Floats, Floats, Floats], x: Floats) -> Floats:
    """Return where the sum is least, in units of the prior, looked for from ``x`` on.

    ``bounds`` are low, high and noise of each observation.
    """
    need_room()
    low, high, noise = bounds
    keep = np.eye(x.size)
    value = _value(scaled, low, high, noise, x)
    for _ in range(ROUNDS):
        miss = _miss(scaled @ x, low, high)
        active = scaled[miss != 0.0] / noise[miss != 0.0, None]
        slope = active.T @ (miss / noise)[miss != 0.0] + x
        step = -np.linalg.solve(active.T @ active + keep, slope)
        x, value, moved = _along(scaled, bounds, x, step, value)
        if moved <= CONVERGED:
            break
    return x


def _miss(predicted: Floats, low: Floats, high: Floats) -> Floats:
    """Return how far predictions lie above (+) or below (-) their bounds."""
    return np.maximum(predicted - high, 0.0) - np.maximum(low - predicted, 0.0)


def _value(
    scaled: Floats, low: Floats, high: Floats, noise: Floats, x: Floats
) -> float:
    miss = _miss(scaled @ x, low, high) / noise
    return float(miss @ miss + x @ x)


def _along(
    scaled: Floats,
    bounds: tuple[Floats, Floats, Floats],
    x: Floats,
    step: Floats,
    value: float,
) -> tuple[Floats, float, float]:
    """Return the point along a step that lowers the sum, its sum, and the move."""
    length = 1.0
    while length > 1e-9:
        tried = x + length * step
        new = _value(scaled, *bounds, tried)
        if new <= value:
            return tried, new, float(np.abs(length * step).max(initial=0.0))
        length /= 2.0
    return x, value, 0.0
