"""What a plan comes to: packs, money, and what each product takes of it."""

from __future__ import annotations

from msgspec import Struct

from optimiser.domain.material import Supplier
from optimiser.domain.plan import Plan, Product
from optimiser.explaining import Clash
from optimiser.studies.made import Made, Told
from optimiser.studies.plan.lots import Left, Taken
from optimiser.studies.plan.packs import Bought

__all__ = ["Answered", "OrderPaid", "PlanFound", "Purchase", "Unfit"]


class OrderPaid(Struct, frozen=True):
    """An order: what its packs cost, and what the order itself does."""

    supplier: Supplier
    goods: float
    freight: float


class Purchase(Struct, frozen=True):
    """Packs to buy for given formulas, and the money for them in the currency.

    No purchase for them costs less than ``spend - off``.
    """

    bought: tuple[Bought, ...]
    orders: tuple[OrderPaid, ...]
    spend: float
    off: float


class Answered(Struct, frozen=True):
    """One product of a plan with its formula.

    ``stands`` is the scenario's own answer, ``made`` the formula of the plan, which is
    another one where it ``moved`` (points by ingredient), and not ``in_steps`` where
    no amounts in the steps of its scenario were found for the packs. ``bought`` is
    what it uses of the packs, in money with their freight; ``shelf`` what it takes
    from lots, at what they would cost to buy again (None: some has no price).
    """

    product: Product
    stands: Made
    made: Made
    moved: float
    in_steps: bool
    bought: float
    bought_kg: float
    shelf: float | None
    shelf_kg: float


class PlanFound(Struct, frozen=True, eq=False):
    """What to buy for a plan.

    ``stands`` is the least money for the formulas as they stand, bought for together
    (None: they cannot be bought for); ``apart`` is the same with each product bought
    for by itself. ``least`` is what no formulas inside the rules could be bought for
    less than, where formulas may move (None: the time was up before that was found
    out). ``told`` is of each product.
    """

    plan: Plan
    products: tuple[Answered, ...]
    purchase: Purchase
    stands: float | None
    apart: float | None
    least: float | None
    taken: tuple[Taken, ...]
    left: tuple[Left, ...]
    told: tuple[Told, ...]

    @property
    def moves(self) -> bool:
        """Whether some formula was allowed to move."""
        return any(each.product.moves for each in self.products)

    @property
    def left_worth(self) -> float:
        """What is paid for packs and not used in the plan, in the currency."""
        return self.purchase.spend - sum(each.bought for each in self.products)


class Unfit(Struct, frozen=True, eq=False):
    """A product of the plan has no formula that keeps its rules."""

    product: Product
    clash: Clash
