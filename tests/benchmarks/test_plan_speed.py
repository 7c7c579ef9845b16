"""How long a plan takes, and how far off it says it may be.

Run with ``pytest tests/benchmarks/test_plan_speed.py -s``. Nothing asserts a time.
"""

import time
from datetime import date
from pathlib import Path

import pytest
from msgspec.structs import replace

from optimiser.cli.plan import SECONDS
from optimiser.domain.plan import Batch, Plan, Product
from optimiser.reading import read_scenario
from optimiser.studies.plan import plan

SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"
FIVE = (
    "massage_bar",
    "massage_bar_hot",
    "massage_bar_vegan_orange",
    "lip_balm",
    "foot_scrub_bar",
)
DAY = date(2026, 11, 16)


def five(size, shelf):
    """Return a plan of five products, of so many kg each and more."""
    known, products = {}, []
    for number, name in enumerate(FIVE):
        asked, catalogue = read_scenario(SCENARIOS / f"{name}.toml", known=known)
        kg = size * (1.0 + 0.2 * number)
        products.append(Product(asked, (Batch(kg, DAY),), moves=True))
    stock = catalogue.stock if shelf else ()
    return Plan(
        "five", "five.toml", DAY, tuple(products), replace(catalogue, stock=stock)
    )


def on_offer(asked):
    """Return how many packs there are of what the products may be made of."""
    keys = {
        key
        for each in asked.products
        for key in (*each.scenario.only, *each.scenario.base)
    }
    return sum(len(asked.catalogue.prices.get(key, ())) for key in keys)


@pytest.mark.parametrize("shelf", [True, False], ids=["with a shelf", "empty shelf"])
@pytest.mark.parametrize("size", [0.5, 3.0, 12.0])
def test_five_products_in_the_time_of_the_command(size, shelf):
    asked = five(size, shelf)
    begun = time.perf_counter()
    found = plan(asked, SECONDS)
    seconds = time.perf_counter() - begun
    least = found.least or 0.0
    spend = found.purchase.spend
    gap = 100.0 * (spend - least) / max(spend, 0.01)
    packs = sum(each.count for each in found.purchase.bought)
    assert on_offer(asked) >= 40
    print(
        f"\n{size:g} kg and more of five, {'a' if shelf else 'no'} shelf,"
        f" {on_offer(asked)} packs on offer: {seconds:.1f} s,"
        f" {packs} packs, {spend:.2f}, at least {least:.2f} ({gap:.1f} % off),"
        f" as they stand {found.stands:.2f}, apart {found.apart:.2f}"
    )
    assert spend <= found.stands + 1e-6
