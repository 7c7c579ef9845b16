"""The solid-fat curve of a formula: by straight sum, by second opinion, by model."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

import numpy as np
from msgspec import Struct

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import PARTS
from optimiser.domain.properties import PROPERTIES
from optimiser.science.excess import excess
from optimiser.science.melting import Kitchen, solids
from optimiser.science.mixing import blend_value

__all__ = ["MeltCurve", "MeltPoint", "solid_fat_curve"]

# Solids of the whole melt at which it counts as melted, %: below that, traces of
# high-melting fat would tell of a bar what only a microscope sees.
MELTED = 2.0
GRID = np.arange(10.0, 90.01, 0.25)


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
    ``left_out`` are waxes that have no melting data and count as absent;
    ``melts_at`` in deg C, None below 10 or above 90; ``lipids`` is their share, %.
    """

    title: str
    points: tuple[MeltPoint, ...]
    lipids: float
    melts_at: float | None
    unknown: tuple[str, ...] = ()
    no_figure: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()


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
    lipids = {
        key: share
        for key, share in formula.items()
        if share > 0.0 and catalogue.ingredients[key].category in PARTS["lipids"]
    }
    kitchen = Kitchen(tuple(lipids), catalogue)
    amounts = np.array(list(lipids.values()), dtype=np.float64)
    at = np.array(temperatures, dtype=np.float64)
    found = excess(kitchen, amounts, at.tolist())
    model = found.values + 100.0 * kitchen.singles(at) @ amounts if lipids else at * 0.0
    whole = max(float(amounts.sum()), 1e-12)
    melt = solids(lipids, at, catalogue)
    points = []
    missing: dict[str, None] = {}
    known, last = bool(lipids) and not kitchen.unknown_fats, 100.0
    for n, degrees in enumerate(at.tolist()):
        sums = blend_value(PROPERTIES["solid fat"], lipids, degrees, catalogue)
        missing |= dict.fromkeys(sums.missing)
        alone = sums.value is None
        second = model[n] / whole if alone else sums.value + found.values[n] / whole
        # A table's step beside a model's need not fall everywhere; what is solid does.
        last = min(last, max(0.0, float(second)))
        points.append(
            MeltPoint(
                degrees,
                sums.low,
                sums.value,
                sums.high,
                last if known else None,
                float(found.doubt[n]) if known else None,
                alone,
                float(melt[n]),
            )
        )

    def names(keys: Collection[str]) -> tuple[str, ...]:
        return tuple(sorted(catalogue.ingredients[key].name for key in keys))

    grid = solids(lipids, GRID, catalogue)
    solid = np.flatnonzero(grid >= MELTED)
    inside = solid.size and solid[-1] < GRID.size - 1 and not kitchen.unknown_fats
    return MeltCurve(
        title=title,
        points=tuple(points),
        lipids=float(amounts.sum()),
        melts_at=float(GRID[solid[-1]]) if inside else None,
        unknown=names(kitchen.unknown_fats),
        left_out=names(set(kitchen.unknown) - set(kitchen.unknown_fats)),
        no_figure=tuple(missing),
    )
