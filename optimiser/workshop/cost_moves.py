"""What moves the cost of a unit: each input alone, and the rules that cost most."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from decimal import Decimal

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.costs import Costs, Stated
from optimiser.explaining.answer import Answer, RuleLine
from optimiser.workshop.costing import Work, costing_of, decimal
from optimiser.workshop.sizes import to_make

__all__ = ["DEAREST", "STATED", "CostMove", "dearest_rules", "moves"]

TENTH = Decimal("0.1")
DEAREST, STATED = "dearest pack", "stated"
LEAST_SAVED = 1e-6  # money per kg and point: less is what rounding left


class CostMove(Struct, frozen=True):
    """What one input does to the cost of a unit when it alone moves.

    ``low`` and ``high`` are where it moves to, None where it does not move that way,
    and ``by_low`` and ``by_high`` what that adds. ``own`` says whose spread they are:
    the dearest pack on offer, or as stated; blank where it is 10 % either way.
    ``unit`` is that of the input, money being "money".
    """

    name: str
    unit: str
    now: Decimal
    low: Decimal | None
    high: Decimal | None
    by_low: Decimal
    by_high: Decimal
    own: str = ""

    @property
    def most(self) -> Decimal:
        """The larger of the two effects."""
        return max(abs(self.by_low), abs(self.by_high))


class _Input(Struct, frozen=True):
    """One input, its spread, and how the work is with another value of it."""

    name: str
    unit: str
    stated: Stated
    put: Callable[[Decimal], Work]
    own: str = ""


def moves(work: Work) -> tuple[CostMove, ...]:
    """Return what each input does to the cost of a unit, what moves it most first.

    Each moves by its own spread where one is known, else by 10 % either way, and
    alone: the formula stays as it is. What does nothing is left out.
    """
    found = (_move(each, work) for each in _inputs(work))
    telling = [each for each in found if each.most > 0]
    return tuple(sorted(telling, key=lambda each: -each.most))


def _move(each: _Input, work: Work) -> CostMove:
    usual, now = costing_of(work).unit, each.stated.value
    low, high, own = each.stated.low, each.stated.high, each.own
    if low is None and high is None:
        low, high, own = now * (1 - TENTH), now * (1 + TENTH), ""
    by_low, by_high = (
        Decimal(0) if to is None else costing_of(each.put(to)).unit - usual
        for to in (low, high)
    )
    return CostMove(each.name, each.unit, now, low, high, by_low, by_high, own)


def _inputs(work: Work) -> Iterator[_Input]:
    yield from _prices(work)
    yield from _packaging(work)
    yield from _labour(work)
    yield from _overheads(work)
    yield from _sizes(work)


def _prices(work: Work) -> Iterator[_Input]:
    for place, each in enumerate(work.materials):
        if each.price_per_kg is None:
            continue

        def put(to: Decimal, place: int = place) -> Work:
            found = list(work.materials)
            found[place] = replace(found[place], price_per_kg=to)
            return replace(work, materials=tuple(found))

        stated = Stated(each.price_per_kg, None, each.dearest)
        yield _Input(each.name, "money/kg", stated, put, DEAREST)


def _with(work: Work, **changed: object) -> Work:
    costs: Costs = replace(work.costs, **changed)
    return replace(work, costs=costs)


def _packaging(work: Work) -> Iterator[_Input]:
    packed = work.costs.packaging or ()
    for place, each in enumerate(packed):

        def put(to: Decimal, place: int = place) -> Work:
            found = list(packed)
            found[place] = replace(found[place], price=Stated(to))
            return _with(work, packaging=tuple(found))

        yield _Input(each.name, "money", each.price, put, STATED)


def _overheads(work: Work) -> Iterator[_Input]:
    paid = work.costs.overheads or ()
    for place, each in enumerate(paid):

        def put(to: Decimal, place: int = place) -> Work:
            found = list(paid)
            found[place] = replace(found[place], amount=Stated(to))
            return _with(work, overheads=tuple(found))

        yield _Input(each.name, f"money a {each.per}", each.amount, put, STATED)


def _labour(work: Work) -> Iterator[_Input]:
    labour = work.costs.labour
    for field, name, unit in (
        ("per_batch", "work on the batch", "min"),
        ("per_unit", "work on each unit", "min"),
        ("rate", "an hour of work", "money"),
    ):
        stated: Stated | None = getattr(labour, field)
        if stated is None:
            continue

        def put(to: Decimal, field: str = field) -> Work:
            return _with(work, labour=replace(labour, **{field: Stated(to)}))

        yield _Input(name, unit, stated, put, STATED)


def _sizes(work: Work) -> Iterator[_Input]:
    costs, size = work.costs, work.size
    if costs.batches_a_month is not None:
        yield _Input(
            "batches a month",
            "",
            costs.batches_a_month,
            lambda to: _with(work, batches_a_month=Stated(to)),
            STATED,
        )
    if costs.not_sold is not None:
        yield _Input(
            "units not sold",
            "%",
            costs.not_sold,
            lambda to: _with(work, not_sold=Stated(to)),
            STATED,
        )
    if size.exact:  # the batch is asked for as it is: its units follow from it
        return

    def resized(units: Decimal, loss: float, overfill: float) -> Work:
        kg = to_make(1, work.net_kg, loss=loss, overfill=overfill) * float(units)
        changed = replace(size, kg=kg, loss=loss, overfill=overfill)
        return replace(work, size=changed, units=units)

    units, loss, over = work.units, size.loss, size.overfill
    yield _Input(
        "units in a batch", "", Stated(units), lambda to: resized(to, loss, over)
    )
    yield _Input(
        "what is lost",
        "%",
        Stated(decimal(loss)),
        lambda to: resized(units, float(to), over),
    )
    yield _Input(
        "overfill",
        "%",
        Stated(decimal(over)),
        lambda to: resized(units, loss, float(to)),
    )


def dearest_rules(answer: Answer) -> tuple[RuleLine, ...]:
    """Return the rules that cost money where they bind, what costs most first.

    By what a point of easing saves; those that are never eased are among them. Pins
    are not: what they ask for (preservative, scent) is wanted as it is.
    """
    found = [
        line
        for line in answer.rules
        if line.rule.side != "exact"
        and line.ease is not None
        and line.ease.of == "cost"
        and line.ease.price < -LEAST_SAVED
    ]
    return tuple(sorted(found, key=lambda line: line.ease.price if line.ease else 0.0))
