"""What a maker states of costs, fees, tax and prices: his numbers, as he wrote them.

Money is decimal. None is what he did not state, which is never taken as nothing; an
empty tuple is that there is none, as he says.
"""

from __future__ import annotations

from decimal import Decimal

from msgspec import Struct
from msgspec.structs import replace

from optimiser.domain.catalogue import fold
from optimiser.domain.products import kinds_of

__all__ = [
    "OWN_SALE",
    "SOLD",
    "TO_SHOPS",
    "Costs",
    "Fee",
    "Labour",
    "Overhead",
    "Packaging",
    "PriceWay",
    "Stated",
    "Tax",
]

OWN_SALE, TO_SHOPS = "own sale", "to shops"
SOLD = (OWN_SALE, TO_SHOPS, "both")


class Stated(Struct, frozen=True):
    """A number as stated, and how low and high it may well be, where that is said."""

    value: Decimal
    low: Decimal | None = None
    high: Decimal | None = None


class Packaging(Struct, frozen=True):
    """Something that is packed in; ``price`` of one, which does for so many units.

    ``product`` is what alone it is for: a product as scenarios name it, or a kind of
    product; blank is for all.
    """

    name: str
    price: Stated
    for_units: Decimal = Decimal(1)
    product: str = ""

    def fits(self, product: str | None, use: str) -> bool:
        """Whether it is for a product of a scenario."""
        names = (product or "", *kinds_of(product, use))
        return not self.product or fold(self.product) in map(fold, names)


class Labour(Struct, frozen=True):
    """Minutes of work, and the rate in money an hour."""

    rate: Stated | None = None
    per_batch: Stated | None = None
    per_unit: Stated | None = None


class Overhead(Struct, frozen=True):
    """What is paid whatever is made; ``per`` is month, batch or unit."""

    name: str
    amount: Stated
    per: str


class Fee(Struct, frozen=True):
    """What a sale costs: percent of what the buyer pays, and so much a sale."""

    name: str
    percent: Decimal = Decimal(0)
    per_sale: Decimal = Decimal(0)
    sold: str = "both"


class Tax(Struct, frozen=True):
    """Tax on what is sold, percent of the price before it.

    ``in_prices``: prices are told with it, as the buyer pays them; else it is added.
    """

    rate: Decimal
    in_prices: bool


class PriceWay(Struct, frozen=True):
    """A way of pricing with the maker's own numbers; see `workshop/pricing.py`."""

    name: str
    way: str
    numbers: dict[str, Decimal]


class Costs(Struct, frozen=True):
    """Everything of costs.toml; ``there`` whether the workshop has such a file.

    ``not_sold`` is percent of the units made; ``units_a_sale`` is how many units go in
    one sale, on average. ``invented`` says that its figures are no maker's own.
    ``uncounted`` tells what invented money, in another currency than the workshop's,
    does not count. ``of_others`` is packaging that is for other products.
    """

    file: str
    note: str = ""
    invented: bool = False
    packaging: tuple[Packaging, ...] | None = None
    labour: Labour = Labour()
    overheads: tuple[Overhead, ...] | None = None
    batches_a_month: Stated | None = None
    not_sold: Stated | None = None
    units_a_sale: Decimal | None = None
    fees: tuple[Fee, ...] | None = None
    tax: Tax | None = None
    ways: tuple[PriceWay, ...] = ()
    there: bool = True
    uncounted: tuple[str, ...] = ()
    of_others: tuple[Packaging, ...] = ()

    def of_product(self, product: str | None, use: str) -> Costs:
        """Return the costs of a product of a scenario, by the packaging that is its.

        Where all that is stated is for others, none is stated for it.
        """
        every = self.packaging or ()
        own = tuple(each for each in every if each.fits(product, use))
        others = tuple(each for each in every if each not in own)
        packaging = None if others and not own else self.packaging and own
        return replace(self, packaging=packaging, of_others=others)
