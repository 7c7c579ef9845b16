"""Faults that makers know by sight, looked for in every recipe."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.law import Zone
from optimiser.domain.material import PARTS, Figure
from optimiser.domain.recipe import Span, UsualShare
from optimiser.domain.spoken import RINSED
from optimiser.science.properties import figure
from optimiser.studies.survey.values import Fault, Recipe, RecipeLine

__all__ = [
    "MISLEADING",
    "SOFT",
    "Conditions",
    "Known",
    "faults",
    "firmness",
    "is_solid",
    "use_of_class",
    "without_watery",
]

WATER = 0.5  # percent of water from which a recipe can spoil
SEPARATES = 0.5  # percent of what does not mix with oil, counted from here
LITTLE = 10.0  # percent of it that a recipe can do without
HELD = 1.0  # percent of emulsifier that holds it
LIPIDS = 20.0  # percent: below it there is no oil to separate from
# Points of firmness below which lipids no longer keep a shape, and the share of
# them from which a recipe means to be solid (a model's figures, common practice).
SOFT = 10.0
MEANT = 0.2


# What bands would learn as an end: such recipes are told, and left out of them.
MISLEADING = frozenset(
    {"much scent", "no preservative", "little preservative", "no emulsifier"}
)
# Lipids that never set, whatever their name.
NEVER_SET = frozenset({"liquid oil", "scent", "antioxidant"})
LIPIDS_READ = frozenset({"butters", *PARTS["lipids"]})
ONCE = ("melt", "bomb", "fizz", "soap")  # used up at once, or too alkaline to spoil


class Conditions(Struct, frozen=True):
    """What recipes are held against: use by class, usual shares, climate."""

    use: str | None
    usual: Mapping[str, UsualShare]
    zone: Zone | None


class Known:
    """What the catalogue says, kept: thousands of recipes ask the same of it."""

    def __init__(self, catalogue: Catalogue) -> None:
        self.catalogue = catalogue
        self._figures: dict[tuple[str, str, float], Figure | None] = {}
        self._means: dict[tuple[str, tuple[str, ...], float], Span | None] = {}
        self._caps: dict[str, dict[str, float]] = {}

    def figure(self, kind: str, ingredient: str, at: float) -> Figure | None:
        """Return a property of an ingredient; None if it is not known."""
        asked = (kind, ingredient, at)
        if asked not in self._figures:
            self._figures[asked] = figure(self.catalogue, kind, ingredient, at)
        return self._figures[asked]

    def mean(self, kind: str, ingredients: tuple[str, ...], at: float) -> Span | None:
        """Return a property's mean over ingredients; None if one of it is not known."""
        asked = (kind, ingredients, at)
        if asked not in self._means:
            told = [self.figure(kind, key, at) for key in ingredients]
            known = [each for each in told if each is not None]
            self._means[asked] = (
                Span(
                    min(each.low for each in known),
                    sum(each.value for each in known) / len(known),
                    max(each.high for each in known),
                )
                if known and len(known) == len(told)
                else None
            )
        return self._means[asked]

    def scent_caps(self, use: str) -> Mapping[str, float]:
        """Return the lowest cap on each scent for a use, percent of the product."""
        if use not in self._caps:
            self._caps[use] = _scent_caps(self.catalogue, use)
        return self._caps[use]


def use_of_class(product_class: str) -> str:
    """Return whether a class of products is usually rinsed off.

    >>> use_of_class("shampoo bar"), use_of_class("lotion bar")
    ('rinse-off', 'leave-on')
    """
    name = product_class.casefold()
    return "rinse-off" if any(word in name for word in RINSED) else "leave-on"


def faults(recipe: Recipe, known: Known, held: Conditions) -> Iterator[Fault]:
    """Yield the faults of a recipe, whether it is used or not."""
    yield from _keeping(recipe, known.catalogue, held.usual)
    yield from _used_wet(recipe, held)
    yield from _separating(recipe)
    use = held.use or use_of_class(recipe.product_class)
    yield from _scent(recipe, known, use)
    if held.zone is not None:
        yield from _softening(recipe, known, held.zone)


def _keeping(
    recipe: Recipe, catalogue: Catalogue, usual: Mapping[str, UsualShare]
) -> Iterator[Fault]:
    """Yield that water goes without preservative, or with too little of it."""
    lines = [
        line
        for line in recipe.lines
        if line.category == "preservative" and line.status in {"read", "no amount"}
    ]
    unread = sum(line.unread for line in recipe.lines)
    water = recipe.share("water").value
    if water >= WATER and not lines:
        yield Fault(recipe.name, "no preservative", water, unread=unread)
    known = [line for line in lines if line.percent is not None]
    least = _least_preservative(lines, catalogue, usual)
    share = sum(line.percent.value for line in known if line.percent is not None)
    if known and len(known) == len(lines) and least is not None and share < least:
        yield Fault(recipe.name, "little preservative", share, least, unread=unread)


def _least_preservative(
    lines: list[RecipeLine], catalogue: Catalogue, usual: Mapping[str, UsualShare]
) -> float | None:
    """Return the least dose of a preservative: its supplier's, or the usual one."""
    keys = {line.match.ingredient for line in lines}
    doses = [
        limit.low
        for limit in catalogue.limits
        if limit.ingredient in keys and limit.low is not None and limit.of == "product"
    ]
    found = usual.get("preservative")
    return min(doses) if doses else (None if found is None else found.least)


def _separating(recipe: Recipe) -> Iterator[Fault]:
    """Yield that something watery has no emulsifier to hold it in the oils."""
    watery = recipe.share("water", "humectant").value
    lipids = recipe.share("butters", *PARTS["fats and waxes"]).value
    held = recipe.share("emulsifier", "surfactant").value
    if watery >= SEPARATES and held < HELD and lipids >= LIPIDS:
        names = tuple(
            line.written.name
            for line in recipe.lines
            if line.category in {"water", "humectant"} and line.percent is not None
        )
        yield Fault(recipe.name, "no emulsifier", watery, LITTLE, names)


def without_watery(recipe: Recipe) -> Recipe | None:
    """Return a recipe without the little that parts from its oils; None if it is much.

    A spoon of honey is a fault of a balm, and the rest of it a balm all the same: its
    shares are of what is left.
    """
    watery = recipe.share("water", "humectant").value
    if not 0.0 < watery <= LITTLE:
        return None
    times = 100.0 / (100.0 - watery)
    wet = {"water", "humectant"}
    lines = [
        _dropped(line) if line.category in wet else _times(line, times)
        for line in recipe.lines
    ]
    return replace(recipe, lines=tuple(lines))


def _dropped(line: RecipeLine) -> RecipeLine:
    return replace(line, percent=None, doubt=None, status="left out")


def _times(line: RecipeLine, times: float) -> RecipeLine:
    percent = None if line.percent is None else line.percent.times(times)
    doubt = None if line.doubt is None else line.doubt.times(times)
    return replace(line, percent=percent, doubt=doubt)


def _scent(recipe: Recipe, known: Known, use: str) -> Iterator[Fault]:
    """Yield that a scent, or all of them, pass what practice holds to."""
    caps = known.scent_caps(use)
    total = recipe.share("scent").value
    most = max(caps.values(), default=None)
    if most is not None and total > most:
        yield Fault(recipe.name, "much scent", total, most, use=use)
        return
    for line in recipe.lines:
        cap, percent = caps.get(line.match.ingredient or ""), line.percent
        if cap is not None and percent is not None and percent.value > cap:
            name = known.catalogue.ingredients[line.match.options[0]].name
            yield Fault(recipe.name, "much scent", percent.value, cap, (name,))


def _scent_caps(catalogue: Catalogue, use: str) -> dict[str, float]:
    """Return the lowest cap on each scent for a use."""
    caps: dict[str, float] = {}
    for limit in catalogue.limits:
        if limit.high is None or limit.use not in {"any", use}:
            continue
        if catalogue.ingredients[limit.ingredient].category == "scent":
            before = caps.get(limit.ingredient, limit.high)
            caps[limit.ingredient] = min(before, limit.high)
    return caps


def _softening(recipe: Recipe, known: Known, zone: Zone) -> Iterator[Fault]:
    """Yield that what is meant to be solid would not stay so in a climate."""
    if not is_solid(recipe):
        return
    found = firmness(recipe, known, zone.high)
    if found is not None and found.value < SOFT:
        yield Fault(recipe.name, "not solid", found.value, SOFT, at=zone.high)


def _used_wet(recipe: Recipe, held: Conditions) -> Iterator[Fault]:
    """Yield that what is used with wet hands again and again has no preservative."""
    name = recipe.product_class.casefold()
    rinsed = (held.use or use_of_class(name)) == "rinse-off"
    if not rinsed or any(word in name for word in ONCE):
        return
    water = recipe.share("water").value >= WATER
    kept = any(line.category == "preservative" for line in recipe.lines)
    if not kept and not water and any(line.percent for line in recipe.lines):
        unread = sum(line.unread for line in recipe.lines)
        yield Fault(recipe.name, "used wet", unread=unread)


def is_solid(recipe: Recipe) -> bool:
    """Whether a recipe means to be solid: mostly lipids, a fifth of them setting."""
    lipids = recipe.share("butters", *PARTS["fats and waxes"]).value
    setting = lipids - recipe.share("liquid oil").value
    grains = recipe.share("exfoliant", "powder").value
    return lipids > 0 and lipids >= (100 - grains) / 2 and setting >= MEANT * lipids


def firmness(
    recipe: Recipe, known: Known, at: float, kind: str = "firmness"
) -> Span | None:
    """Return the firmness of a recipe's lipids; None if a figure is missing.

    ``kind`` may be another property of lipids, such as solid fat. A choice counts as
    the mean of its options. Oils, scents and antioxidants of no name have none, and an
    emulsifier of no name, which may set or not, is left out.
    """
    total = low = value = high = 0.0
    for line in recipe.lines:
        category, percent = line.category, line.percent
        if percent is None or category not in LIPIDS_READ:
            continue
        options, share = line.match.options, percent.value
        if not options and category == "emulsifier":
            continue
        total += share
        if not options and category in NEVER_SET:
            continue
        told = known.mean(kind, options, at)
        if told is None:
            return None
        low += share * told.low
        value += share * told.value
        high += share * told.high
    return Span(low / total, value / total, high / total) if total else None
