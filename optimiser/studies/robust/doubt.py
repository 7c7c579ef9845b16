"""What is not certain: prices, weighing, and the figures of ingredients."""

from __future__ import annotations

from collections.abc import Iterator

from msgspec import Struct

from optimiser.domain.bench import FineScale, Scales
from optimiser.domain.rule import Programme, Rule, Term
from optimiser.errors import InputError, Problem
from optimiser.science.mixing import terms

__all__ = ["Doubt", "judged", "room_of", "spread"]

# Shares that the maker set are kept to half of the 0.1 % a formula is written in.
HALF_A_STEP = 0.05
# Of a batch: with a scale that misses more, nothing can be said of shares.
MOST_MISSED = 0.1
STRICT = frozenset({"law", "safety", "assessor"})
# Rules that chance does not touch: what is weighed and what is counted.
NOT_JUDGED = frozenset(
    {"total", "exclusion", "near", "choice", "stock", "least", "pin", "minor"}
)


class Doubt(Struct, frozen=True):
    """How far things may be off.

    ``prices_percent``: each price moves on its own, evenly, by up to so many percent.
    ``weighing_kg``: each weighing is off, evenly, by up to so much, but by the step of
    the ``fine`` scale where that bears it. ``figures``: properties lie between their
    low and high figures.
    """

    prices_percent: float = 10.0
    weighing_kg: float = 0.0
    figures: bool = True
    fine: FineScale | None = None

    def off_at(self, kg: float) -> float:
        """Return by how much a weighing of so much may be off, kg."""
        return Scales.of(self.weighing_kg, self.fine).step_at(kg)

    def check(self, batch_kg: float) -> None:
        """Say what makes no sense for a batch of so many kg.

        Raises
        ------
        InputError
        """
        problems = []
        if not 0 <= self.prices_percent < 100:
            fix = "give a percentage from 0 to below 100"
            found = f"{self.prices_percent:g}"
            problems.append(
                Problem("is no move of a price", None, None, "--prices", found, fix)
            )
        if self.weighing_kg < 0:
            fix = 'write it like "0.1 g"'
            found = f"{self.weighing_kg * 1000:g} g"
            problems.append(
                Problem("is no error of a scale", None, None, "--weighing", found, fix)
            )
        if self.off_at(batch_kg) > MOST_MISSED * batch_kg:
            wrong = f"is more than a tenth of the batch of {batch_kg:g} kg"
            fix = "give the error of a finer scale, or make a larger batch"
            found = f"{self.weighing_kg * 1000:g} g"
            problems.append(Problem(wrong, None, None, "--weighing", found, fix))
        if problems:
            raise InputError(problems)


def judged(programme: Programme) -> Iterator[tuple[int, Rule]]:
    """Yield the rules that a weighed batch keeps or breaks, with their numbers."""
    size = len(programme.ingredients)
    for number, rule in enumerate(programme.rules):
        columns = [*rule.amounts.columns, *rule.per.columns]
        inside = bool(columns) and max(columns) < size
        if inside and rule.kind not in NOT_JUDGED and rule.owner != "arithmetic":
            yield number, rule


def room_of(rule: Rule) -> float:
    """Return by how much a rule may be missed and still count as kept."""
    if rule.owner in STRICT or rule.terms or rule.unit != "%":
        return 0.0
    return HALF_A_STEP


def spread(rule: Rule, term: Term) -> float:
    """Return how far a figure at its worst end moves a rule's row, per percent."""

    def coefficient(number: float) -> float:
        above, below = terms(term.mixing, number, term.solid)
        return term.above * above - rule.inner(rule.limit) * term.below * below

    usual = coefficient(term.figure.value)
    ends = [coefficient(end) for end in (term.figure.low, term.figure.high)]
    worst = min(ends) - usual if rule.side == "min" else usual - max(ends)
    return max(0.0, -worst)
