"""What to buy, against every purchase tried one by one."""

from datetime import date
from itertools import product as every
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from optimiser.domain.material import Lot, Origin, PackPrice, Supplier
from optimiser.domain.plan import Batch, Plan, Product
from optimiser.domain.scenario import Steps
from optimiser.errors import InputError
from optimiser.explaining.answering import best, questions
from optimiser.reading import read_scenario
from optimiser.reading.plans import read_plan
from optimiser.rules import build, complete
from optimiser.studies.plan import Unfit, plan, purchase, shared_out, study
from optimiser.studies.plan.blocks import heard, ruled
from optimiser.studies.plan.packs import good_until
from tests.rules.workbench import CSV, bound, catalogue, scenario, toml

SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"
EARLY, LATE = date(2026, 12, 1), date(2026, 12, 10)
BOUGHT = date(2026, 11, 20)
KINDS = {"cocoa": "hard butter", "shea": "soft butter"}


def pack(key, kg, price, freight=0.0, row=2, supplier="", months=None):
    origin = Origin("prices.csv", row)
    return PackPrice(
        key,
        kg,
        price,
        freight,
        "EUR",
        None,
        origin,
        supplier=supplier,
        keeps_months=months,
    )


def lot(key, kg, expiry=None, name="A1"):
    return Lot(key, name, kg, expiry, CSV)


def known(packs, lots=(), suppliers=()):
    prices = {key: tuple(p for p in packs if p.ingredient == key) for key in KINDS}
    return replace(
        catalogue(KINDS),
        prices={key: own for key, own in prices.items() if own},
        stock=tuple(lots),
        suppliers={each.name: each for each in suppliers},
    )


def bar(low, high, kg, day, *, moves=False, within=None, **more):
    bands = (bound("hard butter", low, high), bound("soft butter", 0, 100))
    asked = scenario(bands=bands, **more)
    return Product(asked, (Batch(kg, day),), moves, within)


def planned(products, of):
    return Plan("test", "plan.toml", BOUGHT, tuple(products), of)


def paid_for(counts, packs, suppliers=()):
    """Return what packs cost, a row a purchase; inf where an order is too small."""
    money = counts @ np.array([each.price + each.freight for each in packs])
    for each in suppliers:
        own = np.array([pack.supplier == each.name for pack in packs])
        goods = counts @ (own * [pack.price for pack in packs])
        some = (counts[:, own] > 0).any(axis=1)
        money = np.where(some & (goods < each.minimum - 1e-9), np.inf, money)
        free = each.free_from is not None and goods >= each.free_from - 1e-9
        money = money + np.where(some & ~np.asarray(free), each.freight, 0.0)
    return money


def good(lots, key, day):
    return sum(
        x.amount
        for x in lots
        if x.ingredient == key and (x.expiry is None or x.expiry >= day)
    )


def enough(products, lots, held):
    """Whether two batches of cocoa and shea can be made, by intervals of cocoa alone.

    ``products`` are (least %, most %, kg) of cocoa, the earlier first; the later batch
    takes of what is good late, both together of what is good early.
    """
    (low1, high1, kg1), (low2, high2, kg2) = products
    cocoa, shea = held
    least2 = max(low2 / 100 * kg2, kg2 - good(lots, "shea", LATE) - shea)
    most2 = min(high2 / 100 * kg2, good(lots, "cocoa", LATE) + cocoa)
    if least2 > most2 + 1e-9:
        return False
    whole = kg1 + kg2
    least = max(low1 / 100 * kg1 + least2, whole - good(lots, "shea", EARLY) - shea)
    most = min(high1 / 100 * kg1 + most2, good(lots, "cocoa", EARLY) + cocoa)
    return least <= most + 1e-9


def cheapest(products, lots, packs, suppliers=()):
    """Return the least money of all purchases, up to six packs of each."""
    counts = np.array([*every(range(7), repeat=len(packs))])
    money = paid_for(counts, packs, suppliers)
    held = [
        counts @ np.array([p.pack_kg * (p.ingredient == key) for p in packs])
        for key in KINDS
    ]
    for at in np.argsort(money, kind="stable"):
        if enough(products, lots, [kg[at] for kg in held]):
            return money[at]
    raise AssertionError("no purchase is enough")


PACKS = (
    pack("cocoa", 0.25, 9.0, 1.0, 2, "north"),
    pack("cocoa", 1.0, 25.0, 2.0, 3, "south"),
    pack("shea", 0.3, 4.0, 1.0, 4, "north"),
    pack("shea", 1.0, 11.0, 0.0, 5, "south"),
)
MASSES = st.integers(min_value=0, max_value=6).map(lambda n: n / 10)
SHARES = st.integers(min_value=0, max_value=10).map(lambda n: 10.0 * n)
EXPIRIES = st.sampled_from([None, EARLY, LATE])


@st.composite
def shelves(draw):
    return [
        lot(key, draw(MASSES) + 0.01, draw(EXPIRIES), f"L{n}")
        for n, key in enumerate(draw(st.lists(st.sampled_from([*KINDS]), max_size=3)))
    ]


@st.composite
def sellers(draw):
    money = st.integers(min_value=0, max_value=20).map(float)
    return [
        Supplier(
            name, draw(money), draw(st.none() | money), draw(money), Origin("s.csv")
        )
        for name in ("north", "south")
    ]


@given(SHARES, SHARES, MASSES, MASSES, shelves(), st.just(()) | sellers())
@settings(deadline=None)
def test_packs_for_given_formulas_are_the_cheapest_of_all(
    first, second, kg1, kg2, lots, suppliers
):
    kg1, kg2 = kg1 + 0.1, kg2 + 0.1
    asked = planned(
        [bar(0, 100, kg1, EARLY), bar(0, 100, kg2, LATE)],
        known(PACKS, lots, suppliers),
    )
    formulas = [
        {key: share for key, share in (("cocoa", x), ("shea", 100.0 - x)) if share}
        for x in (first, second)
    ]
    found = purchase(asked, formulas)
    exact = [(first, first, kg1), (second, second, kg2)]
    # An order is filled up with what the products use, not with anything.
    used = [p for p in PACKS if any(p.ingredient in formula for formula in formulas)]
    wanted = cheapest(exact, lots, used, suppliers)
    assert found.spend == pytest.approx(wanted, abs=1e-6)
    assert found.off == pytest.approx(0.0, abs=1e-6)


@given(SHARES, SHARES, SHARES, SHARES, shelves(), st.just(()) | sellers())
@settings(deadline=None)
def test_formulas_and_packs_together_are_the_cheapest_of_all(
    a, b, c, d, lots, suppliers
):
    ranges = [(min(a, b), max(a, b), 0.8), (min(c, d), max(c, d), 0.6)]
    asked = planned(
        [
            bar(*ranges[0], EARLY, moves=True),
            bar(*ranges[1], LATE, moves=True),
        ],
        known(PACKS, lots, suppliers),
    )
    found = plan(asked)
    of_use = [p for p in PACKS if p.ingredient == "shea" or max(b, a, c, d)]
    wanted = cheapest(ranges, lots, of_use, suppliers)
    assert found.purchase.spend == pytest.approx(wanted, abs=1e-6)
    assert found.least == pytest.approx(wanted, abs=1e-6)
    assert found.stands >= found.purchase.spend - 1e-6
    assert found.apart >= found.stands - 1e-6


@given(SHARES, SHARES, MASSES, MASSES, shelves())
@settings(deadline=None)
def test_lots_go_first_to_expire_first_and_never_past_their_date(
    first, second, kg1, kg2, lots
):
    asked = planned(
        [bar(0, 100, kg1 + 0.1, EARLY), bar(0, 100, kg2 + 0.1, LATE)],
        known(PACKS, lots),
    )
    formulas = [{"cocoa": x, "shea": 100.0 - x} for x in (first, second)]
    bought = purchase(asked, formulas).bought
    taken, left = shared_out(asked, formulas, bought)
    for number, each in enumerate(asked.products):
        for key, share in formulas[number].items():
            mine = [x for x in taken if (x.product, x.ingredient) == (number, key)]
            assert sum(x.kg for x in mine) == pytest.approx(
                each.kg * share / 100.0, abs=3e-6
            )
    for each in taken:
        assert each.expiry is None or each.expiry >= each.day
        # What would expire sooner, and is still good, is used up.
        for rest in left:
            if rest.ingredient == each.ingredient and rest.expiry is not None:
                sooner = each.expiry is None or rest.expiry < each.expiry
                assert not (sooner and rest.expiry >= each.day)
    for key in KINDS:
        there = sum(x.amount for x in lots if x.ingredient == key)
        there += sum(x.kg for x in bought if x.pack.ingredient == key)
        gone = sum(x.kg for x in taken if x.ingredient == key)
        kept = sum(x.kg for x in left if x.ingredient == key)
        used = any(formula[key] for formula in formulas)
        if used or any(x.pack.ingredient == key for x in bought):
            assert gone + kept == pytest.approx(there, abs=1e-5)


def test_a_larger_pack_is_bought_where_it_costs_less_for_the_whole():
    packs = (pack("cocoa", 0.25, 9.0, row=2), pack("cocoa", 1.0, 25.0, row=3))
    asked = planned([bar(100, 100, 0.6, EARLY)], known(packs))
    found = purchase(asked, [{"cocoa": 100.0}])
    # 0.6 kg is three packs of 250 g, for 27, or one of 1 kg for 25.
    assert [(each.count, each.pack.pack_kg) for each in found.bought] == [(1, 1.0)]


def test_rounding_never_buys_a_pack():
    packs = (pack("cocoa", 0.1, 5.0),)
    asked = planned([bar(100, 100, 0.1 + 0.2, EARLY)], known(packs))
    assert 0.1 + 0.2 > 0.3
    assert purchase(asked, [{"cocoa": 100.0}]).spend == pytest.approx(15.0)


def test_a_pack_that_does_not_keep_until_the_day_is_not_counted_on():
    packs = (pack("cocoa", 1.0, 5.0, months=6), pack("cocoa", 1.0, 8.0, row=3))
    day = date(2027, 8, 1)
    asked = planned([bar(100, 100, 0.9, day)], known(packs))
    found = purchase(asked, [{"cocoa": 100.0}])
    assert found.spend == pytest.approx(8.0)
    assert good_until(packs[0], BOUGHT) == date(2027, 5, 20)


def test_products_share_a_pack_by_moving_towards_each_other():
    # Alone, each takes least cocoa: 0.6 and 0.5 kg in all. Together 1.1 kg of shea
    # are two packs; 100 g less of it, and cocoa from the shelf instead, are one.
    packs = (pack("cocoa", 1.0, 40.0), pack("shea", 1.0, 10.0, row=3))
    of = known(packs, [lot("cocoa", 1.0)])
    ranges = [(40, 60, 1.0), (50, 60, 1.0)]
    products = [bar(*r, EARLY, moves=True) for r in ranges]
    found = plan(planned(products, of))
    assert found.stands == pytest.approx(20.0)
    assert found.purchase.spend == pytest.approx(10.0)
    assert found.least == pytest.approx(10.0)
    assert sum(each.moved for each in found.products) == pytest.approx(10.0, abs=1e-4)


def test_a_formula_that_goes_on_breaking_a_window_stays_as_it_stands(monkeypatch):
    # Rules that are new each time are what a window that breaks each time leaves.
    monkeypatch.setattr(study, "heard", lambda _, rules, __: replace(rules))
    packs = (pack("cocoa", 1.0, 40.0), pack("shea", 1.0, 10.0, row=3))
    of = known(packs, [lot("cocoa", 1.0)])
    ranges = [(40, 60, 1.0), (50, 60, 1.0)]
    found = plan(planned([bar(*r, EARLY, moves=True) for r in ranges], of))
    assert found.purchase.spend == pytest.approx(found.stands)
    assert [each.moved for each in found.products] == [0.0, 0.0]


def test_a_formula_that_breaks_a_window_has_its_tangent_join_the_rules():
    asked, of = read_scenario(SCENARIOS / "massage_bar_hot.toml")
    solved = best(questions(asked, of), of, beside=True)
    by_sums = best(questions(asked, of), of, hear=False)
    rules = ruled(solved)
    assert heard(solved, rules, solved.amounts) is rules
    more = heard(solved, rules, by_sums.amounts)
    tangents = [rule for rule in more.rules if rule.kind == "opinion"]
    assert any(rule.moves_with for rule in tangents)
    assert more is not rules
    broken = complete(more, by_sums.amounts)
    assert any((rule.slack(broken) or 0.0) < -0.01 for rule in tangents)


def test_a_formula_moves_no_further_than_it_may():
    packs = (pack("cocoa", 1.0, 40.0), pack("shea", 1.0, 10.0, row=3))
    of = known(packs, [lot("cocoa", 1.0)])
    ranges = [(40, 60, 1.0), (50, 60, 1.0)]
    for within, spend in ((5.0, 10.0), (4.0, 20.0)):
        products = [bar(*r, EARLY, moves=True, within=within) for r in ranges]
        found = plan(planned(products, of))
        assert found.purchase.spend == pytest.approx(spend)
        assert max(each.moved for each in found.products) <= within + 1e-6


# As in the test above one pack less is enough if they move, of 0.4 or of 2 cents.
@pytest.mark.parametrize(("price", "moved"), [(0.004, 0.0), (0.02, 10.0)])
def test_less_than_a_cent_is_no_reason_to_move_a_formula(price, moved):
    packs = (pack("cocoa", 1.0, 40.0), pack("shea", 1.0, price, row=3))
    of = known(packs, [lot("cocoa", 1.0)])
    ranges = [(40, 60, 1.0), (50, 60, 1.0)]
    found = plan(planned([bar(*r, EARLY, moves=True) for r in ranges], of))
    assert found.stands == pytest.approx(2 * price)
    assert found.purchase.spend == pytest.approx((1 if moved else 2) * price)
    assert sum(each.moved for each in found.products) == pytest.approx(moved, abs=1e-4)


def test_formulas_that_move_come_in_the_steps_of_their_scenarios():
    packs = (pack("cocoa", 1.0, 40.0), pack("shea", 1.0, 10.0, row=3))
    of = known(packs, [lot("cocoa", 1.0)])
    steps = Steps(4.0, {}, toml("amounts.step"))
    ranges = [(40, 60, 1.0), (50, 60, 1.0)]
    products = [bar(*r, EARLY, moves=True, steps=steps) for r in ranges]
    found = plan(planned(products, of))
    for each in found.products:
        assert [x % 4.0 for x in each.made.amounts.values()] == [0.0, 0.0]
        assert each.in_steps
    assert found.purchase.spend == pytest.approx(10.0)


# Shea is in packs of 0.3 or 0.4 kg at 10. What no formulas in any proportion cost less
# than is reached in whole steps too, but only with part of a step kept in the lots: as
# they stand, the second formula would take one pack more to come to its step.
@pytest.mark.parametrize(
    ("cocoa", "shea", "pack_kg", "ranges", "step", "spend"),
    [
        (0.26, 0.78, 0.3, [(47, 59, 0.7), (50, 57, 1.0)], 5.0, 40.0),
        (1.04, 0.38, 0.4, [(33, 56, 0.7), (48, 59, 1.0)], 3.0, 10.0),
        (0.54, 0.32, 0.3, [(30, 59, 1.0), (45, 59, 1.0)], 5.0, 60.0),
    ],
)
def test_part_of_a_step_kept_in_the_lots_saves_a_pack(
    cocoa, shea, pack_kg, ranges, step, spend
):
    packs = (pack("cocoa", 1.0, 40.0), pack("shea", pack_kg, 10.0, row=3))
    of = known(packs, [lot("cocoa", cocoa), lot("shea", shea, name="S1")])
    steps = Steps(step, {}, toml("amounts.step"))
    products = [bar(*r, EARLY, moves=True, steps=steps) for r in ranges]
    found = plan(planned(products, of))
    assert found.least == pytest.approx(spend)
    assert found.purchase.spend == pytest.approx(spend)
    assert all(each.in_steps for each in found.products)


def test_a_pack_that_stands_twice_in_a_price_list_can_be_bought():
    once = [pack("cocoa", 0.5, 8.0), pack("shea", 0.5, 4.0, row=3)]
    twice = [*once, pack("cocoa", 0.5, 8.0, row=4), pack("cocoa", 0.2, 5.0, row=5)]
    asked = [bar(50, 60, 1.0, EARLY)]
    for packs in (once, twice):
        paid = plan(planned(asked, known(packs))).purchase
        assert paid.spend == pytest.approx(12.0)


# Both bars use up all that is bought: what they are told to cost is what is paid.
def test_what_is_paid_is_shared_among_the_products_to_the_last_cent():
    mill = Supplier("mill", 3.0, None, 0.0, CSV)
    packs = (
        pack("cocoa", 0.5, 8.0, freight=1.0, supplier="mill"),
        pack("shea", 0.5, 4.0, row=3, supplier="mill"),
    )
    of = known(packs, suppliers=[mill])
    found = plan(planned([bar(40, 40, 0.5, EARLY), bar(60, 60, 0.5, LATE)], of))
    assert found.purchase.spend == pytest.approx(8.0 + 1.0 + 4.0 + 3.0)
    assert sum(each.bought for each in found.products) == pytest.approx(16.0)


def test_what_cannot_be_bought_is_told_with_its_amount_and_day():
    base = {"cocoa": 60.0, "shea": 40.0}
    asked = planned(
        [bar(60, 60, 1.0, LATE, base=base, aims=("change",))],
        known([pack("shea", 1.0, 5.0)], [lot("cocoa", 0.5, EARLY)]),
    )
    with pytest.raises(InputError) as told:
        plan(asked)
    assert str(told.value) == (
        "plan.toml: needs 600 g of cocoa from 2026-12-10 on; 0 g on the shelf are good"
        " then, and it has no pack in prices.csv.\n"
        "  To fix: add a pack to the workshop's prices.csv, or make less."
    )


def test_a_formula_that_cannot_be_bought_for_moves_to_one_that_can():
    base = {"cocoa": 60.0, "shea": 40.0}
    stays = bar(30, 60, 1.0, EARLY, base=base, aims=("change",))
    of = known([pack("shea", 1.0, 5.0)], [lot("cocoa", 0.5)])
    found = plan(planned([replace(stays, moves=True)], of))
    assert found.stands is None
    assert found.purchase.spend == pytest.approx(5.0)
    assert found.products[0].made.amounts["cocoa"] == pytest.approx(50.0, abs=1e-3)
    with pytest.raises(InputError):
        plan(planned([stays], of))


def test_a_product_whose_rules_clash_is_named():
    asked = planned([bar(0, 50, 1.0, EARLY), bar(70, 60, 1.0, EARLY)], known(PACKS))
    found = plan(asked)
    assert isinstance(found, Unfit)
    assert found.product.scenario.bands[0].low == 70
    assert found.clash.rules


@pytest.fixture(scope="module")
def autumn():
    asked = read_plan(SCENARIOS / "plans" / "autumn.toml")
    return asked, plan(asked)


def test_each_formula_of_the_shipped_plan_keeps_every_rule_of_its_scenario(autumn):
    asked, found = autumn
    assert sum(each.moved > 0 for each in found.products) >= 2
    for each, told in zip(found.products, found.told, strict=True):
        of = replace(each.product.scenario, batch_kg=each.product.kg)
        programme = build(of, asked.catalogue)
        amounts = complete(programme, each.made.amounts)
        for rule in programme.rules:
            slack = rule.slack(amounts)
            assert slack is None or slack >= -1e-6 * max(1.0, abs(rule.limit)), rule.id
        assert told.second.known
        assert told.second.missed == ()
        limit = each.product.within if each.product.moves else 0.0
        assert each.moved <= limit + 1e-6


def test_the_shipped_plan_saves_by_moving_and_is_proved(autumn):
    _, found = autumn
    assert found.purchase.spend < found.stands - 20.0
    assert found.stands < found.apart
    assert found.purchase.spend - found.least < 0.05 * found.purchase.spend
    used = sum(each.bought for each in found.products)
    assert found.left_worth == pytest.approx(found.purchase.spend - used)
    assert 0.0 < found.left_worth < found.purchase.spend


def test_a_search_that_is_cut_short_still_answers_and_says_how_far_off_it_is(
    monkeypatch,
):
    monkeypatch.setattr("optimiser.solving.patience.PACE", 1.0)
    asked = read_plan(SCENARIOS / "plans" / "autumn.toml")
    found = plan(asked, seconds=0.0)
    assert found.purchase.spend <= found.stands + 1e-6
    assert found.least is None or found.least <= found.purchase.spend + 1e-6
    assert isinstance(asked.file, str)
    assert Path(asked.file).name == "autumn.toml"
