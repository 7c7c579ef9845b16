"""At which stage an ingredient goes in: one way, for the sheet and for pouring."""

from __future__ import annotations

from optimiser.domain.material import PARTS, UNKNOWN, Ingredient

__all__ = ["COOLED", "STAGES", "stage_of"]

# In the order in which they are done; "pour" and "set" weigh nothing. Of the last one
# it is not known when it goes in.
STAGES = ("melt", "water", "stir", "add", "unknown")
COOLED = frozenset({"preservative", "scent", "antioxidant"})
WATERY = frozenset({"water", "humectant"})
_AS_TOLD = {
    "melt": "melt",
    "water": "water",
    "thicken": "stir",
    "dry": "stir",
    "cool-down": "add",
}


def stage_of(ingredient: Ingredient) -> str:
    """Return one of ``STAGES``: as the catalogue tells, else by its category."""
    if ingredient.stage in _AS_TOLD:
        return _AS_TOLD[ingredient.stage]
    if ingredient.category == UNKNOWN:
        return "unknown"
    if ingredient.category in PARTS["solids"]:
        return "stir"
    if ingredient.category in WATERY:
        return "water"
    return "add" if ingredient.category in COOLED else "melt"
