"""Emulsifiers whose HLB meets what the lipids require, at one total of them.

The HLB of a pair is a mean over the emulsifiers, the required one a mean over the
lipids. Their difference is linear once the total is a fixed part of the lipids, so a
scenario lists totals and each is tried. For non-ionic emulsifiers only: ready-made,
ionic and liquid-crystal ones have no HLB to count, and stay out (Griffin, J Soc Cosmet
Chem 1:311, 1949).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from msgspec.structs import replace

from optimiser.domain.rule import Row, Rule
from optimiser.domain.scenario import Emulsify, Scenario
from optimiser.rules.space import Space, number
from optimiser.science.properties import figure

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
    emulsifiers, lipids = space.members("emulsifier"), space.members("lipids")
    yield _total_rule(space, asked, emulsifiers, lipids)
    yield from _sides(space, asked, emulsifiers, lipids)
    yield from _unknown(space, asked, "HLB", emulsifiers)
    yield from _unknown(space, asked, "required HLB", lipids)


def _total_rule(
    space: Space, asked: Emulsify, emulsifiers: Sequence[int], lipids: Sequence[int]
) -> Rule:
    return Rule(
        id="emulsifiers/total",
        sentence=f"emulsifiers exactly {number(asked.totals[0])} % of the lipids",
        kind="emulsifiers",
        side="exact",
        limit=asked.totals[0],
        unit="%",
        amounts=space.sum_of(emulsifiers, 100.0),
        per=space.sum_of(lipids),
        owner="wish",
        origin=asked.origin,
    )


def _known(space: Space, name: str, column: int) -> float | None:
    found = figure(space.catalogue, name, space.ingredients[column], None)
    return None if found is None else found.value


def _sides(
    space: Space, asked: Emulsify, emulsifiers: Sequence[int], lipids: Sequence[int]
) -> Iterator[Rule]:
    """Yield HLB less required HLB, no more than so much below and above."""
    factor = 100.0 / asked.totals[0]
    terms = [(c, factor * (_known(space, "HLB", c) or 0.0)) for c in emulsifiers]
    terms += [(c, -(_known(space, "required HLB", c) or 0.0)) for c in lipids]
    for side, limit in (("min", -asked.within), ("max", asked.within)):
        word = "below" if side == "min" else "above"
        yield Rule(
            id=f"emulsifiers/HLB/{side}",
            sentence=(
                f"HLB of the emulsifiers at most {number(asked.within)} {word} what the"
                " lipids require"
            ),
            kind="emulsifiers",
            side=side,
            limit=limit,
            unit="",
            amounts=Row.of(terms),
            per=space.sum_of(lipids),
            owner="wish",
            origin=asked.origin,
        )


def _unknown(
    space: Space, asked: Emulsify, name: str, columns: Sequence[int]
) -> Iterator[Rule]:
    """Yield the rule that keeps out what has no such figure; unknown is not zero."""
    out = [column for column in columns if _known(space, name, column) is None]
    if out:
        told = ", ".join(space.ingredient(column).name for column in out)
        yield Rule(
            id=f"emulsifiers/no {name}",
            sentence=f"nothing without a known {name} ({told})",
            kind="emulsifiers",
            side="max",
            limit=0.0,
            unit="%",
            amounts=space.sum_of(out),
            per_constant=1.0,
            owner="wish",
            origin=asked.origin,
        )
