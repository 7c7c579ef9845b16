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

__all__ = ["each_total", "nearest_total", "rules"]


def each_total(scenario: Scenario) -> tuple[Scenario, ...]:
    """Return the scenario once for each total of emulsifiers that it lists."""
    asked = scenario.emulsify
    if asked is None or len(asked.totals) < 2:
        return (scenario,)
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


def rules(space: Space) -> Iterator[Rule]:
    """Yield the total, the two sides of the HLB, and what has no HLB to count."""
    asked = space.scenario.emulsify
    if asked is None or not asked.totals:
        return
    yield Rule(
        id="emulsifiers/total",
        wording=Measured("emulsifiers", after="of the fats and waxes"),
        kind="emulsifiers",
        side="exact",
        limit=asked.totals[0],
        unit="%",
        amounts=space.sum_of(space.members("emulsifier"), 100.0),
        per=space.sum_of(space.members("fats and waxes")),
        owner="wish",
        origin=asked.origin,
        about=asked,
        movable=False,
    )
    factor = 100.0 / asked.totals[0]
    own, unknown = counted(space, "HLB", None, "emulsifier", above=factor, below=0.0)
    required, open_ = counted(space, "required HLB", None, "fats and waxes", above=-1.0)
    for side, limit in sides(-asked.within, asked.within):
        total = sums((*own, *required), side, cautious=False)
        yield Rule(
            id=f"emulsifiers/HLB/{side}",
            wording=Gap("HLB of the emulsifiers", "what the lipids require"),
            kind="emulsifiers",
            side=side,
            limit=limit,
            unit="",
            amounts=total.above,
            per=space.sum_of(space.members("fats and waxes")),
            owner="wish",
            origin=asked.origin,
            source=total.sources,
            evidence=total.evidence,
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
