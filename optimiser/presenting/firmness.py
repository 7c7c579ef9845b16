"""How firm a formula is from a cool room to a hot day, and its solid fat: figures."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from optimiser.presenting.facts import DOUBT
from optimiser.presenting.page import Block, Item, Page, Plot, Section, Series
from optimiser.presenting.words import decimals, listed, short

if TYPE_CHECKING:
    from optimiser.explaining.firmness import FirmCurve, FirmPoint

__all__ = ["firmness_page", "firmness_plots"]

TELLING = 1.05  # times that grains stiffen a bar, from which it is worth telling


def firmness_page(curve: FirmCurve) -> Page:
    """Return the figures as a page of their own."""
    plots = tuple(firmness_plots(curve))
    names = listed(curve.unknown or curve.missing, 3)
    told = DOUBT if plots else f"Not known, for too little is known of {names}."
    blocks: tuple[Block, ...] = (*plots, Item(told)) if plots or names else ()
    return Page(curve.title, (), (Section("Firmness from 10 to 45 °C", blocks),))


def firmness_plots(curve: FirmCurve) -> Iterator[Plot]:
    """Yield firmness with its band by lot, then solid fat, both with their marks."""
    points = curve.points
    if all(x.value is None and x.second is None for x in points):
        return
    at = tuple(x.at for x in points)
    sums = Series(
        "firmness, and how far lots differ",
        at,
        tuple(x.value for x in points),
        span=tuple(
            None if x.low is None or x.high is None else (x.low, x.high) for x in points
        ),
    )
    firm = [sums] if any(x.value is not None for x in points) else []
    if any(x.second is not None for x in points):
        firm.append(Series("second opinion", at, tuple(x.second for x in points)))
    rings = _rings(curve, [_firm(each) for _, each in curve.marks])
    caption = " ".join([*_marked(curve), *_open(curve)])
    yield Plot(caption, "°C", "firmness, points", (*firm, *rings), 0)
    fats = tuple(x.fat for x in points)
    if any(value is not None for value in fats):
        doubts = tuple(x.doubt for x in points)
        solid = Series("solid fat by second opinion, and its doubt", at, fats, doubts)
        rings = _rings(curve, [each.fat for _, each in curve.marks])
        told = [
            f"{decimals(each.fat, 0)} % {_where(name, each)}"
            for name, each in curve.marks
            if each.fat is not None
        ]
        caption = f"Solid fat of the lipids: {listed(told)}." if told else "Solid fat."
        yield Plot(caption, "°C", "% of the lipids", (solid, *rings), 0)


def _firm(point: FirmPoint) -> float | None:
    return point.second if point.value is None else point.value


def _where(name: str, point: FirmPoint) -> str:
    return f"at {short(point.at)} °C ({name})"


def _rings(curve: FirmCurve, values: list[float | None]) -> Iterator[Series]:
    for (name, point), value in zip(curve.marks, values, strict=True):
        if value is not None:
            yield Series(f"{name}, {short(point.at)} °C", (point.at,), (value,))


def _marked(curve: FirmCurve) -> Iterator[str]:
    """Yield firmness where it counts, a sentence each."""
    for name, point in curve.marks:
        told = []
        if point.value is not None:
            told.append(short(point.value, 2))
        if point.low is not None and point.high is not None:
            told.append(f"by lot {short(point.low, 2)} to {short(point.high, 2)}")
        if point.second is not None and point.doubt is not None:
            second = f"{decimals(point.second, 0)} +-{decimals(point.doubt, 0)}"
            told.append(f"2nd opinion {second}")
        if told:
            yield f"Firmness {_where(name, point)}: {', '.join(told)}."


def _open(curve: FirmCurve) -> Iterator[str]:
    """Yield what is not in the curve, and what grains make of it."""
    if curve.part != "lipids":
        yield f"Of the {curve.part}."
    alone = [x.at for x in curve.points if x.value is None]
    if alone:
        whose = "nothing is drawn" if curve.unknown else "only the model is drawn"
        where = f"{listed(map(short, alone))} °C"
        yield f"No figures of {listed(curve.missing, 3)} at {where}: {whose} there."
    if curve.unknown:
        yield f"No second opinion: too little is known of {listed(curve.unknown, 3)}."
    if curve.left_out:
        yield f"Without {listed(curve.left_out, 3)}, of which nothing is known."
    if curve.stiffer >= TELLING:
        times = decimals(curve.stiffer, 1)
        yield f"Grains make the finished bar some {times} times as firm."
