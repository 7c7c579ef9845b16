"""How recipes use ingredients: how many name each, how much, and what limits it."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from functools import cached_property

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.exclusions import contains
from optimiser.domain.material import MINOR
from optimiser.domain.rule import Rule
from optimiser.domain.scenario import Scenario
from optimiser.rules import law, limits
from optimiser.rules.space import Space
from optimiser.studies.survey.summaries import members
from optimiser.studies.survey.values import Recipe, Wishes

__all__ = ["ALIKE", "Usage", "seen_ingredients"]

# Categories of which one does about what another does.
OWN = frozenset(
    {
        "scent",
        "colour",
        "antioxidant",
        "exfoliant",
        "powder",
        "emulsifier",
    }
)
ALIKE = frozenset({"liquid oil", "butters", "hard butter", "soft butter", "water"})


def seen_ingredients(recipes: Iterable[Recipe], alone: bool = False) -> Counter[str]:
    """Return how many recipes name each ingredient, alone or in a choice."""
    return Counter(
        key
        for recipe in recipes
        for key in dict.fromkeys(  # in order, so that of ties it is the first
            key
            for line in recipe.lines
            if line.status in {"read", "no amount"}
            and (not alone or line.match.ingredient is not None)
            for key in line.match.options
        )
    )


class Usage:
    """What is known of an ingredient before it stands in for a bare category.

    Parameters
    ----------
    of_class : sequence of Recipe
        All recipes of the class.
    elsewhere : iterable of Recipe
        Those of other classes; gone through once, and only for a base.
    catalogue, wishes
        Prices, limits, and the use and the markets that limits are for.
    """

    def __init__(
        self,
        of_class: Sequence[Recipe],
        elsewhere: Iterable[Recipe],
        catalogue: Catalogue,
        wishes: Wishes,
    ) -> None:
        self.catalogue = catalogue
        self.wishes = wishes
        self._of_class = tuple(of_class)
        self._elsewhere = elsewhere

    @cached_property
    def _all(self) -> tuple[Recipe, ...]:
        return (*self._of_class, *self._elsewhere)

    @cached_property
    def _counts(self) -> tuple[Counter[str], ...]:
        """Return who names each: in the class, alone there, anywhere, alone."""
        others = self._all[len(self._of_class) :]
        own, alone = (seen_ingredients(self._of_class, each) for each in (False, True))
        return (
            own,
            alone,
            own + seen_ingredients(others),
            alone + seen_ingredients(others, alone=True),
        )

    @cached_property
    def _most(self) -> Mapping[str, float]:
        """Return the most that a recipe gives: of the class, or else of all."""
        return {**_most(self._all), **_most(self._of_class)}

    @cached_property
    def _ceilings(self) -> Mapping[str, tuple[float, Rule]]:
        return _ceilings(self.catalogue, self.wishes)

    def priced(self, key: str) -> bool:
        """Whether it can be in a base: no workshop, or one with a price for it."""
        if self.wishes.workshop is None:
            return True
        return self.catalogue.price_per_kg(key) is not None

    def named(self, key: str) -> bool:
        """Whether a recipe of any class names it."""
        return self._counts[2][key] > 0

    def ceiling(self, key: str) -> float:
        """Return what law, supplier and practice allow of it alone, percent."""
        found = self._ceilings.get(key)
        return 100.0 if found is None else found[0]

    def lowering(self, key: str) -> Rule | None:
        """Return the rule that allows the least of it, or None."""
        found = self._ceilings.get(key)
        return None if found is None else found[1]

    def held(self, key: str) -> float:
        """Return the most that recipes give it, percent; no end if none does."""
        return self._most.get(key, math.inf)

    def rank(self, key: str) -> tuple[float, ...]:
        """Return how usual it is: how many recipes name it, and the most of it.

        Those of the class come first, then all; in each, those that name it outside
        a choice decide between equals.
        """
        return (*(each[key] for each in self._counts), self._most.get(key, 0.0))

    def harmless(self, key: str) -> bool:
        """Whether it is no food allergen that anybody lists, as far as is known."""
        markets = self.wishes.markets
        return not any(
            contains(self.catalogue, key, each, markets, "listed")
            for each in self.catalogue.allergens
        )

    def ranked(self, category: str) -> list[str]:
        """Return what may stand in for a category, the one most often named first.

        Never an allergen. Oils, butters and water are alike enough that any of them
        may; of waxes, preservatives and such what any recipe names, and of scents,
        grains and what else differs by kind what recipes of the class name themselves.
        Where none of these has a price, others of their kind may, or else they do
        without one.
        """
        alike = category in ALIKE
        among = [
            key
            for key, each in self.catalogue.ingredients.items()
            if each.category in members(category) and self.harmless(key)
        ]
        whose = self._counts[0 if category in OWN else 2]
        named = [key for key in among if alike or whose[key] > 0]
        priced = [key for key in named if self.priced(key)]
        if named and not priced and category != "scent":
            kinds = {self.catalogue.ingredients[key].kind for key in named} - {None}
            priced = [
                key
                for key in among
                if self.priced(key) and self.catalogue.ingredients[key].kind in kinds
            ]
        return sorted(priced or named, key=self.rank, reverse=True)

    def of_their_kinds(self, seen: Iterable[str]) -> frozenset[str]:
        """Return ingredients of the same kinds that may be taken where some do not do.

        Never an allergen, what is there in small doses, or what is of animals where
        nothing else is.
        """
        known, seen = self.catalogue.ingredients, frozenset(seen)
        kinds = {(known[key].category, known[key].kind) for key in seen}
        animal = any(known[key].vegan == "no" for key in seen)
        return frozenset(
            key
            for key, each in known.items()
            if each.kind is not None
            and (each.category, each.kind) in kinds
            and each.category not in MINOR
            and (animal or each.vegan != "no")
            and self.priced(key)
            and self.harmless(key)
        )


def _most(recipes: Iterable[Recipe]) -> dict[str, float]:
    """Return the most of each ingredient in one line; one of a choice may be all."""
    most: dict[str, float] = {}
    for recipe in recipes:
        for line in recipe.lines:
            percent = 0.0 if line.percent is None else line.percent.value
            if line.match.mixed and line.match.options:
                percent /= len(line.match.options)
            for key in line.match.options if percent > 0.0 else ():
                most[key] = max(most.get(key, 0.0), percent)
    return most


def _ceilings(catalogue: Catalogue, wishes: Wishes) -> dict[str, tuple[float, Rule]]:
    """Return the most of each ingredient that limits on it allow, and which does."""
    scenario = Scenario(
        title=wishes.title,
        file="",
        workshop="",
        use=wishes.use,
        markets=wishes.markets,
        batch_kg=1.0,
        aims=(),
        product=wishes.title,
    )
    space = Space(scenario, catalogue, tuple(catalogue.ingredients))
    least: dict[str, tuple[float, Rule]] = {}
    for rule in (*limits.rules(space), *law.rules(space)):
        row, bound = rule.linear(rule.limit)
        if rule.side != "max":
            continue
        for column, each in zip(row.columns, row.coefficients, strict=True):
            key = space.ingredients[column]
            if each > 0.0:
                most = bound / float(each)
                if most < least.get(key, (100.0,))[0]:
                    least[key] = (most, rule)
    return least
