"""Prices: identities of margin and mark-up, tax in prices and on them, sums by hand."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from optimiser.domain.costs import Costs, Fee, Labour, Packaging, PriceWay, Tax
from optimiser.workshop.costing import Material, costing_of
from optimiser.workshop.pricing import (
    Impossible,
    at_price,
    by_way,
    for_margin,
    tax_in,
)
from tests.workshop.costed import stated, work

D = Decimal

NOTHING = (Material("air", "air", D(100), D(0)),)


def costing(cost, **changed):
    """Return the costing of one unit that costs so much, in one part."""
    costs = Costs("c", packaging=(Packaging("all", stated(cost)),), fees=())
    costs = replace(costs, **changed)
    return costing_of(work(costs, units=1, materials=NOTHING, loss=0.0, overfill=0.0))


# Solution of a problem on cost-plus pricing in Hilton, Managerial Accounting (read on a
# page of its solutions, author and title from memory): a price of 600 is 100 % above a
# cost of 300, 48.15 % above 405, 14.29 % above 525, 73.91 % above 345.
@pytest.mark.parametrize(
    ("cost", "mark_up"), [(300, 100.0), (405, 48.15), (525, 14.29), (345, 73.91)]
)
def test_mark_ups_of_a_textbook_are_found(cost, mark_up):
    found = at_price(costing(cost), D(600))
    assert float(found.mark_up) == pytest.approx(mark_up, abs=0.005)


# Horngren, Datar and Rajan, Cost Accounting, 14th edition, 2012, chapter 12 (from
# memory): a full cost of 720 and a mark-up of 12 % make a price of 806.40.
def test_a_textbooks_cost_plus_price_is_found():
    way = PriceWay("plus 12 %", "times cost", {"times": D("1.12")})
    (found,) = by_way(costing(720), way)
    assert found.paid == D("806.40")


# The same, chapter 3 (from memory): at a price of 200 and a cost of 120 of the unit 80
# is left, 40 % of the price.
def test_a_textbooks_margin_is_found_both_ways():
    found = at_price(costing(120), D(200))
    assert (found.left, found.margin) == (80, 40)
    assert for_margin(costing(120), D(40)).paid == 200


# The share of tax in a price is r / (1 + r): 1/6 at 20 %, 7/47 at 17.5 %, 1/21 at 5 %
# (the VAT fractions of the UK's tax office).
@pytest.mark.parametrize(
    ("rate", "over", "under"), [("20", 1, 6), ("17.5", 7, 47), ("5", 1, 21)]
)
def test_tax_in_a_price_is_the_known_fraction_of_it(rate, over, under):
    assert tax_in(D(under * 1000), D(rate)) == over * 1000


# By hand: 235 with 17.5 % in it is 200 and 35; on 200 it is 35 as well.
def test_tax_is_taken_out_of_a_price_that_has_it_and_put_on_one_that_has_not():
    inside = at_price(costing(0, tax=Tax(D("17.5"), True)), D(235))
    assert (inside.paid, inside.net, inside.tax) == (235, 200, 35)
    onto = at_price(costing(0, tax=Tax(D("17.5"), False)), D(200))
    assert (onto.paid, onto.net, onto.tax) == (235, 200, 35)
    assert at_price(costing(0), D(200)).tax is None


FEES = (
    Fee("card", D("1.5"), D("0.20")),
    Fee("stall", D(20), D(0), "own sale"),
    Fee("post", D(0), D(3), "to shops"),
)


# By hand: of 12.00 with 20 % in it 2.00 is tax; the card takes 0.18 and half of 0.20,
# the stall 2.40; 10.00 - 0.28 - 2.40 - 3.00 leaves 4.32.
def test_what_is_left_of_a_price_is_what_a_sum_by_hand_gives():
    costs = {"fees": FEES, "tax": Tax(D(20), True), "units_a_sale": D(2)}
    found = at_price(costing(3, **costs), D(12))
    assert found.fees == (("card", D("0.28")), ("stall", D("2.40")))
    assert found.left == D("4.32")
    assert found.margin == D("43.2")
    assert found.mark_up == 144
    shops = at_price(costing(3, **costs), D(12), sold="to shops")
    assert shops.fees == (("card", D("0.28")), ("post", D("1.50")))


PRICES = st.decimals("0.01", 500, places=2)
PERCENTS = st.decimals(0, 40, places=1)


@given(
    cost=PRICES, price=PRICES, rate=PERCENTS, percent=PERCENTS, a_sale=PRICES,
    inside=st.booleans(),
)  # fmt: skip
def test_the_lines_of_a_price_always_add_up(cost, price, rate, percent, a_sale, inside):
    fees = (Fee("card", percent, a_sale), Fee("stall", D(7)))
    found = at_price(costing(cost, fees=fees, tax=Tax(rate, inside)), price)
    off = sum(amount for _, amount in found.fees)
    assert found.paid - found.tax - off - found.cost == found.left
    assert found.paid == price if inside else found.net == price
    for each in (found.tax, found.left, off):
        assert each == round(each, 2)
    # Tax is that of the price before it, to half a cent and the cent it is in.
    assert abs(found.tax - found.net * rate / 100) <= D("0.0075")


@given(
    cost=PRICES, margin=PERCENTS, rate=PERCENTS, percent=PERCENTS, inside=st.booleans()
)
def test_the_price_for_a_margin_leaves_it_and_is_the_least_that_does(
    cost, margin, rate, percent, inside
):
    percent /= 2  # with tax and margin less than all of a price
    fees, tax = (Fee("card", percent),), Tax(rate, inside)
    asked = costing(cost, fees=fees, tax=tax)
    found = for_margin(asked, margin)
    assert found.margin >= margin
    told = found.paid if inside else found.net
    if told > D("0.01"):
        before = at_price(asked, told - D("0.01"))
        assert before.margin is None or before.margin < margin
    # n = c / (1 - m - f (1 + r)), but for cents rounded: two at most, over the room.
    room = 1 - margin / 100 - percent / 100 * (1 + rate / 100)
    assert abs(found.net - cost / room) <= D("0.02") / room + D("0.02")


@given(cost=PRICES, margin=st.decimals(1, 80, places=1))
def test_margin_and_mark_up_are_the_same_thing_told_twice(cost, margin):
    found = for_margin(costing(cost), margin)
    # With u of the cost and m of the price: m = u / (1 + u).
    up = found.mark_up / 100
    assert found.margin / 100 == pytest.approx(up / (1 + up))


def test_a_margin_that_fees_leave_no_room_for_is_impossible_and_says_why():
    found = for_margin(costing(3, fees=(Fee("stall", D(30)),)), D(70))
    assert isinstance(found, Impossible)
    assert found.why.startswith("70 % of margin and fees of 30 % of the price")

    # With tax in prices 30 % of what is paid is 36 % of the price before it.
    taxed = costing(3, fees=(Fee("stall", D(30)),), tax=Tax(D(20), True))
    assert isinstance(for_margin(taxed, D(65)), Impossible)
    assert for_margin(taxed, D(60)).margin >= 60


WORKED = {"labour": Labour(stated(15), stated(60), None)}


# By hand: one unit of 2.00 and an hour at 15 costs 17.00. Materials times four are
# nothing here, and the work 15; 40 an hour asks for 42 before tax, of which the card
# takes 1.5 % of 42 with tax.
def test_each_way_of_pricing_is_what_its_name_says():
    asked = costing(2, **WORKED)
    numbers = {
        "times cost": ({"times": D("2.5")}, ["42.50"]),
        "times materials": ({"times": D(4)}, ["15.00"]),
        "margin": ({"percent": D(50)}, ["34.00"]),
        "by the hour": ({"an_hour": D(40)}, ["42.00"]),
        "wholesale, then retail": ({"times": D(2), "then_times": D(2)}, ["34", "68"]),
    }
    for way, (number, wanted) in numbers.items():
        found = by_way(asked, PriceWay(way, way, number))
        assert [each.paid for each in found] == [D(each) for each in wanted], way


def test_materials_times_a_number_count_materials_only():
    asked = costing_of(work())
    (found,) = by_way(asked, PriceWay("x", "times materials", {"times": D(4)}))
    # 21.199175 of materials and 30 of work, over 23.04: 4 * 0.92 + 1.30.
    assert found.paid == D("4.98")


def test_by_the_hour_pays_the_hour_after_tax_and_fees():
    taxed = {"tax": Tax(D(20), True), "fees": (Fee("card", D("1.5")),), **WORKED}
    (found,) = by_way(
        costing(2, **taxed), PriceWay("x", "by the hour", {"an_hour": D(40)})
    )
    # 42 / (1 - 0.015 * 1.2) = 42.7699 before tax, 51.32 with it.
    assert found.paid == D("51.32")
    assert found.an_hour >= 40
    (none,) = by_way(costing(2), PriceWay("x", "by the hour", {"an_hour": D(40)}))
    assert isinstance(none, Impossible)


def test_shops_pay_wholesale_with_their_own_fees_and_retail_is_a_sale_of_ones_own():
    way = PriceWay(
        "shops", "wholesale, then retail", {"times": D(2), "then_times": D(2)}
    )
    whole, retail = by_way(costing(3, fees=FEES, tax=Tax(D(20), True)), way)
    assert (whole.net, retail.net) == (6, 12)
    assert [name for name, _ in whole.fees] == ["card", "post"]
    assert [name for name, _ in retail.fees] == ["card", "stall"]
