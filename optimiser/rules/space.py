"""The columns a programme is written over, and the helpers rules share."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import PARTS, UNKNOWN, Ingredient
from optimiser.domain.rule import Column, Link, Row
from optimiser.domain.scenario import Scenario
from optimiser.domain.unknown import may_hold
from optimiser.science.strength import strengths

__all__ = ["LEAST_CHOSEN", "Space"]

# What "use at least two butters" counts as used when no least dose is given, in %.
LEAST_CHOSEN = 0.1
DEEPEST = 8  # parts inside parts


class Space:
    """Ingredients as columns, plus the helping columns that rules ask for.

    Parameters
    ----------
    scenario, catalogue
        What is asked and what is known.
    chosen : sequence of str
        Keys of the ingredients that may be used, in order; column ``i`` is the
        percentage of ``chosen[i]``.
    """

    def __init__(
        self, scenario: Scenario, catalogue: Catalogue, chosen: Sequence[str]
    ) -> None:
        self.scenario = scenario
        self.catalogue = catalogue
        self.ingredients = tuple(chosen)
        self.index = {key: i for i, key in enumerate(self.ingredients)}
        self.columns = [Column("amount", key, 0.0, 100.0) for key in self.ingredients]
        self.links: list[Link] = []
        self._used: dict[int, int] = {}
        self._categories: dict[str, list[int]] = {}
        for i, key in enumerate(self.ingredients):
            category = catalogue.ingredients[key].category
            self._categories.setdefault(category, []).append(i)
        self._members: dict[str, tuple[int, ...]] = {}
        self._distance: dict[str, Row] = {}

    def ingredient(self, column: int) -> Ingredient:
        """Return the ingredient of an amount column."""
        return self.catalogue.ingredients[self.ingredients[column]]

    def members(self, part: str) -> tuple[int, ...]:
        """Return the amount columns of a part: categories, ingredients or parts."""
        if part not in self._members:
            self._members[part] = tuple(sorted(self._columns_of(part)))
        return self._members[part]

    def may_be_in(self, part: str) -> tuple[int, ...]:
        """Return the columns of what is unknown and may belong to a part."""
        found = may_hold(self._named_in(part))
        return tuple(self._categories.get(UNKNOWN, ())) if found else ()

    def _columns_of(self, part: str) -> set[int]:
        found: set[int] = set()
        for name in self._named_in(part):
            found.update(self._categories.get(name, ()))
            if name in self.index:
                found.add(self.index[name])
        return found

    def _named_in(self, part: str, depth: int = 0) -> frozenset[str]:
        """Return the ingredients, categories and parts that a part is made of."""
        inside = self.scenario.parts.get(part) or PARTS.get(part, ())
        if depth >= DEEPEST or not inside:
            return frozenset({part})
        more = (self._named_in(each, depth + 1) for each in inside if each != part)
        return frozenset({part}).union(*more)

    def sum_of(self, columns: Iterable[int], factor: float = 1.0) -> Row:
        """Return the row that adds columns up."""
        return Row.of((i, factor) for i in columns)

    def add(self, column: Column) -> int:
        """Add a helping column and return its number."""
        self.columns.append(column)
        return len(self.columns) - 1

    def used(self, column: int) -> int:
        """Return the 0-or-1 column that says whether an ingredient is used."""
        if column not in self._used:
            key = self.ingredients[column]
            flag = self.add(Column("used", key, 0.0, 1.0, whole=True))
            self._used[column] = flag
            # Not a limit of the maker's, however tight: a definition is never eased.
            row = Row.of([(column, 1.0), (flag, -100.0)])
            self.links.append(Link(row, -math.inf, 0.0))
        return self._used[column]

    def distance(self, by: str) -> Row:
        """Return the change from the base, in points, by ingredient, kind or category.

        Both formulas sum to 100, so half the sum of absolute moves is the sum of
        the moves upward; only what the base holds needs a helping column. Of a kind or
        a category waxes count by their strength: half as much candelilla is as much
        wax as the beeswax it stands in for.
        """
        if by not in self._distance:
            own, pairs = self.scenario.base, list[tuple[int, float]]()
            times = strengths(self.ingredients, own, self.catalogue, by)
            for name, columns in self._groups(by).items():
                counted = [(i, times[self.ingredients[i]]) for i in columns]
                base = sum(
                    own.get(self.ingredients[i], 0.0) * each for i, each in counted
                )
                if base == 0.0:
                    pairs += counted
                    continue
                moved = self.add(Column("moved", f"{by}: {name}"))
                row = Row.of([*counted, (moved, -1.0)])
                self.links.append(Link(row, -math.inf, base))
                pairs.append((moved, 1.0))
            self._distance[by] = Row.of(pairs)
        return self._distance[by]

    def _groups(self, by: str) -> dict[str, list[int]]:
        groups: dict[str, list[int]] = {}
        for i in range(len(self.ingredients)):
            groups.setdefault(self.ingredient(i).group(by), []).append(i)
        return groups
