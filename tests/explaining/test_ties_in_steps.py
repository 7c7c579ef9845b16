"""Of formulas in steps that do as well, which is taken, and what is told of others."""

import pytest
from msgspec.structs import replace

from optimiser.domain.scenario import Aim, Steps
from optimiser.explaining import formulate, stepping
from tests.rules import workbench as wb

# Three oils that leave half a step between the two that can take it.
BASE = {"sunflower": 62.2, "castor": 7.7, "cocoa": 30.1}
OILS = {"sunflower": "liquid oil", "castor": "liquid oil", "cocoa": "hard butter"}
WAXES = {"one": "wax", "two": "wax", "three": "wax"}
AIMS = (Aim("change"), Aim("count"))
STEPS = Steps(0.5, {}, wb.toml("amounts"))


def of_one_kind(known):
    return replace(
        known,
        ingredients={
            key: replace(each, kind="medium-melting")
            if each.category == "wax"
            else each
            for key, each in known.ingredients.items()
        },
    )


def shares(answer):
    return {x.ingredient: x.percent for x in answer.formula if x.percent > 0.0}


def came_upon(monkeypatch, other):
    """Let the search come upon another formula, as good as the one that it finds."""
    solve = stepping.attempted

    def attempted(programme):
        found = solve(programme)
        amounts = found.amounts.copy()
        counts = {
            column.key: number
            for number, column in enumerate(programme.columns)
            if column.kind == "steps"
        }
        used = {
            column.key: number
            for number, column in enumerate(programme.columns)
            if column.kind == "used"
        }
        for place, key in enumerate(programme.ingredients):
            amounts[place] = other.get(key, 0.0)
            amounts[counts[key]] = other.get(key, 0.0) / 0.5
            if key in used:
                amounts[used[key]] = float(key in other)
        amounts = stepping.at_their_least(programme, amounts)
        return replace(found, amounts=amounts)

    monkeypatch.setattr(stepping, "attempted", attempted)


# 0.3 + 0.2 points either way: what has to go somewhere goes to the larger line.
@pytest.mark.parametrize(
    "found",
    [
        {"sunflower": 62.5, "castor": 7.5, "cocoa": 30.0},
        {"sunflower": 62.0, "castor": 8.0, "cocoa": 30.0},
    ],
)
def test_of_formulas_as_near_the_base_that_by_each_lines_own_share_is_taken(
    monkeypatch, found
):
    known = wb.catalogue(OILS)
    asked = wb.scenario(base=BASE, aims=AIMS, steps=STEPS)
    came_upon(monkeypatch, found)
    assert shares(formulate(asked, known)) == pytest.approx(
        {"sunflower": 62.5, "castor": 7.5, "cocoa": 30.0}
    )


WANTED = {"oil": 90.0, "gone": 10.0}


def waxed():
    return wb.scenario(
        base=WANTED,
        aims=AIMS,
        steps=STEPS,
        bands=(wb.bound("wax", 10.0),),
        limits=(wb.bound("gone", None, 0.0, table="limits"),),
    )


@pytest.mark.parametrize("found", ["one", "two", "three"])
def test_of_what_comes_in_the_cheapest_of_its_kind_is_taken_whichever_was_found(
    monkeypatch, found
):
    known = of_one_kind(
        wb.catalogue(
            {"oil": "liquid oil", "gone": "wax", **WAXES},
            prices={"oil": 5.0, "gone": 5.0, "one": 9.0, "two": 7.0, "three": 8.0},
        )
    )
    came_upon(monkeypatch, {"oil": 90.0, found: 10.0})
    answer = formulate(waxed(), known)
    assert shares(answer) == pytest.approx({"oil": 90.0, "two": 10.0})
    assert answer.steps.as_good == {"two": ("three", "one")}


def test_what_goes_beyond_common_practice_is_not_the_first_to_come_in(monkeypatch):
    known = of_one_kind(
        wb.catalogue(
            {"oil": "liquid oil", "gone": "wax", **WAXES},
            prices={"oil": 5.0, "gone": 5.0, "one": 9.0, "two": 7.0, "three": 8.0},
        )
    )
    habit = replace(wb.usage("two", "practice", 8.0), evidence="assumed")
    known = replace(known, limits=(habit,))
    came_upon(monkeypatch, {"oil": 90.0, "one": 10.0})
    answer = formulate(waxed(), known)
    assert shares(answer) == pytest.approx({"oil": 90.0, "three": 10.0})
    assert answer.steps.as_good == {"three": ("one", "two")}


def test_what_brings_an_allergen_that_the_base_has_not_is_the_last_to_come_in(
    monkeypatch,
):
    listed = {"EU": True, "GB": True, "US": True, "AU": True, "CA": True}
    peanut = {"two": wb.status("two", "peanut", None, **listed)}
    known = of_one_kind(
        wb.catalogue(
            {"oil": "liquid oil", "gone": "wax", **WAXES},
            prices={"oil": 5.0, "gone": 5.0, "one": 9.0, "two": 7.0, "three": 8.0},
            allergens={"peanut": peanut},
        )
    )
    came_upon(monkeypatch, {"oil": 90.0, "two": 10.0})
    answer = formulate(replace(waxed(), markets=("EU",)), known)
    assert shares(answer) == pytest.approx({"oil": 90.0, "three": 10.0})
    assert answer.steps.as_good == {"three": ("one", "two")}


def test_what_an_aim_tells_apart_is_never_exchanged():
    """With cost as an aim the search is right by itself; nothing is as good."""
    known = of_one_kind(
        wb.catalogue(
            {"oil": "liquid oil", "gone": "wax", **WAXES},
            prices={"oil": 5.0, "gone": 5.0, "one": 9.0, "two": 7.0, "three": 8.0},
        )
    )
    asked = replace(waxed(), aims=(*AIMS, Aim("cost")))
    answer = formulate(asked, known)
    assert shares(answer) == pytest.approx({"oil": 90.0, "two": 10.0})
    assert answer.steps.as_good == {}


# Cost tells neither apart: what the base has not is not brought in to be nearer to it.
@pytest.mark.parametrize(
    "found", [{"sugar": 60.0, "oil": 40.0}, {"sugar": 50.0, "salt": 10.0, "oil": 40.0}]
)
def test_nothing_comes_in_only_to_leave_a_line_at_its_share_of_the_base(
    monkeypatch, found
):
    known = wb.catalogue(
        {"sugar": "exfoliant", "salt": "exfoliant", "oil": "liquid oil"},
        prices={"sugar": 2.0, "salt": 2.0, "oil": 5.0},
    )
    asked = wb.scenario(
        base={"sugar": 50.0, "oil": 50.0},
        aims=(Aim("cost"),),
        steps=STEPS,
        bands=(wb.bound("liquid oil", 40.0),),
    )
    came_upon(monkeypatch, found)
    assert shares(formulate(asked, known)) == pytest.approx(
        {"sugar": 60.0, "oil": 40.0}
    )
