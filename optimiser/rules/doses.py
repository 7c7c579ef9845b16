"""Doses that work: a preservative as its supplier asks for, or none of it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import Origin, UsageLimit
from optimiser.domain.rule import Rule
from optimiser.domain.wording import Measured
from optimiser.rules.shares import as_eased
from optimiser.rules.space import Space

__all__ = ["PRESERVATIVE", "least_dose", "least_if_used", "rules"]

PRESERVATIVE = "preservative"


def least_dose(catalogue: Catalogue, key: str, use: str) -> UsageLimit | None:
    """Return what tells the least dose at which a preservative works, by its supplier.

    None for anything else: what a supplier recommends of a butter is no dose below
    which it fails.
    """
    if catalogue.ingredients[key].category != PRESERVATIVE:
        return None
    doses = (
        each
        for each in catalogue.limits
        if each.ingredient == key
        and each.whose == "supplier"
        and each.use in {"any", use}
        and each.of == "product"
        and each.low is not None
    )
    return max(doses, key=lambda each: each.low or 0.0, default=None)


def least_if_used(space: Space, column: int, least: float, origin: Origin) -> Rule:
    """Return "at least so much, or none": amount >= least * used, used 0 or 1."""
    name = space.ingredient(column).name
    return Rule(
        id=f"least/{name}",
        wording=Measured(name, after="if used"),
        kind="least",
        side="min",
        limit=least,
        unit="%",
        amounts=space.sum_of([column]),
        per=space.sum_of([space.used(column)]),
        owner="wish",
        origin=origin,
    )


def rules(space: Space, others: Sequence[Rule]) -> Iterator[Rule]:
    """Yield that a preservative comes in as its supplier asks for, or not at all.

    Parameters
    ----------
    others : sequence of Rule
        All other rules. Where they leave none of it, or fix it at enough, no choice is
        left to make; what is eased or dropped counts as it is then.
    """
    use, columns = space.scenario.use, space.members(PRESERVATIVE)
    eased = as_eased(others, space.scenario) if columns else []
    for column in columns:
        key = space.ingredients[column]
        found = least_dose(space.catalogue, key, use)
        least = None if found is None else found.low
        if found is None or least is None or _decided(eased, column, least):
            continue
        rule = least_if_used(space, column, least, found.origin)
        yield replace(
            rule,
            id=f"supplier/{space.ingredient(column).name}/least",
            owner="supplier",
            source=found.source,
            evidence=found.evidence,
            about=found,
            whose="the supplier's limit",
        )


def _decided(others: Sequence[Rule], column: int, least: float) -> bool:
    """Whether other rules leave none of an ingredient, or no less than its dose."""
    return any(
        rule.keeps_out
        or (rule.of_one and rule.side in {"exact", "min"} and rule.limit >= least)
        for rule in others
        if column in rule.amounts.columns
    )
