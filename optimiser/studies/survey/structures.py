"""Recipes of one class that are built apart: bands over all of them would mislead."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from optimiser.domain.catalogue import Catalogue
from optimiser.studies.survey.values import Recipe

__all__ = ["split", "structure_of"]

# From this share on a wax carries the product: published lotions hold up to 5 %,
# salves at least 9 % (common practice). Water and grains count from a tenth.
CARRYING_WAX = 7.0
TENTH = 10.0
ALIKE = "all alike"


def structure_of(recipe: Recipe, catalogue: Catalogue) -> tuple[str, str, str]:
    """Return what carries a recipe: its wax, its water, its grains."""
    water = "with water" if recipe.share("water").value >= TENTH else "without water"
    grains = recipe.share("exfoliant", "powder").value >= TENTH
    return (
        _wax(recipe, catalogue),
        water,
        "with grains or powder" if grains else "without grains",
    )


def _wax(recipe: Recipe, catalogue: Catalogue) -> str:
    """Return the kind of wax that carries a recipe."""
    if recipe.share("wax").value < CARRYING_WAX:
        return "little or no wax"
    kinds: dict[str, float] = {}
    for line in recipe.lines:
        if line.category != "wax" or line.percent is None:
            continue
        kind = "wax of unknown kind"
        if line.match.options:
            vegan = catalogue.ingredients[line.match.options[0]].vegan
            kind = {"no": "beeswax", "yes": "plant wax"}.get(vegan or "", kind)
        kinds[kind] = kinds.get(kind, 0.0) + line.percent.value
    return max(kinds, key=lambda kind: kinds[kind])


def split(
    recipes: Sequence[Recipe], catalogue: Catalogue
) -> Mapping[str, list[Recipe]]:
    """Return recipes by structure, the one with most recipes first.

    A structure is named by what differs between the recipes only; recipes that are
    all built alike make one.
    """
    features = [structure_of(recipe, catalogue) for recipe in recipes]
    differing = [at for at in range(3) if len({each[at] for each in features}) > 1]
    groups: dict[str, list[Recipe]] = {}
    for recipe, each in zip(recipes, features, strict=True):
        name = ", ".join(each[at] for at in differing) or ALIKE
        groups.setdefault(name, []).append(recipe)
    return dict(sorted(groups.items(), key=lambda item: -len(item[1])))
