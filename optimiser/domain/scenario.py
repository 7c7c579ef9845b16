"""What a maker asks for: a product, its base, and the rules it must keep."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from typing import TypeVar

from msgspec import Struct, field

from optimiser.domain.material import Origin, Subject
from optimiser.domain.products import kinds_of
from optimiser.domain.wording import number

__all__ = [
    "AIMS",
    "CHANGES",
    "Aim",
    "Bound",
    "Choice",
    "Emulsify",
    "Envelope",
    "EnvelopeList",
    "Exclusions",
    "Scenario",
    "Steps",
    "Window",
]

Asked = TypeVar("Asked", bound=Subject)

AIMS = ("cost", "change", "kind change", "category change", "count", "bought")
# What an aim of change counts by.
CHANGES = {
    "change": "ingredient",
    "kind change": "kind",
    "category change": "category",
}


class Aim(Struct, frozen=True):
    """One thing to make as small as possible; ``slack`` in the aim's own unit.

    cost (money/kg), change (points by ingredient), kind and category change (points),
    count (number of ingredients), bought (percent not covered by the shelf).
    """

    name: str
    slack: float = 0.0


class Bound(Subject, frozen=True):
    """A share of one thing with a lower or upper side, percent of a part.

    ``what`` is a category, an ingredient key or a constituent, by the list it is in.
    ``files`` are sides, "min" or "max", with their files, that were written elsewhere
    than ``origin`` says.
    """

    what: str
    low: float | None
    high: float | None
    of: str
    why: str | None
    origin: Origin
    files: tuple[tuple[str, str], ...] = ()

    def written(self, side: str) -> Origin:
        """Return where one side was written, its entry at least."""
        file = dict(self.files).get(side, self.origin.file)
        return Origin(file, self.origin.row, self.origin.field)


class Window(Subject, frozen=True):
    """A property of a part of the formula with a lower or upper side.

    ``at`` in deg C or None; ``at_text`` is how the maker wrote it ("storage").
    ``low_as`` and ``high_as`` say of a side that it is the base's own figure, and
    where: "as the base at 25 °C".
    """

    property: str
    at: float | None
    at_text: str | None
    over: str
    low: float | None
    high: float | None
    why: str | None
    origin: Origin
    low_as: str | None = None
    high_as: str | None = None

    def rule_id(self, side: str, named: str = "window") -> str:
        """Return the id of its rule of a side, under which a scenario eases it."""
        at = "" if self.at is None else f"/{number(self.at)} degC"
        return f"{named}/{self.property}{at}/{self.over}/{side}"


class Choice(Subject, frozen=True):
    """How many ingredients of a category (or "all") may be used."""

    what: str
    at_least: int | None
    at_most: int | None
    why: str | None
    origin: Origin


class Emulsify(Subject, frozen=True):
    """Emulsifiers whose HLB meets what the lipids require, to ``within``.

    ``totals`` are the totals to choose from, percent of the lipids: with the total
    fixed the rule is linear, so each is tried.
    """

    totals: tuple[float, ...]
    within: float
    origin: Origin


class Exclusions(Struct, frozen=True):
    """What must stay out. ``reading`` is "listed" or "cautious"."""

    allergens: tuple[str, ...] = ()
    reading: str = "listed"
    ingredients: tuple[str, ...] = ()
    categories: tuple[str, ...] = ()
    vegan: bool = False
    palm_free: bool = False
    origins: Mapping[str, Origin] = field(default_factory=dict)


class EnvelopeList(Subject, frozen=True):
    """One list of an assessor's envelope: its members' caps and its total."""

    name: str
    low: float | None
    high: float | None
    caps: Mapping[str, float]
    origin: Origin


class Envelope(Struct, frozen=True):
    """A locked set of lists; an ingredient on no list may not be used."""

    title: str
    lists: tuple[EnvelopeList, ...]
    origin: Origin


class Steps(Struct, frozen=True):
    """Steps that amounts are written in, percent of the product.

    ``own`` are those of single ingredients (by key) and categories.
    """

    step: float
    own: Mapping[str, float]
    origin: Origin


class Scenario(Struct, frozen=True):
    """Everything a maker asks for, with names resolved to catalogue keys.

    ``base`` sums to 100. ``only`` empty means every ingredient may be chosen.
    ``parts`` are the built-in parts and the scenario's own, as ingredient keys'
    categories or keys themselves. ``eased`` maps a rule's id to the limit that it
    has here instead of its own, or to None for a rule that does not count.
    ``on`` is the day whose law counts, None for today; ``unchecked`` are markets
    of which nothing is in the catalogues, as the maker knows.
    ``second_opinion`` False: the melting model is only told, and does not hold the
    windows; ``margin``: room is kept on straight sums of solid fat instead.
    ``cost_asked`` tells that its own aims ask for cost, and no study does: it can do
    without.
    """

    title: str
    file: str
    workshop: str
    use: str
    markets: tuple[str, ...]
    batch_kg: float
    aims: tuple[Aim, ...]
    product: str | None = None
    on: date | None = None
    unchecked: tuple[str, ...] = ()
    cautious: bool = False
    base: Mapping[str, float] = field(default_factory=dict)
    only: frozenset[str] = frozenset()
    exclude: Exclusions = field(default_factory=Exclusions)
    bands: tuple[Bound, ...] = ()
    limits: tuple[Bound, ...] = ()
    constituents: tuple[Bound, ...] = ()
    windows: tuple[Window, ...] = ()
    choices: tuple[Choice, ...] = ()
    least_if_used: Mapping[str, tuple[float, Origin]] = field(default_factory=dict)
    pins: tuple[Bound, ...] = ()
    closeness: tuple[Bound, ...] = ()
    stock_only: Origin | None = None
    envelope: Envelope | None = None
    zone: str | None = None
    lauric_guard: Bound | None = None
    wax_guard: Bound | None = None
    emulsify: Emulsify | None = None
    steps: Steps | None = None
    second_opinion: bool = True
    margin: Origin | None = None
    parts: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    eased: Mapping[str, tuple[float | None, Origin]] = field(default_factory=dict)
    origins: Mapping[str, Origin] = field(default_factory=dict)
    others: tuple[Subject, ...] = ()
    cost_asked: bool = False

    def asked_for(self, kind: type[Asked]) -> Iterator[Asked]:
        """Yield what is asked for of a kind that is in ``others``."""
        return (each for each in self.others if isinstance(each, kind))

    @property
    def asked_by_name(self) -> frozenset[str]:
        """Keys of ingredients that it has in its base, or asks for one by one.

        A least share of 0 asks for one too; a limit without sides is no rule, but
        brings one into the question.
        """
        least = (x for x in self.limits if x.low is not None or x.high is None)
        return frozenset((*self.base, *(x.what for x in (*self.pins, *least))))

    @property
    def let_in(self) -> frozenset[str]:
        """Keys of ingredients that a command lets in: by a limit without sides."""
        open_ = (x for x in self.limits if x.low is None and x.high is None)
        named = {*self.base, *(x.what for x in self.pins)}
        return frozenset(x.what for x in open_) - named

    @property
    def product_kinds(self) -> tuple[str, ...]:
        """The kinds of its product, by name and use; of domain.products."""
        return kinds_of(self.product, self.use)

    @property
    def day(self) -> date:
        """The day whose law counts."""
        return self.on or date.today()
