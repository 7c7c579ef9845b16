"""A rule: one named, linear statement with a lower or an upper side."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np
from msgspec import Struct, field
from msgspec.structs import replace

from optimiser.domain.arrays import Floats, Indices
from optimiser.domain.catalogue import fold
from optimiser.domain.material import Figure, Origin, Subject
from optimiser.domain.wording import Wording
from optimiser.domain.wording import number as written

__all__ = [
    "Column",
    "Goal",
    "Lack",
    "Link",
    "Programme",
    "Row",
    "Rule",
    "Term",
    "eased_ends",
    "ids_told",
    "named",
    "natural",
]

MOST_IDS = 20  # that a message names


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


class Term(Struct, frozen=True):
    """A figure of one ingredient that is in a rule's rows at its usual value.

    One percent of the ingredient adds ``above`` times what its figure comes to above
    the line of the rule's value, and ``below`` times what it takes below it, both by
    the ``mixing`` of the property (see `science.mixing.terms`; ``solid`` is for that
    too). ``doubt`` names what the figure may be off by: two terms of one doubt are off
    together, in whatever rules they stand.
    """

    column: int
    figure: Figure
    mixing: str
    solid: bool
    doubt: tuple[str, str]
    above: float = 1.0
    below: float = 1.0


class Lack(Struct, frozen=True):
    """A figure of an ingredient that a rule needs and nobody knows.

    ``what`` is how it is told ("solid fat at 30 °C"), ``row`` the property to write.
    """

    column: int
    what: str
    row: str


class Rule(Struct, frozen=True, eq=False):
    """One statement that a formula keeps or breaks.

    Its value is ``amounts / (per_constant + per)`` for a formula, in ``unit``, or
    the exponential of it when ``logarithmic``; it keeps the rule when the value is
    at least (``side`` "min"), at most ("max") or exactly ``limit``. Multiplied out
    that is linear: ``amounts - limit * per >= limit * per_constant``.

    ``owner`` says whose it is: wish, law, supplier, practice, assessor, safety,
    model or arithmetic; only wishes, practice, supplier and model rules may be
    eased. ``evidence`` is the weakest evidence among the figures it rests on.

    ``about`` is what was asked for, as a value, where it was asked for by one.
    ``terms`` are the figures that its rows are made of, each with its spread, and
    ``lacking`` those that are not known: what they belong to counts as nothing here,
    so that whoever builds the rule must keep it out, or not judge. ``eased_from`` is
    the limit it had before it was moved; it is not ``movable`` where other rules were
    written for its limit. ``ends`` are the least and the greatest that its limit can
    be, where that is not plain (see `eased_ends`). One that is ``all_or_nothing`` is
    dropped or kept: a share of it means nothing. One that ``counts`` is about how many
    are chosen: its limit is a whole number, without a price while choices are kept.
    One that is not ``told_empty`` is passed over where it is about nothing that can be
    chosen. ``provisos`` follow its sentence after commas, ``why`` and ``whose`` in
    brackets.
    """

    id: str
    wording: Wording
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
    about: Subject | None = None
    terms: tuple[Term, ...] = ()
    lacking: tuple[Lack, ...] = ()
    provisos: tuple[str, ...] = ()
    why: str | None = None
    whose: str | None = None
    eased_from: float | None = None
    movable: bool = True
    ends: tuple[float, float] | None = None
    told_empty: bool = True
    all_or_nothing: bool = False
    counts: bool = False

    @property
    def sentence(self) -> str:
        """The rule in the maker's words, at its limit as it is now."""
        text = ", ".join((self.wording.say(self.side, self.limit), *self.provisos))
        for reason in (self.why, self.whose):
            if reason:
                text += f" ({reason})"
        if self.eased_from is not None:
            before = written(self.eased_from) if self.eased_from else "none"
            text += f" ({self._way} from {before})"
        return text

    @property
    def _way(self) -> str:
        """How it was moved; what is exact has no tighter side."""
        more = self.limit - (self.eased_from or 0.0)
        tighter = more > 0.0 if self.side == "min" else more < 0.0
        return "tightened" if tighter and self.side != "exact" else "eased"

    def moved(self, limit: float) -> Rule:
        """Return the rule with another limit, which its sentence says."""
        was = self.limit if self.eased_from is None else self.eased_from
        return replace(self, limit=limit, eased_from=None if limit == was else was)

    def lacks(self, amounts: Floats) -> tuple[Lack, ...]:
        """Return the figures not known of what is used: it cannot be judged then."""
        return tuple(each for each in self.lacking if amounts[each.column] > 0.0)

    @property
    def may_ease(self) -> bool:
        """Law, safety, an assessor's envelope and arithmetic are never eased."""
        return self.movable and self.owner in {"wish", "supplier", "practice", "model"}

    @property
    def excludes(self) -> bool:
        """Whether it says that something may not be in the formula at all."""
        return self.kind == "exclusion" and self.keeps_out

    @property
    def empty(self) -> bool:
        """Whether it is about nothing that can be chosen, so that it is kept anyway."""
        return self.amounts.columns.size == 0 and self.per.columns.size == 0

    @property
    def of_one(self) -> bool:
        """Whether its value is the amount of one ingredient, in percent."""
        plain = not self.curved and self.per_constant == 1.0
        return plain and self.amounts.coefficients.tolist() == [1.0]

    @property
    def keeps_out(self) -> bool:
        """Whether all that it is about stays at nothing."""
        none = self.side == "max" and self.limit == 0.0 and not self.logarithmic
        return none and bool(np.all(self.amounts.coefficients > 0.0))

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
        summed = np.asarray(np.bincount(columns, weights=values), dtype=np.float64)
        kept = np.flatnonzero(summed)
        return Row(kept, summed[kept]), inner * self.per_constant


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

    def fixed(self) -> dict[str, float]:
        """Return what pins, say, and the base fix: percent by ingredient key."""
        return {
            self.ingredients[int(rule.amounts.columns[0])]: rule.limit
            for rule in self.rules
            if rule.side == "exact" and rule.owner != "arithmetic" and rule.of_one
            if rule.amounts.columns[0] < len(self.ingredients)
        }

    def together(self) -> dict[int, tuple[int, ...]]:
        """Return, by the number of each rule that does not move alone, all of them."""
        named = {rule.id: number for number, rule in enumerate(self.rules)}
        groups: dict[int, list[int]] = {}
        for number, rule in enumerate(self.rules):
            first = named.get(rule.moves_with or "")
            if first is not None:
                groups.setdefault(first, [first]).append(number)
        return {each: tuple(group) for group in groups.values() for each in group}


def named(text: str, rules: Iterable[Rule]) -> list[Rule]:
    """Return the rule with an id, or written under a key; else all about a name.

    Several where a name is that of several rules, none where it is that of none.
    """
    rules = list(rules)
    for found in (
        [rule for rule in rules if rule.id == text],
        [rule for rule in rules if rule.origin.field == text],
        [rule for rule in rules if fold(text) in map(fold, rule.id.split("/"))],
    ):
        if found:
            return found
    return []


def ids_told(rules: Iterable[Rule]) -> str:
    """Return the ids of the rules that somebody asked for, as one phrase."""
    ids = [rule.id for rule in rules if rule.owner not in {"arithmetic", "law"}]
    more = len(ids) - MOST_IDS
    return ", ".join(ids[:MOST_IDS]) + (f" and {more} more" if more > 0 else "")


def natural(rule: Rule) -> tuple[float, float]:
    """Return the least and the greatest limit that mean something, in its unit.

    A sum of amounts is never below nothing, unless a figure in it is: a difference of
    HLB may be, or a property that a catalogue knows below zero. (A rule that moves
    with a window has slopes in its row, not figures, and is read as the window is; the
    exponential of a sum is always above nothing.) In percent the greatest is 100, but
    for a share of something that it is no part of.
    """
    figures = rule.amounts.coefficients
    read = rule.moves_with is None and not rule.logarithmic
    low = -math.inf if read and (figures < 0.0).any() else 0.0
    part = rule.unit == "%" and (figures <= (100.0 + 1e-9) * _below(rule)).all()
    return low, 100.0 if part else math.inf


def eased_ends(rule: Rule) -> tuple[float, float]:
    """Return the least and the greatest limit that a rule can be eased to.

    A share is of 0 to 100 %. What is in percent and adds figures up to more than that
    ends nowhere by itself, like all that is in another unit.
    """
    if rule.ends is not None:
        return rule.ends
    if rule.unit != "%" or (rule.terms and natural(rule)[1] > 100.0):
        return -math.inf, math.inf
    return 0.0, 100.0


def _below(rule: Rule) -> Floats:
    """Return what 1 % of each column above the line counts below it.

    A constant counts for all amounts alike, for they add up to 100 %.
    """
    columns = rule.amounts.columns
    below = np.full(columns.size, rule.per_constant / 100.0)
    if rule.per.columns.size:
        per = dict(zip(rule.per.columns, rule.per.coefficients, strict=True))
        below += [per.get(each, 0.0) for each in columns]
    return below
