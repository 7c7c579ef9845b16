"""The page on a trade-off: what each step costs, where it turns, and the curve."""

from __future__ import annotations

from itertools import groupby, pairwise
from typing import TYPE_CHECKING

from optimiser.domain.scenario import CHANGES
from optimiser.presenting.following import following
from optimiser.presenting.page import (
    Block,
    Item,
    Number,
    Page,
    Paragraph,
    Plot,
    Section,
    Series,
    Table,
    numbers,
    section,
    words,
)
from optimiser.presenting.studies.blocks import (
    closing,
    facts_blocks,
    formulas_table,
    law_first,
)
from optimiser.presenting.studies.words import about, axis_words
from optimiser.presenting.words import (
    BARE,
    decimals,
    listed,
    money,
    short,
    unit_words,
)

if TYPE_CHECKING:
    from optimiser.studies.made import Made
    from optimiser.studies.tradeoff import Axis, BreakPoint, Tradeoff

__all__ = ["tradeoff_page"]

MOST_POINTS = 6  # on a short page
LEVELS = 12  # of the plot
_COUNTS = {2: "two", 3: "three", 4: "four", 5: "five"}  # steps after the first


def tradeoff_page(found: Tradeoff, *, full: bool = False) -> Page:
    """Return the page on a trade-off."""
    formulas = _shown(found)
    turn = _turn(found)
    told = [_steps(found) or _ends(found), *([turn] if turn else []), *_cut(found)]
    answer = tuple(Paragraph(text) for text in told)
    sections = [Section("", answer), Section("The curve", tuple(_curve(found, full)))]
    if full:
        sections += section(f"{_title(found.up)} as it falls", [_figure(found)])
        sections += section("Formulas at some points", [formulas_table(formulas)])
        facts = facts_blocks(formulas, found.about.currency)
        sections += section("What each is like", facts)
    else:
        sections += section("", _at_the_turn(found))
    rest = ("every point", "a plot", "the formulas", "what they are like")
    sections += closing(found.told, _proof(found), full=full, rest=rest)
    if not full:
        sections += following("tradeoff", found.about.file)
    between = f"{axis_words(found.up)} against {axis_words(found.across)}"
    title = f"{found.about.title}: {between}"
    basis = found.told.basis
    return Page(title, about(found.about, basis), law_first(basis, sections))


def _cut(found: Tradeoff) -> list[str]:
    """Return what the time was not enough for."""
    told = []
    if found.better_percent:
        most = decimals(found.better_percent, 1)
        told.append(
            f"Searches were cut short: at some point {axis_words(found.up)} may be up"
            f" to {most} % less, and points between may be missing. --thorough searches"
            " to the end."
        )
    if found.stopped:
        told.append("Stopped: these points are found, others were not looked for.")
    elif found.cut_short and not told:
        told.append(
            "These points were found in the time; others were not looked for."
            " --thorough does."
        )
    return told


def _proof(found: Tradeoff) -> str:
    proof = (
        "Every rule was recomputed at every point. "
        if found.told.held or found.better_percent or found.cut_short
        else "The formula at every point was proved: every rule recomputed, and none is"
        " better in both. "
    )
    return proof + (
        "Between two points the curve is straight, and that was proved too."
        if found.exact
        else "Between two points the curve lies between their values."
    )


def _title(axis: Axis) -> str:
    return axis_words(axis)[:1].upper() + axis_words(axis)[1:]


def _value(axis: Axis, value: float) -> str:
    return money(value) if axis.name == "cost" else short(value)


def _head(axis: Axis) -> str:
    """Return the head of an axis's column, as a maker says it."""
    if axis.name == "change":
        return "% different from the base"
    if axis.name in CHANGES:
        return f"% different by {CHANGES[axis.name]}"
    if axis.name == "count":
        return "ingredients"
    return f"{axis_words(axis)}{unit_words(axis.unit, ', ')}"


def _less(axis: Axis) -> str:
    return "cheaper" if axis.name == "cost" else f"less {axis_words(axis)}"


def _steps(found: Tradeoff) -> str:
    """Return what each further few percent need, as a sentence."""
    if not found.steps:
        return ""
    size = short(found.steps[0].percent)
    first, *others = found.steps
    text = f"{size} % {_less(found.up)} {_with(first.further, found.across)}"
    alike = groupby(short(abs(step.further), 3) for step in others)
    told: list[str] = []
    for needs, steps in alike:
        count = sum(1 for _ in steps)
        of = "" if told else f" {'steps of ' if count > 1 else ''}{size} %"
        verb = "" if told else " needs"
        which = f"each of the next {_COUNTS[count]}" if count > 1 else "the next"
        told.append(f"{which}{of}{verb} {needs}")
    return f"{text}; {listed(told)}." if told else f"{text}."


def _ends(found: Tradeoff) -> str:
    """Return where the curve begins and ends, or that there is only one point."""
    first, last = found.points[0], found.points[-1]
    unit = unit_words(found.up.unit)
    begins, ends = (f"{_value(found.up, each.up)}{unit}" for each in (first, last))
    if len(found.points) == 1 and found.cut_short:
        return f"One point is found, at {begins}."
    if len(found.points) == 1:
        return f"Nothing is to be traded: one formula, at {begins}, is best in both."
    return f"From {axis_words(found.up)} {begins} to {ends}."


def _with(by: float, axis: Axis) -> str:
    """Return what a step takes on the other axis."""
    size = short(abs(by), 3)
    if axis.name == "change":
        return f"if {size} % of the formula is different from the base"
    if axis.name in CHANGES:
        return f"if {size} % is different by {CHANGES[axis.name]}"
    if axis.name == "count":
        return f"with {size} ingredients more"
    unit = unit_words(axis.unit)
    way = "less" if by < 0 else "more"
    return f"with {size}{unit} {way} {axis_words(axis)}"


def _turn(found: Tradeoff) -> str:
    """Return where the bargain turns, and what a step was worth before and after."""
    at = next((p for p in found.points if p.name == found.elbow), None)
    if at is None:
        return ""
    before = _slope(found.points[0], at)
    after = _slope(at, found.points[-1])
    unit = " %" if found.up.name in CHANGES else unit_words(found.up.unit)
    return (
        f"The bargain turns at {at.name} ({_place(found.across, at.across)}): up to"
        f" there {_each(found.across)} is worth {_value(found.up, before)}{unit} on"
        f" average, after it {_value(found.up, after)}{unit}."
    )


def _place(axis: Axis, value: float) -> str:
    """Return a place on an axis, as in "8.1 % different"."""
    told = _value(axis, value)
    if axis.name in CHANGES:
        return f"{told} % different"
    if axis.name == "count":
        return f"{told} ingredients"
    return f"{axis_words(axis)} {told}{unit_words(axis.unit)}"


def _each(axis: Axis) -> str:
    """Return one unit of an axis, as in "each 1 % that is different"."""
    if axis.name in CHANGES:
        return "each 1 % that is different"
    if axis.name == "count":
        return "each ingredient"
    if axis.unit in BARE:
        return f"each unit of {axis_words(axis)}"
    return f"each {axis.unit.removesuffix('s')}"


def _slope(one: BreakPoint, other: BreakPoint) -> float:
    run = other.across - one.across
    return abs((one.up - other.up) / run) if run else 0.0


def _curve(found: Tradeoff, full: bool) -> list[Block]:
    """Return the points as a table; on a short page the ends, the turn and a few."""
    every = found.points
    rows = every if full else _few(found)
    columns = [
        words("point", [_named(row, found) for row in rows], 7),
        numbers(
            _head(found.across),
            [row.across for row in rows],
            lambda value: _value(found.across, value),
        ),
        numbers(
            _head(found.up),
            [row.up for row in rows],
            lambda value: _value(found.up, value),
        ),
    ]
    first = every[0].up
    if first > 0:
        falls = [100 * (first - row.up) / first for row in rows]
        columns.append(numbers("% less", falls, lambda fall: short(fall, 3)))
    news = ["", *(_news(one, other) for one, other in pairwise(rows))]
    columns.append(words("since the point above", news, 16))
    blocks: list[Block] = [Table(tuple(columns))]
    left = len(every) - len(rows)
    straight = "Straight from each point to the next." if found.exact else ""
    told = f"{left} more points are left out here." if left else straight
    return [*blocks, Item(told)] if told else blocks


def _few(found: Tradeoff) -> list[BreakPoint]:
    """Return both ends, the turn, and points between as evenly as they come."""
    every = found.points
    if len(every) <= MOST_POINTS:
        return list(every)
    last = len(every) - 1
    kept = {0, last} | {n for n, p in enumerate(every) if p.name == found.elbow}
    span = every[last].across - every[0].across
    while len(kept) < MOST_POINTS:
        away = {
            n: min(abs(every[n].across - every[k].across) for k in kept)
            for n in range(len(every))
            if n not in kept
        }
        kept.add(max(away, key=lambda n: away[n] / (abs(span) or 1.0)))
    return [every[n] for n in sorted(kept)]


def _named(row: BreakPoint, found: Tradeoff) -> str:
    return f"{row.name} turn" if row.name == found.elbow else row.name


def _news(one: BreakPoint, other: BreakPoint) -> str:
    """Return which ingredients came and went between two points."""
    was, now = one.formula, other.formula
    names = {line.ingredient: line.name for m in (was, now) for line in m.formula}
    came = [names[key] for key in now.amounts if key not in was.amounts]
    left = [names[key] for key in was.amounts if key not in now.amounts]
    parts = [f"in: {listed(came, 3)}"] if came else []
    parts += [f"out: {listed(left, 3)}"] if left else []
    return "; ".join(parts)


def _figure(found: Tradeoff) -> Plot:
    """Return the curve at even steps, read off its straight pieces."""
    rows = found.points
    first, last = rows[0].across, rows[-1].across
    at = tuple(first + (last - first) * n / LEVELS for n in range(LEVELS + 1))
    values = tuple(_between(rows, place) for place in at)
    caption = "The curve at even steps, read off its straight pieces."
    places = 2 if found.up.name == "cost" else 1
    rounded = tuple(float(decimals(place, 1)) for place in at)
    name = _head(found.up)
    across = "%" if found.across.unit == "points" else found.across.unit
    curve = (Series(name, rounded, values),)
    return Plot(caption, across, name, curve, places, zero=False)


def _between(rows: tuple[BreakPoint, ...], place: float) -> float:
    """Return the height of the curve at a place between its ends."""
    for one, other in pairwise(rows):
        low, high = sorted((one.across, other.across))
        if low - 1e-9 <= place <= high + 1e-9 and high > low:
            share = (place - one.across) / (other.across - one.across)
            return one.up + share * (other.up - one.up)
    return rows[-1].up


def _at_the_turn(found: Tradeoff) -> list[Paragraph]:
    """Return the formula at the turn, or at the end, as one sentence."""
    names = [p.name for p in found.points]
    at = found.points[names.index(found.elbow) if found.elbow in names else -1]
    column, shares = formulas_table([at.formula]).columns
    pairs = zip(column.cells[:-1], shares.cells[:-1], strict=True)
    told = [
        f"{name} {share.text}" for name, share in pairs if isinstance(share, Number)
    ]
    return [
        Paragraph(
            f"The formula at {at.name}, %: {listed(told)}."
            f" --write {at.name} FILE.csv writes it."
        )
    ]


def _shown(found: Tradeoff) -> list[Made]:
    """Return the formulas at the ends, at the turn, and at the point asked for."""
    names = [found.points[0].name, found.elbow, found.points[-1].name]
    formulas = [p.formula for p in found.points if p.name in names]
    if found.chosen is not None and found.chosen[0] not in names:
        formulas.append(found.chosen[1])
    return formulas
