"""Ways out of a clash: the smallest easings, each solved again and priced.

Law, safety, an assessor's envelope and arithmetic are never eased.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.rule import Goal, Programme, Row, Rule, eased_ends
from optimiser.explaining.answer import Easing
from optimiser.explaining.giving import (
    Limits,
    given_by,
    gives,
    moved,
    part,
    scale,
    size,
)
from optimiser.solving import Optimum, attempted

__all__ = [
    "MOST",
    "NOTHING",
    "Way",
    "different",
    "eased",
    "eased_by",
    "steps",
    "ways_out",
]

MOST = 3
# Moving a limit by more than so many times itself is no easing any more.
WILD = 2.0
# Times that easings are made smaller in turn, at the most.
ROUNDS = 4
STRAIGHTENED = 30
EXACTLY = 1e-9
# Parts of a step tried where a whole one, outward, is one too many; 0 is none.
FINER = (1.0, 0.1, 0.01, 0.0)
NOTHING = Goal("nothing", "", Row.of(()))


class Way(Struct, frozen=True):
    """Easings that make an answer possible, and that answer."""

    easings: tuple[Easing, ...]
    optimum: Optimum


def ways_out(
    programme: Programme, clash: Sequence[Rule], most: int = MOST
) -> tuple[Way, ...]:
    """Return up to ``most`` clearly different ways, the fewest rules first.

    Parameters
    ----------
    clash : sequence of Rule
        A clash of the programme: what helps eases one of its rules, at least.

    Notes
    -----
    Every easing is measured in parts of its rule's own limit, so that 2 points of a
    40 % band weigh less than 2 points of a 4 % limit. Each rule of the clash is
    eased by itself, and then, where that gives too few ways, with what must give
    beside it. No way holds another, each of its easings is needed, and none could be
    smaller by a step while the others stay. A way that moves a limit by more than
    twice itself is offered only when it eases fewer rules than any other. What is
    kept out is let back in only where nothing else helps.
    """
    able = {number for number, rule in enumerate(programme.rules) if gives(rule)}
    wanted = {number for number in able if not programme.rules[number].excludes}
    found = _ways_of(programme, clash, wanted, most)
    return found or _ways_of(programme, clash, able, most)


def _ways_of(
    programme: Programme, clash: Sequence[Rule], able: set[int], most: int
) -> tuple[Way, ...]:
    """Return the ways that ease no other rules than those that are able to give."""
    rules = programme.rules
    named = {rule.id for rule in clash}
    starts = [number for number in sorted(able) if rules[number].id in named]
    alone = [given for n in starts if (given := given_by(programme, {n}))]
    able = set(able)
    found: list[Way] = []
    for given in sorted(
        alone, key=lambda each: (_asks(rules, each), size(programme, each))
    ):
        if len(different(found)) < most:
            found += _settled(programme, given)
    able -= {number for given in alone for number in given}
    # One rule of the clash for next to nothing; then those that gave most are kept.
    cheap: list[int | None] = [*sorted(able & set(starts)), *([None] * most)]
    known: list[Limits] = []
    for number in cheap:
        given = _fewest(programme, given_by(programme, able, number))
        if len(different(found)) >= most or not given:
            break
        if number is None:
            able.remove(max(given, key=lambda n: part(rules[n], given[n])))
        if all(given.keys() != each.keys() for each in known):
            found += _settled(programme, given_by(programme, given) or given)
        known.append(given)
    return different(found)[:most]


def different(ways: Sequence[Way]) -> tuple[Way, ...]:
    """Return the ways that ease different rules, the fewest first, then the least.

    A wild one is the first or none; those that a supplier must agree to come last.
    """
    ordered = sorted(ways, key=lambda way: (len(way.easings), eased_by(way.easings)))
    chosen: list[Way] = []
    for way in ordered:
        rules = {easing.rule.id for easing in way.easings}
        if not any({e.rule.id for e in other.easings} <= rules for other in chosen):
            chosen.append(way)
    mild = [way for way in chosen if not _is_wild(way)]
    if not mild or len(chosen[0].easings) < len(mild[0].easings):
        mild = [*chosen[:1], *mild]
    return tuple(sorted(mild, key=_is_suppliers))


def _is_suppliers(way: Way) -> bool:
    """Whether a way moves what a supplier says, which is not the maker's to move."""
    return any(each.rule.owner == "supplier" for each in way.easings)


def _asks(rules: Sequence[Rule], given: Limits) -> bool:
    """Whether a supplier's limit is among what is given."""
    return any(rules[number].owner == "supplier" for number in given)


def _is_wild(way: Way) -> bool:
    return any(part(each.rule, each.to) > WILD for each in way.easings)


def eased_by(easings: Sequence[Easing]) -> float:
    """Return how much is eased, in parts of the rules' own limits."""
    return sum(part(easing.rule, easing.to) for easing in easings)


def eased(programme: Programme, easings: Mapping[str, float]) -> Programme:
    """Return a programme with other limits for some rules, by id.

    What moves with a rule moves as far.
    """
    named = {rule.id: number for number, rule in enumerate(programme.rules)}
    return moved(programme, {named[each]: to for each, to in easings.items()})


def _fewest(programme: Programme, given: Limits | None) -> Limits | None:
    """Return what as few as can be of the rules which gave come to by themselves."""
    while given:
        fewer = next(_fewer(programme, given), None)
        if fewer is None:
            break
        given = fewer
    return given


def _fewer(programme: Programme, given: Limits) -> Iterator[Limits]:
    """Yield what is given where one of the rules, the least moved first, is kept."""
    for number in _least_first(programme, given) if len(given) > 1 else ():
        left = given_by(programme, given.keys() - {number})
        if left:
            yield left


def _least_first(programme: Programme, limits: Limits) -> list[int]:
    return sorted(limits, key=lambda n: part(programme.rules[n], limits[n]))


def _settled(programme: Programme, given: Limits) -> list[Way]:
    """Return the way whose easings are each as small as the others allow, if any."""
    limits = _begun(programme, given)
    for _ in range(ROUNDS):
        before = dict(limits)
        for number in _least_first(programme, limits):
            limits = _shrunk(programme, limits, number)
        if limits == before:
            break
    solved = attempted(moved(programme, limits))
    if solved is None:
        return []
    easings = tuple(Easing(programme.rules[n], limits[n]) for n in sorted(limits))
    return [Way(easings, solved)]


def _begun(programme: Programme, given: Limits) -> Limits:
    """Return limits a maker would write under which there is a formula.

    What is exact has room on one side only, if any, so it is made round later.
    """
    for fine in FINER:
        limits = {}
        for number, value in given.items():
            rule = programme.rules[number]
            exact = rule.side == "exact"
            limits[number] = _outward(rule, value, 0.0 if exact else fine)
        if _works(programme, limits):
            break
    return limits


def _works(programme: Programme, limits: Limits) -> bool:
    return attempted(replace(moved(programme, limits), goals=(NOTHING,))) is not None


def _shrunk(programme: Programme, limits: Limits, number: int) -> Limits:
    """Return the limits with one rule eased as little as the others allow."""
    others = {n: limit for n, limit in limits.items() if n != number}
    rule, known = programme.rules[number], limits[number]
    alone = number not in programme.together()
    nearest = _nearest(moved(programme, others), number, known) if alone else known
    for fine in FINER:
        to = _outward(rule, nearest, fine)
        if to == known:
            break
        if part(rule, to) < part(rule, known) or rule.side == "exact":
            tried = {**limits, number: to}
            if _works(programme, tried):
                return tried
    return limits


def _nearest(programme: Programme, number: int, known: float) -> float:
    """Return the value of a rule nearest to its limit that the other rules allow.

    Parameters
    ----------
    known : float
        A limit for it that allows a formula.

    Notes
    -----
    A value is a ratio of two sums, so the sum that it is multiplied out to is made
    least again and again, each time at the value found last (Dinkelbach, Management
    Science 13:492, 1967).
    """
    rule = programme.rules[number]
    up = known > rule.limit
    sign, side = (1.0, "max") if up else (-1.0, "min")
    rules = [each for n, each in enumerate(programme.rules) if n != number]
    if rule.side == "exact":
        rules.append(replace(rule, side="min" if up else "max"))
    for _ in range(STRAIGHTENED):
        row = rule.linear(known)[0]
        goal = Goal("value", "", Row(row.columns, sign * row.coefficients))
        tried = (*rules, replace(rule, side=side, limit=known))
        found = attempted(replace(programme, rules=tried, goals=(goal,)))
        value = None if found is None else rule.value(found.amounts)
        if value is None or sign * (known - value) <= EXACTLY * scale(rule):
            break
        known = value
        if not rule.curved:
            break
    return known


def _outward(rule: Rule, value: float, fine: float) -> float:
    """Return a limit that allows a value, in so fine steps; of no step where 0.

    It is never beyond what a limit of the rule can be, and at its end where a share
    of the rule means nothing.
    """
    up = value > rule.limit
    least, most = eased_ends(rule)
    if rule.all_or_nothing:
        return most if up else least
    edge, towards = (math.ceil, -1e-6) if up else (math.floor, 1e-6)
    if fine == 0.0:
        to = round(edge(value / EXACTLY + 1e3 * towards) * EXACTLY, 9)
        return min(max(to, least), most)
    step = 1.0 if rule.counts else steps(rule.limit or value) * fine
    to = round(edge(value / step + towards) * step, 9)
    while rule.logarithmic and to <= 0.0:
        step /= 10.0
        to = edge(value / step + towards) * step
    return min(max(to, least), most)


def steps(limit: float) -> float:
    """Return the step a maker would move a limit by.

    >>> steps(12.34), steps(3.2), steps(0.31), steps(0.04)
    (0.5, 0.1, 0.01, 0.001)
    """
    size = abs(limit)
    if size >= 10.0:
        return 0.5
    return float(f"1e{math.floor(math.log10(max(size, 1e-5))) - 1}")
