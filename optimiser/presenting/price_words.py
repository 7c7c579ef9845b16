"""What moving a rule's limit does to the aim, told for one step or by the point.

Both sides of a rule are told for the same step, so that they can be held against each
other: one that fits within how far both prices hold. Where that step is too short to
show a price in money's last digits it is told by the point instead.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from msgspec import Struct

from optimiser.domain.rule import natural
from optimiser.presenting.words import BARE, beside, clean, money, short

if TYPE_CHECKING:
    from optimiser.domain.rule import Rule
    from optimiser.explaining.answer import Price, RuleLine

__all__ = [
    "helping",
    "idle_words",
    "price_lines",
    "relief",
    "weight",
    "with_unit",
]

_SILENT = BARE | {"to 1", "share"}  # units that go without saying beside a price
_NOTHING = 1e-9  # a price below it is none
_START = 0.01  # of a point: a price that holds no further is only the first of several
_SEEN, _TOLD = 0.02, 0.005  # of money or points: two digits to read; one
_SHOWN = 0.05  # percent: what a formula is written to shows no less


class _Side(Struct, frozen=True):
    """One way to move a limit; without ``act`` it is kept, and that has a price."""

    act: str
    price: Price


class _By(Struct, frozen=True):
    """What prices are told for: a step, or each so many points moved."""

    step: float
    each: bool = False


def with_unit(number: float, unit: str, other: float = math.inf) -> str:
    """Return a number and its unit, where it has one worth telling.

    ``other`` is a number that it has to be told from (see `words.beside`).

    >>> with_unit(36.5, "%"), with_unit(0.5, "to 1"), with_unit(1, "ingredients")
    ('36.5 %', '0.5', '1 ingredient')
    """
    shown = beside(number, other)
    if unit in _SILENT:
        return shown
    told = clean(unit)
    if shown == "1" and told in {"points", "ingredients"}:
        told = told.removesuffix("s")
    return f"{shown} {told}"


def weight(line: RuleLine) -> float:
    """Return what one point moves the aim by, or less where the price ends sooner."""
    prices = [price for price in (line.ease, line.tighten) if price is not None]
    return max((abs(p.price) * _within(line.rule, p) for p in prices), default=0.0)


def relief(line: RuleLine) -> float:
    """Return what a point of easing helps the aim by, or less where it ends sooner.

    0 where it helps nothing, or would show in no price and no formula.
    """
    side = _helping_side(line)
    if side is None:
        return 0.0
    helps = -side.price.price * _within(line.rule, side.price)
    return helps if helps >= (_TOLD if side.price.of == "cost" else _SHOWN) else 0.0


def _helping_side(line: RuleLine) -> _Side | None:
    return next((x for x in _sides(line) if x.price.price < -_NOTHING), None)


def _within(rule: Rule, price: Price) -> float:
    unit = _unit(rule)
    room = min(_room(rule, price), unit)
    return unit if room < _START * unit else room


def _unit(rule: Rule) -> float:
    """Return a point, or the whole limit where that is less than one of its unit."""
    return min(1.0, abs(rule.limit)) if rule.unit != "%" and rule.limit else 1.0


def _room(rule: Rule, price: Price) -> float:
    """Return how far the limit can be moved at this price."""
    if price.until is None or not math.isfinite(price.until):
        return math.inf
    return abs(price.until - rule.limit)


def price_lines(
    line: RuleLine, currency: str, nothing: str = "nothing would fit"
) -> str:
    """Return what a rule's limit costs and what moving it would do.

    ``nothing`` says what there is where the limit cannot be moved.
    """
    rule = line.rule
    sides = _sides(line)
    by = _by(rule, [each.price for each in sides if abs(each.price.price) >= _NOTHING])
    parts = [
        _moving(rule, each, by, currency)
        if each.act
        else _keeping(rule, each.price, by, currency)
        for each in sides
    ]
    for act, done in _unpriced(line):
        parts.append(
            f"{act} it ever so little is a jump to another formula"
            if line.jumps
            else f"it cannot be {done}: {nothing}"
        )
    return "; ".join(parts)


def helping(line: RuleLine, currency: str, *, brief: bool = False) -> str | None:
    """Return what moving a limit the way that helps would do; None if none helps.

    A rule that is never eased is told by what it costs. ``brief`` where it has one
    line: then what would show in no price and no formula is passed over.
    """
    side = _helping_side(line)
    if side is None or (brief and not relief(line)):
        return None
    by = _by(line.rule, [side.price])
    if side.act:
        return _moving(line.rule, side, by, currency, brief=brief)
    return _keeping(line.rule, side.price, by, currency, brief=brief)


def idle_words(line: RuleLine, nothing: str) -> str:
    """Return what moving a limit does where no price answers: nothing, or no formula.

    Told of "them", for there may be many such rules.
    """
    stuck = [done for _, done in _unpriced(line)]
    if not stuck:
        return "moving them a little changes nothing"
    still = [f"{each.act} them a little changes nothing" for each in _sides(line)]
    return "; ".join([*still, f"they cannot be {' or '.join(stuck)}: {nothing}"])


def _unpriced(line: RuleLine) -> list[tuple[str, str]]:
    """Return the ways to move a limit that have no price, though they mean something.

    Easing has none only where the aim jumps: there is always a formula.
    """
    rule = line.rule
    low, high = natural(rule)
    ways = {
        "min": (("easing", "eased"), ("tightening", "tightened")),
        "max": (("tightening", "tightened"), ("easing", "eased")),
        "exact": (("lowering", "lowered"), ("raising", "raised")),
    }[rule.side]
    prices = {
        "easing": line.ease,
        "tightening": line.tighten,
        "lowering": line.lowering,
        "raising": line.raising,
    }
    can = (rule.limit > low, rule.limit < high)
    return [
        way
        for way, means in zip(ways, can, strict=True)
        if means
        and prices[way[0]] is None
        and (way[0] != "easing" or (line.jumps and rule.may_ease))
    ]


def _sides(line: RuleLine) -> list[_Side]:
    if line.rule.side == "exact":
        pin = (("lowering", line.lowering), ("raising", line.raising))
        told = [_Side(act, price) for act, price in pin if price is not None]
        return sorted(told, key=lambda each: each.price.price)
    sides = []
    if line.ease is not None and line.rule.may_ease:
        sides.append(_Side("easing", line.ease))
    elif line.ease is not None and line.ease.price < 0:
        sides.append(_Side("", line.ease))
    if line.tighten is not None:
        sides.append(_Side("tightening", line.tighten))
    return sides


def _by(rule: Rule, prices: Sequence[Price]) -> _By:
    """Return the first way of telling that shows every price, else most of them."""
    ways = list(_ways(rule, prices))
    sizes = [abs(price.price) for price in prices]
    least, most = min(sizes, default=0.0), max(sizes, default=0.0)
    points = [way for way in ways if not (way.each and way.step > 1.0)]
    for among, size, seen in (
        (points, least, _SEEN),
        (ways, least, _TOLD),
        (points, most, _SEEN),
        (ways, most, _TOLD),
    ):
        for way in among:
            if size * way.step >= seen:
                return way
    return ways[-1]


def _ways(rule: Rule, prices: Sequence[Price]) -> Iterator[_By]:
    """Yield a step that fits within every reach, ten points, and by the point."""
    unit = _unit(rule)
    room = min((_room(rule, price) for price in prices), default=math.inf) * 1.002
    step = 10.0 ** math.floor(math.log10(max(min(unit, room), 1e-12)) + 1e-9)
    tens = _of(rule) == "points"
    if step >= _START * unit:
        yield _By(step)
    if tens and room >= 10.0:
        yield _By(10.0)
    yield _By(1.0, each=True)
    if tens and abs(rule.limit) >= 10.0:
        yield _By(10.0, each=True)


def _moving(
    rule: Rule, side: _Side, by: _By, currency: str, *, brief: bool = False
) -> str:
    """Return one side as a sentence, such as "easing by 1 point saves ..."."""
    price = side.price
    if abs(price.price) < _NOTHING:
        return f"{side.act} it a little changes nothing"
    moved = _moved(price, price.price * by.step, currency, brief=brief)
    reach = _reach(rule, price, brief=brief)
    if by.each:
        each = "per" if brief else "for each"
        return f"{side.act} {moved} {each} {_points(rule, by)}{reach}"
    return f"{side.act} by {with_unit(by.step, _of(rule))} {moved}{reach}"


def _keeping(
    rule: Rule, price: Price, by: _By, currency: str, *, brief: bool = False
) -> str:
    """Return what a rule that is never eased costs, without offering to ease it."""
    moved = _moved(price, -price.price * by.step, currency, brief=brief)
    does = "keeps out" if rule.side == "max" else "asks for"
    return f"each {_points(rule, by)} that it {does} {moved}"


def _of(rule: Rule) -> str:
    return "points" if rule.unit == "%" else rule.unit


def _points(rule: Rule, by: _By) -> str:
    """Return what a price is told for each of: "point", "10 points"."""
    unit = _of(rule)
    if unit in _SILENT and by.step == 1.0:
        return "unit"
    return with_unit(by.step, unit).removeprefix("1 ")


def _moved(price: Price, by: float, currency: str, *, brief: bool = False) -> str:
    gains = by < 0
    size = abs(by)
    least = "less than 0.01" if size < _TOLD else ""
    if price.of == "cost":
        return f"{'saves' if gains else 'costs'} {least or money(size)} {currency}/kg"
    told = least or short(size, 2 if brief else 3)
    if brief and price.of == "change":
        return f"{'keeps' if gains else 'takes away'} {told} % more of the base"
    verb, way = ("takes", "off") if gains else ("adds", "to")
    what = {
        "change": f"{told} % {way} what is different from the base",
        "kind change": f"{told} % {way} what is different by kind",
        "category change": f"{told} % {way} what is different by category",
        "count": f"{told} {way} the number of ingredients",
        "bought": f"{told} % {way} what must be bought",
    }.get(price.of, f"{told} {way} {clean(price.of)}")
    return f"{verb} {what}"


def _reach(rule: Rule, price: Price, *, brief: bool = False) -> str:
    """Return how far the price holds: ", down to 36.5 %", or ", to 36.5 %"."""
    if price.until is None or not math.isfinite(price.until):
        return ", however far"
    if abs(price.until - rule.limit) < _START * _unit(rule):
        return ", but only to begin with"
    way = "" if brief else "up " if price.until > rule.limit else "down "
    return f", {way}to {with_unit(round(price.until, 6), rule.unit, rule.limit)}"
