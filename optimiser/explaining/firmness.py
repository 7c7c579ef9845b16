"""How firm a formula's lipids are from a cool room to a hot day, with its doubt."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

import numpy as np
from msgspec import Struct

from optimiser.domain.arrays import Floats
from optimiser.domain.catalogue import Catalogue
from optimiser.domain.properties import PROPERTIES
from optimiser.domain.scenario import Scenario
from optimiser.domain.unknown import in_part, left_aside
from optimiser.explaining.second_opinion import (
    ROOM,
    Opinion,
    SecondFigure,
    second_figures,
)
from optimiser.rules import part_amounts
from optimiser.science.composition import unknown_waxes
from optimiser.science.mixing import Blend, blend_value
from optimiser.science.properties import figure
from optimiser.science.stiffening import stiffening

__all__ = ["FirmCurve", "FirmPoint", "firmness_curve"]

COLDEST, HOTTEST, STEP = 10.0, 45.0, 5.0  # deg C; a melting curve is straight between
PART = "lipids"


class FirmPoint(Struct, frozen=True):
    """Firmness at a temperature, points, and solid fat, percent of the lipids.

    ``low``, ``value`` and ``high`` are the straight sum, by lot, None where a figure
    is not known; ``second`` is the second opinion, or the model alone where there is
    no sum, and ``fat`` likewise, both give or take ``doubt``.
    """

    at: float
    low: float | None
    value: float | None
    high: float | None
    second: float | None
    fat: float | None
    doubt: float | None


class FirmCurve(Struct, frozen=True):
    """A formula's firmness over temperatures, and its solid fat.

    ``marks`` are names of temperatures that count, each with its point: where the
    climate keeps it, and the coolest skin. ``missing`` lack a figure somewhere,
    ``unknown`` are butters and waxes that the model knows too little of. The grains of
    a finished bar make it ``stiffer`` by so many times. ``left_out`` is a small dose of
    what is unknown: the figures are told without it. All is of a ``part``.
    """

    title: str
    points: tuple[FirmPoint, ...]
    marks: tuple[tuple[str, FirmPoint], ...]
    missing: tuple[str, ...]
    unknown: tuple[str, ...]
    stiffer: float
    left_out: tuple[str, ...] = ()
    part: str = PART


def firmness_curve(
    title: str, formula: Mapping[str, float], scenario: Scenario, catalogue: Catalogue
) -> FirmCurve:
    """Return the firmness of a formula's lipids from 10 to 45 deg C.

    Parameters
    ----------
    formula : mapping of ingredient key to percent

    Notes
    -----
    Its figures are those that `facts.properties` tells at the same temperature. Where
    no straight sum is known the model stands alone, held so that nothing gets firmer
    on warming. All is read from one melting curve, which is what takes the time.
    """
    lipids = in_part(formula, catalogue, PART)
    part = next((x.over for x in scenario.windows if x.property == "firmness"), PART)
    if part != PART:  # some are left aside there
        lipids = part_amounts(scenario, catalogue, lipids, part)
    if not lipids:
        return FirmCurve(title, (), (), (), (), 1.0)
    marks = tuple(_marks(scenario, catalogue))
    steps = np.arange(COLDEST, HOTTEST + 1e-9, STEP).tolist()
    degrees = sorted({*steps, *(at for _, at in marks)})
    opinion = Opinion(scenario, catalogue, tuple(lipids), also=degrees)
    alone = opinion.melting.alone(opinion.vector(lipids), degrees)
    blind = tuple(_of_unknown_strength(lipids, catalogue))
    firm = _figures(
        "firmness", opinion, lipids, degrees, None if blind else alone["firmness"], part
    )
    fat = _figures("solid fat", opinion, lipids, degrees, alone["solid fat"], part)
    points = tuple(
        FirmPoint(
            at,
            sums.low,
            sums.value,
            sums.high,
            None if second is None else second.value,
            None if fats is None else fats.value,
            None if second is None else second.doubt,
        )
        for at, (sums, second), (_, fats) in zip(degrees, firm, fat, strict=True)
    )
    by_degrees = {each.at: each for each in points}
    names = (catalogue.ingredients[key].name for key in opinion.kitchen.unknown_fats)
    return FirmCurve(
        title=title,
        points=points,
        marks=tuple((name, by_degrees[at]) for name, at in marks),
        missing=tuple(dict.fromkeys(name for sums, _ in firm for name in sums.missing)),
        unknown=tuple(sorted({*names, *blind})),
        stiffer=stiffening(formula, catalogue),
        left_out=tuple(
            catalogue.ingredients[key].name for key in left_aside(formula, catalogue)
        ),
        part=part,
    )


def _figures(
    name: str,
    opinion: Opinion,
    lipids: Mapping[str, float],
    degrees: Sequence[float],
    alone: Floats | None,
    part: str,
) -> list[tuple[Blend, SecondFigure | None]]:
    """Return a property's straight sum and second figure at each temperature.

    ``alone`` is the model's own, None where it knows too little.
    """
    kind = PROPERTIES[name]
    sums = [blend_value(kind, lipids, at, opinion.catalogue) for at in degrees]
    asked = [(name, at, part) for at in degrees]
    known = list(second_figures(asked, lipids, [x.value for x in sums], opinion))
    relative = kind.from_base and bool(opinion.scenario.base)
    offset = opinion.offset(part, name) if relative else 0.0
    if alone is None or opinion.kitchen.unknown_fats or offset is None:
        return list(zip(sums, known, strict=True))
    doubts = opinion.see(opinion.vector(lipids), part, name, degrees)
    found: list[tuple[Blend, SecondFigure | None]] = []
    for number, (at, second) in enumerate(zip(degrees, known, strict=True)):
        figure = second
        if figure is None:
            least = max((x.value for x in known[number:] if x), default=0.0)
            most = min((x.value for x in known[:number] if x), default=math.inf)
            value = min(max(float(alone[number]) - offset, least), most)
            figure = SecondFigure(value, doubts[at].doubt)
        found.append((sums[number], figure))
    return found


def _of_unknown_strength(
    lipids: Mapping[str, float], catalogue: Catalogue
) -> Iterator[str]:
    """Yield the names of what sets as a wax does, and nobody knows how firm."""
    silent = {*unknown_waxes(lipids, catalogue)}
    for key in lipids:
        each = catalogue.ingredients[key]
        wax = each.category == "wax"
        if key in silent or (
            wax and figure(catalogue, "wax firmness", key, None) is None
        ):
            yield each.name


def _marks(scenario: Scenario, catalogue: Catalogue) -> Iterator[tuple[str, float]]:
    """Yield where the climate keeps it, or a room, and the coolest skin, deg C."""
    kept = catalogue.zone(scenario.zone) if scenario.zone else None
    skin = catalogue.zone("skin")
    found = [("a room", ROOM) if kept is None else (kept.name, kept.high)]
    if skin is not None:
        found.append((skin.name, skin.low))
    for name, at in found:
        if at is not None and COLDEST <= at <= HOTTEST:
            yield name, at
