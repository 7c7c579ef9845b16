"""How often a formula stays in spec: seeded draws, all of a lot worked out at once.

Weighings are off evenly within the scale's step, prices evenly within their percent,
figures in a triangle from low over typical to high.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
from msgspec import Struct

from optimiser.domain.arrays import Floats, Mask
from optimiser.domain.catalogue import Catalogue
from optimiser.domain.rule import Programme, Row, Rule, Term
from optimiser.domain.scenario import Scenario
from optimiser.science.mixing import terms
from optimiser.studies.robust.doubt import Doubt, judged, room_of

__all__ = ["RuleKept", "Simulated", "simulate", "triangle"]

LOT = 2000
QUANTILES = (0.05, 0.5, 0.95)
Progress = Callable[[int, int], None]


class RuleKept(Struct, frozen=True):
    """How often a rule is kept, and between what its value lies (5, 50, 95 %)."""

    rule: Rule
    share: float
    low: float
    middle: float
    high: float


class Simulated(Struct, frozen=True):
    """What came of so many draws. ``cost`` is mean, spread (one sd), 5, 50, 95 %.

    ``kept`` is the share of draws in which every rule is kept.
    """

    draws: int
    kept: float
    rules: tuple[RuleKept, ...]
    cost: tuple[float, float, float, float, float] | None
    stopped: bool = False


def triangle(low: float, middle: float, high: float, chance: Floats) -> Floats:
    """Return what a triangle's distribution has below it with some chances.

    Its mean is the mean of the three, its variance
    ``(l^2 + m^2 + h^2 - l m - l h - m h) / 18``.
    """
    wide = high - low
    if wide <= 0:
        return np.full_like(chance, middle)
    turn = (middle - low) / wide
    rising = low + np.sqrt(chance * wide * (middle - low))
    falling = high - np.sqrt((1.0 - chance) * wide * (high - middle))
    result: Floats = np.where(chance < turn, rising, falling)
    return result


def simulate(  # noqa: PLR0913 - a programme, a formula, and how to draw
    programme: Programme,
    formula: Mapping[str, float],
    scenario: Scenario,
    catalogue: Catalogue,
    doubt: Doubt,
    *,
    draws: int = 10_000,
    seed: int = 1,
    progress: Progress | None = None,
) -> Simulated:
    """Return how a formula fares when what is not certain is drawn by lot.

    Parameters
    ----------
    formula : mapping of ingredient key to percent
    draws, seed : int
        The same seed gives the same draws.
    progress : callable, optional
        Told how many draws are done, and of how many.

    Notes
    -----
    Ended by the keyboard, it tells of the draws that are done (see ``stopped``).
    """
    lots = _Lots(programme, formula, scenario, catalogue, doubt)
    random = np.random.default_rng(seed)
    values: list[Floats] = []
    costs: list[Floats] = []
    stopped, done = False, 0
    try:
        while done < draws:
            size = min(LOT, draws - done)
            one, cost = lots.draw(random, size)
            values.append(one)
            costs.append(cost)
            done += size
            if progress is not None:
                progress(done, draws)
    except KeyboardInterrupt:
        stopped = True
    count = min(len(values), len(costs))
    if not count:
        return lots.told(np.zeros((0, len(lots.rules))), np.zeros(0), stopped)
    every = np.vstack(values[:count]), np.concatenate(costs[:count])
    return lots.told(*every, stopped)


class _Lots:
    """The rules and figures of one formula, drawn lot after lot."""

    def __init__(
        self,
        programme: Programme,
        formula: Mapping[str, float],
        scenario: Scenario,
        catalogue: Catalogue,
        doubt: Doubt,
    ) -> None:
        self.doubt = doubt
        self.keys = [key for key in programme.ingredients if formula.get(key, 0) > 0]
        self.kg = np.array([formula[key] / 100.0 for key in self.keys])
        self.kg = self.kg * scenario.batch_kg
        self.off = np.array([doubt.off_at(float(kg)) for kg in self.kg])
        prices = [catalogue.price_per_kg(key) for key in self.keys]
        self.prices = None if None in prices else np.array(prices, dtype=np.float64)
        self.columns = np.array([programme.ingredients.index(key) for key in self.keys])
        self.places = {int(column): at for at, column in enumerate(self.columns)}
        self.rules = [rule for _, rule in judged(programme)]
        self.terms: dict[int, list[Term]] = {}
        for number, rule in enumerate(self.rules if doubt.figures else ()):
            used = [term for term in rule.terms if term.column in self.places]
            self.terms[number] = used
        self.idle = [self._is_idle(number) for number in range(len(self.rules))]
        self.doubts = sorted({t.doubt for each in self.terms.values() for t in each})

    def _is_idle(self, number: int) -> bool:
        """Whether a rule says nothing of this formula: none of it is in there."""
        rule = self.rules[number]
        of = {*rule.amounts.columns.tolist(), *rule.per.columns.tolist()}
        return not rule.per_constant and not of & set(self.columns.tolist())

    def draw(self, random: np.random.Generator, size: int) -> tuple[Floats, Floats]:
        """Return the value of each rule, (size, rules), and the cost, (size,)."""
        off = random.uniform(-1.0, 1.0, (size, len(self.keys)))
        moves = random.uniform(-1.0, 1.0, (size, len(self.keys)))
        chances = {doubt: random.random(size) for doubt in self.doubts}
        kg = np.maximum(self.kg + self.off * off, 0.0)
        with np.errstate(invalid="ignore"):  # nothing at all: that draw fails
            shares = 100.0 * kg / kg.sum(axis=1, keepdims=True)
        values = np.column_stack(
            [self._value(number, shares, chances) for number in range(len(self.rules))]
            or [np.zeros((size, 0))]
        )
        if self.prices is None:
            return values, np.full(size, np.nan)
        prices = self.prices * (1.0 + self.doubt.prices_percent / 100.0 * moves)
        cost: Floats = np.einsum("ij,ij->i", shares, prices) / 100.0
        return values, cost

    def _value(
        self, number: int, shares: Floats, chances: Mapping[tuple[str, str], Floats]
    ) -> Floats:
        rule = self.rules[number]
        above = shares @ self._own(rule.amounts)
        below = shares @ self._own(rule.per) + rule.per_constant
        for term in self.terms.get(number, ()):
            share = shares[:, self.places[term.column]]
            up, down = _moved(term, chances[term.doubt])
            above += term.above * up * share
            below += term.below * down * share
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio = np.where(np.abs(below) < 1e-12, _of_none(above), above / below)
        value: Floats = np.exp(ratio) if rule.logarithmic else ratio
        return value

    def _own(self, row: Row) -> Floats:
        """Return a rule's row over the ingredients used."""
        known = dict(zip(row.columns.tolist(), row.coefficients.tolist(), strict=True))
        return np.array([known.get(int(column), 0.0) for column in self.columns])

    def told(self, values: Floats, costs: Floats, stopped: bool) -> Simulated:
        """Return the shares and quantiles of all draws."""
        rules, good = [], np.ones(len(values), dtype=bool)
        for number, rule in enumerate(self.rules):
            value = values[:, number]
            kept = _kept(rule, value) | self.idle[number]
            good &= kept
            known = value[np.isfinite(value)]
            if known.size:
                low, middle, high = (float(q) for q in np.quantile(known, QUANTILES))
                rules.append(RuleKept(rule, float(kept.mean()), low, middle, high))
        cost = None
        if costs.size and not np.isnan(costs).any():
            quantiles = [float(q) for q in np.quantile(costs, QUANTILES)]
            spread = float(costs.std(ddof=1)) if costs.size > 1 else 0.0
            low, middle, high = quantiles
            cost = (float(costs.mean()), spread, low, middle, high)
        share = float(good.mean()) if good.size else 0.0
        return Simulated(len(values), share, tuple(rules), cost, stopped)


def _of_none(above: Floats) -> Floats:
    """Return something to nothing as without end, and nothing to nothing as unknown."""
    without_end = np.copysign(np.inf, above)
    result: Floats = np.where(np.abs(above) > 1e-12, without_end, np.nan)
    return result


def _moved(term: Term, chance: Floats) -> tuple[Floats, Floats]:
    """Return by how much a figure that is drawn moves what 1 % adds to the two sums."""
    known = term.figure
    drawn = triangle(known.low, known.value, known.high, chance)
    up, down = terms(term.mixing, drawn, term.solid)
    usual, usual_down = terms(term.mixing, known.value, term.solid)
    return up - usual, down - usual_down


def _kept(rule: Rule, values: Floats) -> Mask:
    """Return which values keep a rule; one that is not known does not."""
    room = room_of(rule) + 1e-9 * max(1.0, abs(rule.limit))
    if rule.side == "min":
        kept = values >= rule.limit - room
    elif rule.side == "max":
        kept = values <= rule.limit + room
    else:
        kept = np.abs(values - rule.limit) <= room
    result: Mask = kept
    return result
