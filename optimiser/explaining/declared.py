"""Ingredients as a label declares them: by INCI name, summed over what brings them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from msgspec import Struct

from optimiser.domain.catalogue import Catalogue, fold
from optimiser.domain.material import Ingredient
from optimiser.explaining.facts import TRACE

__all__ = [
    "COLOUR",
    "FLAVOUR",
    "SCENT",
    "Declared",
    "declared",
    "in_order",
    "names_of",
    "same_name",
]

SCENT, FLAVOUR, COLOUR = "scent", "flavour", "colour"
# An INCI name of several is written with "(and)"; makers write commas too. A comma
# inside a name, as in 1,2-Hexanediol, has no space after it.
_PARTS = re.compile(r"\s*\(and\)\s*|\s*[,;]\s+|\s*;\s*", re.IGNORECASE)
_BESIDE = re.compile(r"\s*\((?!nano\))[^)]*\)", re.IGNORECASE)


class Declared(Struct, frozen=True):
    """One name of a list of ingredients, and how much it adds up to.

    Percent of the product as added. ``low`` and ``high`` are apart where it is a part
    of a ready-made mixture whose shares are not known; ``percent`` lies between.
    ``known`` False: the INCI name of what it comes from is not known, and ``name`` is
    that ingredient's own. ``kind`` is scent, flavour, colour, or "".
    """

    name: str
    percent: float
    low: float
    high: float
    kind: str = ""
    known: bool = True
    of: tuple[str, ...] = ()

    @property
    def doubtful(self) -> bool:
        """Whether the share is not known to a hundredth of a percent."""
        return self.high - self.low > 0.01


def same_name(name: str) -> str:
    """Return a name as it is compared: without the common name in brackets.

    >>> same_name("Theobroma Cacao (Cocoa) Seed Butter")
    'theobroma cacao seed butter'
    >>> same_name("Titanium Dioxide (nano)")
    'titanium dioxide (nano)'
    """
    return fold(_BESIDE.sub("", name))


def names_of(inci: str) -> tuple[str, ...]:
    """Return the INCI names of a mixture, each once.

    >>> names_of("Cetearyl Alcohol (and) Polysorbate 60")
    ('Cetearyl Alcohol', 'Polysorbate 60')
    >>> names_of("1,2-Hexanediol, Caprylyl Glycol")
    ('1,2-Hexanediol', 'Caprylyl Glycol')
    """
    parts = (each.strip() for each in _PARTS.split(inci))
    return tuple(dict.fromkeys(each for each in parts if each))


def declared(
    amounts: Mapping[str, float],
    catalogue: Catalogue,
    *,
    scent: str = "Parfum",
    flavour: str = "Aroma",
    names: Mapping[str, str] | None = None,
) -> tuple[Declared, ...]:
    """Return the ingredients of a formula by INCI name, in no order yet.

    Scents stand under one word, flavours under another. The parts of a ready-made
    mixture stand each by itself, by the shares that are known of it; what is known of
    none of its parts may be anything between nothing and all that is left.

    Parameters
    ----------
    amounts : mapping of ingredient key to percent
    names : mapping of folded INCI name to another that stands for it
    """
    found: dict[tuple[str, str], Declared] = {}
    for key, percent in amounts.items():
        if percent <= TRACE:
            continue
        for each in _parts(catalogue.ingredients[key], percent, catalogue):
            one = _named(each, scent, flavour, names or {})
            place = (one.kind, same_name(one.name))
            found[place] = _sum(found.get(place), one)
    return tuple(found.values())


def _named(
    each: Declared, scent: str, flavour: str, names: Mapping[str, str]
) -> Declared:
    kind = each.kind
    if kind in {SCENT, FLAVOUR}:
        name = scent if kind == SCENT else flavour
        kind = FLAVOUR if scent == flavour else kind  # one word stands once
    else:
        name = names.get(same_name(each.name), each.name)
    return Declared(name, each.percent, each.low, each.high, kind, each.known, each.of)


def _sum(first: Declared | None, second: Declared) -> Declared:
    if first is None:
        return second
    return Declared(
        first.name,
        first.percent + second.percent,
        first.low + second.low,
        first.high + second.high,
        first.kind,
        first.known and second.known,
        tuple(dict.fromkeys((*first.of, *second.of))),
    )


def _parts(
    ingredient: Ingredient, percent: float, catalogue: Catalogue
) -> Iterable[Declared]:
    """Yield what an ingredient is declared as; percent of the product."""
    of = (ingredient.name,)
    kind = ingredient.category if ingredient.category in {SCENT, COLOUR} else ""
    if kind == SCENT:
        kind = FLAVOUR if ingredient.kind == FLAVOUR else SCENT
        return [Declared("", percent, percent, percent, kind, of=of)]
    if not ingredient.inci:
        name = ingredient.name
        return [Declared(name, percent, percent, percent, kind, known=False, of=of)]
    names = names_of(ingredient.inci)
    shares = _shares(ingredient.key, names, catalogue)
    found = []
    for name in names:
        value, low, high = (percent * each / 100.0 for each in shares[name])
        found.append(Declared(name, value, low, high, kind, of=of))
    return found


def _shares(
    key: str, names: tuple[str, ...], catalogue: Catalogue
) -> dict[str, tuple[float, float, float]]:
    """Return (value, low, high) percent of an ingredient for each of its names."""
    if len(names) == 1:
        return {names[0]: (100.0, 100.0, 100.0)}
    shares: dict[str, tuple[float, float, float]] = {}
    for name in names:
        constituent = "water" if same_name(name) == "aqua" else same_name(name)
        figure = catalogue.contents.get(constituent, {}).get(key)
        if figure is not None:
            shares[name] = (figure.value, figure.low, figure.high)
    open_ = [name for name in names if name not in shares]
    if not open_:
        return shares
    value, least, most = (
        max(0.0, 100.0 - sum(each[end] for each in shares.values()))
        for end in (0, 2, 1)
    )
    many = len(open_)
    for name in open_:
        shares[name] = (value / many, least if many == 1 else 0.0, most)
    return shares


def in_order(found: Iterable[Declared]) -> list[Declared]:
    """Return the most first; those alike to a thousandth of a percent stand by name.

    Parts of one mixture of which no shares are known stay as its INCI name tells them,
    the most first by custom: of an infusion, its oil before what is infused in it.
    """
    rows = list(found)
    leads: dict[tuple[float, tuple[str, ...]], str] = {}
    for each in rows:
        if each.doubtful:
            leads.setdefault((round(each.percent, 3), each.of), each.name)

    def place(each: Declared) -> tuple[float, str]:
        percent = round(each.percent, 3)
        lead = leads.get((percent, each.of)) if each.doubtful else None
        return -percent, lead or each.name

    return sorted(rows, key=place)
