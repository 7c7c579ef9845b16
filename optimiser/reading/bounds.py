"""What a scenario limits and keeps out: bands, limits, pins, choices, exclusions."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from typing import TYPE_CHECKING

from optimiser.domain.catalogue import fold
from optimiser.domain.material import CATEGORIES, PARTS, Origin
from optimiser.domain.scenario import Bound, Choice, Emulsify, Exclusions, Steps
from optimiser.domain.spoken import allergen_named, one_nut, unclear_allergen
from optimiser.reading.asking import Asking
from optimiser.reading.names import Names
from optimiser.reading.shapes import shown_value

if TYPE_CHECKING:
    from optimiser.reading.scenario_files import SideTable

__all__ = [
    "bands_of",
    "base_of",
    "choices_of",
    "closeness_of",
    "constituents_of",
    "emulsify_of",
    "exclusions_of",
    "guard_of",
    "least_if_used_of",
    "limits_of",
    "only_of",
    "opinion_of",
    "parts_of",
    "pins_of",
    "steps_of",
    "stock_only_of",
]

SUM_TOLERANCE, SUM_ROUNDING = 0.05, 1e-9
# Percent: finer steps than any scale shows, and coarser ones than any formula has.
LEAST_STEP, MOST_STEP = 0.001, 50.0
RESERVED = ("all", "default")  # what [choices] and [least_if_used] call everything
MOST_CHOICES = 1000
MOST_TOTALS = 40
MOST_WITHIN = 20  # HLB goes from 0 to 20
READINGS = ("listed", "cautious")


def parts_of(asking: Asking) -> None:
    """Add the scenario's own parts to the known ones, as categories and keys."""
    own: dict[str, tuple[str, ...]] = {}
    for name, members in asking.file.parts.items():
        origin = asking.origin("parts", name)
        text = asking.written(origin, "parts")
        if name in asking.parts or asking.catalogue.exact(name) is not None:
            fix = "choose another name for the part"
            asking.say(origin, "is the name of something else already", fix, text)
            continue
        if name in RESERVED:
            wrong = "is a word that stands for every ingredient"
            asking.say(origin, wrong, "choose another name for the part", text)
            continue
        if not members:
            asking.say(origin, "has nothing in it", "list what belongs to it")
        held: list[str] = []
        for number, member in enumerate(members, start=1):
            held += _members(asking, member, origin, f"[{number}]")
        own[name] = tuple(dict.fromkeys(held))
    asking.parts |= own


def _members(asking: Asking, text: str, origin: Origin, key: str) -> tuple[str, ...]:
    """Return the categories and keys that one entry of a part stands for."""
    part = asking.part(text, origin, key)
    return () if part is None else asking.parts[part]


def base_of(asking: Asking) -> dict[str, float]:
    """Return the base, percent of the finished product by key, summing to 100."""
    found: dict[str, float] = {}
    for name, value in asking.file.base.items():
        origin = asking.origin("base", name)
        key = asking.ingredient(asking.written(origin, "base"), origin)
        asking.percent(value, origin)
        found[key or name] = value
    total = math.fsum(found.values())
    sound = asking.sound("base") and all(0 <= each <= 100 for each in found.values())
    if not found or not sound:
        return {}
    if abs(total - 100) > SUM_TOLERANCE:
        wrong = f"sums to {total:g}, not to 100"
        asking.say(asking.origin("base"), wrong, _base_fix(asking, total))
        return {}
    off = abs(total - 100) > SUM_ROUNDING  # else each is as it is written
    return {
        key: value * 100 / total if off else value
        for key, value in found.items()
        if value > 0
    }


def _base_fix(asking: Asking, total: float) -> str:
    """Return how to mend a base's sum.

    Where a line was taken out of it: how to make it without that, for the base is
    what it is compared with.
    """
    known = asking.catalogue.ingredients
    gone = [key for table, key in asking.merged.off if table == "base" and key in known]
    if total > 100 or not gone:
        return _sum_fix(total)
    names = sorted(known[key].name for key in gone)
    rows = " and ".join(f'"{name}" = false' for name in names)
    told = ", ".join(f'"{name}"' for name in names)
    write = f"write [exclude] and, below it, ingredients = [{told}]"
    if asking.file.exclude is not None:
        write = f"add {told} to ingredients below [exclude]"
    return (
        f"to make it without {' and '.join(names)}, take {rows} out of [base] and"
        f" {write}; or {_sum_fix(total)}"
    )


def _sum_fix(total: float) -> str:
    """Return how to bring a sum of percentages to 100."""
    if abs(total - 1) <= SUM_TOLERANCE / 100:
        return "write percent of the finished product, as in 40 for 0.4"
    if total < 100:
        return f"add the {100 - total:g} percent that are missing"
    return f"take {total - 100:g} percent away"


def _bound(
    asking: Asking, side: SideTable, what: str, origin: Origin, of: str = "product"
) -> Bound:
    """Return a bound on ``what``, with the part that it is a share of."""
    low, high = asking.percent_sides(side, origin)
    if side.of is not None:
        of = asking.part(side.of, origin, ".of") or of
    files = tuple(asking.files(origin).items())
    return Bound(what, low, high, of, side.why, origin, files)


def bands_of(asking: Asking) -> tuple[Bound, ...]:
    """Return the bands: shares of categories or of named parts."""
    found: list[Bound] = []
    for name, side in asking.file.bands.items():
        origin = asking.origin("bands", name)
        text = asking.written(origin, "bands")
        if name not in asking.parts or name in asking.catalogue.ingredients:
            key = asking.catalogue.find(text)
            if key is not None and name not in CATEGORIES:
                fix = "write it below [limits]"
                asking.say(origin, "is an ingredient, not a category", fix, text)
                continue
        if name not in asking.parts:
            if asking.sound("parts"):
                known = tuple(each for each in asking.parts if each != "product")
                asking.one_of("category or part", known, text, origin)
            continue
        found.append(_bound(asking, side, name, origin))
    return tuple(found)


def limits_of(asking: Asking) -> tuple[Bound, ...]:
    """Return the limits on single ingredients."""
    found: list[Bound] = []
    for name, side in asking.file.limits.items():
        origin = asking.origin("limits", name)
        text = asking.written(origin, "limits")
        if fold(text) in (*CATEGORIES, *PARTS) and asking.catalogue.exact(text) is None:
            fix = "write it below [bands]"
            asking.say(origin, "is a category, not an ingredient", fix, text)
            continue
        key = asking.ingredient(text, origin)
        found.append(_bound(asking, side, key or name, origin))
    return tuple(found)


def constituents_of(asking: Asking) -> tuple[Bound, ...]:
    """Return the limits on constituents, percent of the finished product."""
    found: list[Bound] = []
    known = asking.catalogue.contents
    for name, side in asking.file.constituents.items():
        origin = asking.origin("constituents", name)
        if name not in known and "constituents.csv" not in asking.shaky:
            text = asking.written(origin, "constituents")
            asking.one_of("constituent", known, text, origin)
        if side.of is not None:
            fix = "take of out; it is percent of the finished product"
            asking.say(origin, "takes no of", fix, side.of, ".of")
            side = side.model_copy(update={"of": None})  # noqa: PLW2901
        found.append(_bound(asking, side, name, origin))
    return tuple(found)


def pins_of(asking: Asking) -> tuple[Bound, ...]:
    """Return the ingredients that are held at exactly so much."""
    found: list[Bound] = []
    for name, value in asking.file.pins.items():
        origin = asking.origin("pins", name)
        key = asking.ingredient(asking.written(origin, "pins"), origin)
        asking.percent(value, origin)
        found.append(Bound(key or name, value, value, "product", None, origin))
    return tuple(found)


def least_if_used_of(asking: Asking) -> dict[str, tuple[float, Origin]]:
    """Return the least percentage if used at all, by key; "default" for the rest."""
    found: dict[str, tuple[float, Origin]] = {}
    for name, value in asking.file.least_if_used.items():
        origin = asking.origin("least_if_used", name)
        key: str | None = name
        if name != "default":
            text = asking.written(origin, "least_if_used")
            key = asking.ingredient(text, origin)
        asking.percent(value, origin)
        found[key or name] = (value, origin)
    return found


def steps_of(asking: Asking) -> Steps | None:
    """Return the steps that amounts are written in, percent; None if not spoken of.

    "step" is that of all; others are of a category or an ingredient.
    """
    own: dict[str, float] = {}
    for name, value in asking.file.amounts.items():
        origin = asking.origin("amounts", name)
        asking.within(value, LEAST_STEP, MOST_STEP, origin)
        if name != "step":
            text = asking.written(origin, "amounts")
            held = fold(text)
            found = held if held in CATEGORIES else None
            found = found or asking.catalogue.find(text)
            if found is None and "ingredients.csv" not in asking.shaky:
                among = (*CATEGORIES, *asking.catalogue.names())
                wrong = Names.of("category or ingredient", among).wrong(text)
                fix = f"the categories are {', '.join(CATEGORIES)}"
                asking.say(origin, wrong, fix, text)
            own[found or name] = value
    if not asking.file.amounts:
        if "amounts" in asking.merged.content and asking.sound("amounts"):
            fix = "write step = 0.5, in percent, or take it out"
            asking.say(asking.origin("amounts"), "is empty", fix)
        return None
    origin = asking.origin("amounts")
    step = asking.file.amounts.get("step")
    if step is None and asking.sound("amounts"):
        fix = "write step = 0.5, in percent"
        asking.say(origin, "has no step for the other ingredients", fix)
    return Steps(LEAST_STEP if step is None else step, own, origin)


def choices_of(asking: Asking) -> tuple[Choice, ...]:
    """Return how many ingredients of a category, a part or "all" may be used."""
    found: list[Choice] = []
    for name, choice in asking.file.choices.items():
        origin = asking.origin("choices", name)
        if name != "all" and name not in asking.parts and asking.sound("parts"):
            text = asking.written(origin, "choices")
            asking.one_of("category or part", ("all", *asking.parts), text, origin)
        least, most = choice.at_least, choice.at_most
        for key, count in ((".at_least", least), (".at_most", most)):
            if count is not None and not 0 <= count <= MOST_CHOICES:
                wrong = "is negative" if count < 0 else f"is more than {MOST_CHOICES}"
                fix = f"write a whole number from 0 to {MOST_CHOICES}"
                asking.say(origin, wrong, fix, shown_value(count), key)
        if least is None and most is None and asking.whole:
            fix = "write one of them, or both"
            asking.say(origin, "has neither at_least nor at_most", fix)
        if least is not None and most is not None and least > most:
            wrong = (
                f"has at_least {shown_value(least)} above at_most {shown_value(most)}"
            )
            asking.say(origin, wrong, "correct one of the two")
        found.append(Choice(name, least, most, choice.why, origin))
    return tuple(found)


def closeness_of(asking: Asking) -> tuple[Bound, ...]:
    """Return how far from the base the formula may be, [points].

    Each bound is on "ingredient", "kind" or "category".
    """
    table = asking.file.closeness
    if table is None:
        return ()
    found: list[Bound] = []
    for name in ("by_ingredient", "by_kind", "by_category"):
        side: SideTable | None = getattr(table, name)
        if side is None:
            continue
        origin = asking.origin("closeness", name)
        if not asking.file.base and asking.sound("base"):
            asking.say(origin, "needs a base to be close to", "write a [base]")
        asking.percent(side.max, origin, ".max")
        if side.max is None:
            asking.say(origin, "has no max", "write how many points at most")
        if side.min is not None or side.of is not None:
            fix = "write max alone, with a why if you like"
            asking.say(origin, "takes no min and no of", fix)
        what = name.removeprefix("by_")
        found.append(Bound(what, None, side.max, "product", side.why, origin))
    return tuple(found)


def guard_of(asking: Asking, name: str, of: str) -> Bound | None:
    """Return a guard; without sides if it is off, None if it is not spoken of."""
    origin = asking.origin("guard", name)
    if ("guard", name) in asking.merged.off:
        return Bound(name, None, None, of, None, origin)
    side = getattr(asking.file.guard, name, None)
    return None if side is None else _bound(asking, side, name, origin, of=of)


def opinion_of(asking: Asking) -> tuple[bool, Origin | None]:
    """Return whether the second opinion holds windows, and where margins come from.

    Margins stand in for a second opinion that is turned off, unless they are too.
    """
    off = asking.merged.off
    holds = ("guard", "second_opinion") not in off
    table = asking.file.guard
    asked = table is not None and bool(table.margin)
    if asked or (not holds and ("guard", "margin") not in off):
        return holds, asking.origin("guard", "margin" if asked else "second_opinion")
    return holds, None


def emulsify_of(asking: Asking) -> Emulsify | None:
    """Return how emulsifiers are matched to the lipids; None if not spoken of."""
    table = asking.file.emulsifiers
    if table is None:
        return None
    origin = asking.origin("emulsifiers", "total")
    if not table.total and asking.sound("emulsifiers"):
        fix = "list percents of the lipids, as in total = [10, 12, 14]"
        asking.say(origin, "names no total", fix)
    if len(table.total) > MOST_TOTALS:
        fix = f"list at most {MOST_TOTALS}"
        asking.say(origin, f"lists {len(table.total)} totals to try", fix)
    for value in table.total:
        if not 0 < value <= 100:
            fix = "write percents of the lipids, above 0 and up to 100"
            asking.say(origin, "is no total", fix, f"{value:g}")
    if table.within <= 0:
        place = asking.origin("emulsifiers", "within")
        fix = "write how far apart the two may be, as in 0.3"
        asking.say(place, "is not above zero", fix, f"{table.within:g}")
    else:
        place = asking.origin("emulsifiers", "within")
        asking.within(table.within, 0, MOST_WITHIN, place)
    return Emulsify(tuple(dict.fromkeys(table.total)), table.within, origin)


def exclusions_of(asking: Asking) -> Exclusions:
    """Return what must stay out.

    Its ``origins`` are by key ("vegan") and by key and entry ("allergens.tree nut",
    "ingredients.jojoba_oil").
    """
    table = asking.file.exclude
    if table is None:
        return Exclusions()
    reading = table.reading or READINGS[0]
    origin = asking.origin("exclude", "reading")
    found = {
        "allergens": _allergens(asking, table.allergens),
        "ingredients": _ingredients(asking, "exclude", table.ingredients),
        "categories": _categories(asking, table.categories),
    }
    return Exclusions(
        allergens=found["allergens"],
        reading=asking.one_of("reading", READINGS, reading, origin) or READINGS[0],
        ingredients=found["ingredients"],
        categories=found["categories"],
        vegan=table.vegan,
        palm_free=table.palm_free,
        origins=_origins(asking, found),
    )


def _origins(asking: Asking, found: dict[str, tuple[str, ...]]) -> dict[str, Origin]:
    """Return where each exclusion was written, by key and by key and entry."""
    origins = {
        str(place[1]): origin
        for place, origin in asking.merged.origins.items()
        if place[0] == "exclude" and len(place) == 2
    }
    for key, entries in found.items():
        for entry in entries:
            origins[f"{key}.{entry}"] = asking.origin("exclude", key)
    return origins


def _allergens(asking: Asking, names: list[str]) -> tuple[str, ...]:
    """Return allergens as allergens.csv writes them."""
    if "allergens.csv" in asking.shaky:
        return tuple(fold(name) for name in names)
    origin, known = asking.origin("exclude", "allergens"), asking.catalogue.allergens
    found = [_allergen(asking, known, name, origin) for name in names]
    return tuple(dict.fromkeys(name for name in found if name is not None))


def _allergen(
    asking: Asking, known: Mapping[str, object], name: str, origin: Origin
) -> str | None:
    found = allergen_named(name, known)
    if found is None and (unclear := unclear_allergen(name) or one_nut(name)):
        asking.say(origin, *unclear, name)
        return None
    return found or asking.one_of("allergen", known, name, origin)


def _categories(asking: Asking, names: list[str]) -> tuple[str, ...]:
    """Return categories, each once."""
    origin = asking.origin("exclude", "categories")
    found = [asking.one_of("category", CATEGORIES, name, origin) for name in names]
    return tuple(dict.fromkeys(name for name in found if name is not None))


def _ingredients(asking: Asking, table: str, names: list[str]) -> tuple[str, ...]:
    """Return the keys of ingredients, each once."""
    origin = asking.origin(table, "ingredients")
    found = [
        asking.ingredient(name, origin, f"[{number}]")
        for number, name in enumerate(names, start=1)
    ]
    return tuple(dict.fromkeys(key for key in found if key is not None))


def only_of(asking: Asking, base: Collection[str]) -> frozenset[str]:
    """Return the keys to choose from, the base's among them; empty means all."""
    table = asking.file.only
    if table is None:
        return frozenset()
    if not table.ingredients and asking.sound("only"):
        fix = "name what may be chosen, or take [only] out"
        asking.say(asking.origin("only"), "lists no ingredients", fix)
    return frozenset((*_ingredients(asking, "only", table.ingredients), *base))


def stock_only_of(asking: Asking) -> Origin | None:
    """Return where it is written that only the shelf may be used, or None."""
    stock = asking.file.stock
    return asking.origin("stock", "only") if stock is not None and stock.only else None
