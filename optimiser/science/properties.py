"""Properties a window may hold: their unit, and how ingredients mix to them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from itertools import pairwise

from msgspec import Struct

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import EVIDENCE, Figure

__all__ = [
    "PROPERTIES",
    "Property",
    "figure",
    "property_named",
    "read_from",
    "weakest",
]

FATTY = frozenset({"hard butter", "soft butter", "liquid oil", "fatty alcohol"})

Lookup = Callable[[Catalogue, str, float | None], Figure | None]
Points = Mapping[float | None, Figure]


class Property(Struct, frozen=True):
    """A property, its unit, and its mixing rule.

    ``mixing`` is "mass" (shares by weight times values), "volume" (1/value adds by
    weight: density), "log" (logarithms add by weight: viscosity) or "volume share"
    (the part of the volume that the solids take). ``at`` says whether it is stated
    at a temperature. ``over`` is the part it is reported over.
    """

    name: str
    unit: str
    mixing: str
    at: bool
    over: str
    lookup: Lookup


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
    )


def interpolate(points: Mapping[float | None, Figure], at: float) -> Figure | None:
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
    if at == last_at or (at > last_at and last.high == 0.0):
        return last
    return known[0][1] if at == known[0][0] else None


def _between(points: Points, at: float) -> Figure | None:
    """Return a figure between its neighbours, or the one that holds anywhere."""
    return interpolate(points, at) or points.get(None)


def _nearest(points: Points, at: float) -> Figure | None:
    """Return the figure at the nearest temperature: density moves 0.07 % per K."""
    return min(points.items(), key=lambda p: abs((at if p[0] is None else p[0]) - at))[
        1
    ]


def _looked_up(name: str, pick: Callable[[Points, float], Figure | None]) -> Lookup:
    """Return the look-up of a property that stands in the catalogue as it is."""

    def lookup(
        catalogue: Catalogue, ingredient: str, at: float | None
    ) -> Figure | None:
        points = catalogue.figures.get(name, {}).get(ingredient)
        if not points:
            return None
        if at is None:
            return points.get(None) or next(iter(points.values()))
        return pick(points, at)

    return lookup


def _zero(catalogue: Catalogue, ingredient: str) -> Figure:
    """Return zero by definition: what is not a fat has no solid fat."""
    return Figure(
        0.0, 0.0, 0.0, "%", "defined", (), catalogue.ingredients[ingredient].origin
    )


def _solid_fat(
    catalogue: Catalogue, ingredient: str, at: float | None
) -> Figure | None:
    """Return solid fat, percent of the ingredient; zero by definition if no fat."""
    if catalogue.ingredients[ingredient].category not in FATTY:
        return _zero(catalogue, ingredient)
    points = catalogue.figures.get("solid fat", {}).get(ingredient)
    return interpolate(points, at) if points and at is not None else None


def _firmness(catalogue: Catalogue, ingredient: str, at: float | None) -> Figure | None:
    """Return firmness points per 100 %: solid fat, or a wax's own term.

    A wax firms far more than its solids say: 1 % of sunflower wax does about as
    much as 5 % of hard fat around 5 % of wax (Hwang et al., JAOCS 90:1705, 2013).
    """
    if catalogue.ingredients[ingredient].category != "wax":
        return _solid_fat(catalogue, ingredient, at)
    points = catalogue.figures.get("wax firmness", {}).get(ingredient)
    if not points:
        return None
    term = next(iter(points.values()))
    return Figure(
        100.0 * term.value,
        100.0 * term.low,
        100.0 * term.high,
        "points",
        term.evidence,
        term.sources,
        term.origin,
    )


PROPERTIES: Mapping[str, Property] = {
    each.name: each
    for each in (
        Property("solid fat", "%", "mass", True, "lipids", _solid_fat),
        Property("firmness", "points", "mass", True, "lipids", _firmness),
        Property(
            "iodine value",
            "g/100 g",
            "mass",
            False,
            "fats",
            _looked_up("iodine value", _between),
        ),
        Property(
            "saponification value",
            "mg/g",
            "mass",
            False,
            "fats",
            _looked_up("saponification value", _between),
        ),
        Property("HLB", "", "mass", False, "emulsifier", _looked_up("HLB", _between)),
        Property(
            "required HLB",
            "",
            "mass",
            False,
            "lipids",
            _looked_up("required HLB", _between),
        ),
        Property(
            "density",
            "kg/m^3",
            "volume",
            True,
            "product",
            _looked_up("density", _nearest),
        ),
        Property(
            "solids load",
            "% by volume",
            "volume share",
            True,
            "product",
            _looked_up("density", _nearest),
        ),
        Property(
            "viscosity",
            "mPa s",
            "log",
            True,
            "lipids",
            _looked_up("viscosity", _between),
        ),
    )
}


def read_from(name: str, category: str) -> str:
    """Return the catalogue's property that one is read from, for a category.

    >>> read_from("firmness", "wax"), read_from("firmness", "hard butter")
    ('wax firmness', 'solid fat')
    """
    if name == "firmness":
        return "wax firmness" if category == "wax" else "solid fat"
    return "density" if name == "solids load" else name


def property_named(name: str, catalogue: Catalogue) -> Property | None:
    """Return a property; one that only a catalogue knows mixes by mass."""
    known = PROPERTIES.get(name)
    if known is not None or name not in catalogue.figures:
        return known
    points = next(iter(catalogue.figures[name].values()), {})
    first = next(iter(points.values()), None)
    unit = first.unit if first is not None else ""
    return Property(
        name, unit, "mass", None not in points, "product", _looked_up(name, _between)
    )


def figure(
    catalogue: Catalogue, name: str, ingredient: str, at: float | None
) -> Figure | None:
    """Return what is known of a property of an ingredient; None if nothing is."""
    found = property_named(name, catalogue)
    return None if found is None else found.lookup(catalogue, ingredient, at)
