"""What a unit costs to make, as lines that add up.

All that a batch costs is shared by the units of it that are sold. Money is decimal, and
exact until it is shown. What is not stated is named and never taken as nothing.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal
from fractions import Fraction

from msgspec import Struct

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.costs import Costs, Overhead
from optimiser.explaining.answer import Answer
from optimiser.workshop.sizes import Size

__all__ = [
    "CENT",
    "HUNDRED",
    "IN_UNITS",
    "LABOUR",
    "LOST",
    "MATERIALS",
    "NOT_SOLD",
    "OVER",
    "OVERHEADS",
    "PACKAGING",
    "CostLine",
    "Costing",
    "Material",
    "NotCounted",
    "Work",
    "costing_of",
    "decimal",
    "in_cents",
    "work_of",
]

CENT = Decimal("0.01")
HUNDRED = Decimal(100)
MATERIALS, PACKAGING = "materials", "packaging"
LABOUR, OVERHEADS, NOT_SOLD = "labour", "overheads", "not sold"


class Material(Struct, frozen=True):
    """One ingredient: percent of the product and landed money per kg, None if unknown.

    ``dearest`` is money per kg in the dearest pack on offer, where there are several.
    """

    ingredient: str
    name: str
    percent: Decimal
    price_per_kg: Decimal | None
    dearest: Decimal | None = None


class Work(Struct, frozen=True):
    """What is costed: the formula, how much of it is made, and what the maker states.

    ``units`` and ``net_kg`` are those of ``size``, which are known here; ``unsaid``
    whatever of its loss and overfill nobody stated, so that it is not in it.
    """

    materials: tuple[Material, ...]
    size: Size
    units: Decimal
    net_kg: float
    costs: Costs
    unsaid: tuple[str, ...] = ()

    @property
    def sold(self) -> Decimal:
        """How many units of a batch are sold, on average."""
        share = Decimal(0) if self.costs.not_sold is None else self.costs.not_sold.value
        return self.units * (1 - share / HUNDRED)

    @property
    def per_kg(self) -> Decimal:
        """Money per kg of the product, of the ingredients whose price is known."""
        known = (m for m in self.materials if m.price_per_kg is not None)
        return sum(
            (m.percent / HUNDRED * (m.price_per_kg or Decimal(0)) for m in known),
            Decimal(0),
        )

    @property
    def minutes(self) -> Decimal | None:
        """Minutes of work in a batch; None if none are stated."""
        labour = self.costs.labour
        if labour.per_batch is None and labour.per_unit is None:
            return None
        batch = Decimal(0) if labour.per_batch is None else labour.per_batch.value
        unit = Decimal(0) if labour.per_unit is None else labour.per_unit.value
        return batch + unit * self.units


class NotCounted(Struct, frozen=True):
    """What nobody stated, and ``where`` it is written; ``of`` the cost or the price."""

    what: str
    where: str
    of: str = "cost"


class CostLine(Struct, frozen=True):
    """A part of the cost, exact: of a batch, and its share of one unit.

    ``kind`` is materials, packaging, labour, overheads, or not sold.
    """

    kind: str
    name: str
    batch: Decimal
    unit: Decimal


class Costing(Struct, frozen=True):
    """What a unit costs; its lines add up to ``unit``, and those of the batch to it.

    ``nothing`` is what is stated to be none.
    """

    work: Work
    lines: tuple[CostLine, ...]
    batch: Decimal
    unit: Decimal
    not_counted: tuple[NotCounted, ...]
    nothing: tuple[str, ...]

    @property
    def complete(self) -> bool:
        """Whether all that makes up the cost is stated; else it is at least this."""
        return all(each.of != "cost" for each in self.not_counted)

    @property
    def hours(self) -> Decimal | None:
        """Hours of work for each unit sold."""
        minutes = self.work.minutes
        return None if minutes is None else minutes / 60 / self.work.sold

    def of_kind(self, kind: str) -> Decimal:
        """Return what a kind of line costs of a batch."""
        return sum((x.batch for x in self.lines if x.kind == kind), Decimal(0))


def work_of(
    answer: Answer,
    catalogue: Catalogue,
    size: Size,
    net_kg: float,
    costs: Costs,
    unsaid: tuple[str, ...] = (),
) -> Work:
    """Return what is costed of an answer, for a size with units and their weight."""
    found = []
    for line in answer.formula:
        if line.percent <= 0.0:
            continue
        packs = [
            decimal(each.price_per_kg)
            for each in catalogue.prices.get(line.ingredient, ())
        ]
        price = None if line.price_per_kg is None else decimal(line.price_per_kg)
        dearest = max(packs, default=None)
        if price is None or dearest is None or dearest <= price:
            dearest = None
        percent = decimal(line.percent)
        found.append(Material(line.ingredient, line.name, percent, price, dearest))
    return Work(tuple(found), size, Decimal(size.units or 1), net_kg, costs, unsaid)


def decimal(number: float) -> Decimal:
    """Return a number without the last digits' noise."""
    return Decimal(f"{number:.10g}")


def costing_of(work: Work) -> Costing:
    """Return what a unit of a batch costs, line by line."""
    made = [*_materials(work), *_packaging(work), *_labour(work), *_overheads(work)]
    batch = sum((amount for _, _, amount in made), Decimal(0))
    lines = [
        CostLine(kind, name, amount, amount / work.units) for kind, name, amount in made
    ]
    unit = batch / work.sold
    if work.costs.not_sold is not None:
        share = unit - batch / work.units
        lines.append(CostLine(NOT_SOLD, "", Decimal(0), share))
    return Costing(
        work=work,
        lines=tuple(lines),
        batch=batch,
        unit=unit,
        not_counted=tuple(_not_counted(work)),
        nothing=tuple(_nothing(work.costs)),
    )


Lines = Iterator[tuple[str, str, Decimal]]
IN_UNITS, OVER, LOST = "in the units", "overfill", "lost"


def _materials(work: Work) -> Lines:
    """Yield what the units hold by their net weight, what is over it, what is lost."""
    net = decimal(work.net_kg) * work.units
    over = net * decimal(work.size.overfill) / HUNDRED
    lost = decimal(work.size.kg) - net - over
    for name, kg in ((IN_UNITS, net), (OVER, over), (LOST, lost)):
        if name == IN_UNITS or kg > Decimal("1e-8"):
            yield MATERIALS, name, kg * work.per_kg


def _packaging(work: Work) -> Lines:
    for each in work.costs.packaging or ():
        amount = each.price.value / each.for_units * work.units
        yield PACKAGING, each.name, amount


def _labour(work: Work) -> Lines:
    rate = work.costs.labour.rate
    if work.minutes is not None and rate is not None:
        yield LABOUR, "", work.minutes / 60 * rate.value


def _overheads(work: Work) -> Lines:
    for each in work.costs.overheads or ():
        share = _of_a_batch(each, work)
        if share is not None:
            yield OVERHEADS, each.name, share


def _of_a_batch(each: Overhead, work: Work) -> Decimal | None:
    """Return what an overhead is of one batch; None where that cannot be known."""
    if each.per == "month":
        months = work.costs.batches_a_month
        return None if months is None else each.amount.value / months.value
    return each.amount.value * (work.units if each.per == "unit" else 1)


def _not_counted(work: Work) -> Iterator[NotCounted]:
    """Yield what is not stated, and where it would be written."""
    costs = work.costs
    for each in work.materials:
        if each.price_per_kg is None:
            yield NotCounted(each.name, "a price in prices.csv")
    for name in work.unsaid:
        yield NotCounted(*UNSAID[name])
    if costs.packaging is None:
        more = ", product: all that is stated is for others" if costs.of_others else ""
        yield NotCounted("packaging", f"[[packaging]] name, price{more}")
    yield from _labour_not_counted(costs)
    if costs.overheads is None:
        yield NotCounted("overheads", "[[overheads]] name, per_month, or per_batch")
    elif costs.batches_a_month is None:
        for over in costs.overheads:
            if over.per == "month":
                where = "[making] batches_a_month"
                yield NotCounted(f"{over.name}, by the month", where)
    if costs.not_sold is None:
        yield NotCounted("units that are not sold", "[sales] not_sold, in percent")
    if costs.fees is None:
        yield NotCounted("fees", "[[fees]] name, percent, per_sale", "price")
    if costs.tax is None:
        yield NotCounted("tax on sales", "[tax] rate, in_prices", "price")


UNSAID = {
    LOST: ("what stays in the pot", "[batch] loss, in scale.toml"),
    OVER: ("overfill", "[batch] overfill, in scale.toml"),
}


def _labour_not_counted(costs: Costs) -> Iterator[NotCounted]:
    labour = costs.labour
    if labour.per_batch is None and labour.per_unit is None:
        where = "[labour] minutes_per_batch, minutes_per_unit"
        yield NotCounted("work", where)
    elif labour.per_batch is None:
        yield NotCounted("work on the batch", "[labour] minutes_per_batch")
    elif labour.per_unit is None:
        yield NotCounted("work on each unit", "[labour] minutes_per_unit")
    if labour.rate is None:
        yield NotCounted("what an hour of work costs", "[labour] rate, in scale.toml")


def _nothing(costs: Costs) -> Iterator[str]:
    told = {
        "packaging": costs.packaging,
        "overheads": costs.overheads,
        "fees": costs.fees,
    }
    yield from (name for name, stated in told.items() if stated == ())


def in_cents(amounts: Sequence[Decimal], total: Decimal) -> list[Decimal]:
    """Return amounts in whole cents that add up to the total in cents.

    Each is rounded down, and what is then left of the total goes, a cent each, to
    those that lost most (largest remainder): none is a cent or more off.

    >>> in_cents([Decimal("0.333")] * 3, Decimal("0.999"))
    [Decimal('0.34'), Decimal('0.33'), Decimal('0.33')]
    """
    if not amounts:
        return []
    floors = [int(amount / CENT // 1) for amount in amounts]
    whole = int(Fraction(total) * 100 + Fraction(1, 2)) - sum(floors)
    lost = sorted(range(len(amounts)), key=lambda n: (floors[n] - amounts[n] / CENT, n))
    for place in lost[: max(0, whole)]:
        floors[place] += 1
    return [floor * CENT for floor in floors]
