"""What is infused in an oil melts, weighs and is limited as the oil it is made in.

An ingredient names that oil as ``made_in``; what the maker knows of it himself stands
before what its oil lends. What was infused in it is not known by that: its INCI name
and what it holds stay as they are, and of allergens it has what its oil is, never what
its oil is not: what nobody told of the infusion itself is not known.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping
from functools import cache
from typing import TypeVar

from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.fats import FatData
from optimiser.domain.material import (
    OF_ITS_OIL,
    AllergenStatus,
    Figure,
    Ingredient,
    UsageLimit,
)
from optimiser.errors import Problem
from optimiser.reading.names import Names

__all__ = ["as_its_oil", "infusions", "lent", "with_their_oils"]

NOT_LENT = frozenset({"shelf life"})  # what is in it may shorten that
Lent = TypeVar("Lent")
Infusions = Mapping[str, str]  # key of an infusion -> key of its oil


def with_their_oils(
    ingredients: Mapping[str, Ingredient],
    names: Names,
    problems: list[Problem],
) -> dict[str, Ingredient]:
    """Return ingredients with the keys of the oils that infusions are made in.

    Adds a problem for one that is made in what is not known, or in another infusion.
    """
    found = dict(ingredients)
    for key, each in ingredients.items():
        if each.made_in is None:
            continue
        oil = names.find(each.made_in)
        if oil is None or oil not in ingredients:
            wrong = names.wrong(each.made_in)
            fix = "name the oil or butter that it is made in"
        elif ingredients[oil].made_in is not None or oil == key:
            wrong = "is an infusion itself"
            fix = "name the oil or butter that is in it"
        else:
            found[key] = as_its_oil(each, ingredients[oil])
            continue
        where = each.origin
        problems.append(
            Problem(wrong, where.file, where.row, "made_in", each.made_in, fix)
        )
        found[key] = replace(each, made_in=None)
    return found


def as_its_oil(infusion: Ingredient, oil: Ingredient) -> Ingredient:
    """Return an infusion that is of its oil's kind where it names none itself."""
    alike = infusion.category == oil.category
    return replace(
        infusion,
        made_in=oil.key,
        kind=infusion.kind or (oil.kind if alike else None),
        family=infusion.family or oil.family,
        stage=infusion.stage or oil.stage,
        dissolves=infusion.dissolves or oil.dissolves,
    )


def lent(
    known: Mapping[str, Lent],
    made_in: Infusions,
    given: Callable[[str, Lent], Lent] = lambda _, row: row,
) -> dict[str, Lent]:
    """Return rows by ingredient, those of their oils for infusions that have none."""
    more = {
        key: given(key, known[oil])
        for key, oil in made_in.items()
        if oil in known and key not in known
    }
    return {**known, **more}


def infusions(catalogue: Catalogue) -> Catalogue:
    """Return a catalogue in which infusions have what their oils lend them."""
    made_in = {
        key: each.made_in
        for key, each in catalogue.ingredients.items()
        if each.made_in is not None
    }
    if not made_in:
        return catalogue
    load = catalogue.load_fats

    @cache
    def load_fats() -> FatData:
        fats = load()
        return FatData(
            acids=lent(fats.acids, made_in),
            triglycerides=lent(fats.triglycerides, made_in),
            fusion=fats.fusion,
            correlation=fats.correlation,
            solutes=lent(fats.solutes, made_in),
            evidence=lent(fats.evidence, made_in),
        )

    return replace(
        catalogue,
        figures={
            name: rows if name in NOT_LENT else lent(rows, made_in, _assumed)
            for name, rows in catalogue.figures.items()
        },
        contents={name: lent(x, made_in) for name, x in catalogue.contents.items()},
        allergens={
            name: {**_of_their_oils(rows, made_in), **rows}
            for name, rows in catalogue.allergens.items()
        },
        limits=(*catalogue.limits, *_limits(catalogue, made_in)),
        load_fats=load_fats,
    )


def _of_their_oils(
    rows: Mapping[str, AllergenStatus], made_in: Infusions
) -> dict[str, AllergenStatus]:
    """Return what infusions are for the oil in them: listed, or not known."""
    found = {}
    for key, oil in made_in.items():
        if oil in rows and any(rows[oil].listed.values()):
            listed = {each: yes or None for each, yes in rows[oil].listed.items()}
            found[key] = replace(
                rows[oil], ingredient=key, listed=listed, flag=OF_ITS_OIL
            )
    return found


def _assumed(
    _: str, rows: Mapping[float | None, Figure]
) -> Mapping[float | None, Figure]:
    """Return figures that were read of an oil, as they are taken for its infusion."""
    return {at: replace(each, evidence="assumed") for at, each in rows.items()}


def _limits(catalogue: Catalogue, made_in: Infusions) -> Iterator[UsageLimit]:
    """Yield an oil's limits for what is made in it and has none of its own."""
    limited: Collection[str] = {each.ingredient for each in catalogue.limits}
    for key, oil in made_in.items():
        if key not in limited:
            for each in catalogue.limits:
                if each.ingredient == oil:
                    yield replace(each, ingredient=key)
