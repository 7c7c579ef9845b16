"""Exclusions: by allergen and reading, vegan, palm-free, by name or category."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import Origin
from optimiser.domain.rule import Rule
from optimiser.rules.space import Space

__all__ = ["contains", "rules"]

# Flags that a cautious reader accepts; all others are a question to ask.
UNRELATED = frozenset({"no_nut_relation", "unrelated"})


def contains(
    catalogue: Catalogue,
    key: str,
    allergen: str,
    markets: Sequence[str],
    reading: str,
) -> bool | None:
    """Whether an ingredient counts as an allergen; None if nothing is known.

    The "listed" reading asks the authorities of the markets (all of them where no
    market is named); the "cautious" one also keeps out botanical nuts and kernels
    and anything whose status is not settled.
    """
    status = catalogue.allergens.get(allergen, {}).get(key)
    if status is None:
        classified = any(key in rows for rows in catalogue.allergens.values())
        return False if classified else None
    asked = [m for m in markets if m in status.listed] or list(status.listed)
    listed = [status.listed[m] for m in asked]
    if any(listed):
        return True
    if reading == "cautious":
        if any(status.listed.values()) or status.flag not in UNRELATED:
            return True
        return None if all(each is None for each in listed) else False
    return None if any(each is None for each in listed) else False


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
        reading = "" if asked.reading == "listed" else ", cautious reading"
        yield _none(
            space,
            f"exclude/{allergen}",
            f"no {allergen}{reading}",
            out,
            "safety",
            f"allergens.{allergen}",
        )
    if asked.vegan:
        out = [
            i
            for i in range(len(space.ingredients))
            if space.ingredient(i).vegan != "yes"
        ]
        sentence = "nothing that is not known to be vegan"
        yield _none(space, "exclude/vegan", sentence, out, "wish", "vegan")
    if asked.palm_free:
        out = [
            i for i in range(len(space.ingredients)) if space.ingredient(i).palm != "no"
        ]
        sentence = "nothing that is not known to be free of palm"
        yield _none(space, "exclude/palm", sentence, out, "wish", "palm_free")
    yield from _by_name(space)


def _by_name(space: Space) -> Iterator[Rule]:
    asked = space.scenario.exclude
    for key in asked.ingredients:
        name = space.catalogue.ingredients[key].name
        out = [space.index[key]] if key in space.index else []
        yield _none(
            space, f"exclude/{name}", f"no {name}", out, "wish", f"ingredients.{key}"
        )
    for category in asked.categories:
        yield _none(
            space,
            f"exclude/{category}",
            f"no {category}",
            space.members(category),
            "wish",
            f"categories.{category}",
        )


def _none(
    space: Space, name: str, sentence: str, out: Sequence[int], owner: str, field: str
) -> Rule:
    origins = space.scenario.exclude.origins
    origin = origins.get(field) or Origin(space.scenario.file, field="exclude")
    return Rule(
        id=name,
        sentence=sentence,
        kind="exclusion",
        side="max",
        limit=0.0,
        unit="%",
        amounts=space.sum_of(out),
        per_constant=1.0,
        owner=owner,
        origin=origin,
    )
