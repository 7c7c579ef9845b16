"""What studies are about and make: formulas, with the facts that tell them apart."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from msgspec import Struct

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.rule import Programme
from optimiser.domain.scenario import Scenario
from optimiser.explaining import cautions, facts, notes
from optimiser.explaining.answer import Change, FormulaLine, Proof, PropertyLine
from optimiser.explaining.second_opinion import asks
from optimiser.solving import Optimum

__all__ = [
    "About",
    "Made",
    "Told",
    "by_category",
    "distance",
    "label_order",
    "made",
    "of_amounts",
    "told",
]


BY_SUMS = (
    "windows on solid fat and firmness are held by straight sums here; `formulate` and"
    " `why` also ask the second opinion, so their answer can be another, and dearer"
)


class About(Struct, frozen=True):
    """The question that a study is about, as its report begins."""

    title: str
    file: str
    use: str
    markets: tuple[str, ...]
    currency: str
    batch_kg: float

    @classmethod
    def of(cls, scenario: Scenario, catalogue: Catalogue) -> About:
        """Return what is to be said of a scenario."""
        return cls(
            title=scenario.title,
            file=scenario.file,
            use=scenario.use,
            markets=scenario.markets,
            currency=catalogue.currency,
            batch_kg=scenario.batch_kg,
        )


class Made(Struct, frozen=True):
    """One proved formula of a study.

    ``amounts`` is percent by ingredient key, what is not used left out. ``formula``
    also has a line for each ingredient of the base that left. ``label_order`` holds
    names of ingredients, the most first.
    """

    title: str
    amounts: Mapping[str, float]
    formula: tuple[FormulaLine, ...]
    cost_per_kg: float | None
    change: Change | None
    properties: tuple[PropertyLine, ...]
    allergens: tuple[tuple[str, str], ...]
    label_order: tuple[str, ...]
    proof: Proof | None = None


class Told(Struct, frozen=True):
    """What must be said with some formulas: cautions, and what was not checked."""

    notes: tuple[str, ...]
    cautions: tuple[str, ...]


def told(
    formulas: Iterable[Mapping[str, float]], scenario: Scenario, catalogue: Catalogue
) -> Told:
    """Return the notes and cautions of all that some formulas use (percent by key)."""
    used: dict[str, float] = {}
    for amounts in formulas:
        for key, percent in amounts.items():
            used[key] = max(percent, used.get(key, 0.0))
    sums = (BY_SUMS,) if asks(scenario) else ()
    return Told(
        (*sums, *notes.notes(used, scenario, catalogue)),
        cautions.cautions(used, scenario, catalogue),
    )


def made(
    title: str,
    programme: Programme,
    optimum: Optimum,
    scenario: Scenario,
    catalogue: Catalogue,
) -> Made:
    """Return what is to be said of an optimum; its proof comes with it."""
    amounts = {
        key: round(float(optimum.amounts[column]), 8)
        for column, key in enumerate(programme.ingredients)
        if optimum.amounts[column] > facts.TRACE
    }
    by = "search" if programme.whole else "duality"
    proof = Proof(optimum.worst_violation, optimum.gap, by)
    return of_amounts(title, amounts, scenario, catalogue, proof)


def of_amounts(
    title: str,
    amounts: Mapping[str, float],
    scenario: Scenario,
    catalogue: Catalogue,
    proof: Proof | None = None,
) -> Made:
    """Return what is to be said of a formula that is given (percent by key)."""
    return Made(
        title=title,
        amounts=dict(amounts),
        formula=facts.formula_lines(amounts, scenario, catalogue),
        cost_per_kg=facts.cost_per_kg(amounts, catalogue),
        change=facts.change(amounts, scenario, catalogue),
        properties=facts.properties(amounts, scenario, catalogue),
        allergens=facts.allergens(amounts, catalogue),
        label_order=label_order(amounts, catalogue),
        proof=proof,
    )


def label_order(amounts: Mapping[str, float], catalogue: Catalogue) -> tuple[str, ...]:
    """Return the names of a formula's ingredients, the most first.

    Shares that print alike (to 0.01 %) stand by name, so rounding moves nothing.
    """
    used = [key for key, percent in amounts.items() if percent > facts.TRACE]
    used.sort(
        key=lambda key: (-round(amounts[key], 2), catalogue.ingredients[key].name)
    )
    return tuple(catalogue.ingredients[key].name for key in used)


def by_category(amounts: Mapping[str, float], catalogue: Catalogue) -> dict[str, float]:
    """Return the percent of each category that a formula has."""
    sums: dict[str, float] = {}
    for key, percent in amounts.items():
        category = catalogue.ingredients[key].category
        sums[category] = sums.get(category, 0.0) + percent
    return sums


def distance(first: Mapping[str, float], second: Mapping[str, float]) -> float:
    """Return how far two formulas are apart, in points.

    Half the sum of absolute moves, over ingredients or over categories.

    >>> distance({"a": 60, "b": 40}, {"a": 50, "c": 50})
    50.0
    """
    keys = {**first, **second}
    moves = (abs(first.get(key, 0.0) - second.get(key, 0.0)) for key in keys)
    return sum(moves) / 2.0
