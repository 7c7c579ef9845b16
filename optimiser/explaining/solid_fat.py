"""The solid-fat curve of a formula: by straight sum, by second opinion, by model."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence

import numpy as np
from msgspec import Struct

from optimiser.domain.arrays import Floats
from optimiser.domain.catalogue import Catalogue
from optimiser.domain.properties import PROPERTIES
from optimiser.domain.unknown import in_part, left_aside, unjudged
from optimiser.science.composition import unknown_waxes
from optimiser.science.correction import Melting
from optimiser.science.gelling import HOTTEST, reached
from optimiser.science.melting import Kitchen
from optimiser.science.mixing import blend_value
from optimiser.science.properties import figure

__all__ = ["MeltCurve", "MeltPoint", "solid_fat_curve"]

# Solids of the whole melt at which it counts as melted, %: below that, traces of
# high-melting fat would tell of a bar what only a microscope sees.
MELTED = 2.0


class MeltPoint(Struct, frozen=True):
    """Solid fat at a temperature, percent of the lipids.

    ``low``, ``value`` and ``high`` are the straight sum, None where a figure is not
    known; ``second`` is the second opinion, or the model alone where there is no sum
    (``alone``), give or take ``doubt``; ``melt`` is all that is solid, wax too, by the
    model.
    """

    at: float
    low: float | None
    value: float | None
    high: float | None
    second: float | None
    doubt: float | None
    alone: bool
    melt: float


class MeltCurve(Struct, frozen=True):
    """A formula's solid-fat curve.

    ``unknown`` are butters that the model knows too little of: then ``second`` is None
    everywhere; ``no_figure`` are ingredients that lack a figure at some temperature;
    ``left_out`` are waxes that have no melting data and count as absent, and small
    doses of what is unknown; of ``waxes`` among them there is so much that what is
    solid with wax is not known; ``firming`` tells of each other wax what 1 % of it adds
    to firmness, where it adds more; ``melts_at`` in deg C, None below 10 or above 95;
    ``lipids`` is their share, %, ``not_told`` that of what may be lipids too, for
    nobody has told what it is. There are no ``points`` where nothing is known at any.
    """

    title: str
    points: tuple[MeltPoint, ...]
    lipids: float
    not_told: float
    melts_at: float | None
    unknown: tuple[str, ...] = ()
    no_figure: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()
    waxes: tuple[str, ...] = ()
    firming: tuple[tuple[str, float], ...] = ()


def solid_fat_curve(
    title: str,
    formula: Mapping[str, float],
    catalogue: Catalogue,
    temperatures: Sequence[float],
) -> MeltCurve:
    """Return the curve of a formula's lipids.

    Parameters
    ----------
    formula : mapping of ingredient key to percent
    temperatures : sequence of float
        [deg C], rising.
    """
    lipids = in_part(formula, catalogue, "lipids")
    much = unjudged(formula, catalogue)
    melting = Melting(tuple(lipids), catalogue)
    kitchen = melting.kitchen
    amounts = np.array(list(lipids.values()), dtype=np.float64)
    at = np.array(temperatures, dtype=np.float64)
    known = bool(lipids) and not kitchen.unknown_fats
    mask = np.ones_like(amounts)
    found = melting.see(amounts, mask, "solid fat", at.tolist()) if lipids else {}
    melt = kitchen.solids(amounts, at)
    every = [
        blend_value(PROPERTIES["solid fat"], lipids, each, catalogue)
        for each in at.tolist()
    ]
    model = at * 0.0
    if known and any(sums.value is None for sums in every):
        model = _model_alone(kitchen, amounts, at)
    points = []
    missing: dict[str, None] = {}
    last = 100.0
    for n, (degrees, sums) in enumerate(zip(at.tolist(), every, strict=True)):
        missing |= dict.fromkeys(sums.missing)
        alone = sums.value is None
        each = found.get(degrees)
        second = None
        if known and each is not None and sums.value is not None:
            second = max(0.0, sums.value + each.value)
        elif known:
            second = float(model[n])
        if second is not None:
            second = last = min(last, second)  # the model alone beside it
        points.append(
            MeltPoint(
                degrees,
                sums.low,
                sums.value,
                sums.high,
                second,
                each.doubt if known and each is not None else None,
                alone,
                float(melt[n]),
            )
        )

    def names(keys: Collection[str]) -> tuple[str, ...]:
        return tuple(sorted(catalogue.ingredients[key].name for key in keys))

    end = None
    waxes = unknown_waxes(lipids, catalogue)
    if lipids and not kitchen.unknown_fats and not waxes:
        end = reached(lambda each: kitchen.solids(amounts, each), MELTED)
    return MeltCurve(
        title=title,
        points=tuple(points) if any(map(_is_known, points)) else (),
        lipids=math.fsum(share for key, share in lipids.items() if key not in much),
        not_told=math.fsum(much.values()),
        melts_at=None if end is None or end >= HOTTEST else end,
        unknown=names(kitchen.unknown_fats),
        left_out=names(
            {*kitchen.unknown, *left_aside(formula, catalogue)}
            - {*kitchen.unknown_fats}
        ),
        no_figure=tuple(missing),
        waxes=names(waxes),
        firming=tuple(
            (catalogue.ingredients[key].name, firm.value)
            for key in sorted(lipids, key=lipids.__getitem__, reverse=True)
            if catalogue.ingredients[key].category == "wax"
            and (firm := figure(catalogue, "wax firmness", key, None)) is not None
            and firm.value > 1.0
        ),
    )


def _is_known(point: MeltPoint) -> bool:
    return point.value is not None or point.second is not None


def _model_alone(kitchen: Kitchen, amounts: Floats, at: Floats) -> Floats:
    """Return the model's own solid fat at some temperatures, percent of the lipids."""
    rows = np.repeat(amounts[None, :], at.size, axis=0)
    settled = kitchen.settle(rows, at, fat_only=True)
    percent: Floats = 100.0 * settled.solids / amounts.sum()
    return percent
