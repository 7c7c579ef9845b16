"""Recipes of one class that are built apart: bands over all of them would mislead."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from optimiser.domain.catalogue import Catalogue
from optimiser.science.properties import figure
from optimiser.studies.survey.values import Recipe

__all__ = ["TENTH", "split", "structure_of"]

# From this share on, counted as beeswax, a wax carries the product: published lotions
# hold up to 5 %, salves at least 9 % (common practice). Water counts from a tenth.
# Grains alone from where face bars have them, 5 parts on 100 of base, with powders from
# a tenth: butters hold up to 6 % of starch.
CARRYING_WAX = 7.0
TENTH = 10.0
GRAINS = 4.0
FEW = 3  # recipes: ways of building that no three share are pooled
ROOM = 25.0  # deg C
ALIKE = "all alike"
NO_WAX = "little or no wax"
BEESWAX = "beeswax"


Features = tuple[str, str, str]


def structure_of(recipe: Recipe, catalogue: Catalogue) -> Features:
    """Return what carries a recipe: its wax, its water, its grains."""
    water = "with water" if recipe.share("water").value >= TENTH else "without water"
    grains = recipe.share("exfoliant").value >= GRAINS
    grains = grains or recipe.share("exfoliant", "powder").value >= TENTH
    return (
        _wax(recipe, catalogue),
        water,
        "with grains or powder" if grains else "without grains",
    )


def _wax(recipe: Recipe, catalogue: Catalogue) -> str:
    """Return the kind of wax that carries a recipe."""
    kinds: dict[str, float] = {}
    for line in recipe.lines:
        if line.category != "wax" or line.percent is None:
            continue
        kind = "wax of unknown kind"
        if line.match.options:
            vegan = catalogue.ingredients[line.match.options[0]].vegan
            kind = {"no": "beeswax", "yes": "plant wax"}.get(vegan or "", kind)
        strength = _strength(line.match.ingredient, catalogue)
        kinds[kind] = kinds.get(kind, 0.0) + line.percent.value * strength
    if sum(kinds.values()) < CARRYING_WAX:
        return NO_WAX
    return max(kinds, key=lambda kind: kinds[kind])


def _strength(key: str | None, catalogue: Catalogue) -> float:
    """Return how much beeswax does what one part of a wax does; 1 if not known."""
    if key is None:
        return 1.0
    of = [figure(catalogue, "firmness", each, ROOM) for each in (key, BEESWAX)]
    mine, bees = of
    if mine is None or bees is None or bees.value <= 0.0:
        return 1.0
    return mine.value / bees.value


def _any_wax(of: Features) -> Features:
    return (NO_WAX if of[0] == NO_WAX else "carried by wax", *of[1:])


def _any_grains(of: Features) -> Features:
    return (*of[:2], "")


def _any(of: Features) -> Features:  # noqa: ARG001 - one of three ways to pool
    return ("", "", "")


def split(
    recipes: Sequence[Recipe], catalogue: Catalogue
) -> Mapping[str, list[Recipe]]:
    """Return recipes by structure, the one with most recipes first.

    A structure is named by what differs between the recipes only; recipes that are
    all built alike make one. Where no three are built alike they are pooled: first
    whatever wax carries them, then with grains or without, then all.
    """
    features = [structure_of(recipe, catalogue) for recipe in recipes]
    for pool in (_any_wax, _any_grains, _any):
        counts = Counter(features)
        if len(recipes) < FEW or max(counts.values()) >= FEW:
            break
        features = [pool(each) for each in features]
    differing = [at for at in range(3) if len({each[at] for each in features}) > 1]
    groups: dict[str, list[Recipe]] = {}
    for recipe, each in zip(recipes, features, strict=True):
        name = ", ".join(each[at] for at in differing) or ALIKE
        groups.setdefault(name, []).append(recipe)
    return dict(sorted(groups.items(), key=lambda item: -len(item[1])))
