"""Grains in a melt: how fast they fall, and what holds them up."""

from __future__ import annotations

import math
from collections.abc import Mapping

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import PARTS, Figure
from optimiser.science.properties import figure
from optimiser.science.settling import fall_speed, reynolds, solids_to_hold
from optimiser.science.viscosity import MeltViscosity

__all__ = ["MELT_DENSITY", "Grain", "Melt", "Range", "fallen"]

Range = tuple[float, float, float]  # low, value, high

MELT_DENSITY = 900.0  # kg/m^3; molten fats are 890 to 920 near 40 deg C (Codex tables)


class Melt(Struct, frozen=True):
    """The clear melt at a temperature, deg C, and how fast its pot cools there, s/K."""

    at: float
    viscosity: MeltViscosity
    seconds_per_kelvin: tuple[float, float]


class Grain(Struct, frozen=True):
    """Particles of one ingredient in the melt just above its gel point.

    ``seconds`` to fall ``depth_mm``; ``last_kelvin_mm`` what they fall while the pot
    cools by one kelvin there; ``held_by`` the crystals that hold them, percent.
    """

    ingredient: str
    name: str
    size_mm: Range
    density: float
    speed_mm_s: Range = (0.0, 0.0, 0.0)
    seconds: Range = (math.inf, math.inf, math.inf)
    last_kelvin_mm: tuple[float, float] = (0.0, 0.0)
    held_by: tuple[float, float] = (0.0, 0.0)
    reynolds: float = 0.0


def fallen(
    used: Mapping[str, float],
    catalogue: Catalogue,
    melt: Melt | None,
    depth_mm: float,
) -> tuple[tuple[Grain, ...], float, tuple[str, ...]]:
    """Return the grains that could be judged, their share by volume, and the rest.

    Parameters
    ----------
    used : mapping of ingredient key to percent, above zero
    melt : Melt or None
        None where there is no melt to fall in: no grain is judged then.
    depth_mm : float
        How far they may fall, [mm].

    Notes
    -----
    Particles of unknown density count as liquid in the share by volume, which makes
    the others fall faster than they do: the times err on the short side.
    """
    solids = [
        key for key in used if catalogue.ingredients[key].category in PARTS["solids"]
    ]
    densities = {key: figure(catalogue, "density", key, 20.0) for key in solids}
    share = _volume_share(used, densities)
    grains, missing = [], []
    for key in solids:
        size, density = figure(catalogue, "particle size", key, None), densities[key]
        name = catalogue.ingredients[key].name
        if size is None or density is None:
            words = [] if size is not None else ["grain size"]
            words += [] if density is not None else ["density"]
            missing.append(f"{name}: no {' and no '.join(words)} known")
        elif melt is not None:
            lone = Grain(key, name, (size.low, size.value, size.high), density.value)
            grains.append(_falling(lone, melt, share, depth_mm))
    return tuple(grains), share, tuple(missing)


def _volume_share(
    used: Mapping[str, float], densities: Mapping[str, Figure | None]
) -> float:
    """Return the share of the volume that particles of known density take."""
    known = {key: found.value for key, found in densities.items() if found is not None}
    volume = sum(used[key] / density for key, density in known.items())
    liquid = sum(percent for key, percent in used.items() if key not in known)
    return volume / (volume + liquid / MELT_DENSITY) if liquid > 0.0 else 0.0


def _falling(grain: Grain, melt: Melt, share: float, depth_mm: float) -> Grain:
    """Return how a grain falls: small in thick fat slowest, large in thin fastest."""
    excess = grain.density - MELT_DENSITY
    viscosity = melt.viscosity
    thick_to_thin = (viscosity.high, viscosity.value, viscosity.low)
    slow, usual, fast = (
        1e3 * fall_speed(mm / 1e3, excess, mu / 1e3, share)
        for mm, mu in zip(grain.size_mm, thick_to_thin, strict=True)
    )
    quick_pot, slow_pot = melt.seconds_per_kelvin
    times = [depth_mm / abs(v) if v else math.inf for v in (fast, usual, slow)]
    held = [solids_to_hold(grain.size_mm[end] / 1e3, excess) for end in (0, 2)]
    return replace(
        grain,
        speed_mm_s=(slow, usual, fast),
        seconds=(times[0], times[1], times[2]),
        last_kelvin_mm=(abs(usual) * quick_pot, abs(usual) * slow_pot),
        held_by=(held[0][0], held[1][1]),
        reynolds=reynolds(
            fast / 1e3, grain.size_mm[2] / 1e3, MELT_DENSITY, viscosity.low / 1e3
        ),
    )
