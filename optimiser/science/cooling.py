"""How long a pot takes to cool by a degree."""

from __future__ import annotations

__all__ = ["TIME_CONSTANT", "seconds_per_kelvin"]

# Seconds in which the distance to room temperature falls to 37 %: 15 to 30 minutes
# for the small pots that makers stir (common practice, no measurement behind it).
TIME_CONSTANT = (900.0, 1800.0)


def seconds_per_kelvin(at: float, room: float) -> tuple[float, float]:
    """Return how long cooling by one kelvin takes, [s]: quick and slow pot.

    Parameters
    ----------
    at : float
        Temperature of the melt, [deg C].
    room : float
        Temperature of the room, [deg C].

    Raises
    ------
    ValueError
        If the melt is not warmer than the room.

    Notes
    -----
    Source: Newton's law of cooling, ``dT/dt = -(T - room) / tau``.

    >>> [round(each) for each in seconds_per_kelvin(38.0, 20.0)]
    [50, 100]
    """
    if at <= room:
        raise ValueError("the melt must be warmer than the room")
    quick, slow = TIME_CONSTANT
    return quick / (at - room), slow / (at - room)
