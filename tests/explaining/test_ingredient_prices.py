"""Prices at which ingredients come in, fall or leave, each against asking anew.

Every price that is told is written into the price list, a little below and a little
above, and the whole question is solved again: the ingredient is in or out as told.
"""

from importlib import import_module

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from optimiser import read_scenario
from optimiser.domain.rule import Column, Goal, Link, Row
from optimiser.domain.scenario import Aim
from optimiser.errors import ProofError
from optimiser.explaining.entering import entering, open_session, unused_ingredients
from optimiser.explaining.staying import staying
from optimiser.explaining.ties import tied
from optimiser.explaining.why import why
from optimiser.rules import build
from optimiser.solving import Infeasible, optimise
from tests.rules import workbench as wb
from tests.solving.random_programmes import blends

IN = 1e-5  # percent: less is room that an earlier aim was left
OFF = 1e-4  # a told price's part, below or above which the question is asked anew
ORDERS = [
    (Aim("cost"),),
    (Aim("cost"), Aim("change")),
    (Aim("cost", 0.4), Aim("change")),
    (Aim("cost", 2.0), Aim("change")),
    (Aim("change", 3.0), Aim("cost")),
    (Aim("change", 3.0), Aim("cost", 0.5), Aim("category change")),
    (Aim("category change"), Aim("cost", 0.3), Aim("change")),
]
WIDE = ORDERS[3]  # a demo of its own, for each of these takes seconds
DEMOS = [
    *(("scenarios/massage_bar.toml", aims) for aims in ORDERS if aims != WIDE),
    ("scenarios/lip_balm.toml", ORDERS[0]),
    ("scenarios/foot_scrub_bar.toml", WIDE),
]


class Case:
    """A question, its answer, and the answer at another price."""

    def __init__(self, scenario, catalogue, asking=build):
        self.scenario, self.catalogue, self.asking = scenario, catalogue, asking
        self.optimum = optimise(asking(scenario, catalogue))
        self.asked = {}

    def at(self, key, price):
        """Return the percent shown of an ingredient at another price of it."""
        if (key, price) not in self.asked:  # what several say is asked once
            self.asked[key, price] = self._at(key, price)
        return self.asked[key, price]

    def _at(self, key, price):
        packs = {**self.catalogue.prices, key: (wb.pack(key, price),)}
        catalogue = replace(self.catalogue, prices=packs)
        programme = self.asking(self.scenario, catalogue)
        found = optimise(programme)
        return float(found.amounts[programme.ingredients.index(key)])

    def entering(self):
        """Return what `why` tells of what is out."""
        session = open_session(self.optimum)
        return entering(self.optimum, self.scenario, self.catalogue, session)

    def staying(self):
        """Return what `why` tells of what is in."""
        return staying(self.optimum, self.catalogue, open_session(self.optimum))


def assert_as_told(case, *, short=True):
    """Ask anew at every price told, and far off where none is; return how many.

    With ``short`` also those that `formulate` tells of what is out.
    """
    told = 0
    for each in case.entering():
        key, below = each.ingredient, each.enters_below
        if below is None:
            if each.price_per_kg is not None:
                assert case.at(key, 0.006) < 0.1, each
            continue
        told += 1
        assert case.at(key, below * (1 - OFF)) > IN, each
        assert case.at(key, below * (1 + OFF)) < 0.1, each
        if each.enters_with is not None:
            assert case.at(key, below * (1 - OFF)) >= 0.1 - 1e-3, each
    for each in unused_ingredients(case.optimum, case.catalogue) if short else ():
        if each.enters_below is not None:
            told += 1
            assert case.at(each.ingredient, each.enters_below * (1 - OFF)) > IN, each
    for each in case.staying():
        key, leaves, falls = each.ingredient, each.leaves_above, each.falls_above
        if leaves is None:
            assert case.at(key, 50 * each.price_per_kg) > 0.0, each
        else:
            told += 1
            assert case.at(key, leaves * (1 - OFF)) > IN or leaves <= (
                each.price_per_kg * (1 + OFF)
            ), each
            assert case.at(key, leaves * (1 + OFF)) < 1e-2, each
        if falls is not None:
            told += 1
            after = case.at(key, falls * (1 + OFF / 10))
            assert after == pytest.approx(each.falls_to, abs=0.05), each
            assert after < each.percent - 0.05, each
            if falls > each.price_per_kg * (1 + 2 * OFF):
                before = case.at(key, falls * (1 - OFF))
                assert before > each.percent - 0.1 - 1e-3, each
    return told


@pytest.mark.parametrize(("path", "aims"), DEMOS)
def test_prices_of_a_demo_s_ingredients_are_where_it_says(path, aims):
    scenario, catalogue = read_scenario(path)
    # Solved again for other prices, the second opinion may find another formula.
    asked = replace(scenario, aims=aims, second_opinion=False)
    # With room for the cost they are found as what `why` tells: once is enough.
    short = aims in (ORDERS[0], ORDERS[1], ORDERS[2], ORDERS[4])
    assert assert_as_told(Case(asked, catalogue), short=short) > 3


@st.composite
def questions(draw):
    """A random blend with a base, and its aims in an order, some with room."""
    programme = draw(blends(most=6))
    size = len(programme.ingredients)
    shares = [draw(st.integers(0, 5)) for _ in range(size)]
    base = [100.0 * share / max(1, sum(shares)) for share in shares]
    columns, links = list(programme.columns), list(programme.links)
    for i in range(size):
        columns.append(Column("moved", f"i{i}"))
        links += [
            Link(Row.of([(i, 1.0), (size + i, -1.0)]), -np.inf, base[i]),
            Link(Row.of([(i, 1.0), (size + i, 1.0)]), base[i], np.inf),
        ]
    change = Goal("change", "points", Row.of((size + i, 0.5) for i in range(size)))
    other = [(i, float(draw(st.integers(0, 9)))) for i in range(size)]
    count = Goal("count", "ingredients", Row.of(other))
    room = float(draw(st.sampled_from([0, 0, 1, 5, 20])))
    costs = dict(
        zip(
            programme.goals[0].row.columns,
            programme.goals[0].row.coefficients,
            strict=True,
        )
    )

    def asking(_, catalogue):
        row = Row.of(
            (i, (catalogue.price_per_kg(f"i{i}") or 0.0) / 100.0) for i in range(size)
        )
        cost = Goal("cost", "EUR/kg", row, slack=room)
        before = Goal("change", "points", change.row, slack=3.0)
        order = {
            0: (cost,),
            1: (cost, change),
            2: (cost, count, change),
            3: (before, cost, count),
            4: (before, cost),
        }[which]
        return replace(
            programme, columns=tuple(columns), links=tuple(links), goals=order
        )

    which = draw(st.integers(0, 4))
    prices = {f"i{i}": 100.0 * float(costs.get(i, 0.0)) for i in range(size)}
    known = wb.catalogue(dict.fromkeys(prices, "wax"), prices=prices)
    return wb.scenario(), known, asking


@settings(max_examples=settings.default.max_examples // 2)  # each takes long
@given(questions())
def test_prices_of_a_random_blend_s_ingredients_are_where_it_says(question):
    scenario, catalogue, asking = question
    try:
        case = Case(scenario, catalogue, asking)
        assume(not isinstance(case.optimum, Infeasible))
        assert_as_told(case)
    except ProofError:  # at that very price the solver's answer is not exact enough
        assume(False)


TWINS = wb.catalogue(
    {"wax": "wax", "pale": "liquid oil", "dark": "liquid oil", "third": "liquid oil"},
    prices={"wax": 20.0, "pale": 5.0, "dark": 5.0, "third": 6.0},
)


def told_of(found, key):
    (one,) = [each for each in found if each.ingredient == key]
    return one


# Two of one price, one of them capped: whichever is shown, it falls as soon as it
# becomes dearer, and to what the cap of the other leaves.
@pytest.mark.parametrize("cap", [10.0, 33.0, 90.0])
@pytest.mark.parametrize("order", [["pale", "dark"], ["dark", "pale"]])
def test_of_two_of_one_price_the_one_shown_falls_at_that_price(cap, order):
    known = wb.only_these(TWINS, order)
    limits = (wb.bound("dark", None, cap, table="limits"),)
    case = Case(wb.scenario(limits=limits), known)
    keys = case.optimum.session.programme.ingredients
    here = {key: float(case.optimum.amounts[keys.index(key)]) for key in keys}
    # The solver may stand at either corner: its session is moved to the other one.
    for wish in ([1.0, 0.0], [0.0, 1.0]):
        session = case.optimum.session
        session.aim_at(0, case.optimum.tops)
        session.run()
        session.hold(case.optimum.best[0] + 1e-9)
        session.wish(np.array(wish))
        session.run()
        for each in case.staying():
            least = 100.0 - cap if each.ingredient == "pale" else 0.0
            assert each.percent == pytest.approx(here[each.ingredient])
            if here[each.ingredient] > least + 1.0:
                assert each.falls_above == pytest.approx(5.0, abs=1e-4)
                assert each.falls_to == pytest.approx(least, abs=1e-6)
            left = None if each.ingredient == "pale" else pytest.approx(5.0, abs=1e-4)
            assert each.leaves_above == left


# Six oils cost the same, and could be swapped wherever they are in.
@pytest.mark.parametrize("most", [4.0, 11.0, 20.0, 37.0])
def test_without_an_ingredient_only_what_must_move_moves(most):
    oils = [f"oil {number}" for number in range(6)]
    caps = tuple(
        wb.bound(key, None, 12.0 + 7.0 * number, table="limits")
        for number, key in enumerate(oils)
    )
    asked = wb.scenario(limits=caps, bands=(wb.bound("wax", None, most),))
    known = wb.catalogue(
        {"wax": "wax"} | dict.fromkeys(oils, "liquid oil"),
        prices={"wax": 1.0} | dict.fromkeys(oils, 5.0),
    )
    wax = told_of(Case(asked, known).staying(), "wax")
    assert wax.percent == pytest.approx(most)
    # What wax leaves goes to the oils, and none gives anything to another.
    moved = dict(wax.replaced_by)
    assert sum(moved.values()) == pytest.approx(most)
    assert all(points > 0.0 for points in moved.values())


# Capped at so much; less than a tenth of a percent would not be weighed out.
@pytest.mark.parametrize(("cap", "told"), [(0.05, None), (0.2, 5.0), (3.0, 5.0)])
def test_what_comes_in_as_a_trace_only_is_not_told_to_come_in(cap, told):
    limits = (wb.bound("third", None, cap, table="limits"),)
    known = wb.only_these(TWINS, ["pale", "third"])
    third = told_of(Case(wb.scenario(limits=limits), known).entering(), "third")
    assert third.enters_below == (None if told is None else pytest.approx(told))
    assert third.enters_with == (None if told is None else pytest.approx(cap))


def test_what_comes_in_as_a_trace_first_is_told_where_more_of_it_comes_in():
    """Below 5 it takes the place of the 0.05 % of the dear wax, below 3 of all oil."""
    known = wb.catalogue(
        {"dear": "wax", "third": "wax", "oil": "liquid oil"},
        prices={"dear": 5.0, "third": 9.0, "oil": 3.0},
    )
    asked = wb.scenario(bands=(wb.bound("wax", 0.05), wb.bound("liquid oil")))
    third = told_of(Case(asked, known).entering(), "third")
    assert third.enters_below == pytest.approx(3.0, abs=1e-6)
    assert third.enters_with == pytest.approx(100.0)


@pytest.mark.parametrize("cap", [0.11, 3.0])
def test_a_little_of_something_cheap_stays_until_it_is_as_dear_as_the_rest(cap):
    limits = (wb.bound("third", None, cap, table="limits"),)
    known = wb.replace_prices(wb.only_these(TWINS, ["pale", "third"]), third=1.0)
    third = told_of(Case(wb.scenario(limits=limits), known).staying(), "third")
    assert third.leaves_above == pytest.approx(5.0)
    assert (third.falls_above, third.falls_to) == (pytest.approx(5.0), 0.0)


@pytest.mark.parametrize(("cap", "apart"), [(3.0, None), (4.9, None), (6.0, 6.0)])
def test_only_a_clearly_different_formula_is_told_as_just_as_good(cap, apart):
    limits = (wb.bound("dark", None, cap, table="limits"),)
    known = wb.only_these(TWINS, ["pale", "dark"])
    found = tied(Case(wb.scenario(limits=limits), known).optimum, known)
    assert (found and found.distance) == (apart and pytest.approx(apart))


@pytest.mark.parametrize(
    ("price", "below"), [(20.0, 10.0), (0.02, 0.01), (0.008, None)]
)
def test_no_price_is_told_that_is_practically_nothing(price, below):
    # An oil twice as good would be worth half as much: it comes in below half.
    known = wb.catalogue(
        {"oil": "liquid oil", "weak": "liquid oil", "rest": "wax"},
        prices={"oil": price, "weak": price, "rest": 0.0},
        figures={"feel score": {"oil": 100.0, "weak": 50.0, "rest": 0.0}},
    )
    asked = wb.scenario(windows=(wb.window("feel score", 30.0),))
    case = Case(asked, known)
    weak = told_of(case.entering(), "weak")
    told = None if below is None else pytest.approx(below)
    assert weak.enters_below == told
    plain = told_of(unused_ingredients(case.optimum, known), "weak")
    assert plain.enters_below == told


# Chalk is all but free: a hundred times its price is still nothing, so it is looked at
# up to ten times what the product costs.
def test_something_cheap_falls_at_a_price_far_above_its_own():
    known = wb.catalogue(
        {"chalk": "powder", "wax": "wax", "oil": "liquid oil"},
        prices={"chalk": 0.001, "wax": 20.0, "oil": 10.0},
    )
    asked = wb.scenario(
        only=frozenset({"chalk", "wax", "oil"}),
        limits=(wb.bound("chalk", None, 60.0, table="limits"),),
        bands=(wb.bound("powder", 5.0, None),),
    )
    chalk = told_of(Case(asked, known).staying(), "chalk")
    assert chalk.falls_above == pytest.approx(10.0)
    assert chalk.falls_to == pytest.approx(5.0)
    assert chalk.leaves_above is None


# A solver may leave 7e-14 % of what it takes out.
@pytest.mark.parametrize(("left", "told"), [(7e-14, 0.0), (-1e-12, 0.0), (0.4, 0.4)])
def test_dust_of_what_a_price_drives_out_is_told_as_none(monkeypatch, left, told):
    asked = wb.scenario(bands=(wb.bound("liquid oil"), wb.bound("wax", 10.0)))
    known = wb.catalogue(
        {"a": "liquid oil", "b": "liquid oil", "w": "wax"}, prices={"b": 2.0, "w": 3.0}
    )
    module = import_module("optimiser.explaining.staying")
    plain = module._at_price

    def dusty(session, column, price):
        cost, amount = plain(session, column, price)
        return cost, left if amount <= 1e-9 else amount

    monkeypatch.setattr(module, "_at_price", dusty)
    found = {each.ingredient: each for each in why(asked, known).staying}
    assert found["a"].falls_above == pytest.approx(2.0, abs=1e-4)
    assert found["a"].falls_to == told
