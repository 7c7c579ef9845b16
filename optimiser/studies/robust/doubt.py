"""What is not certain: prices, weighing, and the figures of ingredients."""

from __future__ import annotations

from collections.abc import Iterator

from msgspec import Struct

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.material import Figure
from optimiser.domain.properties import Property, property_named
from optimiser.domain.rule import Programme, Rule
from optimiser.domain.scenario import Scenario, Window
from optimiser.errors import InputError, Problem
from optimiser.rules.space import Space
from optimiser.science.mixing import is_solid, terms
from optimiser.science.properties import figure

__all__ = ["Doubt", "Member", "judged", "members_of", "room_of", "window_of"]

# Shares that the maker set are kept to half of the 0.1 % a formula is written in.
HALF_A_STEP = 0.05
# Of a batch: with a scale that misses more, nothing can be said of shares.
MOST_MISSED = 0.1
STRICT = frozenset({"law", "safety", "assessor"})
# Rules that chance does not touch: what is weighed and what is counted.
NOT_JUDGED = frozenset({"total", "exclusion", "choice", "stock", "least", "pin"})


class Doubt(Struct, frozen=True):
    """How far things may be off.

    ``prices_percent``: each price moves on its own, evenly, by up to so many percent.
    ``weighing_kg``: each weighing is off, evenly, by up to so much. ``figures``:
    properties lie between their low and high figures.
    """

    prices_percent: float = 10.0
    weighing_kg: float = 0.0
    figures: bool = True

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
        if self.weighing_kg > MOST_MISSED * batch_kg:
            wrong = f"is more than a tenth of the batch of {batch_kg:g} kg"
            fix = "give the error of a finer scale, or make a larger batch"
            found = f"{self.weighing_kg * 1000:g} g"
            problems.append(Problem(wrong, None, None, "--weighing", found, fix))
        if problems:
            raise InputError(problems)


class Member(Struct, frozen=True):
    """An ingredient of a window with its figure; ``source`` names its doubt.

    Doubts of one source move together: a lot that is harder at one temperature is
    harder at the next, and firmness is solid fat but for waxes.
    """

    column: int
    key: str
    figure: Figure
    solid: bool
    source: tuple[str, str]


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
    if rule.owner in STRICT or rule.kind == "window" or rule.unit != "%":
        return 0.0
    return HALF_A_STEP


def window_of(rule: Rule, scenario: Scenario) -> Window | None:
    """Return the window that a rule was written for."""
    if rule.kind != "window":
        return None
    place = (rule.origin.field or "").rsplit(".", 1)[0]
    for window in scenario.windows:
        if window.origin.field == place and window.origin.file == rule.origin.file:
            return window
    return None


def members_of(
    window: Window, space: Space, catalogue: Catalogue
) -> tuple[Property, list[Member]] | None:
    """Return a window's property and the ingredients it is over."""
    kind = property_named(window.property, catalogue)
    if kind is None:
        return None
    found = []
    for column in space.members(window.over):
        key = space.ingredients[column]
        known = figure(catalogue, window.property, key, window.at)
        if known is not None:
            solid = is_solid(catalogue, key)
            source = kind.source(catalogue.ingredients[key].category).name
            found.append(Member(column, key, known, solid, (source, key)))
    return kind, found


def spread(rule: Rule, kind: Property, member: Member) -> float:
    """Return how far a figure at its worst end moves a rule's row, per percent."""

    def coefficient(number: float) -> float:
        above, below = terms(kind, number, member.solid)
        return above - rule.inner(rule.limit) * below

    usual = coefficient(member.figure.value)
    ends = [coefficient(end) for end in (member.figure.low, member.figure.high)]
    worst = min(ends) - usual if rule.side == "min" else usual - max(ends)
    return max(0.0, -worst)
