"""Whole packs, lots and orders as columns and links over the formulas of some products.

What batches mixed on a day or later take of an ingredient is at most what is good on
that day: lots not past their date, and packs bought for the plan. As what is good on a
later day is good on an earlier one too, these sums, one a day, are all that is asked
for lots to be shared out (Hall's condition for nested sets): no lot needs a column.
"""

from __future__ import annotations

import calendar
import math
from collections.abc import Iterator, Mapping, Sequence
from datetime import date

import numpy as np
from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.arrays import Floats, Indices
from optimiser.domain.material import Lot, PackPrice, Supplier
from optimiser.domain.plan import Plan
from optimiser.domain.rule import Column, Goal, Link, Programme, Row
from optimiser.rules.joining import Joint

__all__ = ["SLIVER", "Bought", "Shop", "good_on", "good_until", "opened"]

# What a pack or a lot may be short of what is taken from it: less than any scale shows,
# so that rounding never buys a pack, kg.
SLIVER = 1e-6


class Bought(Struct, frozen=True):
    """So many packs of one kind."""

    pack: PackPrice
    count: int

    @property
    def kg(self) -> float:
        """What the packs hold, kg."""
        return self.count * self.pack.pack_kg

    @property
    def paid(self) -> float:
        """What the packs cost with their own freight."""
        return self.count * self.pack.paid

    @property
    def goods(self) -> float:
        """What the packs cost without freight, which is what makes an order."""
        return self.count * self.pack.price

    def of(self, supplier: Supplier) -> bool:
        """Whether a supplier sells it."""
        return self.pack.supplier == supplier.name


class Order(Struct, frozen=True):
    """Columns on an order: whether there is one, and whether its freight is free."""

    supplier: Supplier
    column: int
    free: int | None


class Shop(Struct, frozen=True, eq=False):
    """A question of what to buy: its programme, and which column stands for what.

    ``places`` has, for each product, where the columns of its block stand.
    """

    programme: Programme
    places: tuple[Indices, ...]
    packs: tuple[tuple[PackPrice, int], ...]
    orders: tuple[Order, ...]

    def bought(self, amounts: Floats) -> tuple[Bought, ...]:
        """Return the packs that an answer buys."""
        counts = ((pack, round(float(amounts[at]))) for pack, at in self.packs)
        return tuple(Bought(pack, count) for pack, count in counts if count > 0)

    def start(self, blocks: Sequence[Floats], bought: Sequence[Bought]) -> Floats:
        """Return amounts of all columns: those of the blocks, and packs bought."""
        full = np.zeros(len(self.programme.columns))
        for place, amounts in zip(self.places, blocks, strict=True):
            full[place] = amounts
        counts = {each.pack: each.count for each in bought}
        for pack, at in self.packs:
            full[at] = counts.get(pack, 0)
        for order in self.orders:
            own = [each for each in bought if each.of(order.supplier)]
            full[order.column] = 1.0 if own else 0.0
            if order.free is not None and own:
                enough = order.supplier.free_from or 0.0
                full[order.free] = float(sum(each.goods for each in own) >= enough)
        return full


def good_until(pack: PackPrice, day: date) -> date | None:
    """Return until when a pack bought on a day keeps; None where that is not known.

    >>> from optimiser.domain.material import Origin
    >>> told = ("shea", 1, 9, 0, "EUR", None, Origin("prices.csv"))
    >>> pack = PackPrice(*told, keeps_months=6)
    >>> good_until(pack, date(2026, 8, 31))
    datetime.date(2027, 2, 28)
    """
    if pack.keeps_months is None:
        return None
    months = day.month - 1 + round(pack.keeps_months)
    year, month = day.year + months // 12, months % 12 + 1
    if year > date.max.year:
        return None
    return date(year, month, min(day.day, calendar.monthrange(year, month)[1]))


def good_on(lots: Sequence[Lot], ingredient: str, day: date) -> float:
    """Return the kg of an ingredient in lots that are not past their date on a day."""
    return sum(
        lot.amount
        for lot in lots
        if lot.ingredient == ingredient and (lot.expiry is None or lot.expiry >= day)
    )


def opened(
    joint: Joint, plan: Plan, most: Mapping[str, float], room: Mapping[str, float]
) -> Shop:
    """Return what to buy for some formulas as a question: least money for all packs.

    Parameters
    ----------
    joint : Joint
        A block for each product of the plan, in percent.
    most : mapping of ingredient key to float
        The most that all batches together can take of it, kg.
    room : mapping of ingredient key to float
        What packs and lots may be short of what is taken, kg; less than nothing is
        what they hold to spare. `SLIVER` where it is not told.
    """
    return _Opening(joint, plan, most, room).shop()


class _Opening:
    """The columns and links of packs and orders, as they are made."""

    def __init__(
        self,
        joint: Joint,
        plan: Plan,
        most: Mapping[str, float],
        room: Mapping[str, float],
    ) -> None:
        self.plan, self.most, self.joint, self.room = plan, most, joint, room
        self.columns = list(joint.programme.columns)
        self.links = list(joint.programme.links)
        self.packs: list[tuple[PackPrice, int]] = []
        self.orders: list[Order] = []
        self.money: list[tuple[int, float]] = []
        self.uses: dict[str, list[tuple[int, int]]] = {}
        for at, (number, ingredient) in enumerate(joint.own):
            self.uses.setdefault(ingredient, []).append((number, at))

    def shop(self) -> Shop:
        """Return the question with the packs of every ingredient, and the orders."""
        for ingredient in self.uses:
            self._ingredient(ingredient)
        for supplier in self.plan.catalogue.suppliers.values():
            self._order(supplier)
        goal = Goal("spend", self.plan.catalogue.currency, Row.of(self.money))
        programme = replace(
            self.joint.programme,
            columns=tuple(self.columns),
            links=tuple(self.links),
            goals=(goal,),
        )
        places = self.joint.places
        return Shop(programme, places, tuple(self.packs), tuple(self.orders))

    def _column(self, kind: str, key: str, upper: float) -> int:
        self.columns.append(Column(kind, key, 0.0, upper, whole=True))
        return len(self.columns) - 1

    def _ingredient(self, ingredient: str) -> None:
        """Add the packs of an ingredient, and what is good of it on each day."""
        plan, own = self.plan, []
        for pack in _worth_buying(plan.catalogue.prices.get(ingredient, ())):
            needed = math.ceil(self.most[ingredient] / pack.pack_kg - SLIVER)
            if needed <= 0:
                continue
            upper = needed + self._for_the_order(pack)
            at = self._column("packs", ingredient, float(upper))
            own.append((pack, at))
            self.money.append((at, pack.paid))
        self.packs += own
        held = None
        for day in plan.days:
            lots = good_on(plan.catalogue.stock, ingredient, day)
            good = [(p, at) for p, at in own if _keeps(p, plan.day, day)]
            if (lots, len(good)) == held:  # what is asked of an earlier day says it
                continue
            held = lots, len(good)
            row = [
                (at, plan.products[number].kg_from(day) / 100.0)
                for number, at in self.uses[ingredient]
            ]
            row += [(at, -pack.pack_kg) for pack, at in good]
            room = self.room.get(ingredient, SLIVER)
            self.links.append(Link(Row.of(row), -math.inf, lots + room))

    def _for_the_order(self, pack: PackPrice) -> int:
        """Return packs past what is needed that may make an order large enough.

        It is filled up with what the products may use, not with anything else.
        """
        supplier = self.plan.catalogue.suppliers.get(pack.supplier)
        if supplier is None or pack.price <= 0.0:
            return 0
        return math.ceil(max(supplier.minimum, supplier.free_from or 0.0) / pack.price)

    def _order(self, supplier: Supplier) -> None:
        """Add what an order from a supplier asks for."""
        own = [(p, at) for p, at in self.packs if p.supplier == supplier.name]
        if not own or not (supplier.freight or supplier.minimum):
            return
        order = self._column("order", supplier.name, 1.0)
        self.money.append((order, supplier.freight))
        for _, at in own:
            row = Row.of([(at, 1.0), (order, -self.columns[at].upper)])
            self.links.append(Link(row, -math.inf, 0.0))
        goods = [(at, pack.price) for pack, at in own]
        if supplier.minimum:
            row = Row.of([*goods, (order, -supplier.minimum)])
            self.links.append(Link(row, 0.0, math.inf))
        free = None
        if supplier.freight and supplier.free_from is not None:
            free = self._column("free", supplier.name, 1.0)
            self.money.append((free, -supplier.freight))
            row = Row.of([*goods, (free, -supplier.free_from)])
            self.links.append(Link(row, 0.0, math.inf))
            self.links.append(
                Link(Row.of([(free, 1.0), (order, -1.0)]), -math.inf, 0.0)
            )
        self.orders.append(Order(supplier, order, free))


def _keeps(pack: PackPrice, bought: date, day: date) -> bool:
    until = good_until(pack, bought)
    return until is None or until >= day


def _worth_buying(packs: Sequence[PackPrice]) -> Iterator[PackPrice]:
    """Yield packs that no other of the same supplier beats in every way."""
    for number, pack in enumerate(packs):
        beaten = False
        for other_number, other in enumerate(packs):
            if other is pack or other.supplier != pack.supplier:
                continue
            mine, theirs = pack.keeps_months, other.keeps_months
            as_long = theirs is None or (mine is not None and theirs >= mine)
            as_good = as_long and other.pack_kg >= pack.pack_kg
            same = (other.pack_kg, other.paid, other.price, theirs) == (
                pack.pack_kg,
                pack.paid,
                pack.price,
                mine,
            )
            if (
                as_good
                and other.paid <= pack.paid
                and (not same or other_number < number)
            ):
                beaten = True
        if not beaten:
            yield pack
