"""Why a formula is the one, in words: steps of rules, prices of ingredients, ties."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from optimiser.presenting.facts_text import tie_line
from optimiser.presenting.layout import item, paragraph, width
from optimiser.presenting.report import section, top_lines
from optimiser.presenting.rules_text import origin, sentence
from optimiser.presenting.words import cents, clean, listed, money, short

if TYPE_CHECKING:
    from optimiser.explaining.curve import Curve, Point
    from optimiser.explaining.staying import Entering, Staying
    from optimiser.explaining.why import Reasons, RuleCurve

__all__ = ["rule_report", "why_report"]

STEPS = 2
ENDS = {
    "no formula beyond": "no formula beyond",
    "straight on": "nothing more changes",
    "as asked": "looked at no further",
}


def why_report(reasons: Reasons, columns: int | None = None) -> str:
    """Return the reasons as text, in at most ``columns`` characters."""
    wide = columns or width()
    lines = top_lines(f"Why: {reasons.title}", [reasons.file], wide)
    if reasons.choices_kept:
        lines += item("All of this holds with the chosen ingredients kept.", wide)
    steps = [line for each in reasons.curves for line in _rule(each, wide)]
    lines += section("What each rule costs as its limit moves", steps)
    stays = [_staying(each, reasons.currency) for each in reasons.staying]
    lines += section("Ingredients that are in", _items(stays, wide))
    enters = [_entering(each, reasons.currency) for each in reasons.entering]
    lines += section("Ingredients that are out, nearest first", _items(enters, wide))
    lines += section("Other formulas", _items(_ties(reasons), wide))
    return "\n".join(lines) + "\n"


def rule_report(found: RuleCurve, columns: int | None = None) -> str:
    """Return one rule's price curve as text: every step, and how it ends."""
    wide = columns or width()
    lines = paragraph(sentence(found.rule), wide)
    lines += paragraph(origin(found.rule), wide)
    lines += section("Its two nearest steps", _steps(found, wide))
    curve, unit = found.curve, _unit(found.rule.unit)
    every = [
        f"{short(p.limit, 5)}{unit}: {_value(p.value, curve)}" for p in curve.points
    ]
    lines += section(f"{curve.of.capitalize()} at every step", _items(every, wide))
    if curve.tolerance:
        told = "straight lines between these miss the true curve by at most "
        lines += item(f"{told}{short(curve.tolerance)} {curve.unit}.", wide)
    if curve.choices_kept:
        lines += item("The chosen ingredients are kept along the curve.", wide)
    anew = [
        f"{short(each.limit, 5)}{unit}: "
        + ("no formula" if each.value is None else _value(each.value, curve))
        for each in found.again
    ]
    lines += section("With everything chosen anew", _items(anew, wide))
    return "\n".join(lines) + "\n"


def _items(texts: Sequence[str], columns: int) -> list[str]:
    return [line for text in texts for line in item(text, columns)]


def _unit(unit: str) -> str:
    return f" {unit}" if unit else ""


def _value(value: float, curve: Curve) -> str:
    told = money(value) if curve.of == "cost" else short(value)
    return f"{told} {clean(curve.unit)}"


def _rule(found: RuleCurve, columns: int) -> list[str]:
    lines = item(f"{sentence(found.rule)}  [{clean(found.rule.id)}]", columns)
    return [*lines, *_steps(found, columns, "      ")]


def _steps(found: RuleCurve, columns: int, indent: str = "  ") -> list[str]:
    curve, limit = found.curve, found.rule.limit
    here = next(p for p in curve.points if p.limit == limit)
    below = [p for p in reversed(curve.points) if p.limit < limit]
    above = [p for p in curve.points if p.limit > limit]
    lines = []
    for way, points, end in (
        ("down", below, curve.low_end),
        ("up", above, curve.high_end),
    ):
        told = _way(points, end, here, found)
        lines += paragraph(f"{way}: {told}", columns, indent, f"{indent}  ")
    return lines


def _way(points: Sequence[Point], end: str, here: Point, found: RuleCurve) -> str:
    """Return the nearest steps one way: "26.45 %, 14.99 EUR/kg (-0.25); ..."."""
    curve, unit = found.curve, _unit(found.rule.unit)
    if not points:
        return ENDS[end] if end == "no formula beyond" else "nothing changes"
    if curve.tolerance:  # points of a bent curve are no steps: say where it leads
        points = points[-1:]
    told = []
    for point in points[:STEPS]:
        change = point.value - here.value
        if curve.of == "cost":  # as the figures shown differ, if they do
            shown = (cents(point.value) - cents(here.value)) / 100
            size = money(abs(shown or change))
        else:
            size = short(abs(change))
        by = "no change" if abs(change) < 1e-9 else f"{'+-'[change < 0]}{size}"
        where = f"{short(point.limit)}{unit}"
        told.append(f"{where}: {_value(point.value, curve)} ({by})")
    more = len(points) - STEPS
    if more > 0:
        told.append(f"{more} more step{'s' if more > 1 else ''}")
    else:
        told.append(ENDS[end])
    return "; ".join(told)


def _staying(each: Staying, currency: str) -> str:
    amount = f"{clean(each.name)}, {short(each.percent, 3)} %"
    unit = f"{currency}/kg"
    now = f" (now {money(each.price_per_kg)})"
    told = []
    if each.falls_above is not None and (each.falls_to or 0.0) >= 0.005:
        to = short(each.falls_to or 0.0, 3)
        told.append(f"falls to {to} % above {money(each.falls_above)} {unit}{now}")
    if each.leaves_above is None:
        told.append("no price drives it out")
    else:
        leaves = f"leaves above {money(each.leaves_above)} {unit}"
        told.append(leaves if told else f"{leaves}{now}")
    if each.replaced_by:
        moves = [f"{clean(name)} {points:+.1f}" for name, points in each.replaced_by]
        told.append(f"without it {listed(moves)}")
    return f"{amount}: {'; '.join(told)}"


def _entering(each: Entering, currency: str) -> str:
    name, unit = clean(each.name), f"{currency}/kg"
    if each.enters_below is None or each.price_per_kg is None:
        told = f"{name}: no price brings it in"
    else:
        told = (
            f"{name}: comes in below {money(each.enters_below)} {unit}"
            f" (now {money(each.price_per_kg)})"
        )
        if each.enters_with is not None:
            told += f", with {short(each.enters_with, 3)} %"
    if each.forced_cost is None:
        return f"{told}; {short(each.forced_dose)} % of it does not fit"
    if each.forced_cost < 5e-7:
        return f"{told}; forcing {short(each.forced_dose)} % in costs nothing"
    cost = f"{money(each.forced_cost)} {unit}"
    return f"{told}; forcing {short(each.forced_dose)} % in costs {cost}"


def _ties(reasons: Reasons) -> list[str]:
    told = []
    if not any(tie.within == 0.0 for tie in reasons.ties):
        told.append("No clearly different formula does exactly as well.")
    told += [tie_line(tie, reasons.currency) for tie in reasons.ties]
    return told
