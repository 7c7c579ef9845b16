"""Where prices and curves end, against figures worked out by hand and solving again."""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from msgspec.structs import replace

from optimiser.domain.rule import Column, Goal, Programme, Row, natural
from optimiser.domain.scenario import Aim, Emulsify
from optimiser.explaining import curve as curve_module
from optimiser.explaining import formulate
from optimiser.explaining.curve import price_curves
from optimiser.explaining.prices import is_binding, price_sides
from optimiser.explaining.slopes import round_limit
from optimiser.solving import Infeasible, Session, SolverError, optimise
from tests.rules import workbench as wb
from tests.solving.random_programmes import blends, rule


def programme(costs, *rules, upper=None, goals=()):
    """A programme over amounts that add up to 100, with costs a percent."""
    total = rule("total", "exact", 100, [(i, 1.0) for i in range(len(costs))], (), 1.0)
    tops = upper or [100.0] * len(costs)
    return Programme(
        ingredients=tuple(f"i{i}" for i in range(len(costs))),
        columns=tuple(
            Column("amount", f"i{i}", 0.0, top) for i, top in enumerate(tops)
        ),
        rules=(total, *rules),
        links=(),
        goals=(*goals, Goal("cost", "EUR/kg", Row.of(enumerate(costs)))),
    )


def with_limit(asked, number, limit):
    rules = list(asked.rules)
    rules[number] = replace(rules[number], limit=limit)
    return replace(asked, rules=tuple(rules))


def held(asked, optimum, stage):
    """The value of a goal with those before it held where the answer holds them."""
    session = Session(asked)
    session.aim_at(stage, optimum.tops)
    return session.objective() if session.run() else None


def ratio(limit, side="max", costs=(3.0, 1.0)):
    """What one ingredient is of another: their cost is bent along the limit."""
    return programme(costs, rule("ratio", side, limit, [(0, 1.0)], [(1, 1.0)]))


def test_a_later_aim_s_curve_ends_with_the_formulas_where_the_first_one_s_does():
    """What is bought does not move; what it costs does, up to the last formula."""
    bought = Goal("bought", "%", Row.of([(0, 1.0), (1, 1.0)]))
    for side, limit, end in (("min", 40.0, 60.0), ("max", 60.0, 40.0)):
        asked = programme(
            (2.0, 1.0) if side == "min" else (1.0, 2.0),
            rule("cap", side, limit, [(0, 1.0)], (), 1.0),
            rule("other", "max" if side == "min" else "min", end, [(0, 1.0)], (), 1.0),
            goals=(bought,),
        )
        for curve in price_curves(optimise(asked), 1):
            last = curve.points[-1 if side == "min" else 0]
            why = curve.high_end if side == "min" else curve.low_end
            assert (last.limit, why) == (pytest.approx(end), "no formula beyond")


def test_a_curve_that_is_straight_is_told_by_its_ends():
    """Of a part that is everything, a share is a share of the product."""
    part = [(0, 1.0), (1, 1.0)]
    asked = programme((3.0, 1.0), rule("of", "min", 0.4, [(0, 1.0)], part))
    (curve,) = price_curves(optimise(asked), 1, 0.2, 0.8)
    told = [(point.limit, point.value) for point in curve.points]
    assert np.array(told) == pytest.approx(
        np.array([(0.2, 140.0), (0.4, 180.0), (0.8, 260.0)])
    )


# Halfway the straight line is met by chance: only what lies between tells the bends.
def test_bends_are_found_that_a_point_halfway_does_not_show(monkeypatch):
    optimum = optimise(ratio(0.4, side="min"))
    here = optimum.best[0]
    bends = [0.4, 0.5, 0.7, 0.8], [here, here, here + 20.0, here + 20.0]
    monkeypatch.setattr(
        curve_module, "value_at", lambda _, __, limit: float(np.interp(limit, *bends))
    )
    (curve,) = price_curves(optimum, 1, 0.4, 0.8)
    points = [p.limit for p in curve.points], [p.value for p in curve.points]
    for limit, more in ((0.5, 0.0), (0.6, 10.0), (0.7, 20.0)):
        assert np.interp(limit, *points) == pytest.approx(here + more, abs=0.01)


def test_a_window_s_curve_goes_a_quarter_of_its_limit_each_way():
    window = rule("window", "min", 40, [(0, 100.0)], [(0, 1.0), (1, 1.0)])
    (curve,) = price_curves(optimise(programme((3.0, 1.0), window)), 1)
    ends = curve.points[0].limit, curve.points[-1].limit
    assert ends == pytest.approx((30.0, 50.0))


def test_a_curve_says_what_its_straight_lines_may_miss_it_by():
    """Nothing for a bound; a thousandth where the limit multiplies amounts."""
    bound = programme((3.0, 1.0), rule("cap", "min", 20, [(0, 1.0)], (), 1.0))
    told = [price_curves(optimise(each), 1) for each in (bound, ratio(0.4, "min"))]
    assert [curve.tolerance for (curve,) in told] == [0.0, 0.001]


def test_how_far_a_price_holds_is_walked_where_the_solver_cannot_tell(monkeypatch):
    """Up to 40 % at 2 less a percent, then nothing; walked to where 2 % are off."""

    def lost(*_):
        raise SolverError("how far a price holds could not be found")

    asked = programme(
        (3.0, 1.0),
        rule("cap", "max", 20, [(1, 1.0)], (), 1.0),
        rule("other", "max", 40, [(1, 1.0)], (), 1.0),
    )
    optimum = optimise(asked)
    monkeypatch.setattr(Session, "reach", lost)
    monkeypatch.setattr(Session, "bound_ranges", lambda _: None)
    ease = price_sides(optimum, [1])[1].ease
    assert ease.price == pytest.approx(-2.0)
    assert ease.until == pytest.approx(20.0 + 20.0 / 0.98, rel=5e-3)


def test_a_difference_is_priced_below_nothing_and_across_it():
    """Of one less the other: at -10 there are 45 and 55 %; each unit moves a half."""
    rules = (
        rule("gap", "min", -10, [(0, 1.0), (1, -1.0)], [(0, 0.01), (1, 0.01)]),
        rule("to zero", "min", 0, [(0, 1.0), (1, -1.0)], [(0, 0.01), (1, 0.01)]),
    )
    for each in rules:
        sides = price_sides(optimise(programme((3.0, 1.0), each)), [1])[1]
        assert sides.tighten.price == pytest.approx(1.0)
        assert sides.ease.price == pytest.approx(-1.0)
        # Walked to half a part in a hundred: to the last formula, and to where what
        # is saved no longer makes 2 % of it.
        limit = each.limit
        until = 100.0, limit - (100.0 + limit) / 0.98
        assert sides.tighten.until == pytest.approx(until[0], abs=0.6)
        assert sides.ease.until == pytest.approx(until[1], abs=0.6)


# -- edges ---------------------------------------------------------------------------


@given(blends(most=6))
def test_a_window_s_curve_goes_to_the_very_edge_of_what_can_be_met(asked):
    optimum = optimise(asked)
    assume(not isinstance(optimum, Infeasible))
    for number, each in enumerate(asked.rules):
        if not each.curved:
            continue
        (curve,) = price_curves(optimum, number)
        for end, point, way in (
            (curve.low_end, curve.points[0], -1.0),
            (curve.high_end, curve.points[-1], 1.0),
        ):
            if end == "no formula beyond":
                beyond = with_limit(asked, number, point.limit + way * 1e-4)
                assert isinstance(optimise(beyond), Infeasible), (end, each)


@pytest.mark.parametrize("figure", [41.0, 37.3, 52.9])
def test_a_window_s_curve_ends_at_its_best_figure(figure):
    asked = programme(
        (1.0, 2.0, 1.5),
        rule("window", "min", 30, [(0, 20.0), (1, figure)], [(0, 1.0), (1, 1.0)]),
        rule("part", "min", 10, [(0, 1.0), (1, 1.0)], (), 1.0),
    )
    (curve,) = price_curves(optimise(asked), 1)
    assert curve.high_end == "no formula beyond" or curve.points[-1].limit < figure
    (curve,) = price_curves(optimise(asked), 1, high=60.0)
    assert curve.high_end == "no formula beyond"
    assert curve.points[-1].limit == pytest.approx(figure, abs=1e-6)


def test_where_the_solver_cannot_say_what_fits_a_curve_ends_as_where_nothing_does(
    monkeypatch,
):
    asked = programme(
        (1.0, 2.0, 1.5),
        rule("window", "min", 30, [(0, 20.0), (1, 41.0)], [(0, 1.0), (1, 1.0)]),
        rule("band", "min", 10, [(0, 1.0), (1, 1.0)], (), 1.0),
        upper=(30.0, 30.0, 100.0),
    )
    optimum = optimise(asked)
    sure = [price_curves(optimum, number, high=90.0) for number in (1, 2)]
    assert {curve.high_end for (curve,) in sure} == {"no formula beyond"}
    priced = price_sides(optimum, [1, 2])
    answered = Session.run

    def unsure(self):
        if not answered(self):
            raise SolverError("the solver stopped with 'unknown'")
        return True

    monkeypatch.setattr(Session, "run", unsure)
    again = [price_curves(optimum, number, high=90.0) for number in (1, 2)]
    for (one,), (other,) in zip(sure, again, strict=True):
        assert (one.low_end, one.high_end) == (other.low_end, other.high_end)
        assert one.points[-1].limit == pytest.approx(other.points[-1].limit, abs=1e-7)
        assert one.points[-1].value == pytest.approx(other.points[-1].value, abs=1e-7)
    assert price_sides(optimum, [1, 2]) == priced


def test_a_curve_goes_on_past_a_break_just_beyond_a_round_limit():
    """The break is 1.5e-6 past 33.2473: so near that a first step crosses it."""
    break_point = 33.2473015
    asked = programme(
        (1.0, 2.0, 5.0),
        rule("band", "min", 20, [(1, 1.0), (2, 1.0)], (), 1.0),
        upper=(100.0, break_point, 100.0),
    )
    (curve,) = price_curves(optimise(asked), 1)
    assert curve.high_end == "no limit beyond"
    assert [p.limit for p in curve.points] == pytest.approx([0, 20, break_point, 100])
    assert [p.value for p in curve.points] == pytest.approx(
        [100, 120, 100 + break_point, 500 - 3 * break_point]
    )
    assert curve.points[2].limit == pytest.approx(break_point, abs=1e-7)


def test_a_price_is_that_of_the_piece_next_to_the_limit_however_short():
    """Told twice, so that the corner has more than one set of prices."""
    band = rule("band", "min", 20, [(1, 1.0), (2, 1.0)], (), 1.0)
    asked = programme(
        (1.0, 2.0, 5.0),
        band,
        replace(band, id="again"),
        upper=(100.0, 20.004, 100.0),
    )
    sides = price_sides(optimise(asked), [1])[1]
    assert sides.tighten.price == pytest.approx(1.0)
    assert sides.tighten.until == pytest.approx(20.004, abs=1e-6)
    assert sides.ease.price == 0.0


def test_a_curve_that_rounding_ends_just_short_of_nothing_ends_there(monkeypatch):
    """No share is below 0, so that no formula is missed there."""
    cap = rule("cap", "max", 7.1, [(1, 1.0)], (), 1.0)
    asked = programme((3.0, 1.0), cap)
    whole = curve_module._piece
    monkeypatch.setattr(curve_module, "_piece", lambda *at: whole(*at) - 4e-15)
    (curve,) = price_curves(optimise(asked), 1)
    assert (curve.points[0].limit, curve.low_end) == (0.0, "no limit beyond")
    assert curve.points[0].value == pytest.approx(300.0)


def test_a_later_aim_s_curve_says_where_an_earlier_one_gives_way():
    """Up to 30 % costs, for the change has 20 points of room; beyond it the change."""
    change = Goal("change", "points", Row.of([(1, 1.0)]), slack=20.0)
    asked = programme(
        (1.0, 2.0, 5.0),
        rule("band", "min", 10, [(1, 1.0), (2, 1.0)], (), 1.0),
        upper=(100.0, 100.0, 10.0),
        goals=(change,),
    )
    optimum = optimise(asked)
    first, cost = price_curves(optimum, 1)
    assert (first.of, first.high_end) == ("change", "no limit beyond")
    assert first.points[-1].limit == pytest.approx(100.0)
    assert cost.high_end == "an earlier aim gives way"
    assert cost.points[-1].limit == pytest.approx(30.0)
    for each in cost.points:
        value = held(with_limit(asked, 1, each.limit), optimum, 1)
        assert value == pytest.approx(each.value, abs=1e-6)


# -- how far a price holds -----------------------------------------------------------


@pytest.mark.parametrize("base", [(18.5, 16.5, 30.5, 34.5), (26.0, 7.0, 38.5, 28.5)])
def test_the_price_of_a_later_aim_holds_to_where_an_ingredient_is_used_up(base):
    """Two pairs of a category each: the dear one is left for its cheap fellow.

    The category change is 0 whatever the limit is, so that the corner has more than
    one set of prices: the slope is found by moving the limit.
    """
    keys = {"a": "wax", "b": "wax", "c": "powder", "d": "powder"}
    known = wb.catalogue(
        keys, prices={"a": 8.131, "b": 37.463, "c": 12.439, "d": 10.763}
    )
    asked = wb.scenario(
        base=dict(zip(keys, base, strict=True)),
        aims=(Aim("category change"), Aim("cost")),
        closeness=(wb.bound("ingredient", high=5.0, table="closeness"),),
    )
    found = formulate(asked, known).rules
    (line,) = (each for each in found if each.rule.kind == "closeness")
    assert line.ease.price == pytest.approx(-(37.463 - 8.131) / 100)
    assert line.ease.until == pytest.approx(base[1], abs=1e-5)
    assert line.tighten.until == pytest.approx(0.0, abs=1e-5)


@given(blends(most=7))
def test_a_price_holds_to_where_it_is_told_to_and_no_further(asked):
    """Also of a later aim: the share of some ingredients first, then the cost."""
    first = Goal("bought", "points", Row.of([(0, 1.0), (1, 1.0)]))
    asked = replace(asked, goals=(first, *asked.goals))
    optimum = optimise(asked)
    assume(not isinstance(optimum, Infeasible))
    binding = [
        number
        for number, each in enumerate(asked.rules)
        if is_binding(each, each.slack(optimum.amounts)) and not each.curved
    ]
    names = [goal.name for goal in asked.goals]
    for number, sides in price_sides(optimum, binding).items():
        each = asked.rules[number]
        low, high = natural(each)
        ways = [(sides.ease, -1.0), (sides.tighten, 1.0)]
        for price, sign in ways:
            if price is None or price.until is None:
                continue
            stage = names.index(price.of)
            way = sign if each.side == "min" else -sign

            def off(reach, stage=stage, number=number, price=price, way=way):
                limit = asked.rules[number].limit + way * reach
                value = held(with_limit(asked, number, limit), optimum, stage)
                if value is None:
                    return math.inf
                return abs(value - optimum.best[stage] - price.price * reach)

            reach = abs(price.until - each.limit)
            assert off(reach * (1.0 - 1e-6)) < 1e-6 * max(1.0, reach)
            past = reach + 0.01 * max(1.0, reach)
            if low <= each.limit + way * past <= high:
                # Figures are whole numbers and costs tenths: a bend is no less.
                assert off(past) > 1e-7


def test_a_price_that_waits_for_an_earlier_aim_s_room_is_found_to_the_last_digit():
    keys = {"dear": "liquid oil", "cheap": "liquid oil"}
    known = wb.catalogue(keys, prices={"dear": 20.0, "cheap": 10.0})
    asked = wb.scenario(
        base={"dear": 50.0, "cheap": 50.0},
        aims=(Aim("change", 20.0), Aim("cost")),
        limits=(wb.bound("dear", low=40.0, table="limits"),),
    )
    (line,) = (x for x in formulate(asked, known).rules if x.rule.kind == "limit")
    assert line.tighten.until == pytest.approx(50.0, abs=1e-6)


# -- windows: slopes and drift -------------------------------------------------------


@pytest.mark.parametrize("limit", [0.2, 0.5, 2.0])
def test_the_price_of_a_bent_curve_is_its_slope_at_the_limit(limit):
    """Costs 3 and 1, at least r of the first to one of the second.

    Cost is 100 (3 r + 1) / (1 + r), whose slope is 200 / (1 + r)^2. The mean price is
    off it by a part of 2 % where 1 + r has grown by 1/0.98, or shrunk by 1/1.02.
    """
    sides = price_sides(optimise(ratio(limit, "min")), [1])[1]
    slope = 200.0 / (1.0 + limit) ** 2
    assert sides.tighten.price == pytest.approx(slope, rel=2e-5)
    assert sides.ease.price == pytest.approx(-slope, rel=2e-5)
    up, down = (1.0 + limit) * (1 / 0.98 - 1), (1.0 + limit) * (1 - 1 / 1.02)
    assert sides.tighten.until - limit <= up * 1.002
    assert sides.tighten.until - limit >= up * 0.993
    assert limit - sides.ease.until <= min(limit, down) * 1.002
    assert limit - sides.ease.until >= min(limit, down) * 0.993


def test_the_price_of_a_window_is_that_of_the_piece_next_to_its_limit():
    """The cheap first is used up at a ratio of 0.5006; beyond it costs 9, not 3."""
    used_up = 100.0 * 0.5006 / 1.5006
    window = rule("ratio", "min", 0.5, [(0, 1.0), (2, 1.0)], [(1, 1.0)])
    asked = programme((3.0, 1.0, 9.0), window, upper=(used_up, 100.0, 100.0))
    told = price_sides(optimise(asked), [1])[1]
    # Cost is 100 (3 r + 1) / (1 + r) up to there.
    assert told.tighten.price == pytest.approx(200.0 / 1.5**2, rel=1e-3)
    assert told.ease.price == pytest.approx(-200.0 / 1.5**2, rel=1e-3)


@pytest.mark.parametrize("edge", [0.5003, 0.5011, 0.5023, 0.5037, 0.5049, 0.5061])
def test_the_price_of_a_window_holds_to_an_edge_within_a_two_hundredth(edge):
    """A cap on the first ingredient ends what can be met before the price drifts."""
    most = 100.0 * edge / (1.0 + edge)
    asked = programme((3.0, 1.0), ratio(0.5, "min").rules[1], upper=(most, 100.0))
    told = price_sides(optimise(asked), [1])[1].tighten.until
    assert 0.9949 * (edge - 0.5) <= told - 0.5 <= edge - 0.5 + 1e-9


def test_a_jump_is_told_from_what_cannot_be_met():
    """Only one ingredient of the part is at the figure; without it the part is empty.

    Asked for more, the part is left out at once and the dear third takes its place;
    where some of the part is needed, nothing fits.
    """
    window = rule("window", "min", 30, [(0, 30.0), (1, 10.0)], [(0, 1.0), (1, 1.0)])
    some = rule("some", "min", 5, [(0, 1.0)], (), 1.0)
    free = programme((1.0, 0.5, 4.0), window)
    jumping = price_sides(optimise(free), [1])[1]
    assert (jumping.tighten, jumping.jumps) == (None, True)
    stuck = price_sides(optimise(programme((1.0, 0.5, 4.0), window, some)), [1])[1]
    assert (stuck.tighten, stuck.jumps) == (None, False)
    assert jumping.ease.price < 0.0


def test_a_rule_binds_where_it_has_no_room_but_for_rounding():
    each = rule("cap", "max", 40, [(0, 1.0)], (), 1.0)
    room = {1e-8: True, 3e-5: True, 1e-4: False, 1e-2: False, -3e-5: True}
    assert {slack: is_binding(each, slack) for slack in room} == room
    small = rule("cap", "max", 0.5, [(0, 1.0)], (), 1.0)
    assert is_binding(small, 9e-7)
    assert not is_binding(small, 2e-6)


# -- between what a limit means something --------------------------------------------

OIL = {"a": "liquid oil", "b": "wax", "p": "powder", "e": "emulsifier"}
KINDS = {
    "a share of the product": (
        {"bands": (wb.bound("wax", 5.0, 40.0),)},
        "band/wax/max",
        (0.0, 100.0),
    ),
    "a share of a part": (
        {"bands": (wb.bound("wax", high=30.0, of="lipids"),)},
        "band/wax/max",
        (0.0, 100.0),
    ),
    "a share of what it is no part of": (
        {"bands": (wb.bound("powder", high=30.0, of="lipids"),)},
        "band/powder/max",
        (0.0, math.inf),
    ),
    "a ratio": (
        {"others": (wb.ratio("r", ["a"], ["b"], high=2.0),)},
        "ratio/r/max",
        (0.0, math.inf),
    ),
    "a change": (
        {"closeness": (wb.bound("ingredient", high=5.0, table="closeness"),)},
        "closeness/by ingredient",
        (0.0, math.inf),
    ),
    "a density": (
        {"windows": (wb.window("density", 900.0),)},
        "window/density/product/min",
        (0.0, math.inf),
    ),
    "a viscosity below 1": (
        {"windows": (wb.window("viscosity", 0.7, at=20.0),)},
        "window/viscosity/20 degC/product/min",
        (0.0, math.inf),
    ),
    "a score known below zero": (
        {"windows": (wb.window("score", 2.0),)},
        "window/score/product/min",
        (-math.inf, math.inf),
    ),
    "a pin": ({"pins": (wb.pin("a", 50.0),)}, "pin/a", (0.0, 100.0)),
    "a difference of HLB": (
        {"emulsify": Emulsify((10.0,), 1.0, wb.toml("emulsifiers.total"))},
        "emulsifiers/HLB/max",
        (-math.inf, math.inf),
    ),
    "a total in percent of the lipids": (
        {"emulsify": Emulsify((10.0,), 1.0, wb.toml("emulsifiers.total"))},
        "emulsifiers/total",
        (0.0, math.inf),
    ),
}


@pytest.mark.parametrize("kind", KINDS)
def test_a_limit_means_something_between_the_ends_of_its_kind(kind):
    change, wanted, ends = KINDS[kind]
    figures = {
        "density": {key: {20.0: 950.0} for key in OIL},
        "viscosity": {key: {20.0: 0.5 + 0.5 * (key == "b")} for key in OIL},
        "score": {key: wb.figure(len(key) - 3.0, unit="points") for key in OIL},
        "HLB": {"e": 12.0},
        "required HLB": {"a": 7.0, "b": 9.0},
    }
    known = wb.catalogue(OIL, figures=figures)
    asked = wb.scenario(base={"a": 60.0, "b": 20.0, "p": 10.0, "e": 10.0}, **change)
    assert natural(wb.rules_of(asked, known)[wanted]) == ends


def test_what_moves_with_a_window_is_read_as_the_window_is():
    """Its row holds slopes, some of them below zero, where a window's are figures."""
    slopes = rule("tangent", "min", 5, [(0, 3.0), (1, -1.0)], [(0, 1.0), (1, 1.0)])
    assert natural(slopes)[0] == -math.inf
    assert natural(replace(slopes, moves_with="window"))[0] == 0.0


@pytest.mark.parametrize("bent", [False, True])
def test_no_share_is_eased_below_nothing_by_what_moves_with_it(bent):
    """The rule's own slopes would let it fall to -2 %, and the cost with it."""
    part = [(0, 1.0), (1, 1.0)] if bent else ()
    share = 1.0 if bent else 0.01
    across = {"per": part, "per_constant": 0.0 if bent else 1.0}
    window = rule("window", "min", 2, [(1, 5.0 * share)], **across)
    slopes = rule("near", "min", 2, [(0, -2.0 * share), (1, 5.0 * share)], **across)
    asked = programme((1.0, 3.0), window, replace(slopes, moves_with="window"))
    sides = price_sides(optimise(asked), [2])[2]
    assert sides.ease.price == pytest.approx(-2.0 / 0.07, rel=1e-4)
    assert sides.ease.until == pytest.approx(0.0, abs=0.011)
    assert sides.ease.until >= 0.0


def test_a_limit_is_rounded_only_where_rounding_has_missed_it():
    assert round_limit(33.2472999) == 33.2473
    assert round_limit(33.24729) == 33.24729
    assert not np.signbit(round_limit(-1e-9))
