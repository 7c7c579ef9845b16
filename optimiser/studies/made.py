"""What studies are about and make: formulas, with the facts that tell them apart."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.catalogue import Catalogue
from optimiser.domain.caution import CautionLine
from optimiser.domain.label import INCI_WORDS, WORDS
from optimiser.domain.properties import melts
from optimiser.domain.scenario import Scenario
from optimiser.explaining import cautions, facts
from optimiser.explaining.answer import (
    AllergenLine,
    Change,
    FormulaLine,
    Proof,
    PropertyLine,
)
from optimiser.explaining.basis import Basis, basis
from optimiser.explaining.declared import declared, in_order
from optimiser.explaining.formulate import proof_of
from optimiser.explaining.opinions import Solved
from optimiser.explaining.second_opinion import TOLERANCE, Opinion, asks

__all__ = [
    "About",
    "Made",
    "Miss",
    "Second",
    "Told",
    "by_category",
    "distance",
    "label_order",
    "made",
    "of_amounts",
    "told",
]

PROVED = 1e-4  # a gap of the aim that no price list could show


class About(Struct, frozen=True):
    """The question that a study is about, as its report begins."""

    title: str
    file: str
    use: str
    markets: tuple[str, ...]
    currency: str
    batch_kg: float
    invented: str | None = None  # how many of the prices: "all" or "some"
    invented_of: tuple[str, ...] | None = (
        None  # of what, where no formula's basis tells
    )
    invented_lots: str | None = None

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
            invented=catalogue.invented_prices,
            invented_lots=catalogue.invented_lots,
        )


class Made(Struct, frozen=True):
    """One proved formula of a study.

    ``amounts`` is percent by ingredient key, what is not used left out. ``formula``
    also has a line for each ingredient of the base that left. ``label_order`` holds
    INCI names, the most first. ``held`` says that it was solved again until
    the second opinion held: then it is the best found, not proved the best.
    """

    title: str
    amounts: Mapping[str, float]
    formula: tuple[FormulaLine, ...]
    cost_per_kg: float | None
    change: Change | None
    properties: tuple[PropertyLine, ...]
    allergens: tuple[AllergenLine, ...]
    label_order: tuple[str, ...]
    proof: Proof | None = None
    held: bool = False

    @property
    def cheaper_percent(self) -> float:
        """By how much one as good may be better: the search for it was cut short."""
        gap = 0.0 if self.proof is None else self.proof.gap
        return 0.0 if gap <= PROVED else 100.0 * gap


class Miss(Struct, frozen=True):
    """A window that a formula does not keep by the second opinion, and on which side.

    ``formula`` is its title, ``figure`` what the second opinion says, ``limit`` what
    is asked for; ``side`` is "min" or "max".
    """

    formula: str
    property: str
    at: float | None
    figure: float
    side: str
    limit: float


class Second(Struct, frozen=True):
    """What the second opinion says of the windows of a study's formulas.

    ``asked`` says that the scenario wants it held and not only told. ``lined`` is None
    where it was asked of each formula; else whether one straight rule stood in for it
    in all of them, or, False, straight sums alone. ``known`` says that all could be
    judged; ``missed`` are the windows that do not hold.
    """

    asked: bool
    lined: bool | None
    known: bool
    missed: tuple[Miss, ...]


class Told(Struct, frozen=True):
    """What must be said with some formulas: cautions, and what they rest on.

    ``second`` is what the second opinion says of them, None where nothing asks for
    it; ``formulas`` are their titles and properties. ``held`` says that the second
    opinion had to be held in some of them.
    """

    second: Second | None
    basis: Basis
    formulas: tuple[tuple[str, tuple[PropertyLine, ...]], ...]
    cautions: tuple[CautionLine, ...]
    held: bool = False


def told(
    formulas: Sequence[Made],
    scenario: Scenario,
    catalogue: Catalogue,
    *,
    lined: bool | None = None,
) -> Told:
    """Return what is to be said of all that some formulas use.

    ``lined`` says whether the second opinion is held by straight rules, in a study
    that does not ask it of each formula.
    """
    used: dict[str, float] = {}
    for each in formulas:
        for key, percent in each.amounts.items():
            used[key] = max(percent, used.get(key, 0.0))
    second = None
    if asks(scenario) and formulas:
        second = _by_the_second(formulas, scenario, lined)
    return Told(
        second=second,
        basis=basis(used, scenario, catalogue),
        formulas=tuple((each.title, each.properties) for each in formulas),
        cautions=cautions.cautions(used, scenario, catalogue),
        held=any(each.held for each in formulas),
    )


def _by_the_second(
    formulas: Sequence[Made], scenario: Scenario, lined: bool | None
) -> Second:
    """Return what the second opinion says of the windows of some formulas."""
    windows = [
        (each.title, line)
        for each in formulas
        for line in each.properties
        if melts(line.property) and (line.least, line.most) != (None, None)
    ]
    return Second(
        asked=scenario.second_opinion,
        lined=lined,
        known=all(line.second is not None for _, line in windows),
        missed=tuple(
            miss
            for title, line in windows
            if (miss := _miss(title, line, scenario)) is not None
        ),
    )


def _miss(title: str, line: PropertyLine, scenario: Scenario) -> Miss | None:
    """Return how a window does not hold by the second opinion; None if it does."""
    second = line.second
    if second is None:
        return None
    low = high = second
    least, mid, most = line.low, line.value, line.high
    if scenario.cautious and not (least is None or mid is None or most is None):
        low -= mid - least
        high += most - mid
    where = (title, line.property, line.at, second)
    if line.least is not None and low < line.least - TOLERANCE:
        return Miss(*where, "min", line.least)
    if line.most is not None and high > line.most + TOLERANCE:
        return Miss(*where, "max", line.most)
    return None


def made(title: str, solved: Solved, catalogue: Catalogue) -> Made:
    """Return what is to be said of an answer; its proof comes with it."""
    amounts, proof = solved.amounts, proof_of(solved)
    found = of_amounts(
        title, amounts, solved.scenario, catalogue, proof, solved.opinion
    )
    return replace(found, held=solved.outcome == "held")


def of_amounts(
    title: str,
    amounts: Mapping[str, float],
    scenario: Scenario,
    catalogue: Catalogue,
    proof: Proof | None = None,
    opinion: Opinion | None = None,
) -> Made:
    """Return what is to be said of a formula that is given (percent by key)."""
    return Made(
        title=title,
        amounts=dict(amounts),
        formula=facts.formula_lines(amounts, scenario, catalogue),
        cost_per_kg=facts.cost_per_kg(amounts, catalogue),
        change=facts.change(amounts, scenario, catalogue),
        properties=facts.properties(amounts, scenario, catalogue, opinion),
        allergens=facts.allergens(amounts, catalogue, scenario),
        label_order=label_order(amounts, catalogue, scenario.markets),
        proof=proof,
    )


def label_order(
    amounts: Mapping[str, float], catalogue: Catalogue, markets: Sequence[str] = ()
) -> tuple[str, ...]:
    """Return the INCI names of a formula in the order of its label, the most first.

    Scents stand under the word of the first market.
    """
    first = markets[0] if markets else ""
    scent, flavour = WORDS.get(first, INCI_WORDS)
    names = declared(amounts, catalogue, scent=scent, flavour=flavour)
    return tuple(each.name for each in in_order(names))


def by_category(
    amounts: Mapping[str, float], catalogue: Catalogue, by: str = "category"
) -> dict[str, float]:
    """Return the percent of each category that a formula has, or ``by`` "kind"."""
    sums: dict[str, float] = {}
    for key, percent in amounts.items():
        group = catalogue.ingredients[key].group(by)
        sums[group] = sums.get(group, 0.0) + percent
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
