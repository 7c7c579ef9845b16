"""Plans: what to buy for batches of several products, and with which formulas."""

from optimiser.studies.plan.lots import Left, Taken, shared_out
from optimiser.studies.plan.packs import Bought
from optimiser.studies.plan.study import plan, purchase
from optimiser.studies.plan.values import Answered, PlanFound, Purchase, Unfit

__all__ = [
    "Answered",
    "Bought",
    "Left",
    "PlanFound",
    "Purchase",
    "Taken",
    "Unfit",
    "plan",
    "purchase",
    "shared_out",
]
