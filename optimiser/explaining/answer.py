"""What an answer holds; presenting turns it into text, JSON and CSV."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar

from msgspec import Struct, field

from optimiser.domain.caution import CautionLine
from optimiser.domain.rule import Rule
from optimiser.explaining.basis import Basis, LawLine
from optimiser.explaining.ties import Tie

__all__ = [
    "AllergenLine",
    "Answer",
    "Change",
    "Checked",
    "Clash",
    "Easing",
    "FormulaLine",
    "LabelName",
    "LeftOut",
    "OpinionLine",
    "Price",
    "Proof",
    "PropertyLine",
    "RuleLine",
    "SecondOpinion",
    "StepsTaken",
    "TotalClash",
    "Unused",
    "WayOut",
]


class FormulaLine(Struct, frozen=True):
    """One ingredient of the answer; ``cost_per_kg_product`` is money per kg made.

    ``percent`` 0 with a ``base_percent`` is an ingredient that left.
    """

    ingredient: str
    name: str
    category: str
    percent: float
    grams: float
    price_per_kg: float | None
    cost_per_kg_product: float | None
    base_percent: float | None


class Price(Struct, frozen=True):
    """Change of the aim ``of`` per unit of room, and the limit it holds to.

    ``until`` None means that it holds without end.
    """

    of: str
    price: float
    until: float | None


class RuleLine(Struct, frozen=True):
    """A rule at the answer. ``value`` None where it has no meaning (no lipids).

    ``ease`` and ``tighten`` are None for rules that do not bind, and ``tighten``
    also where the limit cannot be tightened at all, or, with ``jumps``, where the
    smallest step changes the aim by a jump (a window at the figure of its only
    ingredient). A pin has a price of ``lowering`` and one of ``raising`` it.
    """

    rule: Rule
    value: float | None
    slack: float | None
    binding: bool
    ease: Price | None = None
    tighten: Price | None = None
    lowering: Price | None = None
    raising: Price | None = None
    jumps: bool = False


class Unused(Struct, frozen=True):
    """An ingredient that might be used and is not; None: no price brings it in."""

    ingredient: str
    name: str
    price_per_kg: float | None
    enters_below: float | None


class PropertyLine(Struct, frozen=True):
    """A property of the answer; None where a figure is not known (see ``missing``).

    ``second`` is the figure by the second opinion, ``doubt`` points either way; None
    where it has none. ``least`` and ``most`` are what a window asks, if one does.
    Of what is missing, ``unknown`` are names of which nobody knows what they are;
    ``without`` those of which there is so little that the figure leaves them aside,
    with their percent of the product.
    ``rough`` names of what there is so much that the figure is a rough guess, each with
    its percent: "lauric" fats in the butters, or "wax" in the lipids.
    """

    property: str
    at: float | None
    over: str
    low: float | None
    value: float | None
    high: float | None
    unit: str
    missing: tuple[str, ...] = ()
    second: float | None = None
    doubt: float | None = None
    least: float | None = None
    most: float | None = None
    unknown: tuple[str, ...] = ()
    without: tuple[tuple[str, float], ...] = ()
    rough: tuple[tuple[str, float], ...] = ()


class OpinionLine(Struct, frozen=True):
    """A window by straight sum and by the second opinion, in the rule's unit.

    ``second`` is None where nothing can be said; ``relative`` says that it counts
    from the base's own correction.
    """

    rule: Rule
    linear: float | None
    second: float | None
    doubt: float | None
    holds: bool | None
    relative: bool


class SecondOpinion(Struct, frozen=True):
    """What a melting model says of the windows, and what came of it.

    ``outcome`` is "agrees" (nothing to do), "held" (solved again until it agreed),
    "not reached" (no formula that it agrees with was found; ``nearest`` is as far as
    one came), "told" (it is asked for no more than that) or
    "unknown" (it knows too little of what ``unknown`` names). ``first`` are the aims
    by straight sums alone, and ``before`` the second figures then, one a line.
    ``nearest`` has one figure for each line that could be judged.
    """

    outcome: str
    lines: tuple[OpinionLine, ...]
    rounds: int = 0
    starts: int = 0
    first: tuple[tuple[str, float, str], ...] = ()
    before: tuple[float | None, ...] = ()
    nearest: tuple[float, ...] = ()
    unknown: tuple[str, ...] = ()


class Change(Struct, frozen=True):
    """Distance from the base in points: half the sum of absolute moves."""

    by_ingredient: float
    by_kind: float
    by_category: float


class Proof(Struct, frozen=True):
    """The worst broken rule (its own unit) and the relative gap to the bound.

    ``by`` says what the gap rests on: "duality" for a continuous question,
    "search" (the solver's own bound) and duality with the choices kept otherwise.
    """

    worst_violation: float
    gap: float
    by: str = "duality"


class LeftOut(Struct, frozen=True):
    """An ingredient that could not be considered, and why."""

    ingredient: str
    name: str
    why: str


class KeptOut(Struct, frozen=True):
    """An ingredient of the base, or asked for, that an exclusion keeps out.

    ``lacking`` is the table that does not say whether it is what is kept out; "" where
    that is known.
    """

    name: str
    wish: str
    lacking: str = ""


class AllergenLine(Struct, frozen=True, order=True):
    """An ingredient that brings an allergen, or may, and whether it is ``listed``.

    ``flag`` says why it is told where no authority lists it; without one, it was never
    classified for any allergen, and its supplier has to be asked. ``new`` says that a
    list names the allergen, and nothing of the scenario's base brings it. ``out`` says
    that the scenario keeps the allergen out; new is then each thing to ask about that
    the base does not have.
    """

    allergen: str
    name: str
    listed: tuple[str, ...] = ()
    flag: str = ""
    new: bool = False
    out: bool = False


class LabelName(Struct, frozen=True):
    """A scent allergen over its threshold; ``percent`` at the high end."""

    market: str
    name: str
    percent: float
    threshold: float
    from_ingredients: tuple[str, ...]


class StepsTaken(Struct, frozen=True):
    """The steps that the formula is written in, percent; ``own`` by key or category.

    ``kept`` is False where no formula fits in them: then it is written without, and
    ``finer`` is a step that would do. ``rest`` names the ingredient that takes what is
    left to 100. ``aims`` and ``cost_per_kg`` are those of the answer without steps.
    With ``cut`` the search was ended before it knew: there may be a better formula in
    these steps, or, where none is ``kept``, one at all. ``as_good`` are names of what
    came in, each with those that could stand there as well.
    """

    step: float
    own: Mapping[str, float]
    kept: bool
    rest: str | None
    finer: float | None
    aims: tuple[tuple[str, float, str], ...]
    cost_per_kg: float | None
    cut: bool = False
    as_good: Mapping[str, tuple[str, ...]] = field(default_factory=dict)


class Answer(Struct, frozen=True):
    """A formula that keeps every rule, and why it is the one.

    ``tie`` is another, clearly different formula that does as well, where one is.
    ``room`` is by how much each aim may be over its least for those after it.
    ``base_keeps`` says whether the base keeps every rule; None without a base.
    """

    title: str
    file: str
    use: str
    markets: tuple[str, ...]
    currency: str
    cost_per_kg: float | None
    base_cost_per_kg: float | None
    batch_kg: float
    aims: tuple[tuple[str, float, str], ...]
    formula: tuple[FormulaLine, ...]
    rules: tuple[RuleLine, ...]
    unused: tuple[Unused, ...]
    properties: tuple[PropertyLine, ...]
    change: Change | None
    proof: Proof
    choices_kept: bool
    solver: str
    basis: Basis
    allergens: tuple[AllergenLine, ...] = ()
    label_names: tuple[LabelName, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    cautions: tuple[CautionLine, ...] = ()
    second_opinion: SecondOpinion | None = None
    tie: Tie | None = None
    room: Mapping[str, float] = field(default_factory=dict)
    steps: StepsTaken | None = None
    base_keeps: bool | None = None
    kept_out: tuple[KeptOut, ...] = ()
    status: ClassVar[str] = "answered"


class Easing(Struct, frozen=True):
    """One rule, and the limit it would need."""

    rule: Rule
    to: float


class WayOut(Struct, frozen=True):
    """Easings that make an answer possible, solved again and proved.

    ``cost_per_kg`` is None where the question does not price its ingredients, and
    ``change`` where there is no base. With ``cut`` the search for what it comes to was
    ended early: in the steps that the scenario asks for it may be less, or, where it
    is not ``stepped``, more.
    """

    easings: tuple[Easing, ...]
    cost_per_kg: float | None
    change: Change | None
    cut: bool = False
    stepped: bool = True

    @property
    def lets_in(self) -> bool:
        """Whether it lets in something that is to be kept out."""
        return any(each.rule.excludes for each in self.easings)

    @property
    def asks_supplier(self) -> bool:
        """Whether it goes past a supplier's limit, which is not the maker's to move."""
        return any(each.rule.owner == "supplier" for each in self.easings)


class TotalClash(Struct, frozen=True):
    """A smallest set of rules that cannot all hold with one total of emulsifiers."""

    total: float
    rules: tuple[Rule, ...]


class BandsMiss(Struct, frozen=True):
    """Bands over separate categories whose minimums, or maximums, miss 100 %.

    ``total`` is what the "min" or "max" of them add up to, percent.
    """

    side: str
    total: float


class BaseHeld(Struct, frozen=True):
    """A rule that the base misses by more than the change from it may be.

    ``value`` is what the base has there, percent.
    """

    value: float
    rule: Rule


class Clash(Struct, frozen=True):
    """A smallest set of rules that cannot all hold.

    ``causes`` are structural causes, when one is seen; ``others`` are
    further clashes that share no rule with it; ``ways_out`` are the smallest easings,
    smallest first; ``left_out`` are ingredients that were not considered; ``law`` is
    what each market asks to be kept. With ``cut`` a search was ended early: there may
    be a smaller clash, and more ways or smaller easings. ``totals`` are the clashes of
    other totals of emulsifiers, where they are of other rules.
    """

    title: str
    file: str
    rules: tuple[Rule, ...]
    causes: tuple[str | BandsMiss | BaseHeld | KeptOut, ...] = ()
    currency: str = ""
    others: tuple[tuple[Rule, ...], ...] = ()
    ways_out: tuple[WayOut, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    law: tuple[LawLine, ...] = ()
    cut: bool = False
    totals: tuple[TotalClash, ...] = ()
    status: ClassVar[str] = "clash"


class Checked(Struct, frozen=True):
    """A given formula held against a scenario's rules.

    ``missing`` says what could not be judged; ``status`` is "kept" or "broken".
    A rule is broken where its slack is below zero by more than rounding.
    ``told`` says what its reading took for granted: conversions, its use.
    """

    title: str
    file: str
    use: str
    markets: tuple[str, ...]
    currency: str
    cost_per_kg: float | None
    batch_kg: float
    formula: tuple[FormulaLine, ...]
    lines: tuple[RuleLine, ...]
    properties: tuple[PropertyLine, ...]
    change: Change | None
    status: str
    basis: Basis
    missing: tuple[str, ...] = ()
    allergens: tuple[AllergenLine, ...] = ()
    label_names: tuple[LabelName, ...] = ()
    cautions: tuple[CautionLine, ...] = ()
    second_opinion: SecondOpinion | None = None
    told: tuple[str, ...] = ()
