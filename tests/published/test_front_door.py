"""Published blends asked as a maker asks: files in, a proved answer out.

Amounts are compared only where a case says that they are unique; elsewhere another
formula of the same cost is as right, and the cost alone is compared.
"""

import pytest

from optimiser.explaining import check, formulate
from tests.published.front_door import amounts_of, key, line_of, read_question
from tests.published.front_door_cases import MONTHS, OILS, QUESTIONS, SALE, a1, month_of
from tests.published.monthly_blends import best_profit
from tests.published.programmes import as_number, case

# What a unit of product fetches, in the cases that seek the most: their objective is
# ``total * (fetched - cost)``, and so a price of ours is minus the published one.
FETCHED = {"a1": SALE, "f4": 4.0}


def asked(name, folder):
    question = QUESTIONS[name]()
    scenario, catalogue = read_question(folder, question)
    return question, formulate(scenario, catalogue)


def objective_of(name, question, cost):
    fetched = FETCHED.get(name)
    return question.total * (cost if fetched is None else fetched - cost)


# The printed digits and half a unit of the last, as each case states them (c1: dollars
# a year to the cent, over 365 days); d14 prints amounts only, and the file's
# recomputed cost stands in for a printed one.
@pytest.mark.parametrize("name", list(QUESTIONS))
def test_the_least_cost_is_the_published_one(name, tmp_path):
    question, answer = asked(name, tmp_path)
    data = case(name)
    wanted = data["published"]["objective"]
    tolerance = data["published"].get("objective_tol", 0.0)
    if wanted is None:
        wanted = data["computed"]["objective"]
    assert objective_of(name, question, answer.cost_per_kg) == pytest.approx(
        wanted, abs=tolerance + 1e-9 * abs(wanted)
    )
    assert answer.proof.gap < 1e-6


@pytest.mark.parametrize("name", ["a1", "b1", "b2", "c1", "d14", "d17"])
def test_the_amounts_are_the_published_ones(name, tmp_path):
    question, answer = asked(name, tmp_path)
    published = case(name)["published"]
    assert published["values_unique"]
    found = amounts_of(answer, question)
    if name == "c1":  # printed as dollars of each food in 365 days
        wanted = {n: each / 365 for n, each in published["annual_spend_365"].items()}
        tolerance = published["annual_spend_tol"] / 365
        wanted |= dict.fromkeys(found.keys() - wanted.keys() - {"not_spent"}, 0.0)
    else:
        wanted = {n: each for n, each in published["values"].items() if n != "y"}
        tolerance = published["values_tol"]
    assert {n: found[key(n)] for n in wanted} == pytest.approx(wanted, abs=tolerance)


# Stigler, Journal of Farm Economics 27 (1945), as solved since: 39.69 dollars a year of
# 365.25 days, 39.66 of 365; the same five foods do for Dantzig's twenty.
@pytest.mark.parametrize("name", ["c1", "c2"])
@pytest.mark.parametrize(("days", "dollars"), [(365.25, 39.69), (365, 39.66)])
def test_a_year_of_the_diet_costs_what_was_published(name, days, dollars, tmp_path):
    _, answer = asked(name, tmp_path)
    assert round(days * answer.cost_per_kg, 2) == dollars
    foods = {line.name for line in answer.formula} - {"not_spent"}
    published = {"c1": ["flour"], "c2": ["wheat"]}[name]
    assert foods == {*published, "liver", "cabbage", "spinach", "navybeans"}


# (case, row and side of the case, rule of ours, units of our limit per unit of the
# case's bound and per unit of ``total``). A window over the product holds the sum of
# figure times amount over ``total``, so its limit is ``bound / total`` with the case's
# own figures and 100 times that where they are written in percent; a band holds
# ``100 * amount / total``. Dividing ``d(total * cost) / d(bound)`` by ``total`` and by
# ``units / total`` leaves ``published price / units``.
PRICED = [
    ("a1", "veg_cap:upper", "band/veg/max", 100.0),
    ("a1", "nonveg_cap:upper", "band/nonveg/max", 100.0),
    ("b1", "salt_max:upper", "window/salt/product/max", 100.0),
    ("b2", "fat_min:lower", "window/fat/product/min", 100.0),
    *(
        (name, f"{nutrient}:lower", f"window/{shown}/product/min", 1.0)
        for name in ("c1", "c2")
        for nutrient, shown in (
            ("calories_thousand", "calories thousand"),
            ("calcium_g", "calcium g"),
            ("vitaminA_kIU", "vitamina kiu"),
            ("riboflavin_mg", "riboflavin mg"),
            ("ascorbic_acid_mg", "ascorbic acid mg"),
        )
    ),
    ("d04", "ZX:upper", "constituent/zinc/max", 100.0),
    ("d04", "CN:lower", "constituent/copper/min", 100.0),
    ("d04", "MN:lower", "constituent/magnesium/min", 100.0),
    ("d04", "CHN:lower", "constituent/chromium/min", 100.0),
    ("d04", "IX:upper", "constituent/iron/max", 100.0),
    ("d04", "SX:upper", "constituent/silicon/max", 100.0),
    ("d04", "MGX:upper", "constituent/manganese/max", 100.0),
    ("d14", "B:lower", "window/nutrient b/product/min", 1.0),
    ("d14", "C:lower", "window/nutrient c/product/min", 1.0),
    ("d17", "calories:lower", "window/calories/product/min", 1.0),
    ("d17", "protein:upper", "window/protein/product/max", 1.0),
    ("d17", "fat:lower", "window/fat/product/min", 1.0),
    # Degenerate: easing one of two equal limits earns nothing, tightening it costs 2.
    ("f4", "c1:upper", "window/load/product/max", 1.0),
    ("f4", "c2:upper", "window/load again/product/max", 1.0),
]


@pytest.mark.parametrize(
    ("name", "where", "rule_id", "units"),
    PRICED,
    ids=[f"{p[0]}-{p[1]}" for p in PRICED],
)
def test_both_sides_of_a_price_are_the_published_ones(
    name, where, rule_id, units, tmp_path
):
    question = QUESTIONS[name]()
    if name == "a1":  # room for the reaches, which go up to 4500 t
        question = a1(total=10_000.0)
    scenario, catalogue = read_question(tmp_path, question)
    line = line_of(formulate(scenario, catalogue), rule_id)
    told = case(name)["computed"]["two_sided"][where]
    sign = -1.0 if name in FETCHED else 1.0
    sides = ((line.ease, "right", 1.0), (line.tighten, "left", -1.0))
    if line.rule.side == "min":
        sides = ((line.ease, "left", -1.0), (line.tighten, "right", 1.0))
    assert line.binding
    for price, way, direction in sides:
        assert price.of == "cost"
        # Printed to nine digits; ours is found by moving the limit a thousandth.
        wanted = direction * sign * told[way] / units
        assert price.price == pytest.approx(wanted, rel=1e-6, abs=1e-9)
        if told[way] != 0:
            until = as_number(told[f"{way}_to"]) * units / question.total
            assert price.until == pytest.approx(until, rel=1e-5, abs=1e-5)


# The row moved in the case is ``sum(h * x) - 6 * y <= 0``; moving the 6 by dh moves it
# by 450 dh, so a unit of hardness is worth 450 times the row's price.
def test_a_window_over_a_part_is_priced_by_the_tonnes_it_is_over(tmp_path):
    question, answer = asked("a1", tmp_path)
    line = line_of(answer, "window/hardness/blend/max")
    row = case("a1")["computed"]["two_sided"]["hardness_max:upper"]
    wanted = 450.0 * row["right"] / question.total
    # A window's price is a slope found in small steps (decision 4).
    assert line.ease.price == pytest.approx(-wanted, rel=1e-4)
    assert line.tighten.price == pytest.approx(wanted, rel=1e-4)


# Dantzig (1963), section 3.4: nine alloys, three exact metals that sum to 100, so one
# target follows from the others and none can be moved alone.
@pytest.mark.parametrize("metal", ["lead", "zinc", "tin"])
@pytest.mark.parametrize("side", ["min", "max"])
def test_a_target_that_others_imply_cannot_be_moved_alone(metal, side, tmp_path):
    _, answer = asked("d01", tmp_path)
    line = line_of(answer, f"window/{metal}/product/{side}")
    assert line.binding
    assert line.tighten is None
    assert line.ease.price == 0.0


@pytest.mark.parametrize("name", ["a2", "a3"])
@pytest.mark.parametrize("month", MONTHS)
def test_a_month_of_the_food_plan_is_as_good_as_another_solver_makes_it(
    name, month, tmp_path
):
    question = month_of(name, month)
    scenario, catalogue = read_question(tmp_path, question)
    answer = formulate(scenario, catalogue)
    profit = question.total * (SALE - answer.cost_per_kg)
    assert profit == pytest.approx(best_profit(case(name)["model"], month), rel=1e-7)
    assert answer.choices_kept == (name == "a3")
    assert check(percent_of(answer), scenario, catalogue).status == "kept"


def percent_of(answer):
    return {line.ingredient: line.percent for line in answer.formula}


def published_blend(name, month):
    """The plan of a month in percent of the 450 t that could be made."""
    used = case(name)["published"]["values"]
    tonnes = {key(oil): used[f"use_{month}_{oil}"] for oil in OILS}
    made = sum(tonnes.values())
    tonnes["unsold"] = max(0.0, 450.0 - made)
    return {oil: 100 * each / max(450.0, made) for oil, each in tonnes.items()}


# Williams, 5th ed., sections 12.1 and 12.2. Tonnes are printed to six digits, so a sum
# of 450 t may be 0.0002 t over; a rule's value may be off by a millionth of its limit.
@pytest.mark.parametrize("name", ["a2", "a3"])
@pytest.mark.parametrize("month", MONTHS)
def test_the_published_plan_keeps_every_rule_in_every_month(name, month, tmp_path):
    scenario, catalogue = read_question(tmp_path, month_of(name, month))
    blend = published_blend(name, month)
    checked = check(blend, scenario, catalogue)
    assert checked.status == "kept"
    assert checked.missing == ()
    known = case(name)["model"]["hardness"]
    oils = {oil: blend[key(oil)] for oil in OILS}
    mean = sum(known[oil] * share for oil, share in oils.items()) / sum(oils.values())
    (hardness,) = [p for p in checked.properties if p.property == "hardness"]
    assert hardness.value == pytest.approx(mean, rel=1e-9)
    assert 3.0 < mean < 6.0 + 1e-5


# The first plan knows nothing of the second's rules: in January it blends vegetable
# oils with OIL2 and no OIL3.
def test_the_first_plan_breaks_the_second_plans_implication(tmp_path):
    scenario, catalogue = read_question(tmp_path, month_of("a3", "Jan"))
    checked = check(published_blend("a2", "Jan"), scenario, catalogue)
    broken = [line.rule.id for line in checked.lines if (line.slack or 0.0) < -1e-6]
    assert checked.status == "broken"
    assert broken == ["ratio/OIL3 to VEG/min"]
