"""Emulsifiers whose HLB meets what the lipids require, at one total of them.

The HLB of a pair is a mean over the emulsifiers, the required one a mean over the
lipids. Their difference is linear once the total is a fixed part of the lipids, so a
scenario lists totals and each is tried. For non-ionic emulsifiers only: ready-made,
ionic and liquid-crystal ones have no HLB to count, and stay out (Griffin, J Soc Cosmet
Chem 1:311, 1949).
"""

from __future__ import annotations

from collections.abc import Iterator

from msgspec.structs import replace

from optimiser.domain.rule import Rule
from optimiser.domain.scenario import Emulsify, Scenario
from optimiser.domain.wording import Gap, Measured
from optimiser.rules.figures import counted, sums
from optimiser.rules.shares import sides
from optimiser.rules.space import Space

__all__ = ["TOTAL", "each_total", "nearest_total", "rules"]

TOTAL = "emulsifiers/total"  # the id of its rule, by which a scenario eases it


def each_total(scenario: Scenario) -> tuple[Scenario, ...]:
    """Return the scenario once for each total of emulsifiers that it lists.

    Once where it eases the total: another one then takes the place of all.
    """
    asked = scenario.emulsify
    if asked is None or len(asked.totals) < 2:
        return (scenario,)
    if _eased(scenario) is not None:
        return (replace(scenario, emulsify=replace(asked, totals=asked.totals[:1])),)
    return tuple(
        replace(scenario, emulsify=replace(asked, totals=(total,)))
        for total in asked.totals
    )


def nearest_total(scenario: Scenario, percent_of_lipids: float) -> Scenario:
    """Return the scenario with the one of its totals that a formula comes nearest."""
    return min(
        each_total(scenario),
        key=lambda each: abs(_total(each) - percent_of_lipids),
    )


def _total(scenario: Scenario) -> float:
    return scenario.emulsify.totals[0] if scenario.emulsify else 0.0


def _eased(scenario: Scenario) -> float | None:
    """Return the total that a scenario eases its own to; None where it does not."""
    limit, _ = scenario.eased.get(TOTAL, (None, None))
    return limit if limit is not None and 0.0 < limit <= 100.0 else None


def rules(space: Space) -> Iterator[Rule]:
    """Yield the total, the two sides of the HLB, and what has no HLB to count."""
    asked = space.scenario.emulsify
    if asked is None or not asked.totals:
        return
    eased = _eased(space.scenario)
    total = asked.totals[0] if eased is None else eased
    yield Rule(
        id=TOTAL,
        wording=Measured("emulsifiers", after="of the fats and waxes"),
        kind="emulsifiers",
        side="exact",
        limit=total,
        unit="%",
        amounts=space.sum_of(space.members("emulsifier"), 100.0),
        per=space.sum_of(space.members("fats and waxes")),
        owner="wish",
        origin=asked.origin,
        about=asked,
        movable=False,
        eased_from=None if total == asked.totals[0] else asked.totals[0],
    )
    factor = 100.0 / total
    own, unknown = counted(space, "HLB", None, "emulsifier", above=factor, below=0.0)
    required, open_ = counted(space, "required HLB", None, "fats and waxes", above=-1.0)
    for side, limit in sides(-asked.within, asked.within):
        gap = sums((*own, *required), side, cautious=False)
        yield Rule(
            id=f"emulsifiers/HLB/{side}",
            wording=Gap("HLB of the emulsifiers", "what the lipids require"),
            kind="emulsifiers",
            side=side,
            limit=limit,
            unit="",
            amounts=gap.above,
            per=space.sum_of(space.members("fats and waxes")),
            owner="wish",
            origin=asked.origin,
            source=gap.sources,
            evidence=gap.evidence,
            about=asked,
            terms=(*own, *required),
        )
    for name, lacking in (("HLB", unknown), ("required HLB", open_)):
        out = [each.column for each in lacking]
        if out:
            yield _unknown(space, asked, name, out)


def _unknown(space: Space, asked: Emulsify, name: str, out: list[int]) -> Rule:
    """Return the rule that keeps out what has no such figure; unknown is not zero."""
    told = ", ".join(space.ingredient(column).name for column in out)
    return Rule(
        id=f"emulsifiers/no {name}",
        wording=Measured(
            f"what has no known {name}", none=f"nothing without a known {name}"
        ),
        kind="emulsifiers",
        side="max",
        limit=0.0,
        unit="%",
        amounts=space.sum_of(out),
        per_constant=1.0,
        owner="wish",
        origin=asked.origin,
        about=asked,
        whose=told,
    )
