"""Why a formula is the one, in words: steps of rules, prices of ingredients, ties."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from optimiser.presenting.facts_text import tie_line
from optimiser.presenting.layout import item, paragraph, width
from optimiser.presenting.report import section, top_lines
from optimiser.presenting.rules_text import UNPRICED, origin, sentence, with_unit
from optimiser.presenting.words import cents, clean, listed, money, short, tidy

if TYPE_CHECKING:
    from optimiser.explaining.entering import Entering
    from optimiser.explaining.price_curve import Leg, PriceCurve, PricePoint
    from optimiser.explaining.staying import Staying
    from optimiser.explaining.why import Reasons, RuleCurve

__all__ = ["rule_report", "why_report"]

STEPS = 2
ENDS = {
    "no formula beyond": "no formula beyond",
    "an earlier aim gives way": "from there on an earlier aim gives way",
    "straight on": "nothing more changes",
    "as asked": "looked at no further",
    "no limit beyond": "it goes no further",
}
CLEAR = 0.05  # percent, or less than a hundredth of a limit: too near to be a step


def why_report(reasons: Reasons, columns: int | None = None) -> str:
    """Return the reasons as text, in at most ``columns`` characters."""
    wide = columns or width()
    lines = top_lines(f"Why: {reasons.title}", [reasons.file], wide)
    if reasons.choices_kept:
        kept = "Rules and other formulas are told with the chosen ingredients kept,"
        lines += item(f"{kept} prices of ingredients with all chosen anew.", wide)
    if reasons.near:
        bent = "By the second opinion windows on melting bend:"
        near = "all of this is told for near this formula; what leads far from it"
        lines += item(f"{bent} {near} may do better.", wide)
    steps = [line for each in reasons.curves for line in _rule(each, wide)]
    if reasons.unpriced:
        names = "; ".join(clean(rule.sentence) for rule in reasons.unpriced)
        steps += item(f"{UNPRICED}: {names}", wide)
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
    unit = _unit(found.rule.unit)
    for curve in _told(found):
        every = [
            f"{short(tidy(p.limit), 5)}{unit}: {_figure(p.value, curve)}"
            for p in curve.points
        ]
        lines += section(f"{curve.of.capitalize()} at every step", _items(every, wide))
        if curve.tolerance:
            told = "straight lines between these miss the true curve by at most "
            lines += item(f"{told}{short(curve.tolerance)} {curve.unit}.", wide)
    if found.curves[0].choices_kept:
        lines += item("The chosen ingredients are kept along the curve.", wide)
    anew = [
        f"{short(tidy(each.limit), 5)}{unit}: "
        + ("no formula" if each.aims is None else listed(map(_aim, each.aims)))
        for each in found.again
    ]
    lines += section("With everything chosen anew", _items(anew, wide))
    return "\n".join(lines) + "\n"


def _told(found: RuleCurve) -> list[PriceCurve]:
    """Return the curves that tell a side of the limit, in order of the aims."""
    ways = (*found.way(-1.0), *found.way(1.0))
    told = [curve for curve in found.curves if any(leg.curve is curve for leg in ways)]
    return told or [found.curves[0]]


def _items(texts: Sequence[str], columns: int) -> list[str]:
    return [line for text in texts for line in item(text, columns)]


def _unit(unit: str) -> str:
    return f" {unit}" if unit else ""


def _figure(value: float, curve: PriceCurve) -> str:
    told = money(value) if curve.of == "cost" else short(tidy(value))
    return f"{told} {clean(curve.unit)}"


def _aim(aim: tuple[str, float, str]) -> str:
    """Return an aim's value, and its name where the unit does not tell it."""
    name, value, unit = aim
    if name == "cost":
        return f"{money(value)} {clean(unit)}"
    return f"{clean(name)} {short(tidy(value))} {clean(unit)}"


def _rule(found: RuleCurve, columns: int) -> list[str]:
    lines = item(f"{sentence(found.rule)}  [{clean(found.rule.id)}]", columns)
    return [*lines, *_steps(found, columns, "      ")]


def _steps(found: RuleCurve, columns: int, indent: str = "  ") -> list[str]:
    lines = []
    if not found.priced:
        return paragraph(UNPRICED, columns, indent, f"{indent}  ")
    for way, direction in (("down", -1.0), ("up", 1.0)):
        told = _way(found, direction)
        if told:
            lines += paragraph(f"{way}: {told}", columns, indent, f"{indent}  ")
    return lines


def _way(found: RuleCurve, direction: float) -> str:
    """Return the nearest steps one way: "26.45 %, 14.99 EUR/kg (-0.25); ..."."""
    first = found.curves[0]
    legs = found.way(direction)
    if legs:
        told = _leg(legs[0], found, "" if len(legs) > 1 else ENDS[legs[0].end])
        if len(legs) > 1:
            then = _leg(legs[1], found, ENDS[legs[1].end])
            told += f"; from there on {clean(legs[1].curve.of)} gives way: {then}"
        return told
    end = first.low_end if direction < 0.0 else first.high_end
    points = first.side(found.rule.limit, direction)
    if points and end == "no formula beyond":
        edge = f"{short(tidy(points[-1].limit))}{_unit(found.rule.unit)}"
        return f"nothing changes as far as {edge}; {ENDS[end]}"
    if points or end == "straight on":
        return "nothing changes"
    return "" if end == "no limit beyond" else ENDS[end]


def _leg(leg: Leg, found: RuleCurve, end: str) -> str:
    curve, unit = leg.curve, _unit(found.rule.unit)
    here = next(p.value for p in curve.points if p.limit == found.rule.limit)
    # Points of a bent curve are no steps: say where it leads.
    points = leg.points[-1:] if curve.tolerance else leg.points
    limit, clear = found.rule.limit, min(CLEAR, 0.01 * abs(found.rule.limit))
    points = tuple(p for p in points if abs(p.limit - limit) > clear) or points
    told = [_point(point, here, curve, unit) for point in points[:STEPS]]
    more = len(points) - STEPS
    if more > 0:
        told.append(f"{more} more step{'s' if more > 1 else ''}")
    elif end:
        told.append(end)
    return "; ".join(told)


def _point(point: PricePoint, here: float, curve: PriceCurve, unit: str) -> str:
    change = point.value - here
    if curve.of == "cost":  # as the figures shown differ, if they do
        shown = (cents(point.value) - cents(here)) / 100
        size = money(abs(shown or change))
    else:
        size = short(abs(change))
    by = "no change" if abs(change) < 1e-7 else f"{'+-'[change < 0]}{size}"
    value = _aim((curve.of, point.value, curve.unit))
    return f"{short(tidy(point.limit))}{unit}: {value} ({by})"


def _staying(each: Staying, currency: str) -> str:
    amount = f"{clean(each.name)}, {short(each.percent, 3)} %"
    unit = f"{currency}/kg"
    now = f" (now {money(each.price_per_kg)})"
    told = []
    first, left = each.falls_above, each.falls_to or 0.0
    if first is not None and 0.005 <= left < each.percent - CLEAR:
        falls = f"falls to {short(left, 3)} % above {money(first)} {unit}{now}"
        if each.leaves_above is None or cents(first) < cents(each.leaves_above):
            told.append(falls)
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
    return f"{told}; {_forced(each)}"


def _forced(each: Entering) -> str:
    """Return what a dose adds: "1 % of it adds 2 points of change"."""
    dose = f"{short(each.forced_dose)} % of it"
    if each.forced_by is None or each.forced_of is None:
        where = "" if each.sure else " near this one"
        return f"no formula{where} keeps the rules with {dose}"
    if each.forced_by == 0.0:
        return f"{dose} costs nothing"
    if each.forced_of == "cost":
        return f"{dose} adds {money(each.forced_by)} {clean(each.forced_unit)}"
    by = with_unit(each.forced_by, each.forced_unit)
    return f"{dose} adds {by} of {clean(each.forced_of)}"


def _ties(reasons: Reasons) -> list[str]:
    told = []
    if not any(tie.within == 0.0 for tie in reasons.ties):
        told.append("No clearly different formula does exactly as well.")
    told += [tie_line(tie, reasons.currency) for tie in reasons.ties]
    return told
