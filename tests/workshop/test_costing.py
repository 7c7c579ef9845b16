"""What a unit costs: hand-worked sums, a textbook's, and lines that always add up."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from optimiser.domain.costs import Costs, Labour, Overhead, Packaging
from optimiser.workshop.cost_moves import moves
from optimiser.workshop.costing import LABOUR, MATERIALS, Material, costing_of, in_cents
from tests.workshop.costed import FATS, FULL, NOTHING, stated, work

D = Decimal

CENT = D("0.01")


# By hand, for 24 bars of 60 g at 14 a kg: 1.44 kg is 20.16; 2 % over it 0.4032; what
# is lost is 1.44 * 1.02 / 0.97 - 1.44 * 1.02 kg = 0.0454268 kg, 0.635975. Tins 12.00;
# cartons of 12 2.40; work 60 + 24 * 2.5 = 120 min at 15 = 30.00; insurance 30 / 5 =
# 6.00; power 1.20; stamps 1.20.
BY_HAND = {
    "in the units": "20.16",
    "overfill": "0.4032",
    "lost": "0.635975",
    "tin": "12",
    "carton": "2.40",
    "": "30",
    "insurance": "6",
    "power": "1.20",
    "stamp": "1.20",
}


def test_a_batch_costs_what_a_sum_by_hand_gives():
    found = costing_of(work())
    told = {x.name: float(x.batch) for x in found.lines if x.kind != "not sold"}
    wanted = {name: pytest.approx(float(sum_)) for name, sum_ in BY_HAND.items()}
    assert told == wanted
    assert float(found.batch) == pytest.approx(73.999175)
    # 4 % of 24 are not sold: 23.04 carry it all.
    assert float(found.unit) == pytest.approx(73.999175 / 23.04)
    assert float(found.hours) == pytest.approx(2 / 23.04)
    assert found.complete is True
    assert {each.what for each in found.not_counted} == {"fees", "tax on sales"}


# Horngren, Datar and Rajan, Cost Accounting, 14th edition, 2012, exhibit 12-5 (read in
# an excerpt): 385 of material, 53 of labour and 57 of machining are 495 of direct
# cost; 8.50, 30.00 and 6.50 of overhead are 45; the unit costs 540 to make.
def test_a_textbooks_unit_cost_is_found_from_its_parts():
    paid = {"machining": "57", "ordering": "8.50", "testing": "30", "rework": "6.50"}
    costs = Costs(
        "costs.toml",
        packaging=(Packaging("kit", stated(385)),),
        # 530 000 hours at 20 for 200 000 units: 159 minutes each.
        labour=Labour(stated(20), stated(0), stated(159)),
        overheads=tuple(
            Overhead(name, stated(amount), "unit") for name, amount in paid.items()
        ),
    )
    nothing = (Material("air", "air", D(100), D(0)),)
    found = costing_of(work(costs, materials=nothing, loss=0.0, overfill=0.0))
    assert found.of_kind(LABOUR) == 53 * 24
    direct = [x.unit for x in found.lines if x.name in {"kit", "", "machining"}]
    assert sum(direct) == 495
    assert found.unit == 540


def test_what_nobody_stated_is_named_and_never_counted_as_nothing():
    found = costing_of(work(NOTHING))
    assert {x.kind for x in found.lines} == {MATERIALS}
    assert [each.what for each in found.not_counted] == [
        "packaging",
        "work",
        "what an hour of work costs",
        "overheads",
        "units that are not sold",
        "fees",
        "tax on sales",
    ]
    assert found.complete is False
    assert found.hours is None
    assert found.nothing == ()


def test_what_is_stated_to_be_none_is_counted_as_none_and_said():
    none = replace(FULL, packaging=(), overheads=(), fees=(), not_sold=stated(0))
    found = costing_of(work(none))
    assert found.nothing == ("packaging", "overheads", "fees")
    assert [each.what for each in found.not_counted] == ["tax on sales"]
    assert found.unit == found.batch / 24


@pytest.mark.parametrize(
    ("loss", "overfill", "names"),
    [(0.0, 0.0, set()), (3.0, 0.0, {"lost"}), (0.0, 2.0, {"overfill"})],
)
def test_what_is_not_lost_or_given_away_has_no_line(loss, overfill, names):
    found = costing_of(work(loss=loss, overfill=overfill))
    told = {line.name for line in found.lines if line.kind == MATERIALS}
    assert told == {"in the units", *names}


def test_half_of_the_work_stated_is_counted_and_the_other_half_named():
    found = costing_of(work(replace(FULL, labour=Labour(stated(15), stated(60)))))
    assert found.of_kind(LABOUR) == 15
    assert "work on each unit" in {each.what for each in found.not_counted}


def test_an_overhead_of_a_month_needs_the_batches_of_a_month():
    found = costing_of(work(replace(FULL, batches_a_month=None)))
    assert "insurance" not in {each.name for each in found.lines}
    told = {each.what: each.where for each in found.not_counted}
    assert told["insurance, by the month"] == "[making] batches_a_month"


def test_a_material_without_a_price_is_named_and_the_cost_is_not_whole():
    found = costing_of(work(materials=(*FATS, Material("wax", "wax", D(5), None))))
    assert found.not_counted[0].what == "wax"
    assert found.complete is False
    assert found.of_kind(MATERIALS) == costing_of(work()).of_kind(MATERIALS)


AMOUNTS = st.lists(st.decimals(0, 1000, places=5), min_size=1, max_size=15)


@given(AMOUNTS)
def test_lines_in_cents_add_up_and_none_is_a_cent_off(amounts):
    total = sum(amounts, D(0))
    found = in_cents(amounts, total)
    assert sum(found) == (total + D("0.005")) // CENT * CENT
    assert all(each == round(each, 2) for each in found)
    for each, exact in zip(found, amounts, strict=True):
        assert abs(each - exact) < CENT


MONEY = st.decimals(0, 200, places=2).map(stated)


@given(
    tin=MONEY,
    rate=MONEY,
    minutes=MONEY,
    month=MONEY,
    share=st.decimals(0, 90, places=1).map(stated),
    units=st.integers(1, 500),
    loss=st.floats(0, 50),
    over=st.floats(0, 50),
)
def test_the_parts_of_a_unit_and_of_a_batch_always_add_up(
    tin, rate, minutes, month, share, units, loss, over
):
    costs = replace(
        FULL,
        packaging=(Packaging("tin", tin),),
        labour=Labour(rate, minutes, minutes),
        overheads=(Overhead("rent", month, "month"),),
        not_sold=share,
    )
    found = costing_of(work(costs, units=units, loss=loss, overfill=over))
    near = D("1e-15") * (1 + found.batch)
    assert abs(sum(x.unit for x in found.lines) - found.unit) < near
    assert abs(sum(x.batch for x in found.lines) - found.batch) < near
    assert found.unit * units * (100 - share.value) / 100 == pytest.approx(found.batch)


# 10 % on 15 an hour is 1.50 for each of 2 hours, over 23.04 units sold.
def test_each_input_moves_alone_by_its_own_spread_or_by_a_tenth():
    found = {each.name: each for each in moves(work())}
    hour = found["an hour of work"]
    assert (hour.low, hour.high, hour.own) == (D("13.5"), D("16.5"), "")
    assert float(hour.by_high) == pytest.approx(1.5 * 2 / 23.04)
    assert float(hour.by_low) == pytest.approx(-1.5 * 2 / 23.04)
    tin = found["tin"]
    assert (tin.low, tin.high, tin.own) == (D("0.40"), D("0.80"), "stated")
    assert float(tin.by_high) == pytest.approx(0.30 / 0.96)
    butter = found["butter"]
    assert (butter.low, butter.high, butter.own) == (None, 30, "dearest pack")
    # 10 a kg more on 60 % of 1.5142268 kg.
    assert float(butter.by_high) == pytest.approx(10 * 0.6 * 1.5142268 / 23.04)
    # A month's 30 over 4.5 batches instead of 5.
    batches = found["batches a month"]
    assert float(batches.by_low) == pytest.approx((30 / 4.5 - 6) / 23.04)


def test_what_moves_a_cost_most_comes_first_and_what_does_nothing_is_left_out():
    found = moves(work(replace(FULL, not_sold=stated(0)), loss=0.0))
    sizes = [each.most for each in found]
    assert sizes == sorted(sizes, reverse=True)
    assert {"units not sold", "what is lost"} & {each.name for each in found} == set()


def test_more_units_in_a_batch_share_what_a_batch_costs():
    units = next(x for x in moves(work()) if x.name == "units in a batch")
    # 26.4 units instead of 24 share 15 of work, 6 and 1.20: 22.20 a batch.
    by_high = 22.20 / (26.4 * 0.96) - 22.20 / (24 * 0.96)
    assert float(units.by_high) == pytest.approx(by_high)
