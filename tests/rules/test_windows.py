"""Windows: how figures mix, over which part, at which end, at which temperature."""

import math

import pytest

from optimiser.domain.material import Origin
from optimiser.domain.scenario import Exclusions
from optimiser.errors import InputError
from optimiser.explaining import formulate
from optimiser.rules import build
from tests.rules import workbench as wb

KINDS = {
    "cocoa": "hard butter",
    "oil": "liquid oil",
    "wax": "wax",
    "sugar": "exfoliant",
    "water": "water",
}
FIGURES = {
    "iodine value": {"cocoa": 35.0, "oil": 95.0},
    "solid fat": {
        "cocoa": {20.0: 80.0, 30.0: 40.0, 40.0: 0.0},
        "oil": {20.0: 0.0, 40.0: 0.0},
    },
    "wax firmness": {"wax": wb.figure(2.0, 1.0, 4.0, unit="")},
    "density": {
        "cocoa": {20.0: 950.0},
        "oil": {20.0: wb.figure(920.0, 900.0, 940.0)},
        "sugar": {20.0: wb.figure(1590.0, 1500.0, 1700.0)},
        "water": {20.0: 1000.0},
        "wax": {20.0: 960.0},
    },
    "viscosity": {"oil": 50.0, "cocoa": 200.0, "wax": 5000.0},
    "shine": {"oil": 5.0, "cocoa": 1.0, "wax": 3.0, "sugar": 0.0, "water": 2.0},
}
KNOWN = wb.catalogue(KINDS, figures=FIGURES)


def value_of(asked_window, formula, **more):
    asked = wb.scenario(windows=(asked_window,), **more)
    (found,) = [
        each
        for name, each in wb.values(asked, KNOWN, formula).items()
        if name.startswith("window/")
    ]
    return found[0]


# Worked by hand from the figures above; sources of the mixing rules: conservation of
# mass, additive volumes, and logarithms of viscosities that add (Arrhenius, 1887).
@pytest.mark.parametrize(
    ("name", "at", "over", "formula", "value"),
    [
        # 40 % of 35 and 60 % of 95
        ("iodine value", None, "fats", {"cocoa": 40, "oil": 60}, 71.0),
        # sugar is no fat: 20 of 35 and 30 of 95 in 50 of fats
        (
            "iodine value",
            None,
            "fats",
            {"cocoa": 20, "oil": 30, "sugar": 50},
            71.0,
        ),
        # a property that only the catalogue knows mixes by mass over everything
        ("shine", None, "product", {"oil": 20, "sugar": 80}, 1.0),
        ("shine", None, "lipids", {"oil": 20, "sugar": 80}, 5.0),
        # 50 % at 40 % solid; half the way from 30 to 40 degC at 20 %
        ("solid fat", 30.0, "lipids", {"cocoa": 50, "oil": 50}, 20.0),
        ("solid fat", 35.0, "lipids", {"cocoa": 50, "oil": 50}, 10.0),
        # wax holds no solid fat by definition, but thins that of the rest
        ("solid fat", 30.0, "lipids", {"cocoa": 50, "oil": 40, "wax": 10}, 20.0),
        # one per cent of wax adds 2: 20 + 10 * 2
        ("firmness", 30.0, "lipids", {"cocoa": 50, "oil": 40, "wax": 10}, 40.0),
        # half of 1/1000 and half of 1/1590 is 1/1227.8
        ("density", 20.0, "product", {"water": 50, "sugar": 50}, 1227.799),
        # 50/1590 of sugar in 50/1590 + 50/920 of both
        ("solids load", 20.0, "product", {"oil": 50, "sugar": 50}, 36.6534),
        # the square root of 50 * 200
        ("viscosity", 60.0, "lipids", {"oil": 50, "cocoa": 50}, 100.0),
        ("viscosity", 60.0, "lipids", {"oil": 25, "cocoa": 25, "sugar": 50}, 100.0),
    ],
)
def test_a_property_mixes_as_worked_by_hand(name, at, over, formula, value):
    found = value_of(wb.window(name, 1.0, at=at, over=over), formula)
    assert found == pytest.approx(value, rel=1e-6)


def test_firmness_is_a_plain_number_and_its_sentence_has_no_gap():
    asked = wb.scenario(
        windows=(wb.window("firmness", 50.0, 75.5, at=25.0, over="lipids"),)
    )
    found = [r for r in wb.rules_of(asked, KNOWN).values() if r.kind == "window"]
    assert [rule.sentence for rule in found] == [
        "firmness at 25 °C over the lipids at least 50",
        "firmness at 25 °C over the lipids at most 75.5",
    ]
    assert [rule.unit for rule in found] == ["", ""]


@pytest.mark.parametrize(
    ("name", "over", "side", "formula", "careful"),
    [
        # least firmness counts a wax at its low figure, most at its high one
        ("firmness", "lipids", "min", {"oil": 90, "wax": 10}, 10.0),
        ("firmness", "lipids", "max", {"oil": 90, "wax": 10}, 40.0),
        ("density", "product", "min", {"oil": 100}, 900.0),
        ("density", "product", "max", {"oil": 100}, 940.0),
        # light solids in dense oil take the most of the volume, and the other way
        # round: (50 / 1500) / (50 / 1500 + 50 / 940), (50 / 1700) / (... + 50 / 900)
        ("solids load", "product", "max", {"oil": 50, "sugar": 50}, 38.5246),
        ("solids load", "product", "min", {"oil": 50, "sugar": 50}, 34.6154),
    ],
)
def test_a_cautious_window_holds_at_the_worse_end(name, over, side, formula, careful):
    at = 20.0
    sides = {"low": 5.0} if side == "min" else {"high": 1000.0}
    asked = wb.window(name, at=at, over=over, **sides)
    assert value_of(asked, formula, cautious=True) == pytest.approx(careful, rel=1e-5)
    plain = value_of(asked, formula)
    assert plain > careful if side == "min" else plain < careful


@pytest.mark.parametrize("cautious", [False, True])
def test_the_sentence_says_whether_the_window_is_careful(cautious):
    asked = wb.scenario(
        windows=(wb.window("solid fat", 35.0, at=30.0, over="lipids"),),
        cautious=cautious,
    )
    rule = wb.rules_of(asked, KNOWN)["window/solid fat/30 degC/lipids/min"]
    tail = ", at the worse end of its figures" if cautious else ""
    assert rule.sentence == f"solid fat at 30 °C over the lipids at least 35 %{tail}"
    assert (rule.source, rule.evidence) == ("book", "measured")
    assert str(rule.origin) == "test.toml: windows[1].min"


def test_a_window_rests_on_its_weakest_figure_and_names_each_source_once():
    known = wb.catalogue(
        {"cocoa": "hard butter", "shea": "soft butter", "oil": "liquid oil"},
        figures={
            "iodine value": {
                "cocoa": wb.figure(35.0, source="atlas"),
                "shea": wb.figure(60.0, source="atlas", evidence="memory"),
                "oil": wb.figure(90.0, source="paper"),
            }
        },
    )
    asked = wb.scenario(windows=(wb.window("iodine value", None, 70.0, over="fats"),))
    rule = wb.rules_of(asked, known)["window/iodine value/fats/max"]
    assert (rule.source, rule.evidence) == ("atlas; paper", "memory")


# What is nothing, and what is so by definition, is no figure that a window rests on.
@pytest.mark.parametrize(
    "oil",
    [
        wb.figure(0.0, source="paper", evidence="memory"),
        wb.figure(90.0, source="paper", evidence="defined"),
    ],
)
def test_a_window_does_not_rest_on_what_adds_nothing_or_is_so_by_definition(oil):
    known = wb.catalogue(
        {"cocoa": "hard butter", "oil": "liquid oil"},
        figures={
            "iodine value": {"cocoa": wb.figure(35.0, source="atlas"), "oil": oil}
        },
    )
    asked = wb.scenario(windows=(wb.window("iodine value", None, 70.0, over="fats"),))
    rule = wb.rules_of(asked, known)["window/iodine value/fats/max"]
    assert (rule.source, rule.evidence) == ("atlas", "measured")


def test_the_answer_sits_on_the_side_of_the_window_that_costs():
    known = wb.catalogue(KINDS, figures=FIGURES, prices={"cocoa": 20.0, "oil": 5.0})
    asked = wb.scenario(
        windows=(wb.window("solid fat", 20.0, 60.0, at=30.0, over="lipids"),),
        bands=(wb.bound("hard butter"), wb.bound("liquid oil")),
    )
    assert wb.best(asked, known) == pytest.approx({"cocoa": 50.0, "oil": 50.0})


def test_a_window_on_viscosity_is_kept_on_the_logarithm():
    known = wb.catalogue(
        {"oil": "liquid oil", "wax": "wax"},
        figures={"viscosity": {"oil": 50.0, "wax": 5000.0}},
        prices={"oil": 1.0, "wax": 9.0},
    )
    asked = wb.scenario(windows=(wb.window("viscosity", 500.0, over="lipids"),))
    # 500 is half way from 50 to 5000 on a logarithm.
    assert wb.best(asked, known) == pytest.approx({"oil": 50.0, "wax": 50.0})


def test_a_part_that_is_not_there_leaves_a_window_without_a_value():
    asked = wb.scenario(windows=(wb.window("iodine value", None, 70.0, over="fats"),))
    found = wb.values(asked, KNOWN, {"sugar": 100.0})["window/iodine value/fats/max"]
    assert found == (None, None)


def test_a_candidate_whose_figure_is_unknown_is_left_out_and_the_reason_told():
    known = wb.catalogue(
        {"cocoa": "hard butter", "bacuri": "hard butter", "sal": "hard butter"},
        figures={"solid fat": {"cocoa": {30.0: 40.0}, "sal": {20.0: 60.0, 25.0: 50.0}}},
        prices={"cocoa": 20.0, "bacuri": 1.0, "sal": 1.0},
    )
    asked = wb.scenario(windows=(wb.window("solid fat", 30.0, at=30.0, over="lipids"),))
    answer = formulate(asked, known)
    # bacuri and sal would be far cheaper: unknown is not taken for zero or for kept.
    assert wb.percent(answer) == pytest.approx({"cocoa": 100.0})
    assert {each.ingredient: each.why for each in answer.left_out} == {
        "bacuri": "no solid fat at 30 °C is known",
        "sal": "no solid fat at 30 °C is known",
    }


def test_an_ingredient_outside_the_part_needs_no_figure():
    known = wb.catalogue(
        {"cocoa": "hard butter", "salt": "exfoliant"},
        figures={"iodine value": {"cocoa": 35.0}},
        prices={"salt": 0.5},
    )
    asked = wb.scenario(windows=(wb.window("iodine value", 30.0, over="fats"),))
    assert wb.best(asked, known) == pytest.approx({"salt": 100.0})


@pytest.mark.parametrize(
    ("more", "place", "leaving"),
    [
        (
            {"base": {"cocoa": 60.0, "bacuri": 40.0}},
            "base.bacuri",
            '[exclude] and, below it, ingredients = ["bacuri"]',
        ),
        (
            {
                "base": {"cocoa": 60.0, "bacuri": 40.0},
                "exclude": Exclusions(
                    ingredients=("cocoa",), origins={"ingredients": Origin("test.toml")}
                ),
            },
            "base.bacuri",
            'ingredients = ["cocoa", "bacuri"] below [exclude]',
        ),
        (
            {"pins": (wb.pin("bacuri", 5.0),)},
            "pins.bacuri",
            '"bacuri" = false below [pins]',
        ),
        (
            {"limits": (wb.bound("bacuri", 5.0, table="limits"),)},
            "limits.bacuri",
            '"bacuri" = false below [limits]',
        ),
    ],
)
def test_an_ingredient_that_is_asked_for_stops_the_run_when_its_figure_is_unknown(
    more, place, leaving
):
    known = wb.catalogue(
        {"cocoa": "hard butter", "bacuri": "hard butter"},
        figures={"solid fat": {"cocoa": {30.0: 40.0}}},
    )
    asked = wb.scenario(
        windows=(wb.window("solid fat", 30.0, at=30.0, over="lipids"),), **more
    )
    with pytest.raises(InputError) as caught:
        formulate(asked, known)
    assert str(caught.value) == (
        f"test.toml, key {place}: 'bacuri' is asked for by the scenario, but no solid"
        " fat at 30 °C is known.\n"
        f"  To fix: to leave it out, write {leaving}; or add solid fat to"
        " properties.csv with its source."
    )


@pytest.mark.parametrize(
    ("exclude", "lacks_price"),
    [
        (Exclusions(ingredients=("bacuri",)), False),
        (Exclusions(categories=("soft butter",)), False),
        (Exclusions(vegan=True), False),
        (Exclusions(ingredients=("bacuri",)), True),
    ],
)
def test_what_the_base_has_and_is_excluded_needs_no_figure(exclude, lacks_price):
    """It stays beside the answer, to be compared with, and never enters it."""
    known = wb.catalogue(
        {
            "cocoa": wb.ingredient("cocoa", "hard butter", vegan="yes"),
            "bacuri": wb.ingredient("bacuri", "soft butter", vegan="no"),
        },
        figures={"solid fat": {"cocoa": {30.0: 40.0}}},
        prices={"cocoa": 5.0, "bacuri": None if lacks_price else 0.01},
    )
    asked = wb.scenario(
        base={"cocoa": 60.0, "bacuri": 40.0},
        windows=(wb.window("solid fat", 30.0, at=30.0, over="lipids"),),
        exclude=exclude,
    )
    told = formulate(asked, known)
    assert {x.name: x.percent for x in told.formula} == {"cocoa": 100.0, "bacuri": 0.0}
    (change,) = [x for x in [told.change] if x is not None]
    assert change.by_category == pytest.approx(40.0)


def test_what_is_excluded_and_not_known_does_not_enter_whatever_lets_it_in():
    """Its figure would count as nothing, were the exclusion given up in a clash."""
    known = wb.catalogue(
        {"cocoa": "hard butter", "bacuri": "soft butter"},
        figures={"solid fat": {"cocoa": {30.0: 40.0}}},
    )
    asked = wb.scenario(
        base={"cocoa": 60.0, "bacuri": 40.0},
        windows=(wb.window("solid fat", 30.0, at=30.0, over="lipids"),),
        exclude=Exclusions(ingredients=("bacuri",)),
    )
    ends = {each.key: each.upper for each in build(asked, known).columns}
    assert (ends["cocoa"], ends["bacuri"]) == (100.0, 0.0)


def test_every_gap_of_the_base_is_told_at_once():
    known = wb.catalogue(
        {"cocoa": "hard butter", "bacuri": "hard butter", "oil": "liquid oil"},
        figures={"solid fat": {"cocoa": {30.0: 40.0}}},
        prices={"cocoa": None},
    )
    asked = wb.scenario(
        base={"cocoa": 50.0, "bacuri": 20.0, "oil": 30.0},
        windows=(wb.window("solid fat", 30.0, at=30.0, over="lipids"),),
    )
    with pytest.raises(InputError) as caught:
        formulate(asked, known)
    assert [each.found for each in caught.value.problems] == ["cocoa", "bacuri", "oil"]


def test_a_price_is_needed_only_where_cost_is_an_aim():
    known = wb.catalogue(
        {"cocoa": "hard butter", "oil": "liquid oil"}, prices={"cocoa": None}
    )
    asked = wb.scenario()
    answer = formulate(asked, known)
    assert [(e.ingredient, e.why) for e in answer.left_out] == [
        ("cocoa", "no price is known in workshop 'demo'")
    ]
    by_count = wb.scenario(aims=("count",), bands=(wb.bound("hard butter", 100.0),))
    assert wb.best(by_count, known) == pytest.approx({"cocoa": 100.0})


# Adding lauric to cocoa-type fat softens both far below the sum (Sabariah et al.,
# JAOCS 75:905, 1998), so 10 % of the butters is the most where solid fat is modelled.
@pytest.mark.parametrize(
    ("guard", "most"),
    [
        (None, 10.0),
        (wb.bound("lauric", None, 25.0, of="butters", table="guard"), 25.0),
        (wb.bound("lauric", of="butters", table="guard"), None),
    ],
)
def test_lauric_fats_are_kept_low_where_solid_fats_are_added_up(guard, most):
    known = wb.catalogue(
        {
            "cocoa": wb.ingredient("cocoa", "hard butter", family="cocoa-type"),
            "coconut": wb.ingredient("coconut", "soft butter", family="lauric"),
        },
        figures={"solid fat": {"cocoa": {20.0: 80.0}, "coconut": {20.0: 40.0}}},
        prices={"cocoa": 20.0, "coconut": 5.0},
    )
    asked = wb.scenario(
        windows=(wb.window("solid fat", 50.0, at=20.0, over="lipids"),),
        lauric_guard=guard,
    )
    best = wb.best(asked, known)
    assert best["coconut"] == pytest.approx(75.0 if most is None else most)
    rules = wb.rules_of(asked, known)
    found = rules.get("guard/lauric fats/max")
    assert (found is None) == (most is None)
    if found is not None:
        # A guard that the maker moved does not move where the sum begins to mislead.
        told = "beyond that" if most == 10.0 else "above 10 % of the butters"
        assert f"({told} the sum of solid fats misleads)" in found.sentence
    if most is not None:
        assert rules["guard/lauric fats/max"].owner == "model"


def test_no_guard_is_needed_where_no_solid_fat_is_modelled():
    known = wb.catalogue(
        {"coconut": wb.ingredient("coconut", "soft butter", family="lauric")}
    )
    assert list(wb.rules_of(wb.scenario(), known)) == ["total"]


def test_a_logarithm_of_nothing_is_no_value():
    asked = wb.scenario(windows=(wb.window("viscosity", 500.0, over="lipids"),))
    rule = wb.rules_of(asked, KNOWN)["window/viscosity/lipids/min"]
    assert rule.logarithmic
    assert rule.inner(math.e) == pytest.approx(1.0)
    assert wb.values(asked, KNOWN, {"sugar": 100.0})[rule.id] == (None, None)
