"""A formula held against rules; and scenarios that no formula can keep."""

import pytest
from msgspec.structs import replace

from optimiser.domain.scenario import Exclusions
from optimiser.explaining import Clash, check, formulate
from optimiser.explaining.clashes import structural_causes
from optimiser.presenting.clash import cause_told
from optimiser.reading import read_scenario, shipped_folder
from optimiser.rules import build
from optimiser.solving import Infeasible, optimise
from tests.rules import workbench as wb

SCENARIOS = shipped_folder("scenarios")
SHIPPED = sorted(SCENARIOS.glob("*.toml"))


def shipped(name):
    return read_scenario(SCENARIOS / f"{name}.toml")


def assert_minimal(clash, scenario, catalogue):
    """Nothing keeps all rules of the clash; leaving out any one, something does."""
    programme = build(scenario, catalogue)
    named = {rule.id for rule in clash.rules}

    def answers(ids):
        kept = tuple(rule for rule in programme.rules if rule.id in ids)
        found = optimise(replace(programme, rules=kept))
        return not isinstance(found, Infeasible)

    assert not answers(named)
    for each in named:
        assert answers(named - {each}), each


@pytest.mark.parametrize(
    ("name", "change", "cause", "clash"),
    [
        (
            "foot_scrub_bar",
            {"exclude": Exclusions(categories=("exfoliant",))},
            "no exfoliant is left once 'no exfoliant' is kept",
            {"limit/pumice powder/min", "exclude/exfoliant"},
        ),
        (
            "massage_bar",
            {"exclude": Exclusions(categories=("hard butter",))},
            "no hard butter is left once 'no hard butter' is kept",
            {"band/hard butter/min", "exclude/hard butter"},
        ),
        (
            "massage_bar",
            {
                "exclude": Exclusions(
                    allergens=("tree nut",),
                    reading="cautious",
                    categories=("hard butter",),
                )
            },
            "no soft butter is left once 'no tree nut, cautious reading' is kept",
            {"band/soft butter/min", "exclude/tree nut"},
        ),
        (
            "massage_bar",
            {
                "limits": (
                    wb.bound("lavender_oil", None, 0.5, table="limits"),
                    wb.bound("beeswax", None, 12.0, table="limits"),
                )
            },
            "'lavender oil exactly 1 %' goes against 'lavender oil at most 0.5 %'",
            {"limit/lavender oil/max", "pin/lavender oil"},
        ),
    ],
)
def test_a_clash_says_what_is_gone_and_is_as_small_as_can_be(
    name, change, cause, clash
):
    scenario, catalogue = shipped(name)
    scenario = replace(scenario, **change)
    found = formulate(scenario, catalogue)
    assert isinstance(found, Clash)
    assert found.status == "clash"
    assert cause in found.causes
    assert {rule.id for rule in found.rules} == clash
    assert_minimal(found, scenario, catalogue)


def test_a_clash_of_windows_has_no_single_cause():
    scenario, catalogue = shipped("massage_bar")
    scenario = replace(
        scenario,
        windows=(
            wb.window("solid fat", 30.0, at=35.0, over="lipids"),
            wb.window("firmness", None, 40.0, at=25.0, over="lipids"),
        ),
    )
    found = formulate(scenario, catalogue)
    assert isinstance(found, Clash)
    assert found.causes == ()
    assert any(rule.kind == "window" for rule in found.rules)
    assert_minimal(found, scenario, catalogue)


WAXES = wb.catalogue(
    {"beeswax": "wax", "carnauba": "wax", "cocoa": "hard butter", "oil": "liquid oil"}
)
WAXED = {"beeswax": 20.0, "carnauba": 0.0, "cocoa": 20.0, "oil": 60.0}


# Of the base's 20 % beeswax 12 have to go: 12 points by ingredient, none by category,
# for carnauba may come in. As a share of 40 %, 20 in 100 are 8 points.
@pytest.mark.parametrize(
    ("by", "points", "bound", "said"),
    [
        ("ingredient", 10.0, wb.bound("beeswax", None, 8.0, table="limits"), True),
        ("ingredient", 12.5, wb.bound("beeswax", None, 8.0, table="limits"), False),
        ("category", 10.0, wb.bound("beeswax", None, 8.0, table="limits"), False),
        ("category", 10.0, wb.bound("wax", None, 8.0), True),
        ("category", 12.5, wb.bound("wax", None, 8.0), False),
        ("ingredient", 15.0, wb.bound("beeswax", None, 30.0, "stiff"), False),
    ],
)
def test_a_base_further_off_a_rule_than_the_change_may_be_is_told(
    by, points, bound, said
):
    limits = {"limits": (bound,)} if bound.what == "beeswax" else {"bands": (bound,)}
    asked = wb.scenario(
        base=WAXED,
        parts={"stiff": frozenset({"beeswax", "cocoa"})},
        closeness=(wb.bound(by, None, points, table="closeness"),),
        **limits,
    )
    causes = structural_causes(asked, WAXES, build(asked, WAXES))
    assert tuple(map(cause_told, causes)) == (
        (
            f"the base is 20 % where '{bound.what} at most 8 %' holds, further off than"
            " the change from the base may be",
        )
        if said
        else ()
    )


def test_of_several_leasts_the_greatest_is_what_goes_against_a_most():
    asked = wb.scenario(
        bands=(wb.bound("wax"), wb.bound("liquid oil")),
        limits=(wb.bound("oil", 35.0, 60.0, table="limits"),),
        pins=(wb.pin("oil", 10.0),),
    )
    causes = structural_causes(asked, WAXES, build(asked, WAXES))
    assert causes == ("'oil at least 35 %' goes against 'oil exactly 10 %'",)


@pytest.mark.parametrize(("kg", "gone"), [(0.0, True), (0.1, False)])
def test_what_is_short_on_the_shelf_is_not_told_as_gone(kg, gone):
    known = wb.catalogue(
        {"cocoa": "hard butter", "oil": "liquid oil"},
        stock=[("cocoa", kg), ("oil", 5.0)],
    )
    asked = wb.scenario(
        bands=(wb.bound("hard butter", 20.0), wb.bound("liquid oil")),
        stock_only=wb.toml("stock.only"),
    )
    causes = structural_causes(asked, known, build(asked, known))
    assert any(each.startswith("no hard butter is left") for each in causes) == gone


def test_a_category_without_candidates_is_told_with_what_they_lack():
    known = wb.catalogue(
        {"sal": "hard butter", "oil": "liquid oil"}, prices={"sal": None}
    )
    asked = wb.scenario(bands=(wb.bound("hard butter", 20.0), wb.bound("liquid oil")))
    found = formulate(asked, known)
    assert isinstance(found, Clash)
    assert found.causes == (
        "no hard butter can be chosen from (sal: no price is known in workshop 'demo')",
    )
    assert [(each.ingredient, each.name) for each in found.left_out] == [("sal", "sal")]


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_the_formula_of_an_answer_passes_the_check_of_its_scenario(path):
    scenario, catalogue = read_scenario(path)
    answer = formulate(scenario, catalogue)
    checked = check(wb.percent(answer), scenario, catalogue)
    assert checked.status == "kept"
    assert checked.missing == ()
    assert checked.cost_per_kg == pytest.approx(answer.cost_per_kg, rel=1e-9)
    assert checked.change == answer.change
    assert checked.allergens == answer.allergens
    assert checked.label_names == answer.label_names


KNOWN = wb.catalogue(
    {"cocoa": "hard butter", "oil": "liquid oil", "bacuri": "hard butter"},
    prices={"cocoa": 20.0, "oil": 5.0, "bacuri": None},
    figures={"solid fat": {"cocoa": {30.0: 40.0}, "oil": {30.0: 0.0}}},
)
ASKED = wb.scenario(
    bands=(wb.bound("hard butter", 40.0, 60.0), wb.bound("liquid oil")),
    windows=(wb.window("solid fat", 18.0, at=30.0, over="lipids"),),
)


@pytest.mark.parametrize(
    ("formula", "status", "broken"),
    [
        ({"cocoa": 50.0, "oil": 50.0}, "kept", []),
        # at the line is kept; beyond it by more than a millionth is broken
        ({"cocoa": 60.0, "oil": 40.0}, "kept", []),
        (
            {"cocoa": 60.001, "oil": 39.999},
            "broken",
            ["band/hard butter/max"],
        ),
        (
            {"cocoa": 30.0, "oil": 70.0},
            "broken",
            ["band/hard butter/min", "window/solid fat/30 degC/lipids/min"],
        ),
        ({"cocoa": 50.0, "oil": 45.0}, "broken", ["total"]),
    ],
)
def test_a_formula_is_kept_or_broken_rule_by_rule(formula, status, broken):
    assert check(formula, ASKED, KNOWN).status == status
    assert wb.broken(formula, ASKED, KNOWN) == broken


def test_a_window_that_cannot_be_judged_is_said_and_not_counted_as_kept_or_broken():
    checked = check({"cocoa": 20.0, "bacuri": 30.0, "oil": 50.0}, ASKED, KNOWN)
    assert checked.missing == (
        "solid fat at 30 °C over the lipids was not judged: nothing is known of it for"
        " bacuri",
    )
    lines = {line.rule.id: line for line in checked.lines}
    window = lines["window/solid fat/30 degC/lipids/min"]
    assert (window.value, window.slack, window.binding) == (None, None, False)
    assert lines["band/hard butter/min"].slack == pytest.approx(10.0)
    assert checked.status == "kept"
    assert checked.cost_per_kg is None  # bacuri has no price, which is not zero


# Its sum would count what is not known as nothing.
def test_a_window_that_cannot_be_judged_has_no_second_opinion_either():
    judged = {"cocoa_butter": 60.0, "rapeseed_oil": 40.0}
    unjudged = {"cocoa_butter": 60.0, "rapeseed_oil": 30.0, "lanolin": 10.0}
    scenario, catalogue = shipped("massage_bar")
    firm, melting = (
        wb.window("firmness", 5.0, at=25.0, over="lipids"),
        wb.window("solid fat", None, 90.0, at=30.0, over="lipids"),
    )
    for windows, told in (((firm, melting), ["solid fat"]), ((firm,), None)):
        asked = replace(scenario, windows=windows, base={})
        lines = check(judged, asked, catalogue).second_opinion.lines
        assert len(lines) == len(windows)
        said = check(unjudged, asked, catalogue).second_opinion
        lines = said and [line.rule.about.property for line in said.lines]
        assert lines == told


def test_an_ingredient_that_the_scenario_would_not_choose_is_checked_all_the_same():
    asked = replace(ASKED, only=frozenset({"cocoa", "oil"}), windows=())
    checked = check({"bacuri": 50.0, "oil": 50.0}, asked, KNOWN)
    assert [line.ingredient for line in checked.formula] == ["bacuri", "oil"]
    assert checked.status == "kept"


def test_the_names_on_a_label_depend_on_where_and_how_it_is_used():
    scenario, catalogue = shipped("massage_bar")
    formula = dict(scenario.base)
    leave_on = check(formula, scenario, catalogue)
    rinse_off = check(formula, replace(scenario, use="rinse-off"), catalogue)
    elsewhere = check(formula, replace(scenario, markets=("CA",)), catalogue)
    # Lavender oil at 1 % carries linalool far above 0.001 % and 0.01 % of the product
    # (Regulation (EU) 2023/1545).
    assert "Linalool" in {each.name for each in leave_on.label_names}
    assert {each.name for each in rinse_off.label_names} <= {
        each.name for each in leave_on.label_names
    }
    assert {each.threshold for each in leave_on.label_names} == {0.001}
    assert {each.threshold for each in rinse_off.label_names} == {0.01}
    assert all(each.market != "EU" for each in elsewhere.label_names)
    percents = [each.percent for each in leave_on.label_names]
    assert percents == sorted(percents, reverse=True)


@pytest.mark.parametrize(
    ("scent", "status"), [(1.0, "kept"), (1.0049, "kept"), (1.006, "broken")]
)
def test_a_pin_is_kept_to_the_digits_that_a_formula_is_written_in(scent, status):
    known = wb.catalogue({"cocoa": "hard butter", "lavender": "scent"})
    asked = wb.scenario(pins=(wb.pin("lavender", 1.0),))
    found = check({"cocoa": 100.0 - scent, "lavender": scent}, asked, known)
    assert found.status == status


@pytest.mark.parametrize(
    ("asked", "scent", "status"),
    [
        ({"limits": (wb.bound("lavender", high=1.0),)}, 1.0049, "kept"),
        ({"limits": (wb.bound("lavender", high=1.0),)}, 1.006, "broken"),
        # Held at the base's share, which is written to so many digits too.
        ({"base": {"cocoa": 99.0, "lavender": 1.0}}, 1.0049, "kept"),
        ({"base": {"cocoa": 99.0, "lavender": 1.0}}, 1.006, "broken"),
        # A band is no dose that anybody writes to a hundredth.
        ({"bands": (wb.bound("scent", high=1.0),)}, 1.0049, "broken"),
    ],
)  # fmt: skip
def test_a_dose_of_one_s_own_is_kept_to_the_digits_of_a_formula(asked, scent, status):
    known = wb.catalogue({"cocoa": "hard butter", "lavender": "scent"})
    formula = {"cocoa": 100.0 - scent, "lavender": scent}
    assert check(formula, wb.scenario(**asked), known).status == status


def test_a_limit_of_practice_is_kept_to_the_last_digit():
    known = replace(
        wb.catalogue({"cocoa": "hard butter", "lavender": "scent"}),
        limits=(wb.usage("lavender", "practice", 1.0),),
    )
    formula = {"cocoa": 98.996, "lavender": 1.004}
    assert check(formula, wb.scenario(), known).status == "broken"
