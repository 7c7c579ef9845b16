"""Ingredients as a label declares them: by INCI name, summed over what brings them."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue, fold
from optimiser.domain.material import Figure, Ingredient
from optimiser.explaining.facts import TRACE

__all__ = [
    "COLOUR",
    "FLAVOUR",
    "SCENT",
    "Declared",
    "Infused",
    "declared",
    "in_order",
    "infused_last",
    "names_of",
    "same_name",
    "shares_to_ask",
]

SCENT, FLAVOUR, COLOUR = "scent", "flavour", "colour"
# An INCI name of several is written with "(and)"; makers write commas too. A comma
# inside a name, as in 1,2-Hexanediol, has no space after it.
_PARTS = re.compile(r"\s*\(and\)\s*|\s*[,;]\s+|\s*;\s*", re.IGNORECASE)
_BESIDE = re.compile(r"\s*\((?!nano\))[^)]*\)", re.IGNORECASE)


class Declared(Struct, frozen=True):
    """One name of a list of ingredients, and how much it adds up to.

    Percent of the product as added; None where it is a part of a ready-made mixture
    whose shares are not known, between ``low`` and ``high``. ``at`` is the percent by
    which it takes its place in a list. ``known`` False: the INCI name of what it comes
    from is not known, and ``name`` is that ingredient's own. ``kind`` is scent,
    flavour, colour, or "". ``settled``: what is not known of its share is how much was
    infused, which leaves its place as it is.
    """

    name: str
    percent: float | None
    low: float
    high: float
    at: float
    kind: str = ""
    known: bool = True
    of: tuple[str, ...] = ()
    settled: bool = True

    @property
    def doubtful(self) -> bool:
        """Whether the share is not known to a hundredth of a percent."""
        return self.high - self.low > 0.01

    @property
    def unplaced(self) -> bool:
        """Whether that leaves its place in a list open."""
        return self.doubtful and not self.settled


class Infused(Struct, frozen=True):
    """What stands last in a list as infused in an oil, of which nobody says how much.

    ``names`` are INCI names, ``of`` the infusion; ``least`` is the percent of the
    infusion from which on it may stand before others.
    """

    names: tuple[str, ...]
    of: str
    least: float


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
    mixture stand each by itself, by the shares that are known of it. A part without
    one may be anything between nothing and all that is left, and takes the place that
    all of that would have. Of an infusion the oil is more than half and takes the
    place of the whole, what was infused in it the last one; the oil is there too where
    the infusion's INCI name leaves it out.

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
    return replace(each, name=name, kind=kind)


def _sum(first: Declared | None, second: Declared) -> Declared:
    if first is None:
        return second
    unknown = first.percent is None or second.percent is None
    return Declared(
        first.name,
        None if unknown else (first.percent or 0.0) + (second.percent or 0.0),
        first.low + second.low,
        first.high + second.high,
        first.at + second.at,
        first.kind,
        first.known and second.known,
        tuple(dict.fromkeys((*first.of, *second.of))),
        first.settled and second.settled,
    )


def _parts(
    ingredient: Ingredient, percent: float, catalogue: Catalogue
) -> Iterable[Declared]:
    """Yield what an ingredient is declared as; percent of the product."""
    of = (ingredient.name,)
    kind = ingredient.category if ingredient.category in {SCENT, COLOUR} else ""
    whole = Declared(ingredient.name, percent, percent, percent, percent, kind, of=of)
    if kind == SCENT:
        flavour = ingredient.kind == FLAVOUR
        return [replace(whole, name="", kind=FLAVOUR if flavour else SCENT)]
    if not ingredient.inci:
        return [replace(whole, known=False)]
    return [
        replace(
            whole,
            name=name,
            percent=None if share.value is None else share.value * percent / 100.0,
            low=share.low * percent / 100.0,
            high=share.high * percent / 100.0,
            at=share.at * percent / 100.0,
            settled=share.settled,
        )
        for name, share in _shares(ingredient, catalogue).items()
    ]


class _Share(Struct, frozen=True):
    """What a mixture has of one of its names, percent of it; as in Declared."""

    value: float | None
    low: float
    high: float
    at: float
    asked: bool = False
    settled: bool = True


def infused_last(
    ingredient: Ingredient, percent: float, border: float, catalogue: Catalogue
) -> Infused | None:
    """Return what of an infusion stands last, by no share that anybody told.

    Parameters
    ----------
    percent : float
        How much of the infusion there is in the product.
    border : float
        Percent of the product below which no order is asked for.
    """
    if not ingredient.inci or ingredient.made_in is None:
        return None
    shares = _shares(ingredient, catalogue)
    names = tuple(n for n, x in shares.items() if x.value is None and x.at == 0.0)
    most = max((shares[name].high for name in names), default=0.0)
    if most * percent / 100.0 < border:
        return None
    return Infused(names, ingredient.name, 100.0 * border / percent)


def shares_to_ask(ingredient: Ingredient, catalogue: Catalogue) -> tuple[str, ...]:
    """Return the INCI names of an ingredient whose shares have to be told.

    With theirs the other is known too: it is what is left. What was infused in an oil
    is not asked for, for it stands last.
    """
    if not ingredient.inci or ingredient.category == SCENT:
        return ()
    shares = _shares(ingredient, catalogue)
    return tuple(name for name, share in shares.items() if share.asked)


def _shares(ingredient: Ingredient, catalogue: Catalogue) -> dict[str, _Share]:
    """Return what is known of the shares of an ingredient's names, in their order."""
    told = names_of(ingredient.inci or "")
    oil = catalogue.ingredients.get(ingredient.made_in or "")
    oils = names_of((oil and oil.inci) or "")
    in_oil = {same_name(each) for each in oils}
    carriers = tuple(each for each in told if same_name(each) in in_oil) or oils
    names = (*carriers, *(each for each in told if each not in carriers))
    if len(names) == 1:
        return {names[0]: _Share(100.0, 100.0, 100.0, 100.0)}
    known = {
        name: figure
        for name in names
        if (figure := _content(ingredient.key, name, catalogue)) is not None
    }
    left, least, most = (
        max(0.0, 100.0 - sum(each))
        for each in (
            [x.value for x in known.values()],
            [x.high for x in known.values()],
            [x.low for x in known.values()],
        )
    )
    open_ = [name for name in names if name not in known]
    infused = any(name in carriers for name in open_)
    found = {}
    for name in names:
        if name in known:
            x = known[name]
            found[name] = _Share(x.value, x.low, x.high, x.value)
        elif len(open_) == 1:
            found[name] = _Share(left, least, most, left)
        elif not infused:
            asked = name != open_[-1]
            found[name] = _Share(None, 0.0, most, left, asked=asked, settled=False)
        elif name in carriers:
            half = 0.0 if len(carriers) > 1 else least / 2.0
            asked, alone = name != carriers[0], len(carriers) == 1
            found[name] = _Share(None, half, most, left, asked=asked, settled=alone)
        else:
            found[name] = _Share(None, 0.0, most / 2.0, 0.0)
    return found


def _content(key: str, name: str, catalogue: Catalogue) -> Figure | None:
    """Return what an ingredient holds of an INCI name, with its brackets or without."""
    constituents = [same_name(name), fold(name)]
    if constituents[0] == "aqua":
        constituents.append("water")
    rows = (catalogue.contents.get(each, {}).get(key) for each in constituents)
    return next((each for each in rows if each is not None), None)


def in_order(found: Iterable[Declared]) -> list[Declared]:
    """Return the most first; those alike to a thousandth of a percent stand by name.

    Parts of one mixture of which no shares are known stay as its INCI name tells them,
    the most first by custom.
    """
    rows = list(found)
    leads: dict[tuple[float, tuple[str, ...]], str] = {}
    for each in rows:
        if each.doubtful:
            leads.setdefault((round(each.at, 3), each.of), each.name)

    def place(each: Declared) -> tuple[float, str]:
        at = round(each.at, 3)
        lead = leads.get((at, each.of)) if each.doubtful else None
        return -at, lead or each.name

    return sorted(rows, key=place)
