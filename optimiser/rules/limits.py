"""Limits on one ingredient: the maker's own, pins, the supplier's, practice."""

from __future__ import annotations

from collections.abc import Iterator

from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import MINOR, Origin, UsageLimit
from optimiser.domain.rule import Rule
from optimiser.domain.scenario import Bound
from optimiser.domain.wording import Measured
from optimiser.rules.shares import share_rules
from optimiser.rules.space import Space

__all__ = ["is_told", "rules"]


def rules(space: Space) -> Iterator[Rule]:
    """Yield every usage limit, each with its owner."""
    for limit in space.scenario.limits:
        yield from _own(space, limit)
    for pin in space.scenario.pins:
        yield _pin(space, pin)
    for least in space.scenario.least_if_used.items():
        yield from _least_if_used(space, *least)
    for usage in space.catalogue.limits:
        holds = usage.use in ("any", space.scenario.use)
        if holds and usage.ingredient in space.index:
            yield from _outside(space, usage)


def _name(space: Space, key: str) -> str:
    return space.catalogue.ingredients[key].name


def _own(space: Space, limit: Bound) -> Iterator[Rule]:
    columns = space.members(limit.what)
    name = (
        _name(space, limit.what)
        if limit.what in space.catalogue.ingredients
        else limit.what
    )
    yield from share_rules(space, limit, columns, kind="limit", name=name)


def _pin(space: Space, pin: Bound) -> Rule:
    name = _name(space, pin.what)
    share = pin.high if pin.high is not None else 0.0
    return Rule(
        id=f"pin/{name}",
        wording=Measured(name),
        kind="pin",
        side="exact",
        limit=share,
        unit="%",
        amounts=space.sum_of(space.members(pin.what)),
        per_constant=1.0,
        owner="wish",
        origin=pin.origin,
        about=pin,
        why=pin.why,
    )


def _least_if_used(
    space: Space, what: str, least: tuple[float, Origin]
) -> Iterator[Rule]:
    """Yield "at least so much, or none": amount >= least * used, used 0 or 1.

    An ingredient with a least dose of its own does not take the default, nor does
    one of a minor category of which the base holds less: that is written already.
    """
    own = space.scenario.least_if_used
    if what == "default":
        keys = [key for key in space.ingredients if key not in own]
    else:
        keys = [what] if what in space.index else []
    for key in keys:
        column = space.index[key]
        small = space.ingredient(column).category in MINOR
        written = space.scenario.base.get(key, 0.0)
        if what == "default" and small and 0.0 < written < least[0]:
            continue
        name = _name(space, key)
        yield Rule(
            id=f"least/{name}",
            wording=Measured(name, after="if used"),
            kind="least",
            side="min",
            limit=least[0],
            unit="%",
            amounts=space.sum_of([column]),
            per=space.sum_of([space.used(column)]),
            owner="wish",
            origin=least[1],
        )


def is_told(usage: UsageLimit, catalogue: Catalogue) -> bool:
    """Whether a limit is told and not enforced, for it is weak.

    So is one that was written for a narrower product, and a habit that is assumed, but
    for what is there in small doses: that is for an assessor to say.
    """
    if usage.written_for is not None:
        return True
    small = catalogue.ingredients[usage.ingredient].category in MINOR
    return usage.whose == "practice" and usage.evidence == "assumed" and not small


def _outside(space: Space, usage: UsageLimit) -> Iterator[Rule]:
    """Yield a supplier's or common practice's range for one ingredient.

    A recommended minimum is a dose for those who use it, not a call to use it, so
    only the upper side is a rule; the lower one is shown by ``catalogue show``. A
    top of 100 % says that the ingredient may stand alone, which is no rule, and one
    that is but told is none either.
    """
    if usage.high is None or usage.high >= 100.0 or is_told(usage, space.catalogue):
        return
    name = _name(space, usage.ingredient)
    bound = Bound(usage.ingredient, None, usage.high, usage.of, None, usage.origin)
    whose = "supplier" if usage.whose == "supplier" else "practice"
    by = "the supplier's limit" if whose == "supplier" else "common practice"
    for rule in share_rules(
        space,
        bound,
        space.members(usage.ingredient),
        kind=whose,
        name=name,
        owner=whose,
    ):
        yield replace(
            rule,
            source=usage.source,
            evidence=usage.evidence,
            origin=usage.origin,
            about=usage,
            whose=by,
        )
