"""How far a blend is from the straight sum of its fats: the model's correction.

A second opinion on solid fat is what the tables add up to, plus this. For a single fat
it is zero, so a table is never contradicted about the fat that it was measured on.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from msgspec import Struct
from numpy.typing import NDArray

from optimiser.science.melting import Kitchen

__all__ = ["DOUBT", "STEEP_DOUBT", "Excess", "excess"]

Floats = NDArray[np.float64]

# Points of solid fat either way, and where the curve falls by more than STEEP points
# a kelvin: there a melting point that is off by 1.5 K moves the answer so far.
DOUBT, STEEP_DOUBT, STEEP = 8.0, 12.0, 3.0
SPAN = 0.5  # K either side, to feel how steep the curve is


class Excess(Struct, frozen=True, eq=False):
    """The correction at some temperatures.

    Attributes
    ----------
    values : float array, shape (temperatures,)
        In percent times the unit of the amounts, as ``sum(solid fat * amount)`` is.
    slopes : float array, shape (temperatures, ingredients)
        Change of ``values`` per unit of each ingredient, so that the correction is
        ``slopes @ amounts`` at the blend itself.
    doubt : float array, shape (temperatures,)
        Points of solid fat either way.
    """

    values: Floats
    slopes: Floats
    doubt: Floats


def excess(kitchen: Kitchen, amounts: Floats, at: Sequence[float]) -> Excess:
    """Return the model's solid fat less the sum of the model's single fats.

    Parameters
    ----------
    amounts : float array, shape (ingredients,)
        Of the kitchen's ingredients, in any unit; unknown ones count as absent.
    at : sequence of float
        [deg C].

    Notes
    -----
    Solid fat by mole is a convex function of the amounts and grows in proportion with
    them, so a tangent at one blend lies below it at every other, and passes through the
    blend: a window held by the tangent is held by the model. By weight that is so to
    0.4 points for 99 of 100 pairs of random blends; between two lauric fats, whose
    mixed crystals differ in weight, a tangent can lie 6 points too high. Doubt: 8
    points, 12 on a steep part, from the two published ternary points and a study of the
    data's own spread.
    """
    degrees = np.asarray(at, dtype=np.float64)
    present = amounts * kitchen.takes_part
    whole = float(present.sum())
    if whole <= 0.0:
        nothing = np.zeros(degrees.size)
        slopes = np.zeros((degrees.size, amounts.size))
        return Excess(nothing, slopes, np.full(degrees.size, DOUBT))
    three = np.concatenate([degrees, degrees - SPAN, degrees + SPAN])
    rows = np.repeat(present[None, :], three.size, axis=0)
    found = kitchen.settle_beside_singles(rows, three, degrees)
    here, cooler, warmer = found.solids.reshape(3, degrees.size)
    fall = 100.0 * (cooler - warmer) / (2.0 * SPAN * whole)
    single = kitchen.singles(degrees)
    slopes = 100.0 * (found.slopes[: degrees.size] - single)
    return Excess(
        values=100.0 * (here - single @ present),
        slopes=np.where(kitchen.takes_part, slopes, 0.0),
        doubt=np.where(fall > STEEP, STEEP_DOUBT, DOUBT),
    )
