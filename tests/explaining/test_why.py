"""Price curves, prices of ingredients and ties, each against solving again."""

from functools import cache

import numpy as np
import pytest
from hypothesis import assume, given
from msgspec.structs import replace

from optimiser.domain.rule import Goal, Row
from optimiser.explaining.clashes import distinct_clashes, smallest_clash
from optimiser.explaining.curve import price_curves
from optimiser.explaining.entering import entering
from optimiser.explaining.staying import staying
from optimiser.explaining.ties import tied
from optimiser.explaining.ways import ways_out
from optimiser.rules import build
from optimiser.solving import Infeasible, optimise
from tests.published import programmes
from tests.shipped import read_scenario
from tests.solving.random_programmes import blends

SHIPPED = [
    "scenarios/massage_bar.toml",
    "scenarios/massage_bar_cheaper.toml",
    "scenarios/lip_balm.toml",
    "scenarios/foot_scrub_bar.toml",
]


def with_limit(programme, number, limit):
    rules = list(programme.rules)
    rules[number] = replace(rules[number], limit=limit)
    return replace(programme, rules=tuple(rules))


def on_curve(curve, limit):
    return float(
        np.interp(
            limit, [p.limit for p in curve.points], [p.value for p in curve.points]
        )
    )


@given(blends(most=7))
def test_a_price_curve_is_what_solving_again_gives_everywhere(programme):
    optimum = optimise(programme)
    assume(not isinstance(optimum, Infeasible))
    for number, rule in enumerate(programme.rules[1:], start=1):
        curve = price_curves(optimum, number)[0]
        first, last = curve.points[0].limit, curve.points[-1].limit
        limits = [first + share * (last - first) for share in (0.07, 0.31, 0.5, 0.83)]
        if rule.curved:  # a window's curve may jump; its points are exact all the same
            limits = [p.limit for p in curve.points[:: max(1, len(curve.points) // 4)]]
        for limit in limits:
            again = optimise(with_limit(programme, number, limit))
            if rule.curved and isinstance(again, Infeasible):
                continue  # the last point before an edge, found by halving
            assert not isinstance(again, Infeasible)
            assert again.best[0] == pytest.approx(on_curve(curve, limit), abs=1e-5)
        for end, where, way in (
            (curve.low_end, first, -1.0),
            (curve.high_end, last, 1.0),
        ):
            if end == "no formula beyond" and not rule.curved:
                beyond = optimise(with_limit(programme, number, where + way * 1e-3))
                assert isinstance(beyond, Infeasible), (curve, rule)


@pytest.mark.parametrize(
    ("name", "row"), [("a1", "veg_cap:max"), ("f2", None), ("b2", "fat_min:min")]
)
def test_a_published_blend_s_curve_bends_where_its_published_range_ends(name, row):
    data = programmes.case(name)
    programme, sign = programmes.programme_of(data)
    optimum = optimise(programme)
    ids = [rule.id for rule in programme.rules]
    told = data["computed"]["two_sided"]
    rows = (
        [row]
        if row
        else [
            f"{where.rsplit(':', 1)[0]}:{ {'lower': 'min', 'upper': 'max'}[side] }"
            for where in told
            if (side := where.rsplit(":", 1)[1]) != "both"
        ]
    )
    for each in rows:
        name_of_row, side = each.rsplit(":", 1)
        entry = told[f"{name_of_row}:{ {'min': 'lower', 'max': 'upper'}[side] }"]
        curve = price_curves(optimum, ids.index(each))[0]
        here = entry["bound"]
        for end, slope in (
            (entry["left_to"], entry["left"]),
            (entry["right_to"], entry["right"]),
        ):
            if slope is None or not isinstance(end, int | float):
                continue
            wanted = sign * (optimum.best[0] * sign + slope * (end - here))
            assert on_curve(curve, end) == pytest.approx(wanted, rel=1e-5, abs=1e-5)


read_once = cache(read_scenario)


def cost_again(path, key, price):
    """The answer's amount of an ingredient with its price set to something else."""
    return amounts_again(path, {key: price})[key]


def amounts_again(path, prices):
    """The answer's amounts of some ingredients with their prices set, money per kg."""
    scenario, catalogue = read_once(path)
    packs = {
        key: tuple(
            replace(pack, price=price * pack.pack_kg, freight=0.0)
            for pack in catalogue.prices[key][:1]
        )
        for key, price in prices.items()
    }
    priced = replace(catalogue, prices={**catalogue.prices, **packs})
    programme = build(scenario, priced)
    amounts = optimise(programme).amounts
    return {key: float(amounts[programme.ingredients.index(key)]) for key in prices}


@pytest.mark.parametrize("path", SHIPPED)
def test_an_ingredient_leaves_above_its_price_and_not_below_it(path):
    scenario, catalogue = read_scenario(path)
    found = staying(optimise(build(scenario, catalogue)), catalogue)
    looked_at = 0
    for each in found:
        if each.leaves_above is None:
            continue
        looked_at += 1
        assert cost_again(path, each.ingredient, each.leaves_above * 1.001) < 1e-6
        assert cost_again(path, each.ingredient, each.leaves_above * 0.999) > 1e-6
        assert each.replaced_by
        assert each.falls_above is not None
        before = cost_again(path, each.ingredient, each.falls_above * 0.999)
        after = cost_again(path, each.ingredient, each.falls_above * 1.00001)
        assert before == pytest.approx(each.percent, abs=1e-4)
        assert after == pytest.approx(each.falls_to, abs=1e-4)
        assert after < before - 1e-4
    assert looked_at > 1


@pytest.mark.parametrize("path", [*SHIPPED, "scenarios/massage_bar_nut_free.toml"])
def test_of_two_that_come_in_alike_the_programmes_first_is_told_first(path):
    scenario, catalogue = read_scenario(path)
    optimum = optimise(build(scenario, catalogue))
    keys = optimum.session.programme.ingredients
    told = [
        (round(each.enters_below / each.price_per_kg, 6), keys.index(each.ingredient))
        for each in entering(optimum, scenario, catalogue)
        if each.enters_below is not None
    ]
    assert told == sorted(told, key=lambda pair: (-pair[0], pair[1]))


def test_of_two_that_move_alike_in_a_tie_the_programmes_first_is_told_first():
    scenario, catalogue = read_scenario("scenarios/massage_bar_cheaper.toml")
    optimum = optimise(build(scenario, catalogue))
    keys = optimum.session.programme.ingredients
    told = [
        (round(-abs(there - here), 6), keys.index(key))
        for key, _, here, there in tied(optimum, catalogue, 0.01).amounts
    ]
    assert len({moved for moved, _ in told}) < len(told)
    assert told == sorted(told)


@pytest.mark.parametrize("path", SHIPPED)
def test_an_ingredient_comes_in_below_its_price_with_the_amount_told(path):
    scenario, catalogue = read_scenario(path)
    found = entering(optimise(build(scenario, catalogue)), scenario, catalogue)
    looked_at = 0
    for each in found:
        if each.enters_below is None:
            continue
        looked_at += 1
        assert cost_again(path, each.ingredient, each.enters_below * 1.001) < 1e-6
        amount = cost_again(path, each.ingredient, each.enters_below * 0.9999)
        assert amount == pytest.approx(each.enters_with, abs=1e-4)
        assert amount > 0
    assert looked_at > 3


def test_a_formula_that_is_just_as_good_is_found():
    # Two optimal corners of one published programme: an aim parallel to a limit.
    programme, _ = programmes.programme_of(programmes.case("f5"))
    optimum = optimise(programme)
    corners = programmes.case("f5")["published"]["optimal_corners"]
    assert len(corners) == 2
    _, catalogue = read_scenario(SHIPPED[0])
    names = dict(zip(programme.ingredients, catalogue.ingredients, strict=False))
    renamed = replace(programme, ingredients=tuple(names.values()))
    optimum = optimise(renamed)
    tie = tied(optimum, catalogue)
    between = [list(corner.values()) for corner in corners]
    apart = float(np.abs(np.subtract(*between)).sum() / 2)
    assert apart == pytest.approx(5.0)
    assert tie is not None
    assert tie.distance == pytest.approx(apart, abs=1e-6)


@pytest.mark.parametrize("path", SHIPPED)
def test_a_near_tie_keeps_the_rules_and_the_margin(path):
    scenario, catalogue = read_scenario(path)
    programme = build(scenario, catalogue)
    optimum = optimise(programme)
    tie = tied(optimum, catalogue, 0.02)
    assert tie is not None
    assert tie.value <= optimum.best[-1] * 1.02 + 1e-6
    amounts = optimum.amounts.copy()
    for key, _, here, there in tie.amounts:
        column = programme.ingredients.index(key)
        assert here == pytest.approx(amounts[column])
        amounts[column] = there
    moved = np.abs(amounts - optimum.amounts)[: len(programme.ingredients)].sum() / 2
    assert moved == pytest.approx(tie.distance, abs=0.2)
    cost = programme.goals[-1].row.at(amounts)
    assert cost == pytest.approx(tie.value, abs=0.05)


def infeasible(name):
    programme, _ = programmes.programme_of(programmes.case(name))
    nothing = Goal("cost", "", Row.of(()))
    programme = replace(programme, goals=(nothing,))
    found = optimise(programme)
    assert isinstance(found, Infeasible)
    return programme, found


def test_three_published_clashes_side_by_side_are_all_told():
    # Three rows, each alone in conflict with the bounds 10 to 20 of its columns.
    _, found = infeasible("g9")
    clashes = distinct_clashes(found.session)
    assert len(clashes) == 3
    assert all(len(clash) == 1 for clash in clashes)


@pytest.mark.parametrize(
    ("name", "published"), [("g4", "repair_total"), ("g6", "shortfall")]
)
def test_the_smallest_way_out_is_the_published_repair(name, published):
    wanted = programmes.case(name)["published"][published]
    wanted = wanted["total"] if isinstance(wanted, dict) else wanted
    programme, found = infeasible(name)
    ways = ways_out(programme, smallest_clash(found.session))
    assert ways
    eased = [sum(abs(e.to - e.rule.limit) for e in way.easings) for way in ways]
    assert min(eased) == pytest.approx(wanted, abs=1e-6)
