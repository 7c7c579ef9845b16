"""A trade-off as text, JSON and CSV: the curve, its elbow, and what steps cost."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any

from optimiser.domain.scenario import CHANGES
from optimiser.presenting.layout import Column, item, paragraph, table, width
from optimiser.presenting.report import section, top_lines
from optimiser.presenting.sheet import cell
from optimiser.presenting.studies.common import (
    about,
    about_data,
    as_csv,
    closing,
    facts_table,
    formulas_table,
    made_data,
    told_data,
)
from optimiser.presenting.words import BARE, listed, money, short, unit_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from optimiser.studies.made import Made
    from optimiser.studies.tradeoff import Axis, BreakPoint, Tradeoff

__all__ = ["curve_columns", "tradeoff_csv", "tradeoff_data", "tradeoff_report"]


def tradeoff_report(found: Tradeoff, columns: int | None = None) -> str:
    """Return the report on a trade-off as text."""
    wide = columns or width()
    title = f"{found.about.title}: {found.up.words} against {found.across.words}"
    top = about(found.about)
    lines = top_lines(title, top, wide)
    for text in (_steps(found), _elbow(found)):
        lines += paragraph(text, wide)
    lines += section("The curve", _curve(found, wide))
    formulas = _shown(found)
    lines += section("Formulas at some points", formulas_table(formulas, wide))
    lines += section(
        "What each is like", facts_table(formulas, found.about.currency, wide)
    )
    proof = (
        "Every rule was recomputed at every point. "
        if found.told.held
        else "The formula at every point was proved: every rule recomputed, and none is"
        " better in both. "
    )
    proof += (
        "Between two points the curve is straight, and that was proved too."
        if found.exact
        else "Between two points the curve lies between their values."
    )
    lines += closing(found.told, proof, wide)
    return "\n".join(lines) + "\n"


def _value(axis: Axis, value: float) -> str:
    return money(value) if axis.name == "cost" else short(value)


def _noun(axis: Axis) -> str:
    """Return the axis's unit as a few words, as in "points of change"."""
    if axis.name == "change":
        return "points of change"
    if axis.name in CHANGES:
        return f"points of change by {CHANGES[axis.name]}"
    return axis.words if axis.unit in BARE else f"{axis.unit} of {axis.words}"


def _less(axis: Axis) -> str:
    return "cheaper" if axis.name == "cost" else f"less {axis.words}"


def _steps(found: Tradeoff) -> str:
    """Return what each further few percent need, as a sentence."""
    if not found.steps:
        return ""
    size = short(found.steps[0].percent)
    first, *others = found.steps
    text = f"{size} % {_less(found.up)} for {_move(first.further, found.across)}"
    if others:
        rest = [short(abs(step.further), 3) for step in others]
        needs = f"the next {size} % needs {rest[0]}"
        further = [f"the next {each}" for each in rest[1:]]
        text += f"; {listed([needs, *further])}"
    return text + "."


def _move(by: float, axis: Axis) -> str:
    if not axis.is_property:
        return f"{short(abs(by), 3)} {_noun(axis)}"
    told = f"{short(abs(by), 3)}{unit_words(axis.unit)}"
    return f"{told} {'less' if by < 0 else 'more'} {axis.words}"


def _elbow(found: Tradeoff) -> str:
    """Return where the curve bends most, and its slope before and after."""
    at = next((p for p in found.points if p.name == found.elbow), None)
    if at is None:
        return ""
    before = _slope(found.points[0], at)
    after = _slope(at, found.points[-1])
    across, up = found.across, found.up
    each = {"points": "point", "ingredients": "ingredient"}.get(
        across.unit, across.unit
    )
    if each in BARE:
        each = f"unit of {across.words}"
    value, noun = _value(across, at.across), _noun(across)
    where = f"{noun} {value}" if across.unit in BARE else f"{value} {noun}"
    return (
        f"The elbow is at {at.name} ({where}): up to there each {each} is worth "
        f"{_value(up, before)}{unit_words(up.unit)} on average, after it "
        f"{_value(up, after)}."
    )


def _slope(one: BreakPoint, other: BreakPoint) -> float:
    run = other.across - one.across
    return abs((one.up - other.up) / run) if run else 0.0


def _curve(found: Tradeoff, columns: int) -> list[str]:
    rows = found.points
    shown = [
        Column("point", [_named(row, found) for row in rows], number=False, least=7),
        Column(_head(found.across), [_value(found.across, r.across) for r in rows]),
        Column(_head(found.up), [_value(found.up, row.up) for row in rows]),
    ]
    first = rows[0].up
    if first > 0:
        cells = [short(100 * (first - row.up) / first, 3) for row in rows]
        shown.append(Column("% less", cells))
    news = ["", *(_news(one, other) for one, other in pairwise(rows))]
    shown.append(Column("since the point above", news, number=False, least=16))
    lines = table(shown, columns)
    if found.exact:
        lines += item("Straight from each point to the next.", columns)
    return lines


def _named(row: BreakPoint, found: Tradeoff) -> str:
    return f"{row.name} elbow" if row.name == found.elbow else row.name


def _head(axis: Axis) -> str:
    return f"{axis.words}{unit_words(axis.unit, ', ')}"


def _news(one: BreakPoint, other: BreakPoint) -> str:
    """Return which ingredients came and went between two points."""
    was, now = one.formula, other.formula
    names = {line.ingredient: line.name for m in (was, now) for line in m.formula}
    came = [names[key] for key in now.amounts if key not in was.amounts]
    left = [names[key] for key in was.amounts if key not in now.amounts]
    parts = [f"in: {listed(came, 3)}"] if came else []
    parts += [f"out: {listed(left, 3)}"] if left else []
    return "; ".join(parts)


def _shown(found: Tradeoff) -> list[Made]:
    """Return the formulas at the ends, at the elbow, and at the point asked for."""
    names = [found.points[0].name, found.elbow, found.points[-1].name]
    formulas = [p.formula for p in found.points if p.name in names]
    if found.chosen is not None and found.chosen[0] not in names:
        formulas.append(found.chosen[1])
    return formulas


def tradeoff_data(found: Tradeoff) -> dict[str, Any]:
    """Return a trade-off as data."""
    return {
        "status": "answered",
        **about_data(found.about),
        "between": [_axis(found.up), _axis(found.across)],
        "straight_between_points": found.exact,
        "points": [
            {
                "point": point.name,
                "across": point.across,
                "up": point.up,
                "slope": point.slope,
                "formula": made_data(point.formula),
            }
            for point in found.points
        ],
        "elbow": found.elbow,
        "steps": found.steps,
        "chosen": None if found.chosen is None else made_data(found.chosen[1]),
        **told_data(found.told),
    }


def _axis(axis: Axis) -> dict[str, Any]:
    return {
        "name": axis.name,
        "at": None if axis.at is None else f"{axis.at:g} degC",
        "unit": axis.unit,
        "wished": "more" if axis.more else "less",
    }


def curve_columns(up: Axis, across: Axis) -> list[str]:
    """Return the columns that each curve between two axes has; ingredients follow."""
    return [cell(name) for name in ("point", _head(across), _head(up))]


def tradeoff_csv(found: Tradeoff) -> str:
    """Return the curve as CSV: a point a row, a column an ingredient in percent."""
    names: dict[str, str] = {}
    for point in found.points:
        for line in point.formula.formula:
            if line.percent > 0:
                names[line.ingredient] = line.name
    header = curve_columns(found.up, found.across)
    header += [f"{name}, %" for name in names.values()]
    rows: Sequence[Sequence[object]] = [
        [
            point.name,
            point.across,
            point.up,
            *(point.formula.amounts.get(key, 0.0) for key in names),
        ]
        for point in found.points
    ]
    return as_csv(header, rows)
