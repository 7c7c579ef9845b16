"""Formulas in whole steps: every rule kept, the best of all such, and what it costs."""

from itertools import product

import pytest
from msgspec.structs import replace

from optimiser.domain.scenario import Aim, Steps
from optimiser.explaining import check, formulate, stepping
from optimiser.explaining.answering import best, questions
from optimiser.reading import shipped_folder
from optimiser.rules import build
from optimiser.rules.steps import can_be_met, coarsest
from optimiser.studies.variants import Different, variants
from tests.rules import workbench as wb
from tests.shipped import read_scenario

SCENARIOS = shipped_folder("scenarios")
DEMOS = sorted(path.stem for path in SCENARIOS.glob("*.toml"))
SMALL = {"scent": 0.1, "preservative": 0.1, "antioxidant": 0.05}
KNOWN = wb.catalogue(
    {"oil": "liquid oil", "cocoa": "hard butter", "shea": "soft butter", "wax": "wax",
     "lavender": "scent"},
    prices={"oil": 4.3, "cocoa": 17.9, "shea": 11.2, "wax": 14.6, "lavender": 150.0},
    figures={
        "iodine value": {"oil": 97.0, "cocoa": 36.0, "shea": 63.0},
    },
)  # fmt: skip
BASE = {"oil": 33.3, "cocoa": 31.2, "shea": 20.3, "wax": 14.7, "lavender": 0.5}


def steps(step, **own):
    return Steps(step, own, wb.toml("amounts"))


def asked(taken, **more):
    return wb.scenario(
        bands=(
            wb.bound("hard butter", 21.3, 40.0),
            wb.bound("soft butter", 10.0, 25.0),
            wb.bound("liquid oil", 20.0, 37.7),
            wb.bound("wax", 12.2, 20.0),
            wb.bound("scent", 0.33, 1.0),
        ),
        windows=(wb.window("iodine value", 50.0, 66.0, over="fats"),),
        steps=taken,
        **more,
    )


def least_by_trying_all(step, fine):
    """Every formula in steps that keeps the rules, tried one by one."""
    best = None
    for cocoa, shea, wax in product(range(100), repeat=3):
        shares = {"cocoa": cocoa * step, "shea": shea * step, "wax": wax * step}
        if not (21.3 <= shares["cocoa"] <= 40 and 10 <= shares["shea"] <= 25):
            continue
        if not 12.2 <= shares["wax"] <= 20:
            continue
        for scent in range(round(0.33 / fine), round(1.0 / fine) + 1):
            lavender = scent * fine
            oil = 100 - sum(shares.values()) - lavender
            if not 20 <= oil <= 37.7 or abs(oil / step - round(oil / step)) > 1e-9:
                continue
            if lavender < 0.33 - 1e-9:
                continue
            fats = shares["cocoa"] + shares["shea"] + oil
            iodine = (36 * shares["cocoa"] + 63 * shares["shea"] + 97 * oil) / fats
            if not 50 <= iodine <= 66:
                continue
            cost = (4.3 * oil + 17.9 * shares["cocoa"] + 11.2 * shares["shea"]
                    + 14.6 * shares["wax"] + 150 * lavender) / 100  # fmt: skip
            best = cost if best is None else min(best, cost)
    return best


@pytest.mark.parametrize(("step", "fine"), [(1.0, 0.5), (2.0, 0.5), (0.5, 0.5)])
def test_it_is_the_cheapest_of_all_formulas_in_such_steps(step, fine):
    answer = formulate(asked(steps(step, scent=fine)), KNOWN)
    assert answer.steps.kept
    if answer.steps.rest is None:
        assert answer.cost_per_kg == pytest.approx(least_by_trying_all(step, fine))
    else:  # no formula has every ingredient on its step
        assert least_by_trying_all(step, fine) is None


def on_step(percent, step):
    return abs(percent / step - round(percent / step)) < 1e-6


@pytest.mark.parametrize("name", DEMOS)
@pytest.mark.parametrize("step", [0.5, 0.1])
def test_the_demos_are_written_in_steps_and_keep_every_rule(name, step):
    scenario, known = read_scenario(SCENARIOS / f"{name}.toml")
    taken = Steps(step, SMALL, wb.toml("amounts"))
    asked = replace(scenario, steps=taken)
    answer = formulate(asked, known)
    assert answer.steps.kept
    pinned = {pin.what for pin in scenario.pins}
    off = [
        line.name
        for line in answer.formula
        if line.ingredient not in pinned
        and not on_step(line.percent, SMALL.get(line.category, step))
    ]
    assert off == [] if answer.steps.rest is None else off in ([answer.steps.rest], [])
    assert sum(line.percent for line in answer.formula) == pytest.approx(100, abs=1e-9)
    formula = {line.ingredient: line.percent for line in answer.formula}
    checked = check(formula, asked, known)
    assert checked.status == "kept"
    without = formulate(scenario, known)
    if without.second_opinion is not None and without.second_opinion.outcome != (
        "not reached"
    ):
        assert all(line.holds for line in checked.second_opinion.lines)
    # The first aim cannot be better in steps than without them.
    assert answer.aims[0][1] >= without.aims[0][1] - 1e-6
    assert answer.steps.cost_per_kg == pytest.approx(without.cost_per_kg)
    assert answer.proof.by == "search"


def test_prices_are_those_without_steps():
    with_steps, without = (
        formulate(asked(steps(1.0)), KNOWN),
        formulate(asked(None), KNOWN),
    )
    told = {line.rule.id: line.ease for line in without.rules if line.binding}
    assert told
    assert {x.rule.id: x.ease for x in with_steps.rules if x.binding} == told


def test_one_ingredient_takes_what_is_left_where_nothing_else_fits():
    pinned = asked(steps(1.0), pins=(wb.pin("lavender", 0.7),))
    answer = formulate(pinned, KNOWN)
    off = [x.name for x in answer.formula if not on_step(x.percent, 1.0)]
    assert sorted(off) == sorted(["lavender", answer.steps.rest])
    assert answer.steps.kept


def test_a_step_too_coarse_is_told_with_one_that_would_do():
    narrow = replace(
        asked(steps(10.0)), bands=(*asked(None).bands, wb.bound("butters", 51.2, 51.3))
    )
    answer = formulate(narrow, KNOWN)
    assert not answer.steps.kept
    assert answer.steps.finer == 0.25
    again = formulate(replace(narrow, steps=steps(answer.steps.finer)), KNOWN)
    assert again.steps.kept


@pytest.mark.parametrize(
    ("taken", "wanted"),
    [
        (steps(0.5), 0.5),
        (steps(0.5, scent=0.1), 0.1),
        (steps(0.5, scent=0.2), 0.1),
        (steps(1.0, scent=0.25, colour=0.1), 0.05),
        (steps(0.3, scent=0.2), 0.1),
    ],
)
def test_the_shared_step_divides_every_step(taken, wanted):
    assert coarsest((taken.step, *taken.own.values())) == pytest.approx(wanted)


def test_aims_in_order_are_kept_in_steps_too():
    two = asked(steps(1.0), base=BASE, aims=(Aim("change"), Aim("cost")))
    answer = formulate(two, KNOWN)
    other = formulate(replace(two, aims=(Aim("cost"), Aim("change"))), KNOWN)
    assert answer.change.by_ingredient <= other.change.by_ingredient + 1e-9
    assert answer.cost_per_kg >= other.cost_per_kg - 1e-9


def test_variants_in_steps_are_as_far_apart_as_asked():
    found = variants(asked(steps(1.0)), KNOWN, 3, 30.0, Different(8.0))
    assert len(found.variants) == 3
    for each in found.variants:
        whole = [on_step(p, 1.0) for p in each.formula.amounts.values()]
        assert sum(not on for on in whole) <= 1
    assert min(found.apart[0][1:]) >= 8.0 - 1e-6


def test_a_formula_in_steps_that_breaks_a_window_is_asked_for_anew_with_tangents(
    monkeypatch,
):
    asked, said = [], []
    solve, tell = stepping.attempted, stepping.told

    def attempted(programme):
        asked.append([rule for rule in programme.rules if rule.kind == "opinion"])
        return solve(programme)

    def told(*about):
        said.append(tell(*about))
        return replace(said[-1], outcome="told" if len(said) == 1 else "agrees")

    monkeypatch.setattr(stepping, "attempted", attempted)
    monkeypatch.setattr(stepping, "told", told)
    scenario, catalogue = read_scenario(SCENARIOS / "massage_bar.toml")
    answer = formulate(replace(scenario, steps=steps(0.5, **SMALL)), catalogue)
    assert answer.steps.kept
    first, second = asked
    more = second[len(first) :]
    windows = [line.rule.id for line in answer.second_opinion.lines]
    assert list(dict.fromkeys(rule.moves_with for rule in more)) == windows


def test_what_too_little_is_known_of_is_told_of_the_formula_that_is_made():
    scenario, catalogue = read_scenario(SCENARIOS / "massage_bar.toml")
    scenario = replace(scenario, steps=steps(0.5, **SMALL))
    found = best(questions(scenario, catalogue), catalogue, steps=False)
    unknown = replace(found.said, outcome="unknown", unknown=("murumuru butter",))
    made = stepping.stepped(replace(found, said=unknown), catalogue)
    assert made.steps.optimum is not None
    assert (made.said.outcome, made.said.unknown) == ("agrees", ())


def test_of_formulas_in_steps_that_tie_the_one_nearest_to_the_answer_is_taken(
    monkeypatch,
):
    """Sugar and salt of one price; a search may come upon either."""
    known = wb.catalogue(
        {"sugar": "exfoliant", "salt": "exfoliant", "oil": "liquid oil"},
        prices={"sugar": 2.0, "salt": 2.0, "oil": 5.0},
    )
    scenario = wb.scenario(
        bands=(wb.bound("exfoliant", 40.0, 60.3), wb.bound("liquid oil", 10.0)),
        limits=(wb.bound("salt", 3.2, 10.0, table="limits"),),
        steps=steps(0.5),
    )
    without = formulate(replace(scenario, steps=None), known)
    (wanted,) = (x.percent for x in without.formula if x.ingredient == "salt")
    solve = stepping.attempted

    def attempted(programme):
        found = solve(programme)
        amounts = found.amounts.copy()
        places = [*map(programme.ingredients.index, ("sugar", "salt"))]
        counts = [
            number
            for place in places
            for number, column in enumerate(programme.columns)
            if (column.kind, column.key) == ("steps", programme.ingredients[place])
        ]
        salt = 10.0 if wanted < 6.0 else 3.5  # as far off as the rules allow
        by = salt - amounts[places[1]]
        amounts[places] += (-by, by)
        amounts[counts] += (-2.0 * by, 2.0 * by)
        return replace(found, amounts=amounts)

    monkeypatch.setattr(stepping, "attempted", attempted)
    answer = formulate(scenario, known)
    (salt,) = (x.percent for x in answer.formula if x.ingredient == "salt")
    assert abs(salt - wanted) < 0.5
    assert on_step(salt, 0.5)
    assert 3.2 <= salt <= 10.0
    assert answer.proof.worst_violation <= 1e-9


@pytest.mark.parametrize(("share", "fits"), [(0.7, False), (1.0, True), (0.5, True)])
def test_what_no_steps_add_up_to_is_not_searched_for(monkeypatch, share, fits):
    """Pins of 0.7 leave 99.3 of 100, which no half percents make."""
    pinned = asked(steps(0.5), pins=(wb.pin("lavender", share),))
    tried, solve = [], stepping.attempted

    def attempted(programme):
        kinds = {column.kind for column in programme.columns}
        tried.append("takes the rest" in kinds)
        return solve(programme)

    monkeypatch.setattr(stepping, "attempted", attempted)
    answer = formulate(pinned, KNOWN)
    assert tried == [not fits]
    assert (answer.steps.rest is None) == fits


@pytest.mark.parametrize("share", [0.000071, 0.0123457])
def test_a_dose_of_many_decimals_is_left_to_what_takes_the_rest(share):
    """No half percents make the 99.999929 that it leaves of 100."""
    pinned = asked(steps(0.5), pins=(wb.pin("lavender", share),))
    assert not can_be_met(build(pinned, KNOWN), pinned, KNOWN)
