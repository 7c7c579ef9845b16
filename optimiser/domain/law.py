"""What a market limits and asks for: substances, shares, label names, duties."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, timedelta

from msgspec import Struct, field

from optimiser.domain.material import Origin, Subject
from optimiser.domain.products import holds_for
from optimiser.domain.scenario import Scenario

__all__ = [
    "DUTIES",
    "OWN",
    "READ",
    "SOON",
    "Duty",
    "ScentAllergen",
    "Scope",
    "SharedLimit",
    "SubstanceLimit",
    "Zone",
    "begins_soon",
    "holds",
    "strictest",
]

# How a row was read: in the text itself or an official page, in what restates it,
# or not looked up again; "own" is a row of the maker's without a word on it.
READ = ("retrieved", "secondary", "memory")
OWN = "own"
# What a duty is: words on the label, something to file, words that may not be used,
# a rule that is only proposed, that here none is which is elsewhere, what is left free,
# what of the law is not in the catalogues, and other conditions.
DUTIES = (
    "label", "notify", "claim", "pending", "none pending", "free", "gap", "condition",
)  # fmt: skip
SOON = timedelta(days=366)


class Scope(Struct, frozen=True):
    """For which products, and from which day, a row of law holds.

    ``products`` empty means every kind; ``but`` are kinds it does not hold for.
    ``begins`` is the first day for what is newly placed on the market, ``supply``
    the last day on which older stock may still be supplied. ``read`` is how the row
    was read, one of READ or OWN, blank where nobody said.
    """

    products: tuple[str, ...] = ()
    but: tuple[str, ...] = ()
    begins: date | None = None
    supply: date | None = None
    read: str = ""


class SubstanceLimit(Subject, frozen=True):
    """A cap on a weighted sum of substances, percent of the finished product.

    That of no market in particular ("any") is a habit of the trade and not law.

    ``factors`` maps a constituent to the weight it counts with: 0.7464 turns
    potassium sorbate into sorbic acid. ``high`` 0 means not allowed.
    ``table`` is "preservative" or "restricted". ``names`` are what a constituent is
    called beside its own name.
    """

    market: str
    name: str
    table: str
    use: str
    high: float
    counted_as: str | None
    factors: Mapping[str, float]
    instrument: str
    entry: str
    source: str
    origin: Origin
    scope: Scope = field(default_factory=Scope)
    names: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    @property
    def is_law(self) -> bool:
        """Whether some market's law says so."""
        return self.market != "any"


class SharedLimit(Subject, frozen=True):
    """Several caps whose used shares may add to no more than one.

    ``caps`` maps a constituent to its own cap, percent of the finished product.
    """

    market: str
    group: str
    use: str
    caps: Mapping[str, float]
    instrument: str
    source: str
    origin: Origin


class ScentAllergen(Struct, frozen=True):
    """A name that a label carries above a threshold, percent of the product."""

    market: str
    label_name: str
    substances: tuple[str, ...]
    leave_on: float
    rinse_off: float
    source: str
    scope: Scope = field(default_factory=Scope)


class Duty(Struct, frozen=True):
    """What a market asks for, or leaves free, beside limits on amounts.

    ``kind`` is one of DUTIES. With a ``substance`` it holds for products that hold
    more than ``above`` percent of it, otherwise for every product in its scope.
    ``words`` are those that a label carries, where they are known.
    """

    market: str
    about: str
    kind: str
    use: str
    substance: str | None
    above: float
    text: str
    instrument: str
    entry: str
    source: str
    origin: Origin
    scope: Scope = field(default_factory=Scope)
    words: str = ""


class Zone(Struct, frozen=True):
    """A temperature range to plan for: a climate zone, skin, transit; deg C."""

    name: str
    kind: str
    description: str
    low: float
    high: float
    source: str

    @property
    def told(self) -> str:
        """Its name, what it is, and its warmest temperature.

        >>> Zone("II", "climatic zone", "Mediterranean", 25.0, 25.0, "").told
        'II: Mediterranean, 25 degC'
        """
        about = f"{self.description}, " if self.description else ""
        return f"{self.name}: {about}{self.high:g} degC"


def holds(
    row: SubstanceLimit | Duty, scenario: Scenario, *, day: date | None = None
) -> bool:
    """Return whether a row holds for a scenario's market, product and day."""
    scope = row.scope
    begun = scope.begins is None or scope.begins <= (day or scenario.day)
    return begun and _is_about(row, scenario)


def begins_soon(row: SubstanceLimit | Duty, scenario: Scenario) -> bool:
    """Return whether a row holds for a scenario only later, but within a year."""
    begins = row.scope.begins
    if begins is None or not scenario.day < begins <= scenario.day + SOON:
        return False
    return _is_about(row, scenario)


def begins_later(row: SubstanceLimit | Duty, scenario: Scenario) -> bool:
    """Return whether a row holds for a scenario on some later day, and not yet."""
    begins = row.scope.begins
    return begins is not None and begins > scenario.day and _is_about(row, scenario)


def _is_about(row: SubstanceLimit | Duty, scenario: Scenario) -> bool:
    return (
        row.market in (*scenario.markets, "any")
        and row.use in {"any", scenario.use}
        and holds_for(scenario.product_kinds, row.scope.products, row.scope.but)
    )


def strictest(limits: Iterable[SubstanceLimit]) -> tuple[SubstanceLimit, ...]:
    """Return one limit of each market and name: the lowest of those that hold."""
    lowest: dict[tuple[str, str], SubstanceLimit] = {}
    for limit in limits:
        subject = (limit.market, limit.name)
        known = lowest.get(subject)
        if known is None or limit.high < known.high:
            lowest[subject] = limit
    return tuple(lowest.values())
