"""What holds the formula where it is: each binding rule, what it costs, and how far.

Prices are told as sentences, for a step small enough that the price holds over it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from optimiser.presenting.layout import item, paragraph
from optimiser.presenting.words import (
    clean,
    evidence_words,
    keys,
    listed,
    money,
    plural,
    short,
)

if TYPE_CHECKING:
    from optimiser.domain.rule import Rule
    from optimiser.explaining.answer import Price, RuleLine

__all__ = [
    "binding_lines",
    "free_lines",
    "near_lines",
    "nearly_binding",
    "origin",
    "ranked",
    "sentence",
    "with_unit",
]

NEAR = 0.05  # a rule with less room than this share of its limit is nearly binding
_BARE = {"", "1", "to 1", "share"}  # units that go without saying
_LOCKED = {
    "law": " (law; not to be eased)",
    "safety": " (for safety; not to be eased)",
    "assessor": " (your assessor's; not to be eased)",
    "arithmetic": " (arithmetic; not to be eased)",
    "model": " (a limit of the model)",
}


def sentence(rule: Rule) -> str:
    """Return a rule's sentence, and whether it may not be eased."""
    return rule.sentence + _LOCKED.get(rule.owner, "")


def origin(rule: Rule) -> str:
    """Return where a rule was written, and the source that was read for it."""
    read_in = keys(rule.source)
    told = f"; source: {listed(read_in, 2)}" if read_in else ""
    if rule.evidence not in {None, "", "defined"}:
        told += f"; weakest figure: {evidence_words(str(rule.evidence))}"
    return f"from {rule.origin}{told}"


def with_unit(number: float, unit: str) -> str:
    """Return a number and its unit, where it has one worth telling.

    >>> with_unit(36.5, "%"), with_unit(0.5, "to 1"), with_unit(1, "ingredients")
    ('36.5 %', '0.5', '1 ingredient')
    """
    if unit in _BARE:
        return short(number)
    told = clean(unit)
    if short(number) == "1" and told in {"points", "ingredients"}:
        told = told.removesuffix("s")
    return f"{short(number)} {told}"


def ranked(lines: Sequence[RuleLine], aims: Sequence[str]) -> list[RuleLine]:
    """Return the binding rules a maker can act on, those that cost most first.

    Rules that move the first aim come before those that move a later one.
    """
    binding = [
        each for each in lines if each.binding and each.rule.owner != "arithmetic"
    ]
    return sorted(binding, key=lambda each: (_aim(each, aims), -_weight(each)))


def _aim(line: RuleLine, aims: Sequence[str]) -> int:
    """Return the place of the first aim that the rule moves."""
    moved = [
        aims.index(price.of)
        for price in (line.ease, line.tighten)
        if price is not None and price.price and price.of in aims
    ]
    return min(moved, default=len(aims))


def _weight(line: RuleLine) -> float:
    """Return what the step that is told would move the aim by."""
    prices = [price for price in (line.ease, line.tighten) if price is not None]
    weights = [abs(price.price) * (_step(line.rule, price) or 1.0) for price in prices]
    return max(weights, default=0.0)


def _step(rule: Rule, price: Price) -> float:
    """Return the step to tell a price for: 1, or less where it holds less far."""
    room = 1.0
    if price.until is not None and math.isfinite(price.until):
        room = min(room, abs(price.until - rule.limit))
    if rule.unit != "%" and rule.limit:
        room = min(room, abs(rule.limit))
    if room < 1e-6:
        return 0.0
    return float(10.0 ** math.floor(math.log10(room) + 1e-9))


def binding_lines(
    lines: Sequence[RuleLine],
    aims: Sequence[str],
    currency: str,
    choices_kept: bool,
    columns: int,
) -> list[str]:
    """Return the binding rules with their prices and where each was written."""
    text: list[str] = []
    if choices_kept:
        text += item("Prices hold with the chosen ingredients kept.", columns)
    binding = ranked(lines, aims)
    idle = [line for line in binding if not _weight(line)]
    for line in binding:
        if _weight(line):
            text += item(sentence(line.rule), columns)
            text += paragraph(_prices(line, currency), columns, "      ", "      ")
            text += paragraph(origin(line.rule), columns, "      ", "        ")
    if idle:
        text += item(
            "Met exactly, and moving them a little changes nothing: "
            + "; ".join(clean(line.rule.sentence) for line in idle),
            columns,
        )
    return text or item("No rule does: every one has room to spare.", columns)


def _prices(line: RuleLine, currency: str) -> str:
    rule = line.rule
    if rule.side == "exact":
        ways = (("lowering", line.lowering), ("raising", line.raising))
        told = [(act, price) for act, price in ways if price is not None]
        told.sort(key=lambda each: each[1].price)
        return "; ".join(_price(rule, price, act, currency) for act, price in told)
    parts = []
    if line.ease is not None and rule.may_ease:
        parts.append(_price(rule, line.ease, "easing", currency))
    elif line.ease is not None and line.ease.price < 0:
        parts.append(_keeping(rule, line.ease, currency))
    if line.tighten is not None:
        parts.append(_price(rule, line.tighten, "tightening", currency))
    elif rule.limit:
        parts.append("it cannot be tightened at all")
    return "; ".join(parts)


def _price(rule: Rule, price: Price, act: str, currency: str) -> str:
    """Return one side's price as a sentence, such as "easing by 1 point saves ..."."""
    step = _step(rule, price)
    reach = _reach(rule, price)
    if abs(price.price) < 1e-9:
        return f"{act} it a little changes nothing"
    unit = "points" if rule.unit == "%" else rule.unit
    if step == 0.0:
        moved = _moved(price, price.price, currency)
        by = "the unit" if unit in _BARE else with_unit(1.0, unit)
        return f"{act} it {moved} for {by}, but only at the very start"
    by = with_unit(step, unit)
    return f"{act} by {by} {_moved(price, price.price * step, currency)}{reach}"


def _keeping(rule: Rule, price: Price, currency: str) -> str:
    """Return what a rule that is never eased costs, without offering to ease it."""
    step = _step(rule, price) or 1.0
    unit = "points" if rule.unit == "%" else rule.unit
    moved = _moved(price, -price.price * step, currency)
    each = "unit" if unit in _BARE else with_unit(step, unit).removeprefix("1 ")
    does = "keeps out" if rule.side == "max" else "asks for"
    return f"each {each} that it {does} {moved}"


def _moved(price: Price, by: float, currency: str) -> str:
    gains = by < 0
    size = abs(by)
    if price.of == "cost":
        return f"{'saves' if gains else 'costs'} {money(size)} {currency}/kg"
    told = short(size)
    points = f"{told} point{'' if told == '1' else 's'}"
    verb, way = ("takes", "off") if gains else ("adds", "to")
    what = {
        "change": f"{points} {way} the change from the base",
        "category change": f"{points} {way} the change by category",
        "count": f"{told} {way} the number of ingredients",
        "bought": f"{points} {way} what must be bought",
    }.get(price.of, f"{told} {way} {clean(price.of)}")
    return f"{verb} {what}"


def _reach(rule: Rule, price: Price) -> str:
    """Return how far the price holds: ", down to 36.5 %"."""
    if price.until is None or not math.isfinite(price.until):
        return ", however far"
    if abs(price.until - rule.limit) < 1e-6:
        return ""
    way = "up" if price.until > rule.limit else "down"
    return f", {way} to {with_unit(round(price.until, 6), rule.unit)}"


def nearly_binding(lines: Sequence[RuleLine]) -> list[RuleLine]:
    """Return rules with little room left, least first."""
    near = [each for each in lines if not each.binding and _share(each) < NEAR]
    return sorted(near, key=_share)


def _share(line: RuleLine) -> float:
    """Return the room left as a share of the limit; without end where unknown."""
    if line.slack is None or not line.rule.limit or line.slack < 0:
        return math.inf
    return line.slack / abs(line.rule.limit)


def near_lines(lines: Sequence[RuleLine], columns: int) -> list[str]:
    """Return the nearly binding rules with the room that each has left."""
    text: list[str] = []
    for line in nearly_binding(lines):
        if line.value is None or line.slack is None:
            continue
        unit = line.rule.unit
        left = with_unit(line.slack, "points" if unit == "%" else unit)
        now = with_unit(line.value, unit)
        text += item(f"{line.rule.sentence}: now {now}, {left} left", columns)
    return text


def free_lines(lines: Sequence[RuleLine], sure: bool, columns: int) -> list[str]:
    """Return how many rules do nothing here, and which of the maker's own.

    Parameters
    ----------
    lines : sequence of RuleLine
        Every rule at the answer; one without a value has nothing to say here.
    sure : bool
        Whether easing them is sure to change nothing: so with one aim and no
        choices, since then the binding rules alone hold the answer.
    columns : int
        Width to fit.
    """
    near = set(map(id, nearly_binding(lines)))
    free = [
        each
        for each in lines
        if not each.binding
        and each.value is not None
        and id(each) not in near
        and each.rule.owner != "arithmetic"
    ]
    if not free:
        return []
    text = plural(len(free), "rule does", "rules do") + " nothing here"
    if sure:
        easing = "it" if len(free) == 1 else "any of them"
        text += f": easing {easing} would change nothing"
    own = [each for each in free if each.rule.owner == "wish"]
    own.sort(key=_share, reverse=True)
    if own:
        text += f". Of your own: {listed((each.rule.sentence for each in own), 5)}"
    return item(text + ".", columns)
