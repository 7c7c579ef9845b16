"""Prices by the maker's own numbers: what a buyer pays, and what is left of it.

With a cost ``c``, fees of ``f`` of what the buyer pays and ``s`` a unit, and a tax
``r`` of the price before it, a price ``n`` before tax leaves
``n - f n (1 + r) - s - c``.
Every figure is in whole cents, so that what is shown adds up.
"""

from __future__ import annotations

from collections.abc import Callable
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal

from msgspec import Struct

from optimiser.domain.costs import OWN_SALE, TO_SHOPS, Costs, Fee, PriceWay
from optimiser.workshop.costing import CENT, HUNDRED, LABOUR, MATERIALS, Costing

__all__ = [
    "Impossible",
    "Priced",
    "at_price",
    "by_way",
    "for_margin",
    "tax_in",
]

LEAST_ROOM = Decimal("0.005")  # of a price, for the cost: below it no price makes sense


class Priced(Struct, frozen=True):
    """A price and what becomes of it, in whole cents.

    ``tax`` and ``fees`` are None where they are not stated.
    ``paid`` is what the buyer pays, ``net`` that without tax, ``left`` what is left of
    it after fees and ``cost``. ``margin`` is percent of ``net``, ``mark_up`` of the
    cost; ``an_hour`` what each hour of work earns, money. None where nothing is to be
    divided by.
    """

    name: str
    sold: str
    paid: Decimal
    tax: Decimal | None
    net: Decimal
    fees: tuple[tuple[str, Decimal], ...] | None
    cost: Decimal
    left: Decimal
    margin: Decimal | None
    mark_up: Decimal | None
    an_hour: Decimal | None


class Impossible(Struct, frozen=True):
    """A way that no price answers, and why."""

    name: str
    why: str


def tax_in(paid: Decimal, rate: Decimal) -> Decimal:
    """Return the tax in a price that holds it, in cents; ``rate`` in percent.

    ``paid * r / (1 + r)``, for the price before tax is ``paid / (1 + r)``.

    >>> tax_in(Decimal(120), Decimal(20))
    Decimal('20.00')
    """
    return _cents(paid * rate / (HUNDRED + rate))


def at_price(
    costing: Costing, price: Decimal, name: str = "", sold: str = OWN_SALE
) -> Priced:
    """Return what becomes of a price as it is told: with tax, if prices have it in.

    Parameters
    ----------
    price : Decimal
        In whole cents.
    sold : str
        By an own sale or to shops: fees may be of one of them only.
    """
    costs = costing.work.costs
    if costs.tax is None:
        paid, tax, net = price, None, price
    elif costs.tax.in_prices:
        paid, tax = price, tax_in(price, costs.tax.rate)
        net = paid - tax
    else:
        net, tax = price, _cents(price * costs.tax.rate / HUNDRED)
        paid = net + tax
    fees = (
        None
        if costs.fees is None
        else tuple((x.name, _cents(_fee(x, paid, costs))) for x in _at(costs, sold))
    )
    cost = _cents(costing.unit)
    left = net - sum((amount for _, amount in fees or ()), Decimal(0)) - cost
    return Priced(
        name=name,
        sold=sold,
        paid=paid,
        tax=tax,
        net=net,
        fees=fees,
        cost=cost,
        left=left,
        margin=left / net * HUNDRED if net > 0 else None,
        mark_up=left / cost * HUNDRED if cost > 0 else None,
        an_hour=_an_hour(left, costing),
    )


def _fee(each: Fee, paid: Decimal, costs: Costs) -> Decimal:
    """Return a fee of one unit; a sale is of one where nothing else is stated."""
    return each.percent / HUNDRED * paid + each.per_sale / (
        costs.units_a_sale or Decimal(1)
    )


def _at(costs: Costs, sold: str) -> list[Fee]:
    return [each for each in costs.fees or () if each.sold in {sold, "both"}]


def _an_hour(left: Decimal, costing: Costing) -> Decimal | None:
    """Return what an hour of work earns: what is left, and its rate if it was counted.

    None if no time is stated.
    """
    hours = costing.hours
    if not hours:
        return None
    return (left + costing.of_kind(LABOUR) / costing.work.sold) / hours


def for_margin(
    costing: Costing, percent: Decimal, name: str = "", sold: str = OWN_SALE
) -> Priced | Impossible:
    """Return the least price that leaves so many percent of it, before tax.

    ``n = (c + s) / (1 - m - f (1 + r))``.
    """
    cost, share, fixed = _parts(costing, sold)
    room = 1 - percent / HUNDRED - share
    if room < LEAST_ROOM:
        why = (
            f"{_plain(percent)} % of margin and fees of {_plain(share * HUNDRED)} % of"
            " the price before tax leave nothing of it for the cost"
        )
        return Impossible(name, why)
    least = (cost + fixed) / room

    def good(found: Priced) -> bool:
        return found.margin is not None and found.margin >= percent

    return _least(costing, least, good, name, sold)


def by_way(costing: Costing, way: PriceWay) -> tuple[Priced | Impossible, ...]:
    """Return the prices that a way of pricing gives: one, or wholesale and retail."""
    number = way.numbers
    if way.way == "margin":
        return (for_margin(costing, number["percent"], way.name),)
    if way.way == "by the hour":
        return (_by_the_hour(costing, number["an_hour"], way.name),)
    cost = _cents(costing.unit)
    if way.way == "times materials":
        sold = costing.work.sold
        materials = _cents(costing.of_kind(MATERIALS) / sold)
        labour = _cents(costing.of_kind(LABOUR) / sold)
        net = number["times"] * materials + labour
        return (_rounded(costing, net, way.name, OWN_SALE),)
    net = number["times"] * cost
    if way.way == "times cost":
        return (_rounded(costing, net, way.name, OWN_SALE),)
    whole = _rounded(costing, net, f"{way.name}: wholesale", TO_SHOPS)
    then = number["then_times"] * whole.net
    return whole, _rounded(costing, then, f"{way.name}: retail", OWN_SALE)


def _by_the_hour(costing: Costing, wanted: Decimal, name: str) -> Priced | Impossible:
    """Return the least price of which each hour of work earns so much."""
    hours = costing.hours
    if not hours:
        return Impossible(name, "no minutes of work are stated: [labour] in costs.toml")
    cost, share, fixed = _parts(costing, OWN_SALE)
    room = 1 - share
    if room < LEAST_ROOM:
        return Impossible(name, "fees leave nothing of the price before tax")
    without = cost - costing.of_kind(LABOUR) / costing.work.sold
    least = (without + wanted * hours + fixed) / room

    def good(found: Priced) -> bool:
        return found.an_hour is not None and found.an_hour >= wanted

    return _least(costing, least, good, name, OWN_SALE)


def _parts(costing: Costing, sold: str) -> tuple[Decimal, Decimal, Decimal]:
    """Return cost in cents, fees as a share of a price before tax, and fees a unit."""
    costs = costing.work.costs
    fees = _at(costs, sold)
    with_tax = 1 if costs.tax is None else 1 + costs.tax.rate / HUNDRED
    share = sum((each.percent for each in fees), Decimal(0)) / HUNDRED * with_tax
    a_sale = costs.units_a_sale or Decimal(1)
    fixed = sum((each.per_sale for each in fees), Decimal(0)) / a_sale
    return _cents(costing.unit), share, fixed


def _least(
    costing: Costing,
    net: Decimal,
    good: Callable[[Priced], bool],
    name: str,
    sold: str,
) -> Priced:
    """Return the least price in cents, near ``net`` before tax, that will do.

    Tax and fees are rounded to cents too, so that it may be some cents off.
    """
    price = _told(costing, net).quantize(CENT, ROUND_CEILING)
    price = max(price, CENT)
    found = at_price(costing, price, name, sold)
    while not good(found):
        price += CENT
        found = at_price(costing, price, name, sold)
    while price > CENT and good(lower := at_price(costing, price - CENT, name, sold)):
        price, found = price - CENT, lower
    return found


def _rounded(costing: Costing, net: Decimal, name: str, sold: str) -> Priced:
    return at_price(costing, _cents(_told(costing, net)), name, sold)


def _told(costing: Costing, net: Decimal) -> Decimal:
    """Return a price before tax as it is told: with it, if prices have it in."""
    tax = costing.work.costs.tax
    inside = tax is not None and tax.in_prices
    return net * (1 + tax.rate / HUNDRED) if inside and tax is not None else net


def _cents(amount: Decimal) -> Decimal:
    return amount.quantize(CENT, ROUND_HALF_UP)


def _plain(number: Decimal) -> str:
    return f"{number.normalize():f}" if number else "0"
