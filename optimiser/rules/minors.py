"""Minor categories fill nothing up: what nobody speaks of stays as in the base.

A scent or a preservative is in a formula for what it does. Left free, it comes in
wherever it is the cheapest thing that a window leaves room for. What is let in where
another of its category has to leave takes the place of that one, in the same dose.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence, Set

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.material import MINOR, UNKNOWN, Origin
from optimiser.domain.rule import Row, Rule
from optimiser.domain.wording import AsInTheBase, Measured, number
from optimiser.rules.doses import least_dose
from optimiser.rules.shares import as_eased
from optimiser.rules.space import Space
from optimiser.rules.steps import step_of

__all__ = ["rules"]

# And what is unknown: nobody moves what he does not know.
HELD = (*MINOR, UNKNOWN)
# Kinds of rules that may leave less room for something than its share in the base:
# they are kept, and no clash comes of it. What the shelf lacks is not among them: less
# of a preservative for that must not go unsaid.
CEILINGS = frozenset(
    {
        "law",
        "habit",
        "share",
        "constituent",
        "limit",
        "supplier",
        "practice",
        "envelope",
        "exclusion",  # eased: one that keeps all out leaves nothing to hold
    }
)
# Of the ceiling: a share that near to it is allowed as it is.
NEARLY = 1e-9


def rules(space: Space, others: Sequence[Rule]) -> Iterator[Rule]:
    """Yield what keeps ingredients of minor categories at the base's shares.

    Parameters
    ----------
    others : sequence of Rule
        All other rules of the question. One that speaks of such an ingredient frees
        it; one that leaves less room than the base's share lowers what is asked for.
    """
    if not space.scenario.base:
        return
    minor = {i for part in HELD for i in space.members(part)}
    if not minor:
        return
    spoken = _spoken_of(space, others, minor)
    let_in = _let_in(space) & minor
    free = spoken | let_in
    eased = as_eased(others, space.scenario)
    out = {
        int(column)
        for rule in eased
        if rule.excludes
        for column in rule.amounts.columns
    }
    base = {i: space.scenario.base.get(space.ingredients[i], 0.0) for i in minor}
    held = {i: base[i] for i in sorted(minor - free - out) if base[i] > 0.0}
    places = list(_places(space, base, out, let_in - spoken))
    asked = held | {i: each.share for each in places for i in each.columns}
    allowed = _allowed(eased, asked)
    for column, share in held.items():
        yield from _as_in_the_base(space, column, share, allowed[column])
    for each in places:
        room = math.fsum(allowed[column] for column in each.columns)
        yield from _in_the_place(space, each, min(each.share, room))
    for part in HELD:
        new = [i for i in space.members(part) if base[i] == 0.0 and i not in free]
        if new:
            yield _none(space, part, new)


def _spoken_of(space: Space, others: Sequence[Rule], minor: set[int]) -> set[int]:
    """Return the columns that the scenario speaks of by a rule of its own.

    One that is also about other things, such as a band on a part that holds a scent
    and oils, does not speak of the scent.
    """
    scenario = space.scenario
    named = [each.what for each in scenario.choices]
    named += [what for what in scenario.least_if_used if what != "default"]
    spoken = [space.members(what) for what in named]
    spoken += [
        (*rule.amounts.columns.tolist(), *rule.per.columns.tolist())
        for rule in others
        if rule.kind in {"pin", "band"}
        or rule.about in scenario.others
        or (rule.kind in {"limit", "constituent", "envelope"} and rule.side == "min")
    ]
    return {i for columns in spoken if minor.issuperset(columns) for i in columns}


_OPEN = (None, None)


def _let_in(space: Space) -> set[int]:
    """Return what a limit without sides lets in (`studies.without`), and no more."""
    limits = space.scenario.limits
    named = [each.what for each in limits if (each.low, each.high) == _OPEN]
    return {i for what in named for i in space.members(what)}


class _Place(Struct, frozen=True):
    """What was let in where some of a category has to leave.

    ``columns`` have the place of ``share`` percent together, that of ``names``.
    """

    part: str
    columns: tuple[int, ...]
    share: float
    names: tuple[str, ...]


def _places(
    space: Space, base: Mapping[int, float], out: Set[int], let_in: Set[int]
) -> Iterator[_Place]:
    """Yield the places of what leaves, category by category, and what takes each."""
    for part in MINOR:
        members = space.members(part)
        new = tuple(i for i in members if i in let_in - out and base[i] == 0.0)
        left = [i for i in members if i in out and base[i] > 0.0]
        if new and left:
            share = math.fsum(base[i] for i in left)
            names = tuple(space.ingredient(i).name for i in left)
            yield _Place(part, new, share, names)


def _in_the_place(space: Space, place: _Place, allowed: float) -> Iterator[Rule]:
    """Yield that what is let in takes a place whole, or as much as is allowed of it.

    One alone takes it to the last digit; of several, whole steps near to it are right.
    """
    names = tuple(space.ingredient(i).name for i in place.columns)
    what = names[0] if len(names) == 1 else place.part
    why = f"in the place of {' and '.join(place.names)}"
    wording = Measured(what)
    one = len(names) == 1

    def rule(side: str, limit: float) -> Rule:
        return Rule(
            id=f"minor/{what}" if side == "exact" else f"minor/{what}/{side}",
            wording=wording,
            kind="minor",
            side=side,
            limit=limit,
            unit="%",
            amounts=space.sum_of(place.columns),
            per_constant=1.0,
            owner="wish",
            origin=Origin(space.scenario.file, field="base"),
            why=why,
        )

    least = _works_from(space, place.columns)
    if one and allowed >= place.share:
        yield rule("exact", max(place.share, least))
        return
    step = max(_step(space, i) for i in place.columns)
    floor = math.floor(allowed / step + NEARLY) * step if step else allowed
    most = math.ceil(place.share / step - NEARLY) * step if step else place.share
    if floor > 0.0:
        yield rule("min", floor)
    yield rule("max", max(least, place.share if one else most))


def _works_from(space: Space, columns: Sequence[int]) -> float:
    """Return the least dose at which one of some ingredients works, percent; or 0."""
    found = [
        least_dose(space.catalogue, space.ingredients[i], space.scenario.use)
        for i in columns
    ]
    return min((each.low or 0.0 if each else 0.0) for each in found)


def _step(space: Space, column: int) -> float:
    """Return the step that an ingredient comes in, percent; 0 where it has none."""
    steps, each = space.scenario.steps, space.ingredient(column)
    return 0.0 if steps is None else step_of(steps, each.key, each.category)


def _allowed(others: Iterable[Rule], held: Mapping[int, float]) -> dict[int, float]:
    """Return how much of each held share every other limit allows, percent.

    Where a limit is on several together, each gives up the same part of its share.
    """
    allowed = dict(held)
    pinned = {
        int(column): rule.limit
        for rule in others
        if rule.kind == "pin"
        for column in rule.amounts.columns
    }
    for rule in others:
        if rule.kind not in CEILINGS or rule.side != "max" or rule.curved:
            continue
        if (rule.amounts.coefficients < 0.0).any():
            continue
        room, asked = rule.limit * rule.per_constant, 0.0
        for column, each in _pairs(rule.amounts):
            room -= each * pinned.get(column, 0.0)
            asked += each * held.get(column, 0.0)
        if asked > 0.0 and asked > room * (1.0 + NEARLY):
            part = max(0.0, room) / asked
            for column in held.keys() & set(rule.amounts.columns.tolist()):
                allowed[column] = min(allowed[column], part * held[column])
    return allowed


def _pairs(row: Row) -> Iterator[tuple[int, float]]:
    return zip(row.columns.tolist(), row.coefficients.tolist(), strict=True)


def _as_in_the_base(
    space: Space, column: int, share: float, allowed: float
) -> Iterator[Rule]:
    """Yield that an ingredient keeps its share, or as much as is allowed of it."""
    name = space.ingredient(column).name
    if allowed >= share:
        least = _works_from(space, [column])
        rule = _rule(space, column, name, "exact", max(share, least))
        if least > share:
            why = f"its supplier's least; the base's {number(share)} % is too little"
            rule = replace(rule, owner="supplier", why=why)
        yield rule
        return
    step = _step(space, column)
    if step > 0.0:
        allowed = math.floor(allowed / step + NEARLY) * step
    if allowed > 0.0:
        why = f"what other limits leave of the base's {number(share)} %"
        yield replace(_rule(space, column, f"{name}/min", "min", allowed), why=why)
    yield _rule(space, column, f"{name}/max", "max", share)


def _rule(space: Space, column: int, name: str, side: str, limit: float) -> Rule:
    each = space.ingredient(column)
    own = Origin(space.scenario.file, field=f"base.{each.name}")
    return Rule(
        id=f"minor/{name}",
        wording=AsInTheBase(each.name, space.scenario.base[each.key]),
        kind="minor",
        side=side,
        limit=limit,
        unit="%",
        amounts=space.sum_of([column]),
        per_constant=1.0,
        owner="wish",
        origin=space.scenario.origins.get(f"base.{each.key}", own),
    )


def _none(space: Space, part: str, columns: Sequence[int]) -> Rule:
    """Return that nothing of a category comes in that the base has not."""
    what = f"{part} that the base has not"
    own = Origin(space.scenario.file, field="base")
    return Rule(
        id=f"minor/other {part}",
        wording=Measured(what, none=f"no {what}"),
        kind="minor",
        side="max",
        limit=0.0,
        unit="%",
        amounts=space.sum_of(columns),
        per_constant=1.0,
        owner="wish",
        origin=space.scenario.origins.get("base", own),
    )
