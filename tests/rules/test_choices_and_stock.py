"""Choices, least doses and the shelf."""

import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from optimiser.explaining import Clash, formulate
from tests.rules import workbench as wb

BUTTERS = wb.catalogue(
    {
        "cocoa": "hard butter",
        "kokum": "hard butter",
        "sal": "hard butter",
        "oil": "liquid oil",
        "wax": "wax",
    },
    prices={"cocoa": 20.0, "kokum": 16.0, "sal": 12.0, "oil": 5.0, "wax": 30.0},
)
CAPS = tuple(
    wb.bound(key, None, most, table="limits")
    for key, most in (("cocoa", 40.0), ("kokum", 25.0), ("sal", 15.0), ("oil", 60.0))
)


# By hand: 40 % of hard butter is cheapest from sal (12, to 15 %) and kokum (16, to
# 25 %); one butter alone must be cocoa, for only it goes up to 40 %.
@pytest.mark.parametrize(
    ("least", "most", "butters"),
    [
        (None, None, {"sal": 15.0, "kokum": 25.0}),
        (None, 2, {"sal": 15.0, "kokum": 25.0}),
        (None, 1, {"cocoa": 40.0}),
        # a third one counts from 0.1 %, for a trace is no ingredient
        (3, None, {"sal": 15.0, "kokum": 24.9, "cocoa": 0.1}),
    ],
)
def test_a_choice_holds_how_many_of_a_category_are_used(least, most, butters):
    choices = () if least is most is None else (wb.choice("hard butter", least, most),)
    asked = wb.scenario(
        bands=(wb.bound("hard butter", 40.0, 40.0), wb.bound("liquid oil")),
        limits=CAPS,
        choices=choices,
    )
    answer = formulate(asked, BUTTERS)
    assert wb.percent(answer) == pytest.approx({**butters, "oil": 60.0})
    assert answer.choices_kept == bool(choices)


def test_a_trace_is_no_ingredient_of_a_choice_beside_one_with_a_dose_of_its_own():
    asked = wb.scenario(
        bands=(wb.bound("hard butter", 10.0, 40.0), wb.bound("liquid oil")),
        choices=(wb.choice("hard butter", 3, None),),
        least_if_used={"cocoa": (5.0, wb.toml("least_if_used.cocoa"))},
    )
    found = wb.percent(formulate(asked, BUTTERS))
    assert found == pytest.approx({"cocoa": 5.0, "kokum": 0.1, "sal": 4.9, "oil": 90.0})


def test_a_choice_of_all_counts_every_ingredient():
    asked = wb.scenario(
        bands=(wb.bound("hard butter", 40.0), wb.bound("wax", 5.0)),
        limits=CAPS,
        choices=(wb.choice("all", None, 3),),
    )
    rule = wb.rules_of(asked, BUTTERS)["choice/all/max"]
    assert rule.sentence == "at most 3 ingredients in all"
    assert len(wb.best(asked, BUTTERS)) == 3
    formula = {"sal": 15.0, "kokum": 25.0, "oil": 50.0, "wax": 10.0}
    assert wb.values(asked, BUTTERS, formula)[rule.id] == (4.0, -1.0)


# One butter alone is kokum to 25 % or sal to 15 %, and with 60 % of oil neither makes
# 100 %; each limit matters, for without kokum's own it could be 40 %.
def test_a_choice_that_leaves_nothing_clashes_with_every_limit_it_meets():
    asked = wb.scenario(
        bands=(wb.bound("hard butter"), wb.bound("liquid oil")),
        limits=CAPS,
        choices=(wb.choice("hard butter", None, 1),),
        only=frozenset({"kokum", "sal", "oil"}),
    )
    clash = formulate(asked, BUTTERS)
    assert isinstance(clash, Clash)
    assert {rule.id for rule in clash.rules} == {
        "total",
        "choice/hard butter/max",
        "limit/kokum/max",
        "limit/sal/max",
        "limit/oil/max",
    }


# With a choice in the question too, more of the cheapest butter replaces kokum (16) by
# sal (12), until it is all of the 40 %.
def test_a_limit_on_an_ingredient_that_a_choice_counts_is_priced_as_any_other():
    asked = wb.scenario(
        bands=(wb.bound("hard butter", 40.0, 40.0), wb.bound("liquid oil")),
        limits=CAPS,
        choices=(wb.choice("hard butter", None, 2),),
    )
    lines = {line.rule.id: line for line in formulate(asked, BUTTERS).rules}
    assert lines["limit/sal/max"].ease.price == pytest.approx(-0.04)
    assert lines["limit/sal/max"].ease.until == pytest.approx(40.0)


# The wax adds 2 points for each per cent: 4 points need 2 %, but used at all it must be
# 5 %.
@pytest.mark.parametrize(
    ("least", "firm", "wax"),
    [(None, 4.0, 2.0), (5.0, 4.0, 5.0), (5.0, 14.0, 7.0), (5.0, None, 0.0)],
)
def test_an_ingredient_is_used_at_its_least_dose_or_not_at_all(least, firm, wax):
    known = wb.catalogue(
        {"oil": "liquid oil", "wax": "wax"},
        prices={"oil": 5.0, "wax": 30.0},
        figures={"stiffness": {"oil": 0.0, "wax": 200.0}},
    )
    doses = {} if least is None else {"wax": (least, wb.toml("least_if_used.wax"))}
    windows = () if firm is None else (wb.window("stiffness", firm),)
    asked = wb.scenario(least_if_used=doses, windows=windows)
    assert wb.best(asked, known).get("wax", 0.0) == pytest.approx(wax)


@pytest.mark.parametrize(("dose", "kept"), [(0.0, True), (3.0, False), (5.0, True)])
def test_a_formula_is_held_against_the_least_dose_only_if_it_uses_it(dose, kept):
    asked = wb.scenario(least_if_used={"wax": (5.0, wb.toml("least_if_used.wax"))})
    formula = {"oil": 100.0 - dose, "wax": dose}
    assert wb.broken(formula, asked, BUTTERS) == ([] if kept else ["least/wax"])


def test_a_least_dose_for_everything_gives_way_to_one_of_its_own():
    asked = wb.scenario(
        least_if_used={
            "default": (2.0, wb.toml("least_if_used.default")),
            "wax": (5.0, wb.toml("least_if_used.wax")),
        }
    )
    rules = wb.rules_of(asked, BUTTERS)
    assert {r.id: r.limit for r in rules.values() if r.kind == "least"} == {
        "least/cocoa": 2.0,
        "least/kokum": 2.0,
        "least/sal": 2.0,
        "least/oil": 2.0,
        "least/wax": 5.0,
    }
    assert str(rules["least/oil"].origin) == "test.toml: least_if_used.default"
    assert str(rules["least/wax"].origin) == "test.toml: least_if_used.wax"


def test_another_solver_agrees_on_choices_and_least_doses_together():
    asked = wb.scenario(
        bands=(wb.bound("hard butter", 38.0), wb.bound("wax", 2.0, 12.0)),
        limits=CAPS,
        choices=(wb.choice("hard butter", 2, 2),),
        least_if_used={"default": (10.0, wb.toml("least_if_used.default"))},
    )
    prices = [20.0, 16.0, 12.0, 5.0, 30.0]
    caps = [40.0, 25.0, 15.0, 60.0, 100.0]
    zero = [0.0] * 5
    unit = [[float(i == j) for j in range(5)] for i in range(5)]
    rows = [([1.0] * 5 + zero, 100.0, 100.0)]
    rows += [([1.0, 1.0, 1.0, 0.0, 0.0, *zero], 38.0, 100.0)]
    rows += [([*unit[4], *zero], 2.0, 12.0), ([*zero, 1.0, 1.0, 1.0, 0.0, 0.0], 2, 2)]
    for i in range(5):
        rows += [([*unit[i], *(-100.0 * u for u in unit[i])], -100.0, 0.0)]
        rows += [([*unit[i], *(-10.0 * u for u in unit[i])], 0.0, 100.0)]
    matrix, lower, upper = zip(*rows, strict=True)
    other = milp(
        [each / 100 for each in prices] + zero,
        constraints=LinearConstraint(matrix, lower, upper),
        bounds=Bounds([0.0] * 10, caps + [1.0] * 5),
        integrality=[0] * 5 + [1] * 5,
    )
    answer = formulate(asked, BUTTERS, solver="cbc")
    assert answer.cost_per_kg == pytest.approx(other.fun, rel=1e-7)
    assert answer.solver == "HiGHS and CBC"


SHELF = wb.catalogue(
    {"cocoa": "hard butter", "oil": "liquid oil", "wax": "wax", "sal": "hard butter"},
    prices={"cocoa": 20.0, "oil": 5.0, "wax": 30.0, "sal": 1.0},
    stock=[("cocoa", 0.3), ("cocoa", 0.3), ("oil", 5.0), ("wax", 0.02)],
)


def test_only_the_shelf_is_used_and_lots_of_one_thing_add_up():
    asked = wb.scenario(
        batch_kg=2.0,
        stock_only=wb.toml("stock.only"),
        bands=(wb.bound("hard butter", 20.0), wb.bound("wax")),
        only=frozenset(SHELF.ingredients),
    )
    rules = wb.rules_of(asked, SHELF)
    # Two lots of 0.3 kg are 30 % of 2 kg; 5 kg of oil never run out; sal is not there.
    assert {r.id: r.limit for r in rules.values() if r.kind == "stock"} == {
        "stock/cocoa": 30.0,
        "stock/wax": 1.0,
        "stock/nothing bought": 0.0,
    }
    assert wb.best(asked, SHELF) == pytest.approx({"cocoa": 20.0, "oil": 80.0})
    assert (
        rules["stock/cocoa"].sentence
        == "cocoa at most 30 %, for 0.6 kg is on the shelf"
    )
    assert wb.broken({"sal": 10.0, "oil": 90.0}, asked, SHELF) == [
        "band/hard butter/min",
        "stock/nothing bought",
    ]


# Of 2 kg: what is there could run out unless the whole batch could be made of it.
@pytest.mark.parametrize(
    ("kg", "caps"),
    [(0.98, [49.0]), (1.02, [51.0]), (1.8, [90.0]), (1.99, [99.5]), (2.0, [])],
)
def test_whatever_could_run_out_in_a_batch_is_capped(kg, caps):
    known = wb.catalogue(
        {"cocoa": "hard butter", "oil": "liquid oil"},
        stock=[("cocoa", kg), ("oil", 5.0)],
    )
    asked = wb.scenario(batch_kg=2.0, stock_only=wb.toml("stock.only"))
    found = [
        rule.limit
        for rule in wb.rules_of(asked, known).values()
        if rule.id.startswith("stock/") and rule.id != "stock/nothing bought"
    ]
    assert found == pytest.approx(caps)


# Added up one by one, 0.2, 0.7 and 0.1 kg come to a hair less than 1; so does a
# hundred times 0.57 over 0.57.
@pytest.mark.parametrize(
    ("lots", "batch_kg"), [((0.2, 0.7, 0.1), 1.0), ((0.57,), 0.57)]
)
def test_a_shelf_that_has_the_whole_batch_caps_nothing(lots, batch_kg):
    known = wb.catalogue({"cocoa": "hard butter"}, stock=[("cocoa", kg) for kg in lots])
    asked = wb.scenario(batch_kg=batch_kg, stock_only=wb.toml("stock.only"))
    assert "stock/cocoa" not in wb.rules_of(asked, known)


def test_a_batch_too_large_for_the_shelf_clashes_and_says_with_what():
    asked = wb.scenario(
        batch_kg=10.0,
        stock_only=wb.toml("stock.only"),
        bands=(wb.bound("hard butter", 20.0), wb.bound("liquid oil")),
    )
    clash = formulate(asked, SHELF)
    assert {rule.id for rule in clash.rules} == {
        "band/hard butter/min",
        "stock/cocoa",
        "stock/nothing bought",
    }


# 1 % of wax and 30 % of cocoa are there for 2 kg; the rest of both would be bought.
def test_the_least_is_bought_when_that_is_the_aim():
    asked = wb.scenario(
        batch_kg=2.0,
        aims=("bought", "cost"),
        bands=(wb.bound("hard butter", 40.0), wb.bound("wax", 5.0)),
        only=frozenset(SHELF.ingredients),
    )
    answer = formulate(asked, SHELF)
    assert answer.aims[0] == ("bought", pytest.approx(10.0 + 4.0), "%")
    # What is bought of hard butter is the cheapest, sal, beyond the shelf's cocoa.
    assert wb.percent(answer) == pytest.approx(
        {"cocoa": 30.0, "sal": 10.0, "wax": 5.0, "oil": 55.0}
    )
