"""How far a blend is from the straight sum of its fats, and room to keep for it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from msgspec import Struct

from optimiser.domain.arrays import Floats
from optimiser.science.melting import MEASURES, Kitchen

__all__ = [
    "COVERED",
    "DOUBT",
    "STEEP_DOUBT",
    "Excess",
    "excess",
    "excesses",
    "margin",
    "share_class",
]

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
    """Return the model's solid fat less what the straight sum counts it as."""
    return excesses(kitchen, amounts, at)["solid fat"]


def excesses(
    kitchen: Kitchen,
    amounts: Floats,
    at: Sequence[float],
    doubted: Sequence[float] | None = None,
) -> Mapping[str, Excess]:
    """Return the model's figures less those of the straight sum, by measure.

    Parameters
    ----------
    amounts : float array, shape (ingredients,)
        Of the kitchen's ingredients, in any unit; unknown ones count as absent.
    at : sequence of float
        [deg C].
    doubted : sequence of float, optional
        Those at which the doubt is asked for; by default all.

    Returns
    -------
    mapping of "solid fat" and "firmness" to `Excess`, and of "wax" to what waxes add
    to firmness in all (no excess).

    Notes
    -----
    A fat counts beside the model's own of it alone; a wax, acid, alcohol or emulsifier
    beside its figure in the straight sum, for of those only what has set counts.
    Solid fat by mole is a convex function of the amounts and grows in proportion with
    them, so a tangent at one blend lies below it at every other, and passes through the
    blend: a window held by the tangent is held by the model. By weight that is so to
    0.4 points for 99 of 100 pairs of random blends; between two lauric fats, whose
    mixed crystals differ in weight, a tangent can lie 6 points too high. Doubt: 8
    points, 12 on a steep part, from the two published ternary points and a study of the
    data's own spread.
    """
    degrees = np.asarray(at, dtype=np.float64)
    asked = degrees if doubted is None else np.asarray(doubted, dtype=np.float64)
    present = amounts * kitchen.takes_part
    whole = float(present.sum())
    if whole <= 0.0:
        nothing = np.zeros(degrees.size)
        slopes = np.zeros((degrees.size, amounts.size))
        none = Excess(nothing, slopes, np.full(degrees.size, DOUBT))
        return dict.fromkeys(MEASURES, none)
    every = np.concatenate([degrees, asked - SPAN, asked + SPAN])
    rows = np.repeat(present[None, :], every.size, axis=0)
    settled = kitchen.settle_beside_singles(rows, every, degrees)
    cooler, warmer = settled.solids[0, degrees.size :].reshape(2, asked.size)
    steep = 100.0 * (cooler - warmer) / (2.0 * SPAN * whole) > STEEP
    doubt = np.full(degrees.size, DOUBT)
    doubt[np.isin(degrees, asked[steep])] = STEEP_DOUBT
    single = kitchen.singles(degrees)
    found = {}
    for row, measure in enumerate(MEASURES):
        here, slopes = (
            part[row, : degrees.size] for part in (settled.solids, settled.slopes)
        )
        counted = np.zeros_like(single)
        if measure != "wax":
            counted = single + kitchen.of_sum(measure, degrees)
        found[measure] = Excess(
            values=100.0 * (here - counted @ present),
            slopes=np.where(kitchen.takes_part, 100.0 * (slopes - counted), 0.0),
            doubt=doubt,
        )
    return found


# Upper end of each class of lauric share in the lipids, %.
CLASSES = (0.0, 5.0, 15.0, 30.0, 50.0, 70.0, 100.0)
# Points by which the sum is too high in about 9 blends of 10, at 20, 25 and 30 deg C,
# by the class's upper end. Over 1,500 random blends of two to five of twelve fats,
# judged by the melting model (itself good to about 8 points): this measures the sum
# against the model, not against a laboratory. Fats with much oil dissolve likewise.
ROOM: Mapping[float, tuple[float, float, float]] = {
    0.0: (8.0, 8.0, 14.0),
    5.0: (11.0, 12.0, 17.0),
    15.0: (15.0, 15.0, 17.0),
    30.0: (19.0, 22.0, 21.0),
    50.0: (21.0, 30.0, 21.0),
    70.0: (21.0, 32.0, 21.0),
    100.0: (21.0, 32.0, 21.0),
}
DEGREES = (20.0, 25.0, 30.0)
COVERED = "about 9 of 10 such blends"


def share_class(share: float) -> float:
    """Return the upper end of the class that a lauric share falls in, %.

    >>> share_class(0.0), share_class(10.0), share_class(80.0)
    (0.0, 15.0, 100.0)
    """
    return next(top for top in CLASSES if share <= top + 1e-9)


def margin(at: float, lauric_share: float) -> float:
    """Return the points to keep above a least solid fat by the straight sum.

    Parameters
    ----------
    at : float
        [deg C]; below 20 as at 20, above 30 as at 30.
    lauric_share : float
        Greatest share of lauric fats in the lipids, [%].

    >>> margin(20.0, 10.0), margin(25.0, 40.0)
    (15.0, 30.0)
    """
    return float(np.interp(at, DEGREES, ROOM[share_class(lauric_share)]))
