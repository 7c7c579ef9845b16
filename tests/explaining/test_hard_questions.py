"""Questions that once ended a run: rules about nothing, choices, prices near zero."""

import pytest
from msgspec.structs import replace

from optimiser.domain.scenario import Aim, Emulsify
from optimiser.explaining import Answer, Clash, check, formulate
from optimiser.explaining.reaches import Standing
from optimiser.explaining.slopes import slope_at
from optimiser.reading import read_catalogue, read_scenario, shipped_folder
from optimiser.rules import build
from optimiser.solving import Session, SolverError, optimise
from optimiser.studies.stock import stock
from tests.rules import workbench as wb

SCENARIOS = shipped_folder("scenarios")
KNOWN = read_catalogue(shipped_folder("catalogues"), "demo")
TOO_MUCH_WAX = wb.bound("wax", 60.0, 70.0)


def shipped(name, **change):
    scenario, catalogue = read_scenario(SCENARIOS / f"{name}.toml")
    return replace(scenario, **change), catalogue


def window(scenario, name, low, high, *, at, over):
    """A scenario with one window more."""
    each = wb.window(name, low, high, at=at, over=over)
    return (*scenario.windows, replace(each, origin=wb.toml("windows[9]")))


@pytest.mark.parametrize(
    "more",
    [
        {"windows": "firmness"},
        {"bands": wb.bound("powder", high=5.0, of="exfoliant")},
        {"bands": wb.bound("powder", high=5.0, of="solids")},
    ],
)
def test_a_clash_is_told_beside_a_rule_about_nothing(more):
    scenario, catalogue = shipped("massage_bar")
    bands = tuple(each for each in scenario.bands if each.what != "wax")
    windows = scenario.windows
    if "windows" in more:
        windows = window(scenario, "firmness", None, 60.0, at=25.0, over="exfoliant")
    else:
        bands = (*bands, more["bands"])
    asked = replace(scenario, bands=(*bands, TOO_MUCH_WAX), windows=windows)
    found = formulate(asked, catalogue)
    assert isinstance(found, Clash)
    assert any(each.id.startswith("band/wax") for each in found.rules)
    assert found.ways_out


@pytest.mark.parametrize("most", [1.0, 1.05, 1.1, 4.35, 4.9])
def test_a_solver_that_loses_its_way_over_a_price_ends_no_run(most):
    # Over all butters: so little is solid only of some that are close to a nut.
    let_in = {"near/tree nut": (None, wb.toml("dropped"))}
    scenario, catalogue = shipped("massage_bar_nut_free", eased=let_in)
    windows = window(scenario, "solid fat", None, most, at=35.0, over="lipids")
    # What is near to a nut may come in: little else is as soft.
    eased = {"near/tree nut": (None, wb.toml("eased"))}
    found = formulate(replace(scenario, windows=windows, eased=eased), catalogue)
    assert isinstance(found, Answer)
    assert found.proof.worst_violation <= 1e-6


def test_a_price_is_walked_where_the_solver_cannot_say_how_far(monkeypatch):
    scenario, catalogue = shipped("massage_bar", windows=(), second_opinion=False)
    exact = formulate(scenario, catalogue)

    def lost(*_):
        raise SolverError("lost")

    monkeypatch.setattr(Session, "reach", lost)
    walked = formulate(scenario, catalogue)
    pairs = [
        (one.tighten, other.tighten)
        for one, other in zip(exact.rules, walked.rules, strict=True)
        if one.tighten and one.tighten.until is not None and one.tighten.price > 1e-3
    ]
    assert pairs
    for one, other in pairs:
        assert other.price == pytest.approx(one.price, rel=1e-4)
        assert other.until == pytest.approx(one.until, rel=0.05)


def test_a_choice_of_at_least_some_needs_a_dose_even_where_none_is_asked_for():
    scenario, catalogue = shipped("massage_bar")
    asked = replace(
        scenario,
        choices=(wb.choice("liquid oil", at_least=3),),
        least_if_used={"default": (0.0, wb.toml("least_if_used.default"))},
    )
    found = formulate(asked, catalogue)
    oils = [x for x in found.formula if x.category == "liquid oil" and x.percent > 0.05]
    assert len(oils) >= 3


def test_choices_that_a_shelf_cannot_serve_are_a_clash():
    scenario, catalogue = shipped("massage_bar")
    asked = replace(
        scenario,
        choices=(wb.choice("hard butter", at_least=2),),
        least_if_used={"default": (0.5, wb.toml("least_if_used.default"))},
    )
    found = stock(asked, catalogue)
    assert isinstance(found, Clash)
    assert "choice/hard butter/min" in {each.id for each in found.rules}
    assert found.ways_out


def test_a_price_too_low_for_a_short_step_is_still_told():
    """0.0001 EUR/kg a point is more than nothing: two oils at almost one price."""
    keys = {"one": "liquid oil", "other": "liquid oil"}
    known = wb.catalogue(keys, prices={"one": 20.0, "other": 20.01})
    asked = wb.scenario(
        base={"one": 1.0, "other": 99.0},
        limits=(wb.bound("one", high=1.0, table="limits"),),
    )
    programme = build(asked, known)
    session = optimise(programme).session
    number = next(n for n, r in enumerate(programme.rules) if r.id == "limit/one/max")
    here = Standing(number, 1.0, session.objective())
    # No price from the corner is given, so that it is found by steps.
    assert slope_at(session, here, 1.0).slope == pytest.approx(-0.0001, rel=1e-3)
    assert slope_at(session, here, -1.0).slope == pytest.approx(0.0001, rel=1e-3)


def test_a_price_ends_where_an_earlier_aim_with_room_begins_to_answer():
    """Room is counted from the least change, which grows from some limit on.

    Two oils, 5 points of room: the dear one of the base is left by as much. Asked for
    at 41 % and more it cannot all leave, and the least change is still 0 up to 50 %.
    """
    keys = {"dear": "liquid oil", "cheap": "liquid oil"}
    known = wb.catalogue(keys, prices={"dear": 20.0, "cheap": 10.0})
    asked = wb.scenario(
        base={"dear": 50.0, "cheap": 50.0},
        aims=(Aim("change", 20.0), Aim("cost")),
        limits=(wb.bound("dear", low=40.0, table="limits"),),
    )
    answer = formulate(asked, known)
    (line,) = [x for x in answer.rules if x.rule.id == "limit/dear/min"]
    assert answer.room == {"change": 20.0, "cost": 0.0}
    assert line.tighten.price == pytest.approx(0.1)
    assert line.tighten.until == pytest.approx(50.0, abs=0.3)
    assert line.ease.until == pytest.approx(30.0, abs=0.01)


ORDERS = [
    ("massage_bar", "count cost change bought category-change"),
    ("lip_balm", "cost category-change change count"),
    ("foot_scrub_bar", "change bought cost category-change count"),
    ("massage_bar_hot", "cost change bought count"),
    ("massage_bar_hot", "bought category-change change count cost"),
    ("massage_bar_nut_free", "change cost bought category-change count"),
    ("massage_bar_vegan_orange", "change cost bought category-change"),
]


@pytest.mark.parametrize(("name", "order"), ORDERS)
def test_aims_in_any_order_with_choices_are_answered_and_proved(name, order):
    aims = tuple(Aim(each.replace("-", " ")) for each in order.split())
    scenario, catalogue = shipped(name)
    found = formulate(replace(scenario, aims=aims), catalogue)
    assert isinstance(found, Answer)
    assert found.proof.gap <= 1e-5
    assert found.proof.worst_violation <= 1e-6
    used = sum(line.percent > 0.0 for line in found.formula)
    counted = {name: value for name, value, _ in found.aims}.get("count")
    assert counted is None or counted == pytest.approx(used)


@pytest.mark.parametrize("order", ["category-change", "change category-change"])
@pytest.mark.parametrize("lauric", [None, 0.0])
def test_a_clash_with_a_total_of_emulsifiers_is_told(order, lauric):
    scenario, catalogue = shipped("foot_scrub_bar")
    aims = tuple(Aim(each.replace("-", " ")) for each in order.split())
    guard = wb.bound("lauric", high=lauric, of="butters", table="guard")
    asked = replace(
        scenario,
        aims=aims,
        emulsify=Emulsify((10.0,), 1.0, wb.toml("emulsifiers.total")),
        lauric_guard=scenario.lauric_guard if lauric is None else guard,
    )
    found = formulate(asked, catalogue)
    assert isinstance(found, Clash)
    assert found.rules


def test_an_answer_that_agrees_breaks_no_window():
    """With ties the tangents may lead to another formula, which must agree as well."""
    scenario, catalogue = shipped("massage_bar", aims=(Aim("count"),))
    guard = wb.bound("lauric", of="butters", table="guard")
    found = formulate(replace(scenario, lauric_guard=guard), catalogue)
    said = found.second_opinion
    assert said.outcome in {"agrees", "held"}  # which of the ties it stands at first
    assert all(line.holds for line in said.lines)


def test_no_share_is_eased_below_nothing():
    scenario, catalogue = shipped("massage_bar")
    windows = window(scenario, "solid fat", 2.0, None, at=35.0, over="product")
    guard = wb.bound("lauric", high=50.0, of="butters", table="guard")
    asked = replace(scenario, windows=windows, lauric_guard=guard)
    for line in formulate(asked, catalogue).rules:
        for price in (line.ease, line.tighten):
            if price is not None and price.until is not None and line.rule.unit == "%":
                assert price.until >= 0.0, line.rule.id


def test_a_clash_is_told_beside_a_ratio_to_nothing():
    scenario, catalogue = shipped("massage_bar")
    bands = tuple(each for each in scenario.bands if each.what != "wax")
    asked = replace(
        scenario,
        bands=(*bands, wb.bound("wax", 99.0, 100.0)),
        others=(wb.ratio("r", ["cocoa_butter"], ["squalane"], 0.0),),
    )
    assert isinstance(formulate(asked, catalogue), Clash)


def test_a_shelf_that_serves_nothing_is_a_clash_whatever_the_aim():
    scenario, catalogue = shipped("massage_bar", aims=(Aim("bought"),))
    limits = (*scenario.limits, wb.bound("cocoa_butter", 60.0, table="limits"))
    assert isinstance(stock(replace(scenario, limits=limits), catalogue), Clash)


def test_a_rule_of_what_a_formula_does_without_may_be_dropped_when_it_is_checked():
    scenario, catalogue = shipped("massage_bar")
    dropped = {"practice/candelilla wax/max": (None, wb.toml("dropped.rules"))}
    asked = replace(scenario, eased=dropped)
    answer = formulate(asked, catalogue)
    formula = {x.ingredient: x.percent for x in answer.formula if x.percent > 0.0}
    assert check(formula, asked, catalogue).status == "kept"
