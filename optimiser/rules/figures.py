"""Figures of ingredients as terms of a rule: known, with their spread, or lacking.

A rule made of terms keeps unknown apart from zero by itself, and its doubt is known to
whoever asks: a new kind of rule on properties needs no more than these.
"""

from __future__ import annotations

from collections.abc import Iterable

from msgspec import Struct

from optimiser.domain.properties import property_named
from optimiser.domain.rule import Lack, Row, Term
from optimiser.domain.unknown import small_in
from optimiser.domain.wording import number
from optimiser.rules.space import Space
from optimiser.science.mixing import end_for, is_solid, terms
from optimiser.science.properties import look_up, weakest

__all__ = ["SUMMED", "Sums", "at_words", "counted", "sums"]

SUMMED = frozenset({"mass", "log"})  # what adds up by weight, as it is or by logarithm


class Sums(Struct, frozen=True, eq=False):
    """The two rows that terms add up to, what they rest on, and what is said of it."""

    above: Row
    below: Row
    sources: str | None
    evidence: str | None
    provisos: tuple[str, ...] = ()


def at_words(name: str, at: float | None) -> str:
    """Return a property at a temperature as a maker says it.

    >>> at_words("solid fat", 30.0)
    'solid fat at 30 °C'
    """
    return name if at is None else f"{name} at {number(at)} °C"


def counted(
    space: Space,
    name: str,
    at: float | None,
    over: str,
    *,
    above: float = 1.0,
    below: float = 1.0,
) -> tuple[tuple[Term, ...], tuple[Lack, ...]]:
    """Return a property of the ingredients of a part as terms, and what is not known.

    Parameters
    ----------
    name : str
        A property of `science.properties`.
    at : float or None
        Temperature, deg C.
    above, below : float
        How often the property counts above the line of the rule's value, and how often
        the ingredients' amounts (volumes, where it mixes by volume) below it.

    Raises
    ------
    ValueError
        With ``below=0`` where it mixes by volume: it is no sum by weight then.
    """
    kind = property_named(name, space.catalogue)
    if kind is None:  # the reader has refused it already
        return (), ()
    if below == 0.0 and kind.mixing not in SUMMED:
        raise ValueError(f"{name} is no sum by weight, so it counts below the line")
    known, lacking = [], []
    for column in _counted_columns(space, over, whole=below == 0.0):
        key, category = space.ingredients[column], space.ingredient(column).category
        row = kind.source(category).name
        found = look_up(kind, space.catalogue, key, at)
        if found is None:
            lacking.append(Lack(column, at_words(name, at), row))
            continue
        solid = is_solid(space.catalogue, key)
        known.append(Term(column, found, kind.mixing, solid, (row, key), above, below))
    return tuple(known), tuple(lacking)


def _counted_columns(space: Space, over: str, *, whole: bool) -> list[int]:
    """Return the columns of a part, and of what is unknown and may belong to it.

    A small dose of that is left aside, but where the rule is a sum over the product.
    """
    columns = {*space.members(over), *space.may_be_in(over)}
    if not whole:
        small = small_in(space.scenario, space.catalogue)
        columns -= {space.index[key] for key in small & space.index.keys()}
    return sorted(columns)


def sums(found: Iterable[Term], side: str, *, cautious: bool) -> Sums:
    """Return the rows that terms add up to.

    With ``cautious`` a lower side counts each figure at the end that makes the value
    least, and an upper side at the other one, so the rule holds at the worse end.
    """
    over: dict[int, float] = {}
    under: dict[int, float] = {}
    sources: dict[str, None] = {}
    evidence = []
    for term in found:
        end = end_for(term, side) if cautious else term.figure.value
        above, below = terms(term.mixing, end, term.solid)
        over[term.column] = over.get(term.column, 0.0) + term.above * above
        under[term.column] = under.get(term.column, 0.0) + term.below * below
        if above != 0.0 and term.figure.evidence != "defined":
            sources.update(dict.fromkeys(term.figure.sources))
            evidence.append(term.figure.evidence)
    return Sums(
        Row.of(over.items()),
        Row.of(under.items()),
        "; ".join(sources) or None,
        weakest(evidence),
        ("at the worse end of its figures",) if cautious else (),
    )
