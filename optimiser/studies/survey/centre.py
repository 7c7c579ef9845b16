"""The centre of compositions: the closed geometric mean.

Shares that sum to 100 are not free of each other, so their centre is taken over
ratios: the geometric mean of each part over the recipes that hold it, closed again.

Source: J. Aitchison, The Statistical Analysis of Compositional Data, 1986.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["centre", "closed"]

Floats = NDArray[np.float64]


def closed(shares: Floats) -> Floats:
    """Return rows that sum to 1.

    Parameters
    ----------
    shares : float array, (recipes, parts) or (parts,)

    >>> closed(np.array([1.0, 3.0])).tolist()
    [0.25, 0.75]
    """
    return np.asarray(shares / shares.sum(axis=-1, keepdims=True))


def centre(shares: Floats) -> Floats:
    """Return the centre, (parts,), each part over those that hold it, summing to 1.

    Parameters
    ----------
    shares : float array, (recipes, parts)
        Each row any positive multiple of a composition; each part is held by some.

    Notes
    -----
    What a recipe does without says nothing of how much the others use: half a percent
    in its place would draw the mean of ratios far below what anybody uses. Where every
    recipe holds every part it is the centre itself.

    >>> centre(np.array([[50.0, 50.0], [80.0, 20.0], [100.0, 0.0]])).round(3)
    array([0.7, 0.3])
    """
    rows = closed(shares)
    held = rows > 0.0
    logs = np.log(np.where(held, rows, 1.0))
    return closed(np.exp(logs.sum(axis=0) / held.sum(axis=0)))
