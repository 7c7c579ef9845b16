"""Why a formula is the one, in words: steps of rules, prices of ingredients, ties."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from optimiser.explaining.slopes import round_limit
from optimiser.presenting.answer import MEASURES
from optimiser.presenting.compared import beside_others, compared_data
from optimiser.presenting.data import law_data, rule_data, tie_data
from optimiser.presenting.facts import tie_told
from optimiser.presenting.following import next_told, told_command
from optimiser.presenting.notes import law_in_short, past_told, prices_told
from optimiser.presenting.page import Block, Item, Page, Paragraph, items, section
from optimiser.presenting.price_words import helping
from optimiser.presenting.rules import (
    UNPRICED,
    helping_first,
    in_few_words,
    is_pin,
    origin,
    sentence,
    with_unit,
)
from optimiser.presenting.words import (
    beside,
    cents,
    clean,
    listed,
    money,
    plural,
    short,
    tidy,
    unit_words,
)

if TYPE_CHECKING:
    from optimiser.domain.rule import Rule
    from optimiser.explaining.curve import Leg, PriceCurve, PricePoint
    from optimiser.explaining.entering import Entering
    from optimiser.explaining.staying import Staying
    from optimiser.explaining.why import Reasons, RuleCurve

__all__ = [
    "curves_in_order",
    "rule_curve_data",
    "rule_page",
    "why_data",
    "why_page",
]

COSTS = "What each rule costs as its limit moves"
STEPS = 2
MOST, MOST_IN = 3, 4  # of each on a short page
ENDS = {
    "no formula beyond": "no formula beyond",
    "an earlier aim gives way": "from there on an earlier aim gives way",
    "straight on": "nothing more changes",
    "as asked": "looked at no further",
    "no limit beyond": "it goes no further",
}
NEVER, NEVER_ANY = "no price drives it out", "no price drives any of these out"
CLEAR = 0.05  # percent, or less than a hundredth of a limit: too near to be a step


def why_page(reasons: Reasons, *, full: bool = False) -> Page:
    """Return the reasons for a formula: the weightiest of each, or all."""
    most, in_most = (None, None) if full else (MOST, MOST_IN)
    stays = _stays(reasons, full=full)
    enters = [_entering(each, reasons.currency) for each in reasons.entering]
    return Page(
        f"Why: {reasons.title}",
        (reasons.file, *prices_told(reasons.invented, reasons.invented_of)),
        (
            *section("", [*law_in_short(reasons.law), *past_told(reasons.over)]),
            *beside_others(reasons, full=full),
            *section("", _in_money(reasons)),
            *section(COSTS, list(_costs(reasons, full=full))[:most]),
            *section("What is pinned", list(_pins(reasons, full=full))[:in_most]),
            *section("Ingredients that are in", items(stays[:in_most])),
            *section("Ingredients that are out, nearest first", items(enters[:most])),
            *section("Other formulas", items(_ties(reasons))),
            *section("", _beside(reasons, full=full)),
        ),
    )


def curves_in_order(reasons: Reasons) -> list[RuleCurve]:
    """Return the curves as `formulate` tells their rules, what costs most first."""
    place = {
        line.rule.id: number
        for number, line in enumerate(helping_first(reasons.lines, reasons.aims))
    }
    return sorted(reasons.curves, key=lambda each: place[each.rule.id])


def _costs(reasons: Reasons, *, full: bool) -> Iterator[Item]:
    """Yield what each rule costs along its limit, but for what is pinned."""
    told = [each for each in curves_in_order(reasons) if not is_pin(each.rule)]
    yield from (_rule(each, full=full) for each in told)
    if not told and not reasons.unpriced:
        yield Item("None does: what is not pinned has room to spare.")


def _pins(reasons: Reasons, *, full: bool) -> Iterator[Item]:
    """Yield what moving each pin would do: in short what helps, or all its steps."""
    pins = [each for each in curves_in_order(reasons) if is_pin(each.rule)]
    if full:
        yield from (_rule(each, full=True) for each in pins)
        return
    lines = {line.rule.id: line for line in reasons.lines}
    idle = []
    for each in pins:
        helps = helping(lines[each.rule.id], reasons.currency, brief=True)
        if helps is None:
            idle.append(in_few_words(each.rule))
        else:
            yield Item(f"{in_few_words(each.rule)}: {helps}")
    if idle:
        them = "it" if len(idle) == 1 else "them"
        yield Item(f"{listed(idle)}: moving {them} gains nothing that shows")


def _in_money(reasons: Reasons) -> Iterator[Block]:
    """Yield how to see rules priced in money, where another aim comes first."""
    if reasons.aims and reasons.aims[0] != "cost":
        first = MEASURES.get(reasons.aims[0], clean(reasons.aims[0]))
        needs = "" if reasons.all_priced else ", once all of it has a price"
        command = told_command("optimiser why {file} --by cost", reasons.file)
        yield Paragraph(
            f"Told in {first}, which is the first aim here. {command} tells what each"
            f" rule costs in money{needs}."
        )
    elif reasons.by_cost:
        yield Paragraph(
            "Told of the cheapest formula that keeps every rule, not of the one that"
            " the scenario's own aims lead to."
        )


def _beside(reasons: Reasons, *, full: bool) -> Iterator[Block]:
    """Yield what all of it is told under, and what a short page leaves out."""
    if reasons.unpriced and full:
        names = "; ".join(clean(rule.sentence) for rule in reasons.unpriced)
        yield Paragraph(f"{UNPRICED}: {names}.")
    told = []
    if reasons.step is not None and reasons.free is None:
        step = short(reasons.step)
        told.append(
            f"This is told without steps: none of {step} % that fit were found."
        )
    if reasons.choices_kept:
        told.append(
            "Rules and other formulas are told with the chosen ingredients kept, prices"
            " of ingredients with all chosen anew."
        )
    if told:
        yield Paragraph(" ".join(told))
    if reasons.cut:
        yield Paragraph(
            "Not all ingredients were looked at in the time for it: `optimiser why"
            " SCENARIO --thorough` looks at all of them, however long it takes."
        )
    if reasons.near:
        yield Paragraph(
            "All of this is told for near this formula, where the second opinion holds;"
            " what leads far from it may do better."
        )
    more = []
    curves = curves_in_order(reasons)
    pins = sum(is_pin(each.rule) for each in curves)
    if (rest := len(curves) - pins - MOST) > 0:
        more.append(plural(rest, "more rule"))
    if pins:
        more.append("each step of what is pinned")
    if (left := len(_stays(reasons, full=False)) - MOST_IN) > 0:
        more.append(f"{left} more of those that are in")
    if len(reasons.entering) > MOST:
        more.append(f"{len(reasons.entering) - MOST} more of those that are out")
    if not full:
        besides = f"With --full: {listed(more)}. " if more else ""
        rule = curves[0].rule.id if curves else "ID"
        command = "why by cost" if reasons.by_cost else "why"
        yield Paragraph(f"{besides}{next_told(command, reasons.file, rule)}")


def rule_page(found: RuleCurve) -> Page:
    """Return one rule's price curve: every step, and how it ends."""
    unit = unit_words(found.rule.unit)
    sections = [*section("Its two nearest steps", _steps(found))]
    for curve in _told(found):
        every = [
            f"{short(tidy(p.limit), 5)}{unit}: {_figure(p.value, curve)}"
            for p in curve.points
        ]
        blocks = [*items(every)]
        if curve.tolerance:
            told = "straight lines between these miss the true curve by at most "
            blocks.append(Item(f"{told}{short(curve.tolerance)} {curve.unit}."))
        sections += section(f"{curve.of.capitalize()} at every step", blocks)
    if found.curves[0].choices_kept:
        kept = "The chosen ingredients are kept along the curve."
        sections += section("", [Item(kept)])
    anew = [
        f"{short(tidy(each.limit), 5)}{unit}: "
        + ("no formula" if each.aims is None else listed(map(_aim, each.aims)))
        for each in found.again
    ]
    if found.cut:
        anew.append("not all steps were solved in the time for it (--thorough)")
    sections += section("With everything chosen anew", items(anew))
    return Page(sentence(found.rule), (origin(found.rule),), tuple(sections))


def _told(found: RuleCurve) -> list[PriceCurve]:
    """Return the curves that tell a side of the limit, in order of the aims."""
    ways = (*found.way(-1.0), *found.way(1.0))
    told = [curve for curve in found.curves if any(leg.curve is curve for leg in ways)]
    return told or [found.curves[0]]


def _figure(value: float, curve: PriceCurve) -> str:
    told = money(value) if curve.of == "cost" else short(tidy(value))
    return f"{told} {clean(curve.unit)}"


def _aim(aim: tuple[str, float, str]) -> str:
    """Return an aim's value, and its name where the unit does not tell it."""
    name, value, unit = aim
    if name == "cost":
        return f"{money(value)} {clean(unit)}"
    return f"{clean(name)} {short(tidy(value))} {clean(unit)}"


def _rule(found: RuleCurve, *, full: bool) -> Item:
    steps = _steps(found)
    said = sentence(found.rule) if full else in_few_words(found.rule)
    return Item(
        f"{said}  [{clean(found.rule.id)}]",
        tuple(each.text for each in steps),
    )


def _steps(found: RuleCurve) -> list[Item]:
    if not found.priced:
        return [Item(UNPRICED)]
    ways = (("down", -1.0), ("up", 1.0))
    told = ((way, _way(found, direction)) for way, direction in ways)
    return [Item(f"{way}: {each}") for way, each in told if each]


def _way(found: RuleCurve, direction: float) -> str:
    """Return the nearest steps one way: "26.45 %, 14.99 EUR/kg (-0.25); ..."."""
    legs = found.way(direction)
    if legs:
        told = _leg(legs[0], found, "" if len(legs) > 1 else ENDS[legs[0].end])
        if len(legs) > 1:
            then = _leg(legs[1], found, ENDS[legs[1].end])
            told += f"; from there on {clean(legs[1].curve.of)} gives way: {then}"
        return told
    # No aim moves, so that the last one's curve is what ends first.
    last = found.curves[-1]
    end = last.low_end if direction < 0.0 else last.high_end
    points = last.side(found.rule.limit, direction)
    if points and end in {"no formula beyond", "an earlier aim gives way"}:
        edge = beside(tidy(points[-1].limit), found.rule.limit)
        edge += unit_words(found.rule.unit)
        return f"nothing changes as far as {edge}; {ENDS[end]}"
    if points or end == "straight on":
        return "nothing changes"
    return "" if end == "no limit beyond" else ENDS[end]


def _leg(leg: Leg, found: RuleCurve, end: str) -> str:
    curve = leg.curve
    here = next(p.value for p in curve.points if p.limit == found.rule.limit)
    # Points of a bent curve are no steps: say where it leads.
    points = leg.points[-1:] if curve.tolerance else leg.points
    limit, clear = found.rule.limit, min(CLEAR, 0.01 * abs(found.rule.limit))
    points = tuple(p for p in points if abs(p.limit - limit) > clear) or points
    told = [_point(point, here, curve, found.rule) for point in points[:STEPS]]
    more = len(points) - STEPS
    if more > 0:
        told.append(f"{more} more")
    elif end:
        told.append(end)
    return "; ".join(told)


def _point(point: PricePoint, here: float, curve: PriceCurve, rule: Rule) -> str:
    change = point.value - here
    if curve.of == "cost":  # as the figures shown differ, if they do
        shown = (cents(point.value) - cents(here)) / 100
        size = money(abs(shown or change))
    else:
        size = short(abs(change))
    by = "no change" if abs(change) < 1e-7 else f"{'+-'[change < 0]}{size}"
    value = _aim((curve.of, point.value, curve.unit))
    limit = beside(tidy(point.limit), rule.limit)
    return f"{limit}{unit_words(rule.unit)}: {value} ({by})"


def _stays(reasons: Reasons, *, full: bool) -> list[str]:
    """Return what drives each ingredient out; in short, those nothing does in one."""
    never = [x.name for x in reasons.staying if _is_held(x)]
    brief = len(never) > 1 and not full
    rest = [
        _staying(each, reasons.currency)
        for each in reasons.staying
        if not (brief and _is_held(each))
    ]
    if not brief:
        return rest
    return [*rest, f"{NEVER_ANY}: {listed(never, 6)}"]


def _is_held(each: Staying) -> bool:
    """Whether no price drives an ingredient out, nor so much as takes some of it."""
    return each.leaves_above is None and not each.replaced_by and not _falls(each)


def _falls(each: Staying) -> bool:
    """Whether a price takes some of an ingredient before it drives it out, if any."""
    first, left = each.falls_above, each.falls_to or 0.0
    return (
        first is not None
        and 0.005 <= left < each.percent - CLEAR
        and (each.leaves_above is None or cents(first) < cents(each.leaves_above))
    )


def _staying(each: Staying, currency: str) -> str:
    amount = f"{clean(each.name)}, {short(each.percent, 3)} %"
    unit = f"{currency}/kg"
    now = f" (now {money(each.price_per_kg)})"
    told = []
    if _falls(each):
        left = short(each.falls_to or 0.0, 3)
        above = money(each.falls_above or 0.0)
        told.append(f"falls to {left} % above {above} {unit}{now}")
    if each.leaves_above is None:
        told.append(NEVER)
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
    told += [tie_told(tie, reasons.currency) for tie in reasons.ties]
    return told


Data = dict[str, Any]


def why_data(reasons: Reasons) -> Data:
    """Return the reasons as data: every step of every binding rule that is priced."""
    return {
        "status": "answered",
        "title": reasons.title,
        "scenario": reasons.file,
        "currency": reasons.currency,
        "choices_kept": reasons.choices_kept,
        "law": law_data(reasons.law),
        "rules": [rule_curve_data(each) for each in reasons.curves],
        "used": reasons.staying,
        "unused": reasons.entering,
        "unpriced": [rule_data(rule) for rule in reasons.unpriced],
        "ties": [tie_data(tie) for tie in reasons.ties],
        "cut_short": reasons.cut,
        **compared_data(reasons),
    }


def rule_curve_data(found: RuleCurve) -> Data:
    """Return one rule and its whole price curves, one an aim in order.

    ``down`` and ``up`` name the aims that tell a side: the first that responds, then
    an earlier one that gives way further on.
    """
    return {
        **rule_data(found.rule),
        "value": found.value,
        "slack": found.slack,
        "priced": found.priced,
        "down": [leg.curve.of for leg in found.way(-1.0)],
        "up": [leg.curve.of for leg in found.way(1.0)],
        "curves": [
            {
                "of": curve.of,
                "unit": curve.unit,
                "tolerance": curve.tolerance,
                "choices_kept": curve.choices_kept,
                "low_end": curve.low_end,
                "high_end": curve.high_end,
                "points": [
                    {"limit": _tidied(p.limit, found.rule), "value": p.value}
                    for p in curve.points
                ],
            }
            for curve in found.curves
        ],
        "again": [
            {
                "limit": each.limit,
                "aims": None
                if each.aims is None
                else [{"aim": n, "value": v, "unit": u} for n, v, u in each.aims],
            }
            for each in found.again
        ],
    }


def _tidied(limit: float, rule: Rule) -> float:
    """Return a limit without the last digits' noise; the rule's own as it is."""
    return limit if limit == rule.limit else round_limit(limit)
