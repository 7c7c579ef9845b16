"""Why with aims in order and with choices: each statement against solving again."""

import pytest
from msgspec.structs import replace

from optimiser import explaining
from optimiser.domain.rule import Column, Goal, Programme, Row, natural
from optimiser.explaining.curve import price_curves
from optimiser.explaining.entering import entering, open_session
from optimiser.explaining.staying import staying
from optimiser.explaining.why import RuleCurve, why, why_rule
from optimiser.presenting import as_text, report
from optimiser.presenting.why import rule_page, why_data, why_page
from optimiser.rules import build
from optimiser.solving import Infeasible, optimise
from tests.explaining.test_why import amounts_again, cost_again, with_limit
from tests.rules import workbench as wb
from tests.shipped import read_scenario
from tests.solving.random_programmes import rule

CHOOSING = "scenarios/massage_bar_vegan_orange.toml"
HOT = "scenarios/massage_bar_hot.toml"
IN_ORDER = [CHOOSING, HOT, "scenarios/massage_bar_nut_free.toml"]


@pytest.fixture(scope="module")
def asked():
    """Return a scenario with choices, its catalogue, and its answer by sums alone."""
    scenario, catalogue = read_scenario(CHOOSING)
    return scenario, catalogue, optimise(build(scenario, catalogue))


@pytest.fixture(scope="module")
def reasons():
    return {path: why(*read_scenario(path)) for path in IN_ORDER}


def with_choices_kept(optimum):
    programme = optimum.session.programme
    columns = tuple(
        replace(column, lower=x, upper=x, whole=False) if column.whole else column
        for column, x in zip(programme.columns, optimum.amounts, strict=True)
    )
    return replace(programme, columns=columns)


def with_a_dose(programme, key, dose):
    columns = list(programme.columns)
    where = programme.ingredients.index(key)
    columns[where] = replace(columns[where], lower=dose)
    return replace(programme, columns=tuple(columns))


@pytest.mark.parametrize("path", IN_ORDER)
def test_a_side_is_told_for_the_aim_that_formulate_prices_it_in(path, reasons):
    answer = explaining.formulate(*read_scenario(path))
    lines = {line.rule.id: line for line in answer.rules}
    looked_at = 0
    for curve in reasons[path].curves:
        line = lines[curve.rule.id]
        ways = {
            "min": (line.ease, line.tighten),
            "max": (line.tighten, line.ease),
            "exact": (line.lowering, line.raising),
        }[curve.rule.side]
        for direction, price in zip((-1.0, 1.0), ways, strict=True):
            if price is not None and price.price:
                looked_at += 1
                assert curve.way(direction)[0].curve.of == price.of, curve.rule.id
    assert looked_at > 3


def test_every_step_of_every_aim_is_what_solving_again_gives(asked):
    _, _, optimum = asked
    kept = with_choices_kept(optimum)
    names = [goal.name for goal in kept.goals]
    ids = [rule.id for rule in kept.rules]
    for rule_id in ("band/wax/min", "band/liquid oil/max"):
        number = ids.index(rule_id)
        found = RuleCurve(kept.rules[number], None, None, price_curves(optimum, number))
        told = [leg for way in (-1.0, 1.0) for leg in found.way(way)]
        assert {leg.curve.of for leg in told} == {"change", "cost"}
        for leg in told:
            for point in leg.points:
                again = optimise(with_limit(kept, number, point.limit))
                value = again.best[names.index(leg.curve.of)]
                assert value == pytest.approx(point.value, abs=1e-5)


def test_where_an_earlier_aim_gives_way_is_told(asked):
    # Liquid oil below 27.5 %: more change, whatever the cost.
    _, _, optimum = asked
    kept = with_choices_kept(optimum)
    number = [rule.id for rule in kept.rules].index("band/liquid oil/max")
    found = RuleCurve(kept.rules[number], None, None, price_curves(optimum, number))
    cost, change = found.way(-1.0)
    assert (cost.curve.of, change.curve.of) == ("cost", "change")
    last = cost.points[-1].limit
    at, beyond = (optimise(with_limit(kept, number, last - by)) for by in (0.0, 0.1))
    assert at.best[0] == pytest.approx(optimum.best[0])
    assert beyond.best[0] > optimum.best[0] + 1e-3


def test_no_limit_is_offered_that_no_share_can_have(reasons):
    for found in reasons.values():
        for each in found.curves:
            low, high = natural(each.rule)
            for curve in each.curves:
                assert all(low <= p.limit <= high for p in curve.points)
    least = [e for e in reasons[CHOOSING].curves if e.rule.kind == "least"]
    assert least
    assert all(not each.way(-1.0) for each in least)


def test_with_choices_an_ingredient_comes_in_below_its_price_with_what_is_told(asked):
    scenario, catalogue, optimum = asked
    found = entering(optimum, scenario, catalogue, open_session(optimum))
    priced = [each for each in found if each.enters_below is not None]
    assert {"mango_butter", "sunflower_wax"} <= {e.ingredient for e in priced}
    for each in priced:
        below, above = (each.enters_below * by for by in (0.999, 1.001))
        assert cost_again(CHOOSING, each.ingredient, above) < 1e-6
        amount = cost_again(CHOOSING, each.ingredient, below)
        assert amount == pytest.approx(each.enters_with, abs=1e-4)
        assert amount >= 0.5 - 1e-6  # what the scenario asks of all that is used
    # All for next to nothing at once: were one worth it alone, some would be in.
    never = [each.ingredient for each in found if each.enters_below is None]
    assert len(never) > 3
    nearly_free = amounts_again(CHOOSING, dict.fromkeys(never, 0.01))
    assert max(nearly_free.values()) < 1e-6


@pytest.mark.parametrize(("kind", "sure"), [("opinion", False), ("band", True)])
def test_that_nothing_fits_with_a_dose_is_unsure_where_only_a_tangent_says_so(
    kind, sure
):
    """A tangent is near the formula shown; elsewhere the dose may fit after all."""
    everything = [(0, 1.0), (1, 1.0)]
    asked = Programme(
        ingredients=("oil", "wax"),
        columns=tuple(Column("amount", key, 0.0, 100.0) for key in ("oil", "wax")),
        rules=(
            rule("total", "exact", 100, everything, (), 1.0),
            rule("no wax", "max", 0, [(1, 1.0)], (), 1.0, kind=kind),
        ),
        links=(),
        goals=(Goal("cost", "EUR/kg", Row.of([(0, 1.0), (1, 2.0)])),),
    )
    known = wb.catalogue({"oil": "liquid oil", "wax": "wax"})
    (wax,) = entering(optimise(asked), wb.scenario(), known)
    assert (wax.ingredient, wax.forced_by, wax.sure) == ("wax", None, sure)


@pytest.mark.parametrize("path", IN_ORDER)
def test_what_a_dose_adds_is_what_solving_again_with_it_gives(path):
    scenario, catalogue = read_scenario(path)
    optimum = optimise(build(scenario, catalogue))
    programme = optimum.session.programme
    names = [goal.name for goal in programme.goals]
    found = entering(optimum, scenario, catalogue, open_session(optimum))
    for each in found:
        dosed = with_a_dose(programme, each.ingredient, each.forced_dose)
        again = optimise(dosed)
        if each.forced_by is None:
            assert each.sure
            assert isinstance(again, Infeasible)
            continue
        for name, best, now in zip(names, again.best, optimum.best, strict=True):
            by = each.forced_by if name == each.forced_of else 0.0
            assert best - now == pytest.approx(by, abs=1e-5)
            if name == each.forced_of:
                break


def test_with_choices_an_ingredient_leaves_above_its_price(asked):
    _, catalogue, optimum = asked
    found = staying(optimum, catalogue, open_session(optimum))
    leaving = [each for each in found if each.leaves_above is not None]
    assert {"rapeseed_oil", "candelilla_wax"} <= {e.ingredient for e in leaving}
    for each in leaving:
        assert cost_again(CHOOSING, each.ingredient, each.leaves_above * 1.001) < 1e-6
        assert cost_again(CHOOSING, each.ingredient, each.leaves_above * 0.999) > 0.1


def test_rules_on_what_is_chosen_are_not_said_to_cost_nothing(reasons):
    unpriced = {rule.id for rule in reasons[CHOOSING].unpriced}
    assert {"exclude/vegan", "choice/wax/max"} <= unpriced
    scenario, catalogue = read_scenario(CHOOSING)
    best = optimise(build(scenario, catalogue)).best
    free = replace(scenario, exclude=replace(scenario.exclude, vegan=False))
    assert optimise(build(free, catalogue)).best[0] < best[0] - 1.0
    waxes = tuple(
        replace(each, at_most=2) if each.what == "wax" else each
        for each in scenario.choices
    )
    two = optimise(build(replace(scenario, choices=waxes), catalogue))
    assert two.best[1] < best[1] - 0.01
    told = " ".join(as_text(why_page(reasons[CHOOSING], full=True), 80).split())
    answer = " ".join(report(explaining.formulate(scenario, catalogue), 80).split())
    for text in (told, answer):
        _, found, names = text.partition("Not priced while the chosen ingredients are")
        assert found
        assert "known to be vegan" in names
        assert "at most 1 ingredient of wax" in names
    nothing = answer.partition("changes nothing: ")[2].partition("Not priced")[0]
    assert "vegan" not in nothing


def test_the_screen_names_the_aim_and_tells_no_noise(reasons):
    hot = " ".join(as_text(why_page(reasons[HOT], full=True), 80).split())
    assert "does not fit" not in hot
    assert "no price brings it in; 1 % of it adds" in hot
    assert "points of change" in hot
    # Asked anew with none of it, the least change is the one that is told.
    scenario, catalogue = read_scenario(HOT)
    pins = [
        replace(each, low=0.0, high=0.0) if each.what == "lavender_oil" else each
        for each in scenario.pins
    ]
    none = explaining.formulate(replace(scenario, pins=tuple(pins)), catalogue)
    assert none.aims[0][1] == pytest.approx(2.806, abs=0.0005)
    assert "0 %: change 2.806 points" in hot
    for found in reasons.values():
        text = as_text(why_page(found, full=True), 80)
        assert "0.0000" not in text
        assert ": -" not in text
        assert max(map(len, text.splitlines())) <= 80


def test_data_and_one_rule_tell_each_aim(reasons):
    data = why_data(reasons[CHOOSING])
    oil = next(r for r in data["rules"] if r["id"] == "band/liquid oil/max")
    assert (oil["down"], oil["up"]) == (["cost", "change"], ["cost"])
    assert [curve["of"] for curve in oil["curves"]] == ["change", "cost"]
    assert {rule["id"] for rule in data["unpriced"]} >= {"exclude/vegan"}
    one = why_rule(*read_scenario(CHOOSING), "band/liquid oil/max", again=True)
    text = as_text(rule_page(one), 80)
    assert "CHANGE AT EVERY STEP" in text
    assert "COST AT EVERY STEP" in text
    scenario, catalogue = read_scenario(CHOOSING)
    for each in one.again:  # the second opinion may hold a window there
        eased = {"band/liquid oil/max": (each.limit, scenario.windows[0].origin)}
        answer = explaining.formulate(replace(scenario, eased=eased), catalogue)
        best = [value for _, value, _ in answer.aims]
        assert [value for _, value, _ in each.aims] == pytest.approx(best, abs=1e-4)


@pytest.mark.parametrize(("prices", "all_of_it"), [({}, True), ({"wax": None}, False)])
def test_a_base_is_priced_where_all_of_it_is(prices, all_of_it):
    known = wb.catalogue({"oil": "liquid oil", "wax": "wax"}, prices=prices)
    asked = wb.scenario(base={"oil": 80.0, "wax": 20.0}, aims=("change",))
    assert why(asked, known).all_priced is all_of_it
