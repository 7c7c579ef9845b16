"""Figures of ingredients, looked up as their property is."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise

from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import EVIDENCE, Figure
from optimiser.domain.properties import Property, property_named

__all__ = ["figure", "interpolate", "look_up", "weakest"]

Points = Mapping[float | None, Figure]


def weakest(evidence: list[str]) -> str | None:
    """Return the weakest of some evidence words; None of none.

    >>> weakest(["measured", "memory", "retrieved"])
    'memory'
    """
    return max(evidence, key=EVIDENCE.index) if evidence else None


def _blend(below: Figure, above: Figure, share: float) -> Figure:
    def mix(a: float, b: float) -> float:
        return a + (b - a) * share

    return Figure(
        value=mix(below.value, above.value),
        low=mix(below.low, above.low),
        high=mix(below.high, above.high),
        unit=below.unit,
        evidence=weakest([below.evidence, above.evidence]) or below.evidence,
        sources=tuple(dict.fromkeys((*below.sources, *above.sources))),
        origin=below.origin,
        calibrated=below.calibrated or above.calibrated,
    )


def interpolate(points: Points, at: float) -> Figure | None:
    """Return a figure at a temperature, straight between its neighbours.

    Beyond the last temperature a curve that has reached zero stays there (melted
    fat does not set again on warming); otherwise nothing is known outside.
    """
    known = sorted((t, figure) for t, figure in points.items() if t is not None)
    for (t0, below), (t1, above) in pairwise(known):
        if t0 <= at <= t1:
            return _blend(below, above, (at - t0) / (t1 - t0))
    if not known:
        return None
    last_at, last = known[-1]
    return last if at == last_at or (at > last_at and last.high == 0.0) else None


def _picked(kind: Property, points: Points, at: float | None) -> Figure | None:
    """Return the one of an ingredient's figures that counts at a temperature."""
    if at is None or not kind.at:
        if kind.needs_at:
            return None
        return points.get(None) or next(iter(points.values()))
    if kind.nearest:
        return min(
            points.items(), key=lambda p: abs((at if p[0] is None else p[0]) - at)
        )[1]
    return interpolate(points, at) or points.get(None)


def look_up(
    kind: Property, catalogue: Catalogue, ingredient: str, at: float | None
) -> Figure | None:
    """Return what is known of a property of an ingredient; None if nothing is.

    Parameters
    ----------
    at : float or None
        Temperature, [deg C].
    """
    known = catalogue.ingredients[ingredient]
    if known.category in kind.zero_for:
        return Figure(0.0, 0.0, 0.0, kind.unit, "defined", (), known.origin)
    source = kind.source(known.category)
    if source.name != kind.name:
        found = figure(catalogue, source.name, ingredient, at)
        return None if found is None else _in_its_unit(kind, found, source.times)
    points = catalogue.figures.get(kind.name, {}).get(ingredient)
    return _picked(kind, points, at) if points else None


def _in_its_unit(kind: Property, found: Figure, times: float) -> Figure:
    return replace(
        found,
        value=times * found.value,
        low=times * found.low,
        high=times * found.high,
        unit=kind.unit,
    )


def figure(
    catalogue: Catalogue, name: str, ingredient: str, at: float | None
) -> Figure | None:
    """Return what is known of a property, by its name, of an ingredient."""
    kind = property_named(name, catalogue)
    return None if kind is None else look_up(kind, catalogue, ingredient, at)
