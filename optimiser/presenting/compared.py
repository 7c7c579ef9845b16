"""What the formula that is shown comes to beside others: a table, and what differs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

from optimiser.presenting.answer import MEASURES, more_of
from optimiser.presenting.page import (
    Paragraph,
    Section,
    Table,
    items,
    numbers,
    section,
    words,
)
from optimiser.presenting.rules import in_few_words, with_unit
from optimiser.presenting.words import clean, decimals, listed, money, short

if TYPE_CHECKING:
    from collections.abc import Mapping

    from optimiser.explaining.compared import LetIn, Reached
    from optimiser.explaining.why import Reasons

__all__ = ["beside_others", "compared_data"]

MOVED = 0.005  # percent: a smaller move is none
MOST, FEW = 3, 1  # moves and limits, beside a table and without one
NOT_FOUND = "what it costs was not found (in time, or for want of a price or a figure)"
ALL_ELSE = "All else is without steps."

Aims = Sequence[tuple[str, float, str]]


def beside_others(reasons: Reasons, *, full: bool) -> Iterator[Section]:
    """Yield what it comes to without its steps, and without what is kept out."""
    made, costing = reasons.made, [x for x in reasons.without if _tells(x, reasons)]
    if made is None or (reasons.free is None and not costing):
        return
    in_steps = []
    if reasons.free is not None:
        most = None if full else MOST if costing else FEW
        in_steps = [_steps_told(reasons, made, reasons.free, most)]
    if costing or full:
        without = [_without_told(each, made, reasons.currency) for each in costing]
        table = _table(reasons, made, costing)
        yield from section("Beside others", [table, *items([*without, *in_steps])])
    else:
        yield from section("", [Paragraph(told) for told in in_steps])


def _table(reasons: Reasons, made: Reached, costing: Sequence[LetIn]) -> Table:
    """Return cost and change of the formula shown, and of each that is beside it."""
    others: list[tuple[str, Reached]] = []
    if reasons.free is None:
        others.append(("this formula", made))
    else:
        others.append((f"in steps of {short(reasons.step or 0.0)} %", made))
        others.append(("without its steps", reasons.free))
    others += [
        (f"without '{in_few_words(each.rule)}'", each.standing)
        for each in costing
        if each.standing is not None
    ]
    rows = [(name, each.cost_per_kg, each.change) for name, each in others]
    rows += [] if made.change is None else [("your base", reasons.base_cost, 0.0)]
    names, costs, apart = zip(*rows, strict=True)
    columns = [
        words("", names, 20),
        numbers(f"{reasons.currency}/kg", costs, money, "-"),
    ]
    if made.change is not None:
        columns.append(numbers("different, %", apart, lambda x: decimals(x, 1), "-"))
    return Table(tuple(columns))


def _tells(each: LetIn, reasons: Reasons) -> bool:
    """Whether something has to go for it, or it costs something that is asked for."""
    if each.gone or each.standing is None or reasons.made is None:
        return bool(each.gone)
    return more_of(reasons.made.aims, each.standing.aims) is not None


def _cost_told(
    more: tuple[str, float, str] | None, currency: str, *, several: bool = False
) -> str:
    """Return what something costs: "costs 0.08 EUR/kg", of several "cost"."""
    costs = "cost" if several else "costs"
    if more is None:
        return f"{costs} nothing that is asked for"
    name, by, unit = more
    if name == "cost":
        return f"{costs} {money(by)} {currency}/kg"
    if name == "change":
        move = "move" if several else "moves"
        return f"{move} it {decimals(by, 1)} % further from the base"
    return f"{costs} {with_unit(by, unit)} of {MEASURES.get(name, clean(name))}"


def _steps_told(
    reasons: Reasons, made: Reached, free: Reached, most: int | None
) -> str:
    """Return what steps cost, and what holds the formula in them.

    The rest of the page, limits and prices as they move, is of the one without.
    """
    more = more_of(made.aims, free.aims)
    cost = _cost_told(more, reasons.currency, several=True)
    told = f"Its steps of {short(reasons.step or 0.0)} % {cost}"
    names = dict.fromkeys((*free.formula, *made.formula))
    moves = [
        (name, free.formula.get(name, 0.0), made.formula.get(name, 0.0))
        for name in names
    ]
    moves = [each for each in moves if abs(each[2] - each[1]) >= MOVED]
    moves.sort(key=lambda each: -abs(each[2] - each[1]))
    if moves:
        said = [f"{clean(n)} {short(a, 4)} -> {short(b, 4)} %" for n, a, b in moves]
        told += f" ({listed(said, most)})"
    if reasons.rest is not None:
        told += f", {clean(reasons.rest)} taking what is left to 100"
    rules = [in_few_words(each) for each in reasons.holding]
    held = f"at its limit in them: {listed(rules, most)}"
    return f"{told}; {held if rules else 'no limit is reached'}. {ALL_ELSE}"


def _without_told(each: LetIn, made: Reached, currency: str) -> str:
    told = f"'{in_few_words(each.rule)}'"
    if each.standing is None:
        told += f": {NOT_FOUND}"
    else:
        more = more_of(made.aims, each.standing.aims)
        told += f" {_cost_told(more, currency)}"
    if each.gone:
        told += f"; out for it: {listed(tuple(map(clean, each.gone)))}"
    return told


def compared_data(reasons: Reasons) -> dict[str, Any]:
    """Return the same as data."""
    return {
        "made": _standing(reasons.made),
        "without_steps": _standing(reasons.free),
        "base_cost_per_kg": reasons.base_cost,
        "at_limit": [rule.id for rule in reasons.holding],
        "without": [
            {"rule": each.rule.id, "out": each.gone, "made": _standing(each.standing)}
            for each in reasons.without
        ],
    }


def _standing(found: Reached | None) -> Mapping[str, Any] | None:
    if found is None:
        return None
    return {
        "cost_per_kg": found.cost_per_kg,
        "different_percent": found.change,
        "aims": [{"aim": n, "value": v, "unit": u} for n, v, u in found.aims],
        "formula": [
            {"name": name, "percent": percent}
            for name, percent in found.formula.items()
        ],
    }
