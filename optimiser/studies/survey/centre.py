"""The centre of compositions: the closed geometric mean.

Shares that sum to 100 are not free of each other, so their centre is taken over
ratios: the geometric mean of each part, closed again. A part that a recipe lacks is
first given a small share, taken from the others in proportion.

Sources: J. Aitchison, The Statistical Analysis of Compositional Data, 1986; J. A.
Martin-Fernandez et al., Mathematical Geology 35:253, 2003 (multiplicative replacement).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = ["centre", "closed", "without_zeros"]

Floats = NDArray[np.float64]

SMALL = 0.005  # share given to a part that a recipe lacks: half a percent


def closed(shares: Floats) -> Floats:
    """Return rows that sum to 1.

    Parameters
    ----------
    shares : float array, (recipes, parts) or (parts,)

    >>> closed(np.array([1.0, 3.0])).tolist()
    [0.25, 0.75]
    """
    return np.asarray(shares / shares.sum(axis=-1, keepdims=True))


def without_zeros(shares: Floats, small: float = SMALL) -> Floats:
    """Return closed rows whose zeros are ``small``, the rest lessened in proportion."""
    rows = closed(shares)
    zero = rows == 0.0
    taken = zero.sum(axis=-1, keepdims=True) * small
    return np.where(zero, small, rows * (1.0 - taken))


def centre(shares: Floats, small: float = SMALL) -> Floats:
    """Return the centre of compositions, (parts,), summing to 1.

    Parameters
    ----------
    shares : float array, (recipes, parts)
        Each row any positive multiple of a composition; zeros are replaced.
    """
    logs = np.log(without_zeros(shares, small))
    return closed(np.exp(logs.mean(axis=0)))
