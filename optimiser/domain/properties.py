"""Properties: one row of one table each, with all that any layer needs to know.

A property that only a catalogue knows mixes by mass, over the product.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from msgspec import Struct, field

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import CATEGORIES, PARTS, UNKNOWN

__all__ = [
    "GREATEST",
    "MELTS",
    "PROPERTIES",
    "SOLID_FATS",
    "Property",
    "ReadFrom",
    "melts",
    "property_named",
    "reported",
]

GREATEST = 1e6  # of any figure or limit, in whatever unit
# What is liquid once it is hot, and what of the lipids has solid fat: a wax sets, but
# counts through a firmness of its own; scents and antioxidants never set.
MELTS = frozenset(PARTS["fats and waxes"])
SOLID_FATS = (MELTS - {"wax"}) | {"emulsifier"}


class ReadFrom(Struct, frozen=True):
    """Another property that a figure is read from, and what it is multiplied by."""

    name: str
    times: float = 1.0


class Property(Struct, frozen=True):
    """A property of ingredients, of blends of them, or of both.

    Attributes
    ----------
    unit : str
        Unit in which the program keeps it; "" for a plain number. ``convertible`` if
        a catalogue may tell it in other units of the same kind; ``once`` is what tables
        wrote for the same unit before.
    mixing : {"mass", "volume", "volume share", "log", ""}
        "mass" (shares by weight times values), "volume" (1/value adds by weight:
        density), "volume share" (the part of the volume that the solids take), "log"
        (logarithms add by weight: viscosity) or "" for what no blend has: ``instead``
        says what to ask for.
    at, needs_at : bool
        Whether it is told of a temperature, and whether it means nothing without.
    over : str
        The part that it is of unless a window names another.
    least, most : float
        What makes sense for a figure and for a limit.
    likely : (float, float) or None
        A figure outside is mostly one in another unit; ``as_in`` shows how to write it.
    read_from : mapping of category to ReadFrom, "" for every other category
        Where figures are read, for a property that a catalogue does not hold;
        ``write`` says what to write there.
    zero_for : frozenset of str
        Categories that have none of it, by definition.
    nearest : bool
        Between and beyond temperatures the nearest figure counts, for it hardly moves.
    looked_at : float or None
        Temperature at which it is looked at when none is named, [deg C].
    reported_at : tuple of float or None
        Temperatures at which it is told where a scenario does not ask, [deg C];
        ``(None,)`` for one that has no temperature.
    melts : bool
        Whether it is about melting: then the second opinion speaks of it.
        ``from_base`` if it is a score, which then counts from the maker's base.
    """

    name: str
    unit: str = ""
    convertible: bool = False
    once: str | None = None
    mixing: str = "mass"
    instead: str = ""
    at: bool = False
    needs_at: bool = False
    over: str = "product"
    least: float = 0.0
    most: float = GREATEST
    likely: tuple[float, float] | None = None
    as_in: str = ""
    read_from: Mapping[str, ReadFrom] = field(default_factory=dict)
    write: str = ""
    zero_for: frozenset[str] = frozenset()
    nearest: bool = False
    looked_at: float | None = None
    reported_at: tuple[float | None, ...] = ()
    melts: bool = False
    from_base: bool = False

    def source(self, category: str) -> ReadFrom:
        """Return the property that stands in a catalogue for it."""
        return self.read_from.get(category, self.read_from.get("", ReadFrom(self.name)))


def _table(rows: Iterable[Property]) -> dict[str, Property]:
    return {each.name: each for each in rows}


PROPERTIES: dict[str, Property] = _table(
    (
        Property(
            "solid fat",
            "%",
            at=True,
            needs_at=True,
            over="lipids",
            most=100.0,
            zero_for=frozenset(CATEGORIES) - SOLID_FATS - {UNKNOWN},
            looked_at=30.0,
            reported_at=(20.0, 30.0, 35.0),  # in a room, on a warm shelf, on the skin
            melts=True,
        ),
        # A wax firms far more than its solids say: 1 % of sunflower wax does about as
        # much as 5 % of hard fat around 5 % of wax (Hwang et al., JAOCS 90:1705, 2013).
        Property(
            "firmness",
            at=True,
            needs_at=True,
            over="lipids",
            read_from={
                "wax": ReadFrom("wax firmness", 100.0),
                "": ReadFrom("solid fat"),
            },
            write="write wax firmness for a wax (what 1 % adds) or solid fat for a fat",
            looked_at=25.0,
            reported_at=(25.0,),
            melts=True,
            from_base=True,
        ),
        Property("iodine value", "g/100 g", over="fats"),
        Property("saponification value", "mg/g", over="fats"),
        Property("HLB", over="emulsifier"),
        Property("required HLB", over="fats and waxes"),
        Property(
            "density",
            "kg/m^3",
            convertible=True,
            mixing="volume",
            at=True,
            likely=(100.0, 10_000.0),
            as_in="910, or with its unit, as in g/ml",
            nearest=True,  # it moves 0.07 % a kelvin
            looked_at=20.0,
            reported_at=(20.0,),
        ),
        Property(
            "solids load",
            "% by volume",
            mixing="volume share",
            at=True,
            most=100.0,
            read_from={"": ReadFrom("density")},
            write="write density for each solid and for what it lies in",
        ),
        Property(
            "viscosity",
            "mPa s",
            convertible=True,
            mixing="log",
            at=True,
            over="fats and waxes",
        ),
        Property(
            "wax firmness",
            once="point per %",
            mixing="",
            instead="use firmness at a temperature",
        ),
        Property(
            "melting point",
            "degC",
            convertible=True,
            mixing="",
            instead="use solid fat at a temperature",
            least=-GREATEST,
        ),
        Property(
            "particle size",
            "mm",
            convertible=True,
            mixing="",
            instead="choose the ingredients by it",
        ),
        Property(
            "shelf life",
            "month",
            convertible=True,
            mixing="",
            instead="choose the ingredients by it",
        ),
        Property(
            "viscosity activation energy",
            "kJ/mol",
            mixing="",
            instead="use viscosity at a temperature",
        ),
        Property(
            "highest addition temperature",
            "degC",
            convertible=True,
            mixing="",
            instead="see optimiser pour",
        ),
    )
)


def property_named(name: str, catalogue: Catalogue) -> Property | None:
    """Return a property of the table, or one that only a catalogue knows."""
    known = PROPERTIES.get(name)
    if known is not None or name not in catalogue.figures:
        return known
    figures = [
        (at, figure)
        for points in catalogue.figures[name].values()
        for at, figure in points.items()
    ]
    return Property(
        name,
        figures[0][1].unit if figures else "",
        at=any(at is not None for at, _ in figures),
        least=-GREATEST,
    )


def melts(name: str) -> bool:
    """Whether a property is about melting, so that the second opinion speaks of it."""
    known = PROPERTIES.get(name)
    return known is not None and known.melts


def reported() -> tuple[tuple[str, float | None], ...]:
    """Return what is told where a scenario does not ask: property, deg C."""
    return tuple(
        (each.name, at) for each in PROPERTIES.values() for at in each.reported_at
    )
