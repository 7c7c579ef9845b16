"""How strong a wax is beside another: one sets a bar twice as hard as the next."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from optimiser.domain.catalogue import Catalogue
from optimiser.science.properties import figure

__all__ = ["strength_of", "strengths"]

WAX = "wax"


def strength_of(key: str, catalogue: Catalogue) -> float | None:
    """Return the firmness that 1 % of a wax adds once it has set; None if not known.

    None as well of what is no wax.
    """
    if catalogue.ingredients[key].category != WAX:
        return None
    found = figure(catalogue, "wax firmness", key, None)
    return found.value if found is not None and found.value > 0.0 else None


def strengths(
    keys: Iterable[str], base: Mapping[str, float], catalogue: Catalogue, by: str
) -> dict[str, float]:
    """Return how often each wax counts as the one that a base has most of.

    Of candelilla in a base of beeswax some 2.2: so much less of it sets as hard. A wax
    of a kind that the base has not counts as the strongest where another of the base's
    own kind may come in, or it would for the last percent of that; else it counts once,
    as all by ingredient does, what is no wax or of unknown strength, and everything
    where no strength is known of the base.
    """
    whole = dict.fromkeys((*base, *keys), 1.0)
    own = [
        key
        for key, share in base.items()
        if share > 0.0 and by != "ingredient" and strength_of(key, catalogue)
    ]
    if not own:
        return whole
    one = strength_of(max(own, key=base.__getitem__), catalogue) or 1.0
    known = catalogue.figures.get("wax firmness", {})
    every = [strength_of(key, catalogue) or 0.0 for key in known]
    held = {catalogue.ingredients[key].group(by) for key, n in base.items() if n > 0.0}
    waxes = [key for key in whole if catalogue.ingredients[key].category == WAX]
    alike = {key for key in waxes if catalogue.ingredients[key].group(by) in held}
    strange = max(every) if alike - base.keys() else None
    for key in waxes:
        strength = strength_of(key, catalogue) if key in alike else strange
        whole[key] = 1.0 if strength is None else strength / one
    return whole
