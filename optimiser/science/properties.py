"""Figures of ingredients, looked up as their property is."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise

from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import EVIDENCE, READY_MADE, Figure
from optimiser.domain.properties import Property, property_named
from optimiser.science.dissolving import USUAL, set_share

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
        if found is None:
            return None
        found = _in_its_unit(kind, found, source.times)
        wax = kind.melts and known.category == "wax"
        return _set(found, catalogue, ingredient, at) if wax else found
    points = catalogue.figures.get(kind.name, {}).get(ingredient)
    if points or not kind.melts or at is None:
        return _picked(kind, points, at) if points else None
    if known.category in USUAL:
        return _of_what_sets(kind, catalogue, ingredient, at)
    return _melted(kind, catalogue, ingredient, at)


def _melted(
    kind: Property, catalogue: Catalogue, ingredient: str, at: float
) -> Figure | None:
    """Return that nothing of a fat is solid above where it melts; below, None.

    For fats of which no more is known than that: from a melting point nothing follows
    about how much of a fat is solid below it.
    """
    points = catalogue.figures.get("melting point", {}).get(ingredient)
    found = None if not points else next(iter(points.values()))
    if found is None or at < found.high:
        return None
    return replace(found, value=0.0, low=0.0, high=0.0, unit=kind.unit)


def _of_what_sets(
    kind: Property, catalogue: Catalogue, ingredient: str, at: float
) -> Figure | None:
    """Return the solid part of an acid, alcohol or emulsifier that no table tells of.

    Low and high are those at half and at twice its usual share of the lipids. An
    emulsifier without melting data is one that stays liquid, unless it is called a wax.
    """
    known = catalogue.ingredients[ingredient]
    usual = USUAL[known.category]
    shares = [
        set_share(ingredient, percent, at, catalogue.fats)
        for percent in (usual / 2.0, usual, 2.0 * usual)
    ]
    low, value, high = (None if each is None else 100.0 * each for each in shares)
    if low is None or value is None or high is None:
        if known.category != "emulsifier" or known.kind == READY_MADE:
            return None
        return Figure(0.0, 0.0, 0.0, kind.unit, "assumed", (), known.origin)
    return Figure(
        value, low, high, kind.unit, *_rests_on(catalogue, ingredient), known.origin
    )


def _rests_on(catalogue: Catalogue, ingredient: str) -> tuple[str, tuple[str, ...]]:
    parts = catalogue.fats.solutes[ingredient]
    evidence = weakest(["estimated", *(part.evidence for part in parts)])
    return str(evidence), tuple(dict.fromkeys(part.source for part in parts))


def _set(
    found: Figure, catalogue: Catalogue, ingredient: str, at: float | None
) -> Figure:
    """Return the firmness of a wax of which the warm oil has dissolved some."""
    if at is None:
        return found
    share = set_share(ingredient, USUAL["wax"], at, catalogue.fats)
    if share is None:
        return found
    return replace(
        found,
        value=share * found.value,
        low=share * found.low,
        high=share * found.high,
    )


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
