"""Words and numbers that every view of a survey shares."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from optimiser.presenting.survey.remarks import remarks_told
from optimiser.presenting.words import clean, decimals, listed, plural, short
from optimiser.rules.guards import LAURIC_SHARE, WAX_SHARE

if TYPE_CHECKING:
    from optimiser.domain.catalogue import Catalogue
    from optimiser.studies.survey.values import (
        Band,
        Base,
        BaseLine,
        Fault,
        HeldWindow,
        Influence,
        MovedBy,
        Recipe,
        Structure,
        Summary,
        Survey,
    )

__all__ = [
    "away_words",
    "band_words",
    "base_words",
    "chosen",
    "fault_words",
    "influence_words",
    "meant_words",
    "nearest_words",
    "share",
    "stand_in_words",
    "summary_words",
    "title",
    "used_words",
    "window_words",
]

SAME = 0.05  # points: a recipe no further from a base is the base
PARTLY = 0.005  # percent that has to be named for a line to say how much stands in


GUARDED = {
    "lauric": ("the middle of these recipes holds", "lauric fats", "butters"),
    "wax": ("these recipes hold up to", "waxes", "lipids"),
}
TRUSTED = {"lauric": LAURIC_SHARE, "wax": WAX_SHARE}
MOST_MOVED = 3  # rules that moved a base, told


def share(percent: float) -> str:
    """Return a share of the product: to 0.1 %, below 2 % to 0.01 %.

    >>> share(31.512), share(0.576)
    ('31.5', '0.58')
    """
    return f"{percent:.{2 if percent < 2 else 1}f}"


def chosen(survey: Survey) -> Structure | None:
    """Return the structure that bands and base are about."""
    return next((s for s in survey.structures if s.name == survey.chosen), None)


def title(survey: Survey) -> str:
    """Return what a survey is about, as a title.

    The structure is named where there is more than one.
    """
    name = clean(survey.product_class) or "recipes"
    if len(survey.structures) > 1 and survey.chosen:
        name += f", {clean(survey.chosen)}"
    return name[:1].upper() + name[1:]


def away_words(base: Base) -> str:
    """Return how far a base is from the centre, or from what stands in its place."""
    if base.moved >= SAME:
        return f"{decimals(base.moved, 1)} % different"
    return "the centre itself" if base.instead is None else "the recipe itself"


def meant_words(base: Base) -> str:
    """Return what a base is the nearest formula to, and how far it is from that."""
    own = base.instead
    if own is None:
        return (
            "The base is the formula nearest to the centre, the middle of the recipes,"
            f" that keeps every rule: {away_words(base)}"
        )
    name = clean(own.recipe)
    return (
        "These recipes are too unlike for a middle that anybody makes, so the base is"
        f" one of them, {name}, in its own lines (the nearest to it,"
        f" {decimals(own.away, 0)} points away), or the formula nearest to it that"
        f" keeps every rule: {away_words(base)}"
    )


def band_words(band: Band) -> str:
    """Return a band as words, percent of the product."""
    if band.low is None:
        return f"up to {short(band.high)}"
    if band.low == band.high:
        return short(band.high)
    return f"{short(band.low)} to {short(band.high)}"


def summary_words(summary: Summary) -> str:
    """Return the evidence for a band in one sentence."""
    count = len(summary.users)
    who = f"{count} of {plural(summary.among, 'recipe')}"
    if count == 1:
        name, amount = clean(summary.users[0]), share(summary.median)
        ranged = summary.least != summary.most
        ends = f", {share(summary.least)} to {share(summary.most)}" if ranged else ""
        return f"{who}: {name} alone, {amount} %{ends}"
    return (
        f"{who}: {share(summary.least)} ({clean(summary.least_of)}) to "
        f"{share(summary.most)} ({clean(summary.most_of)}), median "
        f"{share(summary.median)}, middle half {share(summary.lower)} to "
        f"{share(summary.upper)}; {summary.near} within a fifth of the median"
    )


def influence_words(influence: Influence) -> str:
    """Return which end rests on one recipe, and where it would be without it."""
    end = "bottom" if influence.side == "min" else "top"
    recipe = clean(influence.recipe)
    return f"the {end} rests on {recipe} alone: without it {share(influence.without)}"


def stand_in_words(line: BaseLine) -> str:
    """Return for what an ingredient stands in; "" if recipes name all of it."""
    if line.stands_in is None:
        return ""
    told = f"stands in for what was read only as {clean(line.stands_in)}"
    if line.standing < line.centre - PARTLY:
        return f"{share(line.standing)} of it {told}"
    return told


def fault_words(fault: Fault) -> str:
    """Return what is wrong in a recipe."""
    value, limit = f"{fault.value:.2g}", fault.limit or 0.0
    names = " and ".join(map(clean, fault.names))
    if fault.kind == "no preservative":
        return f"{value} % of water and {_no_preservative(fault)}"
    if fault.kind == "little preservative":
        among = f" among the names read, {_not_read(fault)}" if fault.unread else ""
        return f"{value} % of preservative{among}; {limit:.2g} % is usual at least"
    if fault.kind == "no emulsifier":
        told = f"{names} in oils without an emulsifier: it separates"
        rest = "; the rest of the recipe counts" if fault.value <= limit else ""
        return told + rest
    if fault.kind == "much scent":
        what = names or f"scent in a {fault.use} product"
        return f"{value} % of {what}; {limit:g} % is usual at most"
    if fault.kind == "not solid":
        return (
            f"soft or liquid at {short(fault.at or 0.0)} °C: its lipids come to a"
            f" firmness of {value}, and {limit:g} keeps a shape"
        )
    return f"used wet, and {_no_preservative(fault)}"


def _no_preservative(fault: Fault) -> str:
    """Return that none is named; where names were not read, one of them may be one."""
    if not fault.unread:
        return "no preservative"
    return f"no preservative among the names read; {_not_read(fault)}"


def _not_read(fault: Fault) -> str:
    return f"{plural(fault.unread, 'name')} not read"


def used_words(recipe: Recipe) -> str:
    """Return whether a recipe counts, and why not."""
    if recipe.left_out is not None:
        return f"left out: {clean(recipe.left_out)}"
    if recipe.fault is not None:
        return f"not in the bands: {fault_words(recipe.fault)}"
    if recipe.questions:
        return f"waits for {plural(len(recipe.questions), 'answer')}"
    return "yes"


def base_words(base: Base, catalogue: Catalogue) -> list[str]:
    """Return what has to be said of a base: limits that moved it, what is left open."""
    known = catalogue.ingredients
    middle = _middle(base)
    told = [
        f"{known[each.ingredient].name}: {share(each.centre)} % in {middle}, at most"
        f" {short(each.ceiling)} % allowed: {each.rule.sentence}"
        for each in base.lowered
    ]
    if base.left_open:
        parts = [f"{share(mine)} % {each}" for each, mine in base.left_open.items()]
        told.append(
            f"left open, for it was read only as {listed(list(base.left_open))} and"
            f" nothing these recipes name can stand in: {listed(parts)}"
        )
    if base.unfigured:
        lacking = listed([known[key].name for key in base.unfigured])
        told.append(
            f"no firmness is known of {lacking}: others of the category take its share"
        )
    if base.windows:
        told += _eased_words(base)
    told += [_moved_words(each, middle) for each in base.moved_by[:MOST_MOVED]]
    return [*told, *remarks_told(base.remarks)]


def _middle(base: Base) -> str:
    """Return what a base was made from: the middle, or the recipe in its place."""
    return (
        "the middle of the recipes"
        if base.instead is None
        else clean(base.instead.recipe)
    )


def _eased_words(base: Base) -> list[str]:
    """Return that guards of the model give way to what the recipes hold."""
    parts: list[str] = []
    for guard, most in base.guards.items():
        hold, what, of = GUARDED[guard]
        if guard == "lauric" and base.instead is not None:
            hold = f"{clean(base.instead.recipe)} holds"
        whose = "" if parts else "the model is "
        trusted = f"{whose}trusted to {short(TRUSTED[guard])} %"
        parts.append(f"{hold} {short(most)} % {what} of the {of} ({trusted})")
    if not parts:
        return []
    limits = "that limit is" if len(parts) == 1 else "those limits are"
    return [f"{listed(parts)}: {limits} eased, so feel a small one"]


def _moved_words(each: MovedBy, middle: str) -> str:
    """Return which rule keeps a base from what it was made from."""
    by = " by the second opinion" if each.by_second_opinion else ""
    unit = f" {each.rule.unit}" if each.rule.unit else ""
    return (
        f"moved off {middle} by: {each.rule.sentence}; that has"
        f" {short(each.value)}{unit}{by}"
    )


def nearest_words(base: Base, catalogue: Catalogue) -> str:
    """Return which recipe is nearest to a base, and what it holds beside; or ""."""
    near = base.nearest
    if near is None or (base.instead is not None and near.away < SAME):
        return ""
    mine = {each.ingredient for each in base.lines}
    beside = [
        f"{catalogue.ingredients[key].name} {share(percent)}"
        for key, percent in sorted(near.percents.items(), key=lambda item: -item[1])
        if key not in mine
    ]
    if near.away < SAME:
        return f"It is {clean(near.recipe)} as it stands"
    told = f"{clean(near.recipe)} is the recipe nearest to it, "
    told += f"{decimals(near.away, 0 if near.away >= 0.95 else 1)} points away"
    return told + (f"; it also holds {listed(beside, most=5)}" if beside else "")


def window_words(held: HeldWindow, count: int | None = None) -> str:
    """Return what a window asks for and, of so many recipes, what it rests on."""
    low, high = (None if x is None else short(x) for x in (held.low, held.high))
    side = f"at least {low}" if high is None else f"at most {high}"
    if low is not None and high is not None:
        side = f"{low} to {high}"
    told = f"{held.name}: {held.property} {side} at {short(held.at)} °C"
    if count is None:
        return told
    return (
        f"{told} over the lipids, as {held.users} of {count} recipes are by a model,"
        " not a measurement"
    )


def names(recipes: Iterable[str], most: int = 12) -> str:
    """Return the names of recipes as one phrase."""
    return listed(recipes, most=most)
