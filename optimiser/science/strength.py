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
    keys: Iterable[str], base: Mapping[str, float], catalogue: Catalogue
) -> dict[str, float]:
    """Return how often each wax counts as the one that a base has most of.

    Of candelilla in a base of beeswax some 2.2: so much less of it sets as hard. What
    is no wax, or of unknown strength, counts once; so does all where the base has no
    wax of known strength.
    """
    known = {
        key: strength_of(key, catalogue) for key in {**base, **dict.fromkeys(keys)}
    }
    own = [key for key, share in base.items() if share > 0.0 and known[key] is not None]
    one = known[max(own, key=base.__getitem__)] if own else None
    return {
        key: 1.0 if each is None or one is None else each / one
        for key, each in known.items()
    }
