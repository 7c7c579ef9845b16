"""Room to keep on the straight sum of solid fats, by the share of lauric fats.

A simpler safeguard than the melting model, for where the model has no say.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

__all__ = ["COVERED", "margin", "share_class"]

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
