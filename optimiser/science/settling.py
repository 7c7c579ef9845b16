"""How fast particles fall in molten fat, what holds them up, and how soon it cools."""

from __future__ import annotations

import math

__all__ = [
    "GRAVITY",
    "TIME_CONSTANT",
    "crowding",
    "fall_speed",
    "reynolds",
    "seconds_per_kelvin",
    "solids_to_hold",
    "stokes_speed",
    "yield_stress_to_hold",
]

GRAVITY = 9.80665  # m/s^2, standard
RICHARDSON_ZAKI = 4.65
# Stress that just holds a sphere, in units of excess density x g x diameter: theory,
# and the greater figures of experiments.
HOLDING = (0.048, 0.2)
# Shortenings of about 22 % solids yield at 25 to 70 kPa; the stress of a crystal
# network falls with the third to fourth power of its solids.
NETWORK_SOLIDS = 22.0
NETWORK_YIELD = (25e3, 70e3)
NETWORK_POWER = (3.0, 4.0)


def stokes_speed(diameter: float, excess_density: float, viscosity: float) -> float:
    """Return the speed of one small sphere in a still liquid.

    Parameters
    ----------
    diameter : float
        Of the particle, [m].
    excess_density : float
        Density of the particle less that of the liquid, [kg/m^3]; negative rises.
    viscosity : float
        Of the liquid, [Pa s].

    Returns
    -------
    float
        Speed downward, [m/s].

    Raises
    ------
    ValueError
        If the viscosity or the diameter is not above zero.

    Notes
    -----
    Source: Stokes, Trans. Cambridge Philos. Soc. 9:8, 1851: ``v = drho g d^2 / 18 mu``.
    Good to a few percent below a Reynolds number of 0.1, too fast beyond 1.

    >>> f"{stokes_speed(200e-6, 400.0, 0.048) * 1000:.2f} mm/s"
    '0.18 mm/s'
    """
    if diameter <= 0.0 or viscosity <= 0.0:
        raise ValueError("diameter and viscosity must be above zero")
    return excess_density * GRAVITY * diameter**2 / (18.0 * viscosity)


def crowding(volume_share: float) -> float:
    """Return by how much neighbours slow the fall: 1 alone, near 0 when packed.

    Parameters
    ----------
    volume_share : float
        Share of the volume that particles take, 0 to below 1.

    Raises
    ------
    ValueError
        If the share is outside that range.

    Notes
    -----
    Source: Richardson and Zaki, Trans. Inst. Chem. Eng. 32:35, 1954:
    ``(1 - phi)^4.65`` at low Reynolds numbers. A review of 15 studies finds 4.48 for
    grains (Brzinski and Durian, Phys. Rev. Fluids 3:124303, 2018).

    >>> [round(crowding(each), 2) for each in (0.1, 0.3, 0.5)]
    [0.61, 0.19, 0.04]
    """
    if not 0.0 <= volume_share < 1.0:
        raise ValueError("a share of the volume is from 0 to below 1")
    return float((1.0 - volume_share) ** RICHARDSON_ZAKI)


def fall_speed(
    diameter: float, excess_density: float, viscosity: float, volume_share: float
) -> float:
    """Return the speed of particles among their like, [m/s] downward.

    Parameters are those of `stokes_speed` and `crowding`.
    """
    return stokes_speed(diameter, excess_density, viscosity) * crowding(volume_share)


def reynolds(
    speed: float, diameter: float, liquid_density: float, viscosity: float
) -> float:
    """Return the Reynolds number of a fall; Stokes' law holds well below 1.

    Parameters in m/s, m, kg/m^3 and Pa s.
    """
    return abs(speed) * diameter * liquid_density / viscosity


def yield_stress_to_hold(diameter: float, excess_density: float) -> tuple[float, float]:
    """Return the least yield stress that holds a particle up, [Pa]: low and high.

    Parameters
    ----------
    diameter : float
        Of the particle, [m].
    excess_density : float
        Density of the particle less that of the liquid, [kg/m^3].

    Notes
    -----
    Sources: 0.048 from the computed limit for a sphere, Beris et al., J. Fluid Mech.
    158:219, 1985; experiments need up to 0.2 (from memory).
    """
    force = abs(excess_density) * GRAVITY * diameter
    return HOLDING[0] * force, HOLDING[1] * force


def solids_to_hold(diameter: float, excess_density: float) -> tuple[float, float]:
    """Return the crystals that hold a particle up, [% solids]: low and high.

    Notes
    -----
    A network of crystals yields at ``stress ~ solids^n``, n from 3 to 4, through the
    25-70 kPa measured on palm shortenings (Fett/Lipid 97:253, 1995), whose solids are
    taken as 22 %. A rough figure: a reach over four powers of ten.
    """
    low, high = yield_stress_to_hold(diameter, excess_density)
    return (
        NETWORK_SOLIDS * math.pow(low / NETWORK_YIELD[1], 1.0 / NETWORK_POWER[0]),
        NETWORK_SOLIDS * math.pow(high / NETWORK_YIELD[0], 1.0 / NETWORK_POWER[1]),
    )


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
