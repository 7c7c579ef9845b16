"""The formula that is shown beside the one without steps, and without each wish."""

import pytest
from msgspec.structs import replace

from optimiser import presenting
from optimiser.explaining import formulate
from optimiser.explaining.why import why
from optimiser.presenting.why import why_data, why_page
from optimiser.reading import read_scenario, shipped_folder

NUT_FREE = shipped_folder("scenarios") / "massage_bar_nut_free.toml"
PLAIN = shipped_folder("scenarios") / "massage_bar.toml"


@pytest.fixture(scope="module")
def asked():
    return read_scenario(NUT_FREE)


@pytest.fixture(scope="module")
def reasons(asked):
    return why(*asked)


@pytest.fixture(scope="module")
def plain():
    return why(*read_scenario(PLAIN))


def shown(found, *, full=False):
    return " ".join(presenting.as_text(why_page(found, full=full), 100).split())


@pytest.mark.parametrize("path", [NUT_FREE, PLAIN], ids=lambda path: path.stem)
def test_what_is_explained_is_the_formula_that_is_shown(path):
    scenario, catalogue = read_scenario(path)
    told, found = formulate(scenario, catalogue), why(scenario, catalogue)
    formula = {x.name: x.percent for x in told.formula if x.percent > 0.0}
    assert found.made.formula == pytest.approx(formula)
    assert found.made.cost_per_kg == pytest.approx(told.cost_per_kg)
    assert found.made.aims == told.aims
    assert found.free.aims == told.steps.aims
    assert found.free.cost_per_kg == pytest.approx(told.steps.cost_per_kg)
    assert found.base_cost == pytest.approx(told.base_cost_per_kg)


def test_what_keeps_something_out_is_told_by_the_same_question_without_it(
    asked, reasons
):
    scenario, catalogue = asked
    (nut, *others) = reasons.without
    assert (nut.rule.id, nut.gone) == ("exclude/tree nut", ("sweet almond oil",))
    assert [(each.rule.id, each.gone) for each in others] in (
        [],
        [("exclude/peanut", ())],
    )
    exclude = replace(scenario.exclude, allergens=("peanut",))
    alone = formulate(replace(scenario, exclude=exclude), catalogue)
    assert nut.standing.aims == alone.aims
    assert nut.standing.change == pytest.approx(0.0, abs=1e-6)
    assert nut.standing.cost_per_kg == pytest.approx(alone.cost_per_kg)
    said = shown(reasons)
    assert "without 'no tree nut' 19.52 0.0 your base 19.52 0.0" in said
    assert (
        "'no tree nut' moves it 27.0 % further from the base; out for it: sweet almond"
        " oil" in said
    )
    assert "no peanut" not in said  # nothing had to go for it, and it costs nothing


def test_in_money_an_exclusion_costs_money(asked):
    found = why(*asked, cheapest=True)
    (nut,) = [each for each in found.without if each.gone]
    more = found.made.cost_per_kg - nut.standing.cost_per_kg
    cost = f"'no tree nut' costs {more:.2f} EUR/kg"
    nothing = "'no tree nut' costs nothing that is asked for"
    assert (cost if more >= 0.005 else nothing) in shown(found)


def test_steps_are_told_with_what_they_cost_and_what_holds_the_formula_in_them(plain):
    said = shown(plain)
    more = plain.made.cost_per_kg - plain.free.cost_per_kg
    assert more >= 0.005
    assert f"Its steps of 0.5 % cost {more:.2f} EUR/kg (" in said
    assert "at its limit in them: " in said
    lines = {line.rule.id: line for line in formulate(*read_scenario(PLAIN)).rules}
    assert plain.holding
    for rule in plain.holding:
        assert abs(lines[rule.id].slack) < 1e-6
        assert rule.kind != "pin"
    whole = shown(plain, full=True)
    for rule in plain.holding:
        assert presenting.rules.in_few_words(rule) in whole


def test_a_scenario_without_steps_or_exclusions_is_beside_nothing(asked):
    scenario, catalogue = read_scenario(PLAIN)
    found = why(replace(scenario, steps=None), catalogue)
    assert found.free is None
    assert "Beside others" not in shown(found).capitalize()
    assert "steps" not in shown(found)
    free = why(replace(asked[0], steps=None), asked[1])
    assert "this formula 17.41" in shown(free)


def test_what_is_let_in_without_a_price_tells_no_cost(asked):
    scenario, catalogue = asked
    prices = {k: v for k, v in catalogue.prices.items() if k != "sweet_almond_oil"}
    found = why(scenario, replace(catalogue, prices=prices))
    (nut,) = [each for each in found.without if each.gone]
    assert nut.standing is None
    assert "'no tree nut': what it costs was not found (in time, or for" in shown(found)
    assert why_data(found)["without"][0]["made"] is None
