"""A scenario's answer costed and priced, for so many units of so much."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from msgspec import Struct

from optimiser.domain.bench import Bench
from optimiser.domain.catalogue import Catalogue
from optimiser.domain.costs import Costs
from optimiser.domain.scenario import Scenario
from optimiser.errors import InputError, Problem
from optimiser.explaining import Clash, formulate
from optimiser.explaining.answer import Answer
from optimiser.workshop.cost_moves import CostMove, moves
from optimiser.workshop.costing import LOST, OVER, Costing, costing_of, work_of
from optimiser.workshop.density import mix_density
from optimiser.workshop.pricing import Impossible, Priced, at_price, by_way, for_margin
from optimiser.workshop.sizes import NET_OR_MOULD, Size, SizeAsked, size_of

__all__ = ["CostSheet", "PriceAsked", "cost_sheet"]


class PriceAsked(Struct, frozen=True):
    """A price in whole cents, and a margin in percent of the price before tax."""

    price: Decimal | None = None
    margin: Decimal | None = None


class CostSheet(Struct, frozen=True):
    """What a unit costs, and what prices leave of it.

    ``asked`` are of the price and of the margin asked for, if any; ``ways`` of all that
    costs.toml names. ``of_the_bench`` names what counts of a scale.toml that is
    no maker's own.
    """

    answer: Answer
    costing: Costing
    asked: tuple[Priced | Impossible, ...]
    ways: tuple[Priced | Impossible, ...]
    moves: tuple[CostMove, ...]
    of_the_bench: tuple[str, ...] = ()


def cost_sheet(
    scenario: Scenario,
    catalogue: Catalogue,
    bench: Bench,
    costs: Costs,
    size: SizeAsked,
    price: PriceAsked,
) -> CostSheet | Clash:
    """Return what a unit of a scenario's answer costs, or why there is no formula.

    Raises
    ------
    InputError
        If what is asked makes no sense, or no units follow from it.
    """
    answer = formulate(scenario, catalogue)
    if isinstance(answer, Clash):
        return answer
    amounts = {x.ingredient: x.percent for x in answer.formula if x.percent > 0.0}
    made = size_of(size, bench, mix_density(amounts, catalogue), scenario.batch_kg)
    if made.net_kg is None:
        wrong = "what a unit weighs is not known, and a price is that of a unit"
        raise InputError([Problem(wrong, fix=NET_OR_MOULD)])
    if not made.units:
        wrong = "is less than one unit"
        fix = "make more, or smaller units"
        problem = Problem(wrong, field="--batch", found=f"{made.kg:g} kg", fix=fix)
        raise InputError([problem])
    unsaid = tuple(_unsaid(size, bench, made))
    costs = costs.of_product(scenario.product, scenario.use)
    work = work_of(answer, catalogue, made, made.net_kg, costs, unsaid)
    costing = costing_of(work)
    ways = tuple(priced for way in costs.ways for priced in by_way(costing, way))
    asked: list[Priced | Impossible] = []
    if price.price is not None:
        asked.append(at_price(costing, price.price))
    if price.margin is not None:
        asked.append(for_margin(costing, price.margin))
    of_the_bench = tuple(_of_the_bench(size, bench, made, costs))
    return CostSheet(
        answer, costing, tuple(asked), ways, moves(work), of_the_bench=of_the_bench
    )


def _of_the_bench(
    asked: SizeAsked, bench: Bench, made: Size, costs: Costs
) -> Iterator[str]:
    """Yield what of an invented scale.toml is in the cost of a unit."""
    if not bench.invented:
        return
    if costs.labour.rate is not None:
        yield "hourly rate"
    if asked.loss is None and bench.loss:
        yield "loss"
    if asked.overfill is None and asked.spread_kg is None and made.overfill:
        yield "overfill"


def _unsaid(asked: SizeAsked, bench: Bench, made: Size) -> Iterator[str]:
    """Yield what of loss and overfill nobody stated."""
    if asked.loss is None and bench.loss is None:
        yield LOST
    stated = any(each is not None for each in (asked.overfill, bench.overfill))
    if not stated and made.spread is None and not made.by_volume:
        yield OVER
