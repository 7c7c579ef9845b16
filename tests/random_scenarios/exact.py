"""Aims in exact rational arithmetic: no tolerance, no rounding, no library.

The rows of the independent model are taken as fractions and solved by a simplex of
the tests' own on whole numbers; what is chosen or comes in steps is tried out, every
set and every formula. For small questions only.
"""

import math
from collections.abc import Iterator, Mapping
from fractions import Fraction
from itertools import combinations

import numpy as np
from msgspec import Struct

# Numbers of a file have few decimals; what was computed from them is taken as the
# nearest fraction, which is off by less than 1e-18.
PARTS = 10**9
RIGHT, VALUE = "right", "value"


def fraction(number):
    """A number as the fraction that it was written as."""
    return Fraction(float(number)).limit_denominator(PARTS)


class Line(Struct, frozen=True):
    """``low <= row . x <= high`` in fractions; None where a side is open."""

    row: Mapping[int, Fraction]
    low: Fraction | None
    high: Fraction | None


class Tableau:
    """Lines over columns that are at least 0, kept as rows of whole numbers.

    Each row is scaled by some number above 0; its basic column stands alone in it.
    """

    def __init__(self, lines):
        self.rows, self.basis = [], []
        self.out, self.worse = set(), set()  # at nothing for good; nothing gained by
        self.next = 1 + max((c for line in lines for c in line.row), default=0)
        made = []
        for line in lines:
            if line.low is not None and line.low == line.high:
                self._add(line.row, line.low, 0, made)
                continue
            if line.high is not None:
                self._add(line.row, line.high, 1, made)
            if line.low is not None:
                self._add(line.row, line.low, -1, made)
        self.feasible = self._started(made)

    def _add(self, row, bound, slack, made):
        """One row as an equality, with a column of its own if nothing else stands."""
        row = dict(row) | {RIGHT: bound}
        column = self._column() if slack else None
        if slack:
            row[column] = Fraction(slack)
        if row[RIGHT] < 0 or (row[RIGHT] == 0 and slack < 0):
            row = {c: -each for c, each in row.items()}
        if column is None or row[column] < 0:
            column = self._column()
            row[column] = Fraction(1)
            made.append(column)
        self.rows.append(_whole(row))
        self.basis.append(column)

    def _column(self):
        self.next += 1
        return self.next

    def _started(self, made):
        """Bring the columns that were made up to nothing; whether that can be."""
        if not made:
            return True
        if self.least(dict.fromkeys(made, Fraction(1))) > 0:
            return False
        outs = set(made)
        for number in reversed(range(len(self.rows))):
            if self.basis[number] in outs:
                others = [c for c in self.rows[number] if c != RIGHT and c not in outs]
                if others:
                    self._pivot(number, min(others))
                else:  # it says what other rows say
                    del self.rows[number], self.basis[number]
        self._drop(outs)
        return True

    def _drop(self, columns):
        """Leave columns at nothing for good."""
        self.out |= columns
        for row in self.rows:
            for column in columns & row.keys():
                del row[column]

    def least(self, goal):
        """The least of a goal, from where the last one ended (Bland's rule)."""
        told = {c: -each for c, each in goal.items() if c not in self.out}
        self.rows.append(_whole(told | {VALUE: Fraction(1), RIGHT: Fraction(0)}))
        self.basis.append(VALUE)
        last = len(self.rows) - 1
        for number in range(last):
            if self.rows[last].get(self.basis[number]):
                self._clear(last, number, self.basis[number])
        while True:
            aim = self.rows[last]
            better = [c for c, a in aim.items() if a > 0 and isinstance(c, int)]
            if not better:
                break
            column = min(better)
            places = [n for n in range(last) if self.rows[n].get(column, 0) > 0]
            if not places:
                raise ArithmeticError("no least")
            leaving = min(
                places,
                key=lambda n: (
                    Fraction(self.rows[n].get(RIGHT, 0), self.rows[n][column]),
                    self.basis[n],
                ),
            )
            self._pivot(leaving, column)
        aim = self.rows.pop()
        self.basis.pop()
        self.worse = {c for c, a in aim.items() if a < 0 and isinstance(c, int)}
        return Fraction(aim.get(RIGHT, 0), aim[VALUE])

    def hold(self, goal, room):
        """Let a goal be over the least just found by no more than some room."""
        if room == 0:  # what would make it worse stays at nothing
            self._drop(self.worse)
            return
        column, bound = self._column(), self.value(goal) + room
        kept = {c: each for c, each in goal.items() if c not in self.out}
        self.rows.append(_whole(kept | {RIGHT: bound, column: Fraction(1)}))
        self.basis.append(column)
        last = len(self.rows) - 1
        for number in range(last):
            if self.rows[last].get(self.basis[number]):
                self._clear(last, number, self.basis[number])

    def value(self, goal):
        """A goal where we stand."""
        return sum((each * self.at(c) for c, each in goal.items()), Fraction(0))

    def at(self, column):
        """One column where we stand."""
        if column not in self.basis:
            return Fraction(0)
        row = self.rows[self.basis.index(column)]
        return Fraction(row.get(RIGHT, 0), row[column])

    def _pivot(self, number, column):
        if self.rows[number][column] < 0:
            row = self.rows[number]
            self.rows[number] = {c: -each for c, each in row.items()}
        self.basis[number] = column
        for other in range(len(self.rows)):
            if other != number and self.rows[other].get(column):
                self._clear(other, number, column)

    def _clear(self, number, by, column):
        """Take a column out of one row with the row that it stands alone in."""
        row, other = self.rows[number], self.rows[by]
        mine, theirs = other[column], row[column]
        made = {c: each * mine for c, each in row.items()}
        for c, each in other.items():
            left = made.get(c, 0) - each * theirs
            if left:
                made[c] = left
            else:
                made.pop(c, None)
        shared = math.gcd(*made.values())
        if shared > 1:
            made = {c: each // shared for c, each in made.items()}
        self.rows[number] = made


def _whole(row):
    """A row scaled to whole numbers, noughts left out."""
    by = math.lcm(*(each.denominator for each in row.values()))
    return {c: int(each * by) for c, each in row.items() if each}


class Exact:
    """The independent model of a question in fractions.

    ``held`` is what an earlier aim may be off by, in parts of itself, for those after
    it: the room that a solver of limited digits has to leave.
    """

    def __init__(self, model, moved=None, held=0):
        self.model, self.held = model, Fraction(held)
        self.goals = [_sparse(goal) for goal in model.goals]
        self.rooms = [fraction(room) for _, room in model.asked.aims]
        amounts = set(model.at["amount"].tolist()) | set(model.at["used"].tolist())
        told = []
        for name, each in model.rules.items():
            row, low, high = each.row((moved or {}).get(name, each.limit))
            told.append(Line(_sparse(row), _side(low), _side(high)))
        spoken = {c for line in told for c in line.row}
        spoken |= {c for goal in self.goals for c in goal} | amounts
        defined = [
            Line(_sparse(row), _side(low), _side(high))
            for row, low, high in zip(*model._definitions(), strict=True)
        ]
        self.lines = [*told, *(line for line in defined if spoken >= line.row.keys())]
        self.flags = [int(c) for c in model.at["used"]]
        # The rules on amounts alone, and what they leave, less than rounding apart.
        rules = [each.row(each.limit) for each in model.rules.values()]
        plain = np.delete(np.arange(model.size), model.at["amount"])
        rules = [each for each in rules if not each[0][plain].any()]
        self.rough = np.array([row[model.at["amount"]] for row, _, _ in rules])
        near = 1e-6 * (1.0 + 100.0 * np.abs(self.rough).max(axis=1))
        self.least = np.array([low for _, low, _ in rules]) - near
        self.most = np.array([high for _, _, high in rules]) + near

    def sets(self) -> Iterator[frozenset[int] | None]:
        """Every set of ingredients that may count as used, as their flags' columns."""
        flags = {
            int(self.model.at["used"][self.model.keys.index(key)])
            for key in self.model.counted
        }
        for size in range(len(flags) + 1):
            yield from map(frozenset, combinations(sorted(flags), size))

    def best(self):
        """Each aim's least, in order, whatever is chosen; None if nothing fits."""
        found, holds = [], []
        sets = list(self.sets())
        for number in range(len(self.goals)):
            values = {used: self._least(used, number, holds) for used in sets}
            known = {u: value for u, value in values.items() if value is not None}
            if not known:
                if number:
                    raise ArithmeticError("an earlier aim cannot be held")
                return None
            sets = list(known)
            least = min(known.values())
            found.append(least)
            room = self.rooms[number] + self.held * max(1, abs(least))
            holds.append((self.goals[number], least + room))
        return found

    def kept(self, choices, tops=None):
        """Each aim's least in order with what counts as used told for each of them.

        Those before are held at ``tops``, or else at their own least and their slack;
        the list ends where that cannot be. None where nothing fits.
        """
        found, holds = [], []
        for number, used in enumerate(choices):
            flags = [
                int(self.model.at["used"][place])
                for place, key in enumerate(self.model.keys)
                if key in (used or ())
            ]
            least = self._from_nothing(frozenset(flags), number, holds)
            if least is None:
                break
            found.append(least)
            top = least + self.rooms[number] if tops is None else tops[number]
            holds.append((self.goals[number], top))
        return found or None

    def least_shown(self, column, price):
        """The least percent of a column in what is shown at a price of it per kg."""
        goals = []
        for (name, _), goal in zip(
            self.model.asked.aims, self.model.goals, strict=True
        ):
            priced = goal.copy()
            if name == "cost":
                priced[column] = price / 100.0
            goals.append(_sparse(priced))
        self.goals = [*goals, {int(column): Fraction(1)}]
        self.rooms = [*self.rooms, Fraction(0)]
        return self.best()[-1]

    def _least(self, used, number, holds):
        if not self.model.counted and number:  # one set: from where the last one ended
            goal, top = holds[-1]
            self.one.hold(goal, top - self.one.value(goal))
            return self.one.least(self.goals[number])
        return self._from_nothing(used, number, holds)

    def _from_nothing(self, used, number, holds):
        kept = dict.fromkeys(self.flags, Fraction(0)) | dict.fromkeys(used, Fraction(1))
        if not self.model.counted:
            kept = {}
        lines = [_with(line, kept) for line in self.lines]
        lines += [_with(Line(goal, None, top), kept) for goal, top in holds]
        if not all(_holds(line) for line in lines if not line.row):
            return None
        lines = [line for line in lines if line.row]
        self.one = Tableau(lines)
        if not self.one.feasible:
            return None
        goal = self.goals[number]
        rest = sum((a * kept[c] for c, a in goal.items() if c in kept), Fraction(0))
        return rest + self.one.least({c: a for c, a in goal.items() if c not in kept})

    # -- in whole steps ------------------------------------------------------------

    def best_in_steps(self, step, fixed, *, rest, fine):
        """The same over every formula in whole steps; None where none keeps the rules.

        Parameters
        ----------
        step : mapping of key to Fraction
        fixed : mapping of key to Fraction
            What has no step.
        rest : bool
            Whether one may take what is left to 100, in steps of ``fine``.
        """
        keys = [key for key in self.model.keys if key not in fixed]
        left = Fraction(100) - sum(fixed.values(), Fraction(0))
        ways = [(keys, None)]
        if rest:
            takers = [key for key in keys if step[key] > fine]
            ways += [([k for k in keys if k != t], t) for t in takers]
        values = set()
        for among, taker in ways:
            for formula in _formulas(among, step, left):
                over = left - sum(formula.values(), Fraction(0))
                if over % fine if taker else over:
                    continue
                whole = formula | fixed | ({taker: over} if taker else {})
                if self._may_keep(whole):
                    values |= self._values(whole)
        found = []
        for number, room in enumerate(self.rooms):
            if not values:
                return None
            found.append(min(each[number] for each in values))
            values = {e for e in values if e[number] <= found[-1] + room}
        return found

    def _may_keep(self, formula):
        """Whether a formula breaks no rule by far, seen quickly and not exactly."""
        amounts = np.array([float(formula[key]) for key in self.model.keys])
        values = self.rough @ amounts
        return bool((values > self.least).all() and (values < self.most).all())

    def _values(self, formula):
        """The aims at a formula, as a set of one; of none where it breaks a rule."""
        x = self.model.columns({key: float(each) for key, each in formula.items()})
        at = _sparse(x)
        if not all(_holds(_with(line, at, every=True)) for line in self.lines):
            return set()
        return {
            tuple(
                sum((a * at.get(c, 0) for c, a in goal.items()), Fraction(0))
                for goal in self.goals
            )
        }


def _formulas(keys, step, left):
    """Every formula of some ingredients in whole steps, up to what is left."""
    if not keys:
        yield {}
        return
    key, *others = keys
    share = Fraction(0)
    while share <= left:
        for each in _formulas(others, step, left - share):
            yield {key: share} | each
        share += step[key]


def _sparse(row):
    return {int(c): fraction(row[c]) for c in np.flatnonzero(row)}


def _side(bound):
    return fraction(bound) if math.isfinite(bound) else None


def _with(line, values, *, every=False):
    """A line with the values of some columns put in, or of all of them."""
    known = sum((a * values.get(c, 0) for c, a in line.row.items()), Fraction(0))
    row = {} if every else {c: a for c, a in line.row.items() if c not in values}
    return Line(
        row,
        None if line.low is None else line.low - known,
        None if line.high is None else line.high - known,
    )


def _holds(line):
    return (line.low is None or line.low <= 0) and (line.high is None or line.high >= 0)
