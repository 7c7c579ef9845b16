"""A bar of two fats, made in batches of 24, to be costed in tests: invented."""

from decimal import Decimal

from optimiser.domain.costs import Costs, Labour, Overhead, Packaging, Stated
from optimiser.workshop.costing import Material, Work
from optimiser.workshop.sizes import Size, to_make

D = Decimal

# 60 % at 20 and 40 % at 5: 14 a kg.
FATS = (
    Material("butter", "butter", D(60), D(20), D(30)),
    Material("oil", "oil", D(40), D(5)),
)
NOTHING = Costs("demo/costs.toml")


def stated(number, low=None, high=None):
    return Stated(*(None if x is None else D(str(x)) for x in (number, low, high)))


FULL = Costs(
    "demo/costs.toml",
    packaging=(
        Packaging("tin", stated("0.50", "0.40", "0.80")),
        Packaging("carton", stated("1.20"), D(12)),
    ),
    labour=Labour(stated(15), stated(60), stated("2.5")),
    overheads=(
        Overhead("insurance", stated(30), "month"),
        Overhead("power", stated("1.20"), "batch"),
        Overhead("stamp", stated("0.05"), "unit"),
    ),
    batches_a_month=stated(5),
    not_sold=stated(4),
)


def work(costs=FULL, *, units=24, net=0.06, loss=3.0, overfill=2.0, materials=FATS):
    kg = to_make(units, net, loss=loss, overfill=overfill)
    size = Size(kg, False, units, net, None, loss, overfill)
    return Work(materials, size, D(units), net, costs)
