"""Exclusions: by allergen and reading, vegan, palm-free, by name or category."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.exclusions import Excluded, contains, is_near
from optimiser.domain.material import Origin
from optimiser.domain.rule import Rule
from optimiser.domain.scenario import Scenario
from optimiser.domain.wording import Measured
from optimiser.rules.space import Space

__all__ = ["rules", "undecided"]


def undecided(rule: Rule, key: str, scenario: Scenario, catalogue: Catalogue) -> str:
    """Return the table that lacks whether an ingredient is what a rule keeps out.

    "" where that is known, or where it is kept out by its name.
    """
    asked, ingredient = scenario.exclude, catalogue.ingredients[key]
    out = rule.about
    if not isinstance(out, Excluded):
        return ""
    if out.kind == "allergens":
        known = contains(catalogue, key, out.entry, scenario.markets, asked.reading)
        status = catalogue.allergens.get(out.entry, {}).get(key)
        if status is not None and status.flag in {None, "unknown"}:
            # Some list names it, or it is out until somebody vouches for it.
            known = True if any(status.listed.values()) else None
        return "allergens.csv" if known is None else ""
    flags = {"vegan": ingredient.vegan, "palm_free": ingredient.palm}
    return "ingredients.csv" if flags.get(out.kind, "no") not in {"yes", "no"} else ""


def rules(space: Space) -> Iterator[Rule]:
    """Yield one rule a wish, over everything that it keeps out."""
    asked = space.scenario.exclude
    markets = space.scenario.markets
    for allergen in asked.allergens:
        out = [
            i
            for i, key in enumerate(space.ingredients)
            if contains(space.catalogue, key, allergen, markets, asked.reading)
            is not False
        ]
        words = Measured(allergen, none=f"no {allergen}")
        what = Excluded("allergens", allergen, allergen)
        rule = _none(space, what, words, out, owner="safety")
        careful = asked.reading == "cautious"
        yield replace(rule, provisos=("cautious reading",)) if careful else rule
        if not careful and space.scenario.base:
            yield _none_near(space, allergen)
    if asked.vegan:
        out = [
            i
            for i in range(len(space.ingredients))
            if space.ingredient(i).vegan != "yes"
        ]
        unknown = _not_known("vegan")
        rule = _none(space, Excluded("vegan", "", "vegan"), unknown, out)
        yield replace(rule, all_or_nothing=True)
    if asked.palm_free:
        out = [
            i for i in range(len(space.ingredients)) if space.ingredient(i).palm != "no"
        ]
        unknown = _not_known("free of palm")
        rule = _none(space, Excluded("palm_free", "", "palm"), unknown, out)
        yield replace(rule, all_or_nothing=True)
    yield from _by_name(space)


def _none_near(space: Space, allergen: str) -> Rule:
    """Return that nothing comes in which the cautious reading alone keeps out.

    What the base has stays, and so may what the scenario itself asks for, if only by
    a least share of 0: what takes the place of a nut is no nut by name or botany.
    """
    scenario = space.scenario
    asked = scenario.asked_by_name
    out = [
        i
        for i, key in enumerate(space.ingredients)
        if key not in asked
        and is_near(space.catalogue, key, allergen, scenario.markets)
    ]
    near = f"close to {allergen}, though not listed"
    words = Measured(f"what is new and {near}", none=f"nothing new that is {near}")
    rule = _none(space, Excluded("allergens", allergen, allergen), words, out)
    return replace(
        rule,
        id=f"near/{allergen}",
        kind="near",
        told_empty=False,
        all_or_nothing=True,
        about=None,
    )


def _by_name(space: Space) -> Iterator[Rule]:
    asked = space.scenario.exclude
    for key in asked.ingredients:
        name = space.catalogue.ingredients[key].name
        out = [space.index[key]] if key in space.index else []
        words = Measured(name, none=f"no {name}")
        yield _none(space, Excluded("ingredients", key, name), words, out)
    for category in asked.categories:
        yield _none(
            space,
            Excluded("categories", category, category),
            Measured(category, none=f"no {category}"),
            space.members(category),
        )


def _not_known(what: str) -> Measured:
    unknown = f"is not known to be {what}"
    return Measured(f"what {unknown}", none=f"nothing that {unknown}")


def _none(
    space: Space,
    what: Excluded,
    wording: Measured,
    out: Sequence[int],
    *,
    owner: str = "wish",
) -> Rule:
    origins = space.scenario.exclude.origins
    origin = origins.get(what.field) or Origin(space.scenario.file, field="exclude")
    return Rule(
        id=what.rule_id,
        wording=wording,
        kind="exclusion",
        side="max",
        limit=0.0,
        unit="%",
        amounts=space.sum_of(out),
        per_constant=1.0,
        owner=owner,
        origin=origin,
        about=what,
    )
