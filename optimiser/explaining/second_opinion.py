"""A second opinion on solid fat and firmness: the sum, corrected by a melting model.

A solid-fat window is a share of the lipids, and is read as it stands. Firmness is a
score on the scale of the maker's own base, which is known in a room: there the
correction counts from the base's own at 25 deg C, so that the base in a room reads the
same by both, and a bar on a hot shelf is compared with it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

import numpy as np
from msgspec import Struct
from msgspec.structs import replace
from numpy.typing import NDArray

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import UNKNOWN
from optimiser.domain.properties import PROPERTIES, melts
from optimiser.domain.rule import Column, Goal, Programme, Row, Rule
from optimiser.domain.scenario import Scenario, Window
from optimiser.domain.unknown import FEW
from optimiser.domain.wording import Measured
from optimiser.rules.build import numbered
from optimiser.rules.space import Space
from optimiser.science.correction import Correction, Melting

__all__ = [
    "SECOND",
    "Opinion",
    "SecondFigure",
    "Watched",
    "asks",
    "beside",
    "giving",
    "known_only",
    "second_figures",
    "tangent_rule",
    "watched",
    "with_rules",
]

Floats = NDArray[np.float64]

SECOND = "second opinion"
# Points by which a window may be missed and still count as held: what the proof of an
# answer allows, and far below what the model knows.
TOLERANCE = 0.01
# Where a maker knows the base, deg C.
ROOM = 25.0


class Watched(Struct, frozen=True):
    """A window rule that the second opinion can speak of, by its place."""

    number: int
    property: str
    at: float
    part: str
    relative: bool


class SecondFigure(Struct, frozen=True):
    """A second figure, in the unit of the property, and its doubt either way."""

    value: float
    doubt: float


def asks(scenario: Scenario) -> bool:
    """Whether some window is on solid fat or firmness."""
    return any(melts(window.property) for window in scenario.windows)


def watched(scenario: Scenario, programme: Programme) -> tuple[Watched, ...]:
    """Return the rules of windows on solid fat and firmness."""
    found = []
    for number, rule in enumerate(programme.rules):
        window = rule.about if rule.kind == "window" else None
        if not isinstance(window, Window) or window.at is None:
            continue
        if melts(window.property):
            relative = PROPERTIES[window.property].from_base and bool(scenario.base)
            found.append(
                Watched(number, window.property, window.at, window.over, relative)
            )
    return tuple(found)


class Opinion:
    """The second opinion on formulas over one programme's ingredients.

    Parameters
    ----------
    keys : sequence of str
        Ingredients, in the order of the amounts; columns past them are ignored.
    only : collection of str, optional
        Enough to read formulas of these alone; tangents need all.
    also : sequence of float
        Temperatures that will be asked about sooner or later, [deg C].
    """

    def __init__(
        self,
        scenario: Scenario,
        catalogue: Catalogue,
        keys: Sequence[str],
        only: Collection[str] | None = None,
        also: Sequence[float] = (),
    ) -> None:
        self.keys = tuple(keys)
        self.scenario, self.catalogue = scenario, catalogue
        self.melting = Melting(self.keys, catalogue, only, also)
        self.kitchen = self.melting.kitchen
        self._strangers = np.array(
            [catalogue.ingredients[x].category == UNKNOWN for x in self.keys],
            dtype=bool,
        )
        fats = [x in self.kitchen.unknown_fats for x in self.keys]
        self._unknown = np.array(fats, dtype=bool) & ~self._strangers
        self._knows_all = only is None
        self._parts: dict[str, Floats] = {}
        self._offsets: dict[tuple[str, str], float | None] = {}
        self._base: Opinion | None = None

    def mask(self, part: str) -> Floats:
        """Return 1 for each ingredient of a part, else 0."""
        if part not in self._parts:
            space = Space(self.scenario, self.catalogue, self.keys)
            mask = np.zeros(len(self.keys))
            mask[list(space.members(part))] = 1.0
            self._parts[part] = mask
        return self._parts[part]

    def unknown(self, amounts: Floats, part: str) -> tuple[str, ...]:
        """Return what of a part is used and nothing is known of, by name."""
        mine = amounts[: len(self.keys)]
        used = mine > 1e-6
        found = self._unknown & used & (self.mask(part) > 0.0)
        if mine[self._strangers].sum() >= FEW:
            found = found | (self._strangers & used)
        every = (self.keys[number] for number in np.flatnonzero(found).tolist())
        return tuple(self.catalogue.ingredients[key].name for key in every)

    def offset(self, part: str, name: str) -> float | None:
        """Return the base's own correction in a room, points; None if not known."""
        if (part, name) not in self._offsets:
            base = self.scenario.base
            own = self._base = self._base or self._of(tuple(base))
            amounts = own.vector(base)
            known = own.mask(part) @ amounts > 0.0 and not own.unknown(amounts, part)
            self._offsets[part, name] = (
                own.see(amounts, part, name, [ROOM])[ROOM].value if known else None
            )
        return self._offsets[part, name]

    def _of(self, keys: tuple[str, ...]) -> Opinion:
        """Return an opinion that knows some ingredients: this one, if it does."""
        if self._knows_all and set(keys) <= set(self.keys):
            return self
        return Opinion(self.scenario, self.catalogue, keys)

    def read(self, rule: Rule, which: Watched, amounts: Floats) -> SecondFigure | None:
        """Return the second figure of a window's rule; None where none can be given."""
        tangents = self.tangents(rule, which, amounts)
        if not tangents:
            return None
        values = [replace(rule, amounts=row).value(amounts) for row, _ in tangents]
        known = [value for value in values if value is not None]
        return SecondFigure(min(known), tangents[0][1]) if known else None

    def tangents(
        self, rule: Rule, which: Watched, amounts: Floats
    ) -> tuple[tuple[Row, float], ...]:
        """Return the rule's rows as the model sees it near a formula, and its doubt.

        The first row's sum is the second figure's at the formula itself and, solid fat
        being convex in the amounts, hardly ever more than that elsewhere. The firmness
        of waxes, which flattens, is the lesser of two such rows: a least one keeps
        both, a greatest one the first. Ingredients that nothing is known of keep their
        straight figure; none if the formula uses one, or nothing is known of the base
        that firmness counts from.
        """
        mask = self.mask(which.part)
        if self.unknown(amounts, which.part):
            return ()
        offset = self.offset(which.part, which.property) if which.relative else 0.0
        if offset is None:
            return ()
        found = self.see(amounts, which.part, which.property, [which.at])[which.at]
        rows = found.rows if rule.side == "min" else found.rows[:1]
        tangents = []
        for row in rows:
            summed = np.zeros(max(mask.size, amounts.size))
            summed[rule.amounts.columns] = rule.amounts.coefficients
            summed[: mask.size] += (row - offset) * mask
            kept = np.flatnonzero(summed)
            tangents.append((Row(kept, summed[kept]), found.doubt))
        return tuple(tangents)

    def vector(self, formula: Mapping[str, float]) -> Floats:
        """Return a formula as amounts in the order of ``keys``."""
        return np.array([formula.get(key, 0.0) for key in self.keys])

    def see(
        self, amounts: Floats, part: str, name: str, degrees: Iterable[float]
    ) -> Mapping[float, Correction]:
        """Return the corrections of a part at these temperatures, at least."""
        return self.melting.see(amounts, self.mask(part), name, degrees)

    def holds(self, rule: Rule, reading: SecondFigure | None) -> bool | None:
        """Whether a window holds by a second figure; None if there is none."""
        if reading is None:
            return None
        miss = rule.limit - reading.value
        return (miss if rule.side == "min" else -miss) <= TOLERANCE


def second_figures(
    asked: Sequence[tuple[str, float | None, str]],
    formula: Mapping[str, float],
    values: Sequence[float | None],
    opinion: Opinion,
) -> Iterator[SecondFigure | None]:
    """Yield the second figure of each property asked for, of a formula.

    Parameters
    ----------
    asked : sequence of (property, at, part)
    formula : mapping of ingredient key to percent, positive entries only
    values : sequence of float or None
        What the properties add up to.
    opinion : Opinion
        Over the formula's ingredients, and more if need be.
    """
    degrees: dict[tuple[str, str], list[float]] = {}
    for (name, at, part), value in zip(asked, values, strict=True):
        if melts(name) and at is not None and value is not None:
            degrees.setdefault((part, name), []).append(at)
    amounts = opinion.vector(formula)
    known = {
        (part, name): opinion.see(amounts, part, name, each)
        for (part, name), each in degrees.items()
        if opinion.mask(part) @ amounts > 0.0 and not opinion.unknown(amounts, part)
    }
    for (name, at, part), value in zip(asked, values, strict=True):
        found = None if at is None else known.get((part, name), {}).get(at)
        if not melts(name):
            yield None
            continue
        relative = PROPERTIES[name].from_base and bool(opinion.scenario.base)
        offset = opinion.offset(part, name) if relative and found is not None else 0.0
        if found is None or value is None or offset is None:
            yield None
        else:
            yield SecondFigure(max(0.0, value + found.value - offset), found.doubt)


# Points from its limit within which a window by the second opinion may come to hold.
CLOSE = 15.0


def beside(
    programme: Programme, amounts: Floats, opinion: Opinion, which: Sequence[Watched]
) -> Programme:
    """Return a programme with the tangents at an answer that holds the windows.

    They cost the answer nothing, and end its prices where the second opinion would
    begin to hold. Windows that it sees far from their limits have none.
    """
    found = []
    for each in which:
        rule = programme.rules[each.number]
        for row, _ in opinion.tangents(rule, each, amounts):
            own = tangent_rule(rule, row)
            slack = own.slack(amounts)
            if slack is not None and slack < CLOSE:
                # Windows hold to within a tolerance, which the answer may have used.
                sign = 1.0 if rule.side == "min" else -1.0
                found.append(replace(own, limit=own.limit + sign * min(0.0, slack)))
    return with_rules(programme, tuple(numbered(found))) if found else programme


def tangent_rule(rule: Rule, row: Row) -> Rule:
    """Return the rule of a window as the second opinion sees it near a formula."""
    return replace(
        rule,
        id=f"{rule.id}/{SECOND}",
        provisos=(*rule.provisos, f"by the {SECOND}"),
        kind="opinion",
        amounts=row,
        owner="model",
        evidence="estimated",
        moves_with=rule.id,
        terms=(),
    )


def with_rules(programme: Programme, more: Sequence[Rule]) -> Programme:
    """Return a programme with some rules more."""
    return replace(programme, rules=(*programme.rules, *more))


def known_only(programme: Programme, opinion: Opinion) -> Programme:
    """Return the programme without butters that the second opinion cannot judge."""
    out = [
        number
        for number, key in enumerate(programme.ingredients)
        if key in opinion.kitchen.unknown_fats
        and opinion.catalogue.ingredients[key].category != UNKNOWN  # it stays as it is
    ]
    if not out:
        return programme
    names = ", ".join(
        opinion.catalogue.ingredients[programme.ingredients[number]].name
        for number in out
    )
    rule = Rule(
        id=f"{SECOND}/known butters only",
        wording=Measured(names, none=f"no {names}"),
        kind="opinion",
        side="max",
        limit=0.0,
        unit="%",
        amounts=Row.of((number, 1.0) for number in out),
        per_constant=1.0,
        owner="model",
        origin=programme.rules[0].origin,
        provisos=(f"for the {SECOND} knows too little of it",),
    )
    return with_rules(programme, (rule,))


def giving(programme: Programme, tangents: Sequence[Rule]) -> Programme:
    """Return the question of missing the windows least, each in its own measure."""
    columns = list(programme.columns)
    rules = list(programme.rules)
    prices = []
    for rule in tangents:
        give = len(columns)
        columns.append(Column("given", rule.id))
        sign = 1.0 if rule.side == "min" else -1.0
        pairs = zip(rule.amounts.columns, rule.amounts.coefficients, strict=True)
        rules.append(replace(rule, amounts=Row.of([*pairs, (give, sign)])))
        prices.append((give, 0.01))
    goal = Goal("misses", "points", Row.of(prices))
    return replace(programme, columns=tuple(columns), rules=tuple(rules), goals=(goal,))
