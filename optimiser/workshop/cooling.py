"""What to melt to, how to cool, and when a bar is as hard as it will be.

Common practice of makers but where a source is named.
"""

from __future__ import annotations

from collections.abc import Mapping

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import PARTS
from optimiser.science.composition import unknown_waxes
from optimiser.science.properties import figure

__all__ = ["BUBBLES", "days_until_hard", "melt_to", "ways_to_cool"]

# Kelvin above the highest melting point at which the last crystals are gone.
CLEAR = 2.0
# Percent of the lipids from which a butter or the waxes set the way a bar is cooled.
TELLS = 10.0
# Where a melt may thicken at the most to be seeded at 32 deg C, within the doubt.
SEEDED = 36.0
# Salves and balms with candelilla or carnauba wax reach full hardness in three to four
# days (maker's ratio guide, 2014).
SLOW = ("candelilla_wax", "carnauba_wax")
SLOW_DAYS, USUAL_DAYS = (3, 4), (1, 2)

BUBBLES = (
    "Knock the moulds on the table while the melt runs, to free bubbles; warm moulds"
    " trap fewer."
)
BLOOM = (
    "Cocoa-type butter blooms and stays soft unless tempered: at 32 °C stir in 1 to 2 %"
    " of it grated and unmelted (seed), or cool to 27 °C and warm again to 32 °C; then"
    " let it set slowly at 16 to 20 °C."
)
GRAIN = (
    "Shea-type butter turns grainy when it cools slowly: once poured, cool it quickly"
    " through 40 to 25 °C (a cold water bath or 20 minutes in a fridge)."
)
BOTH = (
    "Cocoa-type and shea-type butter ask for opposite things: seed at 32 °C first (1 to"
    " 2 % grated cocoa-type butter, unmelted), then cool quickly, so that neither bloom"
    " nor shea grain forms."
)
FIRST = (
    "Its wax sets before cocoa-type butter could be seeded (32 °C): let it set slowly"
    " at 16 to 20 °C; a thin bloom is only looks."
)
WAXY = "Let it cool slowly and evenly: much wax cooled fast shrinks, cracks and sinks."
FRIDGE = (
    "A fridge (5 °C) sets it in half an hour, but water settles on it; wrap it, let it"
    " come back to room temperature before unwrapping, and do not judge it cold."
)


def melt_to(used: Mapping[str, float], catalogue: Catalogue) -> float | None:
    """Return where the last crystals of a formula are gone, [deg C]; None if unknown.

    Of a wax of which no more is known than where it melts, the high end counts; with
    one of which not even that is, nothing is known.

    Parameters
    ----------
    used : mapping of ingredient key to percent, above zero
    """
    waxes = {*unknown_waxes(used, catalogue)}
    points = catalogue.figures.get("melting point", {})
    if not waxes <= points.keys():
        return None
    known = [
        found.high if key in waxes else found.value
        for key in used
        if catalogue.ingredients[key].category in PARTS["oil phase"]
        and (found := figure(catalogue, "melting point", key, None)) is not None
    ]
    known += [
        part.melting for key in used for part in catalogue.fats.solutes.get(key, ())
    ]
    return max(known) + CLEAR if known else None


def ways_to_cool(
    used: Mapping[str, float],
    catalogue: Catalogue,
    thickens: float | None,
    *,
    known: bool = True,
) -> tuple[str, ...]:
    """Return what to mind while it cools, in sentences.

    Parameters
    ----------
    used : mapping of ingredient key to percent, above zero
    thickens : float or None
        Where the melt thickens, [deg C]: what sets above 32 deg C cannot be seeded.
    known : bool
        Whether that is known at all; else nothing is said of seeding.
    """
    lipids = {
        key: percent
        for key, percent in used.items()
        if catalogue.ingredients[key].category in PARTS["lipids"]
    }
    whole = sum(lipids.values())
    if whole <= 0.0:
        return ()

    def share(**wanted: str) -> float:
        return sum(
            100.0 * percent / whole
            for key, percent in lipids.items()
            if all(
                getattr(catalogue.ingredients[key], field) == value
                for field, value in wanted.items()
            )
        )

    cocoa = share(category="hard butter", kind="cocoa-type")
    shea = share(category="soft butter", kind="shea-type")
    wax = share(category="wax")
    seeded = thickens is None or thickens <= SEEDED
    told = []
    if not known:
        told += [WAXY] if wax >= TELLS else []
    elif cocoa >= TELLS and shea >= TELLS and seeded:
        told.append(BOTH)
    elif cocoa >= TELLS and shea < TELLS:
        told.append(BLOOM if seeded else FIRST)
    elif shea >= TELLS:
        told.append(GRAIN)
    elif wax >= TELLS:
        told.append(WAXY)
    return (*told, FRIDGE)


def days_until_hard(used: Mapping[str, float], catalogue: Catalogue) -> tuple[int, int]:
    """Return from which day to which a bar comes to its full hardness."""
    slow = any(key in used for key in SLOW if key in catalogue.ingredients)
    return SLOW_DAYS if slow else USUAL_DAYS
