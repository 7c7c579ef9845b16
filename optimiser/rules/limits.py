"""Limits on one ingredient: the maker's own, pins, the supplier's, practice."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Iterator

from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import MINOR, Origin, UsageLimit
from optimiser.domain.rule import Rule
from optimiser.domain.scenario import Bound
from optimiser.domain.wording import Measured
from optimiser.rules.doses import least_if_used
from optimiser.rules.shares import share_rules
from optimiser.rules.space import Space

__all__ = ["is_told", "least_doses", "rules"]


def rules(space: Space) -> Iterator[Rule]:
    """Yield every usage limit, each with its owner."""
    for limit in space.scenario.limits:
        yield from _own(space, limit)
    for pin in space.scenario.pins:
        yield _pin(space, pin)
    for least in space.scenario.least_if_used.items():
        yield from _least_if_used(space, *least)
    for usage in space.catalogue.limits:
        if usage.ingredient in space.index and _holds(space, usage):
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


def least_doses(space: Space, columns: Iterable[int]) -> Iterator[float | None]:
    """Yield the least dose that is asked for of ingredients, percent; None of none.

    One with a dose of its own does not take the default. One of a minor category takes
    no more of it than there is of its category in the base, and none where the base
    has less of it; nor does anything take more than it may be used at most.
    """
    own = space.scenario.least_if_used
    usual = _Usual(space) if "default" in own else None
    for column in columns:
        key = space.ingredients[column]
        if key in own:
            yield own[key][0]
        else:
            yield None if usual is None else usual.dose(key, own["default"][0])


def _least_if_used(
    space: Space, what: str, least: tuple[float, Origin]
) -> Iterator[Rule]:
    """Yield "at least so much, or none": amount >= least * used, used 0 or 1."""
    own = space.scenario.least_if_used
    if what == "default":
        keys = [key for key in space.ingredients if key not in own]
    else:
        keys = [what] if what in space.index else []
    columns = [space.index[key] for key in keys]
    for column, dose in zip(columns, least_doses(space, columns), strict=True):
        if dose is not None:
            yield least_if_used(space, column, dose, least[1])


class _Usual:
    """What the least dose of everything comes to for one ingredient."""

    def __init__(self, space: Space) -> None:
        self._space, self._base = space, space.scenario.base
        self._most: dict[str, float] = {}
        for usage in space.catalogue.limits:
            key, high = usage.ingredient, usage.high
            if key not in space.index or not high or usage.of != "product":
                continue  # none at all is no dose
            if _holds(space, usage):
                self._most[key] = min(self._most.get(key, high), high)

    def dose(self, key: str, default: float) -> float | None:
        """Return the least dose, percent; None where the base tells less of it."""
        each = self._space.catalogue.ingredients[key]
        dose = min(default, self._most.get(key, default))
        if each.category not in MINOR:
            return dose
        if 0.0 < self._base.get(key, 0.0) < default:
            return None
        known = self._space.catalogue.ingredients
        alike = [x for x in self._base if known[x].category == each.category]
        written = math.fsum(self._base[x] for x in alike)
        return min(dose, written) if written > 0.0 else dose


def _holds(space: Space, usage: UsageLimit) -> bool:
    """Whether a range is a rule of this question."""
    holds = usage.use in ("any", space.scenario.use)
    return holds and not is_told(usage, space.catalogue, space.scenario.markets)


def is_told(usage: UsageLimit, catalogue: Catalogue, markets: Collection[str]) -> bool:
    """Whether a limit is told and not enforced, for it is weak.

    So is one that was written for a narrower product, an opinion given in no market of
    the product's, and a habit that is assumed, but for what is there in small doses:
    that is for an assessor to say.
    """
    if usage.written_for is not None:
        return True
    if usage.market is not None and usage.market not in markets:
        return True
    small = catalogue.ingredients[usage.ingredient].category in MINOR
    return usage.whose == "practice" and usage.evidence == "assumed" and not small


def _outside(space: Space, usage: UsageLimit) -> Iterator[Rule]:
    """Yield a supplier's, common practice's or an opinion's range for one ingredient.

    A recommended minimum is a dose for those who use it, not a call to use it, so
    only the upper side is a rule; the lower one is shown by ``catalogue show``. A
    top of 100 % says that the ingredient may stand alone, which is no rule, and one
    that is but told is none either.
    """
    if usage.high is None or usage.high >= 100.0:
        return
    name = _name(space, usage.ingredient)
    bound = Bound(usage.ingredient, None, usage.high, usage.of, None, usage.origin)
    whose = "supplier" if usage.whose == "supplier" else "practice"
    by = "the supplier's limit" if whose == "supplier" else "common practice"
    if usage.market is not None:
        by = f"an opinion for {usage.market}, no law"
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
