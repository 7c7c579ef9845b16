"""A rule: one named, linear statement with a lower or an upper side."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
from msgspec import Struct, field

from optimiser.domain.arrays import Floats, Indices
from optimiser.domain.material import Origin

__all__ = ["Column", "Goal", "Link", "Programme", "Row", "Rule"]


class Row(Struct, frozen=True, eq=False):
    """A sparse sum over columns: ``coefficients`` at ``columns``, no zeros."""

    columns: Indices
    coefficients: Floats

    @classmethod
    def of(cls, pairs: Iterable[tuple[int, float]]) -> Row:
        """Return the row of (column, coefficient) pairs, zeros left out."""
        kept = [(int(c), float(a)) for c, a in pairs if a != 0.0]
        return cls(
            np.array([c for c, _ in kept], dtype=np.int64),
            np.array([a for _, a in kept], dtype=np.float64),
        )

    def at(self, amounts: Floats) -> float:
        """Return the sum at ``amounts`` (one number per column)."""
        return float(self.coefficients @ amounts[self.columns])


EMPTY = Row.of(())


class Rule(Struct, frozen=True, eq=False):
    """One statement that a formula keeps or breaks.

    Its value is ``amounts / (per_constant + per)`` for a formula, in ``unit``, or
    the exponential of it when ``logarithmic``; it keeps the rule when the value is
    at least (``side`` "min"), at most ("max") or exactly ``limit``. Multiplied out
    that is linear: ``amounts - limit * per >= limit * per_constant``.

    ``owner`` says whose it is: wish, law, supplier, practice, assessor, safety,
    model or arithmetic; only wishes, practice, supplier and model rules may be
    eased. ``evidence`` is the weakest evidence among the figures it rests on.
    """

    id: str
    sentence: str
    kind: str
    side: str
    limit: float
    unit: str
    amounts: Row
    owner: str
    origin: Origin
    per: Row = field(default=EMPTY)
    per_constant: float = 0.0
    logarithmic: bool = False
    source: str | None = None
    evidence: str | None = None
    moves_with: str | None = None

    @property
    def may_ease(self) -> bool:
        """Law, safety, an assessor's envelope and arithmetic are never eased."""
        return self.owner in {"wish", "supplier", "practice", "model"}

    @property
    def curved(self) -> bool:
        """Whether moving the limit moves coefficients and not only the bound."""
        return self.logarithmic or self.per.columns.size > 0

    def inner(self, limit: float) -> float:
        """Return a limit as the linear form uses it."""
        return math.log(limit) if self.logarithmic else limit

    def value(self, amounts: Floats) -> float | None:
        """Return the rule's value at ``amounts``; None where it has no meaning."""
        below = self.per_constant + self.per.at(amounts)
        if abs(below) < 1e-12:
            return None
        ratio = self.amounts.at(amounts) / below
        return math.exp(ratio) if self.logarithmic else ratio

    def slack(self, amounts: Floats) -> float | None:
        """Return the room left before the limit, in ``unit``; negative if broken."""
        value = self.value(amounts)
        if value is None:
            return None
        if self.side == "min":
            return value - self.limit
        return self.limit - value if self.side == "max" else -abs(value - self.limit)

    def linear(self, limit: float) -> tuple[Row, float]:
        """Return the row and the bound of the linear form at a limit."""
        inner = self.inner(limit)
        if self.per.columns.size == 0 or inner == 0.0:
            return self.amounts, inner * self.per_constant
        columns = np.concatenate([self.amounts.columns, self.per.columns])
        values = np.concatenate(
            [self.amounts.coefficients, -inner * self.per.coefficients]
        )
        unique, where = np.unique(columns, return_inverse=True)
        summed = np.bincount(where, weights=values, minlength=unique.size)
        kept = summed != 0.0
        return Row(unique[kept], summed[kept]), inner * self.per_constant


class Column(Struct, frozen=True):
    """One number the solver chooses; ``kind`` is amount, used, moved or bought."""

    kind: str
    key: str
    lower: float = 0.0
    upper: float = math.inf
    whole: bool = False


class Link(Struct, frozen=True, eq=False):
    """A definition that ties helping columns to amounts; never shown, never eased."""

    row: Row
    lower: float
    upper: float


class Goal(Struct, frozen=True, eq=False):
    """An aim as the solver sees it: a row to make small, in ``unit``."""

    name: str
    unit: str
    row: Row
    slack: float = 0.0

    def at(self, amounts: Floats) -> float:
        """Return the aim's value at ``amounts``."""
        return self.row.at(amounts)


class Programme(Struct, frozen=True, eq=False):
    """A whole question: columns, rules, links and goals in order.

    The first ``len(ingredients)`` columns are the ingredients' percentages.
    ``left_out`` maps an ingredient that could have been chosen to why it was not.
    """

    ingredients: tuple[str, ...]
    columns: tuple[Column, ...]
    rules: tuple[Rule, ...]
    links: tuple[Link, ...]
    goals: tuple[Goal, ...]
    left_out: dict[str, str] = field(default_factory=dict)

    @property
    def whole(self) -> bool:
        """Whether some column takes whole numbers only."""
        return any(column.whole for column in self.columns)

    def together(self) -> dict[int, tuple[int, ...]]:
        """Return, by the number of each rule that does not move alone, all of them."""
        named = {rule.id: number for number, rule in enumerate(self.rules)}
        groups: dict[int, list[int]] = {}
        for number, rule in enumerate(self.rules):
            first = named.get(rule.moves_with or "")
            if first is not None:
                groups.setdefault(first, [first]).append(number)
        return {each: tuple(group) for group in groups.values() for each in group}
