"""The windows that recipes of a solid class keep: solid in a room, melting on skin."""

from __future__ import annotations

import math
from collections.abc import Sequence

from optimiser.domain.law import Zone
from optimiser.studies.survey.faults import SOFT, Known, firmness, is_solid
from optimiser.studies.survey.structures import TENTH
from optimiser.studies.survey.values import HeldWindow, Recipe

__all__ = ["ROOM", "windows"]

ROOM = 25.0  # deg C, where no climate is named
SKIN = 35.0  # deg C
DOUBT = 8.0  # points that the model is quoted to


def windows(
    recipes: Sequence[Recipe], known: Known, zone: Zone | None
) -> tuple[HeldWindow, ...]:
    """Return the windows of a solid class; none where most recipes are not solid.

    Parameters
    ----------
    recipes : sequence of Recipe
        Those of one structure that are used.
    zone : Zone or None
        What is kept solid in its storage if three quarters of them are solid there,
        or else in a room; as firm as the least firm of these, and no firmer than the
        firmest within what the model may be off by: as much plant wax in the place of
        beeswax makes another thing of it.
    """
    solid = [
        each for each in recipes if is_solid(each) and each.share("water").value < TENTH
    ]
    if 2 * len(solid) <= len(recipes):
        return ()
    places = [] if zone is None else [(zone.high, True)]
    found: list[HeldWindow] = []
    for at, storage in (*places, (ROOM, False)):
        told = _known(solid, known, at, "firmness")
        firm = [each for each in told if each >= SOFT]
        if 2 * len(told) > len(solid) and 4 * len(firm) >= 3 * len(told):
            low, high = (
                float(math.floor(min(firm))),
                float(math.ceil(max(firm) + DOUBT)),
            )
            name = "stays solid"
            found.append(
                HeldWindow(name, "firmness", at, storage, low, high, len(firm))
            )
            break
    else:
        return ()
    told = _known(solid, known, SKIN, "solid fat")
    if 2 * len(told) > len(solid):
        high = float(max(1, math.ceil(max(told))))
        name = "melts on the skin"
        found.append(HeldWindow(name, "solid fat", SKIN, False, None, high, len(told)))
    return tuple(found)


def _known(
    recipes: Sequence[Recipe], known: Known, at: float, kind: str
) -> list[float]:
    """Return the figures of those recipes whose figures are known."""
    found = (firmness(each, known, at, kind) for each in recipes)
    return [each.value for each in found if each is not None]
