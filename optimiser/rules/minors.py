"""Minor categories fill nothing up: what nobody speaks of stays as in the base.

A scent or a preservative is in a formula for what it does. Left free, it comes in
wherever it is the cheapest thing that a window leaves room for.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence

from msgspec.structs import replace

from optimiser.domain.material import MINOR, UNKNOWN, Origin
from optimiser.domain.rule import Row, Rule, named
from optimiser.domain.scenario import Scenario
from optimiser.domain.wording import AsInTheBase, Measured, number
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
    free = _spoken_of(space, others, minor)
    limits = _limits(others, space.scenario)
    out = {
        int(column)
        for rule in others
        if rule.kind == "exclusion" and limits[rule.id] == 0.0
        for column in rule.amounts.columns
    }
    base = {i: space.scenario.base.get(space.ingredients[i], 0.0) for i in minor}
    held = {i: base[i] for i in sorted(minor - free - out) if base[i] > 0.0}
    allowed = _allowed(others, limits, held)
    for column, share in held.items():
        yield from _as_in_the_base(space, column, share, allowed[column])
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
    # A limit without sides lets something in (`studies.without`).
    named += [each.what for each in scenario.limits if (each.low, each.high) == _OPEN]
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


def _allowed(
    others: Iterable[Rule],
    limits: Mapping[str, float | None],
    held: Mapping[int, float],
) -> dict[int, float]:
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
        limit = limits[rule.id]
        if rule.kind not in CEILINGS or rule.side != "max" or rule.curved:
            continue
        if limit is None or (rule.amounts.coefficients < 0.0).any():
            continue
        room, asked = limit * rule.per_constant, 0.0
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


def _limits(rules: Sequence[Rule], scenario: Scenario) -> dict[str, float | None]:
    """Return rules' limits as the scenario eases them, by id; None if let go."""
    limits: dict[str, float | None] = {rule.id: rule.limit for rule in rules}
    for wanted, (limit, _) in scenario.eased.items():
        found = named(wanted, rules)
        if len(found) == 1:
            limits[found[0].id] = limit
    return limits


def _as_in_the_base(
    space: Space, column: int, share: float, allowed: float
) -> Iterator[Rule]:
    """Yield that an ingredient keeps its share, or as much as is allowed of it."""
    name = space.ingredient(column).name
    if allowed >= share:
        yield _rule(space, column, name, "exact", share)
        return
    steps = space.scenario.steps
    if steps is not None:
        each = space.ingredient(column)
        step = step_of(steps, each.key, each.category)
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
