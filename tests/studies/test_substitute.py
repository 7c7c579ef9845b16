"""Substitutes: the closest formula without something, against a plain solver."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from scipy.optimize import linprog

from optimiser.domain.material import AllergenStatus, Origin
from optimiser.domain.scenario import Exclusions, Steps
from optimiser.errors import InputError
from optimiser.explaining import Clash
from optimiser.presenting.studies.substitute import substitute_page
from optimiser.presenting.terminal import as_text
from optimiser.studies.substitute import substitute, unpriced
from optimiser.studies.without import GivenUp, without
from tests.presenting.shown import flat
from tests.rules.workbench import bound, catalogue, pin, scenario, toml, window

KINDS = {
    "cocoa": "hard butter",
    "shea": "soft butter",
    "almond": "liquid oil",
    "sunflower": "liquid oil",
    "olive": "liquid oil",
    "lavender": "scent",
}
PRICES = {
    "cocoa": 20.0, "shea": 12.0, "almond": 13.0, "sunflower": 5.0, "olive": 8.0,
    "lavender": 100.0,
}  # fmt: skip
BASE = {"cocoa": 40.0, "shea": 20.0, "almond": 39.0, "lavender": 1.0}


def known(**more):
    return catalogue(KINDS, prices=PRICES | more)


def bar(**more):
    more = {"bands": (bound("liquid oil", 30, 45),)} | more
    return scenario(**{"base": BASE, "pins": (pin("lavender", 1.0),)} | more)


def found(asked=None, names=("almond",), **more):
    result = substitute(asked or bar(), known(), names, **more)
    assert not isinstance(result, Clash)
    return result


def test_the_cheapest_of_the_closest_takes_the_place():
    result = found()
    assert result.formula.amounts["sunflower"] == pytest.approx(39.0, abs=1e-6)
    assert (result.apart, result.apart_by_category) == pytest.approx((39, 0), abs=1e-6)
    assert [(m.what, round(m.points, 6)) for m in result.moves] == [
        ("almond", -39.0),
        ("sunflower", 39.0),
    ]
    assert result.category_moves == ()


def nut_and_peanut():
    """Sunflower is called a peanut; of the others nothing is listed but almond."""
    rows = {"tree nut": ("almond",), "peanut": ("sunflower",)}
    status = {
        allergen: {
            key: AllergenStatus(
                key, allergen, {"EU": key in brings}, "unrelated", "b", Origin("a.csv")
            )
            for key in KINDS
        }
        for allergen, brings in rows.items()
    }
    return catalogue(KINDS, prices=PRICES, allergens=status)


def test_what_newly_brings_a_listed_allergen_comes_after_what_does_not():
    result = substitute(bar(markets=("EU",)), nut_and_peanut(), ("tree nut",))
    assert not isinstance(result, Clash)
    assert result.came_in == ("olive",)  # dearer than sunflower
    (last,) = [each for each in result.runners_up if "sunflower" in each.names]
    assert last == result.runners_up[-1]
    assert last.brings == ("peanut",)
    told = flat(as_text(substitute_page(result), 120))
    assert "sunflower (new against your base: peanut)" in told
    assert "what brings in an allergen that your base has not comes last" in told


def test_where_only_what_brings_a_listed_allergen_fits_it_comes_in_and_is_told():
    asked = bar(markets=("EU",), only=frozenset({"cocoa", "shea", "sunflower"}))
    result = substitute(asked, nut_and_peanut(), ("tree nut",))
    assert not isinstance(result, Clash)
    assert result.came_in == ("sunflower",)
    told = flat(as_text(substitute_page(result), 120))
    assert "new against your base: peanut (sunflower)" in told


def test_what_brings_an_allergen_does_not_wait_for_what_gives_up_a_category():
    asked = bar(
        markets=("EU",), only=frozenset({"cocoa", "shea", "sunflower"}), bands=()
    )
    result = substitute(asked, nut_and_peanut(), ("tree nut",))
    assert not isinstance(result, Clash)
    assert result.came_in == ("sunflower",)
    assert result.runners_up == ()  # butter alone takes no oil's place


@pytest.mark.parametrize(
    "more",
    [
        {"also": ("sunflower",)},
        {"asked": bar(markets=("EU",), base={**BASE, "shea": 19.0, "sunflower": 1.0})},
    ],
    ids=["asked for", "in the base"],
)
def test_what_is_asked_for_or_in_the_base_does_not_wait(more):
    asked = more.pop("asked", bar(markets=("EU",)))
    result = substitute(asked, nut_and_peanut(), ("tree nut",), **more)
    assert result.came_in == ("sunflower",)
    assert not any(each.brings for each in result.runners_up)


def test_staying_in_the_category_comes_before_the_cost():
    cheap = catalogue(KINDS, prices=PRICES | {"shea": 1.0})
    result = substitute(bar(), cheap, ["almond"])
    assert result.apart_by_category == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize(
    ("aims", "new"), [(("cost",), ["sunflower"]), (("change", "count", "cost"), [])]
)
def test_a_scent_that_goes_brings_no_new_oil_where_few_are_aimed_at(aims, new):
    result = found(bar(aims=aims), names=["lavender"])
    came = [key for key in result.formula.amounts if key not in BASE]
    assert came == new
    assert result.apart == pytest.approx(1.0, abs=1e-6)


def test_runners_up_are_each_the_closest_without_those_before():
    (first,) = found().runners_up  # then the band on oils cannot be kept
    assert first.names == ("olive",)
    assert first.formula.cost_per_kg > found().formula.cost_per_kg


def test_where_the_base_fills_the_gap_itself_others_that_could_are_next():
    own = {"cocoa": 40.0, "shea": 20.0, "almond": 19.0, "sunflower": 20.0}
    result = found(bar(base={**own, "lavender": 1.0}))
    assert result.came_in == ("sunflower",)
    (first,) = result.runners_up
    assert first.names == ("olive",)
    assert first.formula.amounts["sunflower"] == pytest.approx(20.0)


STEPPED = {"cocoa": 40.3, "shea": 20.3, "almond": 18.9, "sunflower": 20.2}
STEPS = Steps(0.5, {}, toml("amounts"))


# Of whole steps everything moves a little, and what does so stays free to.
def test_only_what_took_the_place_is_held_where_the_base_fills_the_gap_itself():
    base = {**STEPPED, "lavender": 0.3}
    result = found(bar(base=base, pins=(pin("lavender", 0.3),), steps=STEPS))
    assert result.came_in[0] == "sunflower"
    (first,) = result.runners_up
    assert first.names == ("olive",)
    assert first.apart < 19.5
    assert first.formula.amounts["sunflower"] <= 20.2


@pytest.mark.parametrize("base", [BASE, {**STEPPED, "lavender": 0.3}])
def test_nothing_is_next_where_nothing_of_the_category_takes_the_place(base):
    asked = bar(base=base, pins=(), bands=(), steps=STEPS)
    result = found(asked, names=["lavender"])
    assert result.runners_up == ()
    assert not result.untried
    told = flat(as_text(substitute_page(result), 120))
    assert "NEXT CLOSEST None: nothing else of its category may be chosen." in told


# Where all of a category leaves, others of what came in for it might have instead.
def test_what_stands_in_for_a_whole_category_has_others_of_its_own_next():
    kinds = {**KINDS, "beeswax": "wax", "kokum": "hard butter", "sal": "hard butter"}
    prices = PRICES | {"beeswax": 9.0, "kokum": 21.0, "sal": 22.0}
    base = {"shea": 20.0, "beeswax": 20.0, "almond": 60.0}
    held = [bound(x, None, y, table="limits") for x, y in base.items()]
    oils = bound("liquid oil", None, 60.0)
    asked = scenario(
        base=base,
        limits=tuple(held),
        bands=(oils, bound("hard butter", 0.0, 40.0), bound("wax", 0.0, 40.0)),
    )
    result = substitute(asked, catalogue(kinds, prices=prices), ["wax"])
    assert not isinstance(result, Clash)
    assert [result.came_in, *(each.names for each in result.runners_up)] == [
        ("cocoa",), ("kokum",), ("sal",)
    ]  # fmt: skip


def test_what_has_no_price_and_is_like_what_leaves_is_named():
    result = substitute(bar(), known(olive=None), ["almond"])
    assert not isinstance(result, Clash)
    assert result.unpriced == ("olive",)
    assert [(x.name, x.why) for x in result.left_out] == [
        ("olive", "no price is known in workshop 'demo'")
    ]
    told = flat(as_text(substitute_page(result), 120))
    assert (
        "NEXT CLOSEST None: nothing else of its category has a price. Left out for want"
        " of a price: olive; add a row to prices.csv for what you can buy."
    ) in told
    full = flat(as_text(substitute_page(result, full=True), 120))
    assert "LEFT OUT no price is known in workshop 'demo': olive" in full
    assert unpriced(bar(), known(olive=None), ["almond"]) == ("olive",)


# A price would not let in what must go too, what lacks a figure besides, or a scent.
def test_what_a_price_alone_would_not_let_in_is_not_named_for_want_of_one():
    asked = scenario(
        base={"beeswax": 19.0, "sunflower": 80.0, "lavender": 1.0},
        windows=(window("firmness", 20.0, 80.0, at=25.0, over="lipids"),),
        second_opinion=False,
    )
    kinds = {
        "beeswax": "wax", "sunflower": "liquid oil", "rapeseed": "liquid oil",
        "olive": "liquid oil", "peanut": "liquid oil", "lavender": "scent",
        "orange": "scent",
    }  # fmt: skip
    soft = {key: {25.0: 0.0} for key in ("sunflower", "rapeseed", "peanut")}
    known = catalogue(
        kinds,
        figures={"wax firmness": {"beeswax": 2.0}, "solid fat": soft},
        prices=dict.fromkeys(("rapeseed", "olive", "peanut", "orange")),
    )
    out = ["sunflower", "peanut", "lavender"]
    assert unpriced(asked, known, out) == ("rapeseed",)


def test_nothing_but_a_scent_is_next_for_a_scent():
    scented = catalogue({**KINDS, "orange": "scent"}, prices={**PRICES, "orange": 9.0})
    result = substitute(bar(), scented, ["lavender"], also=["orange"])
    assert result.came_in == ("orange",)
    assert result.unreplaced == ()
    assert result.runners_up == ()


def test_a_pin_on_what_goes_is_given_up_and_said():
    result = found(names=["lavender"])
    assert result.given_up == (GivenUp("lavender", "exact", 1.0),)
    assert result.no_other == ("scent",)


def test_a_rule_that_asks_for_more_than_the_swap_is_named():
    asked = bar(limits=(bound("sunflower", None, 30, table="limits"),
                        bound("olive", None, 5, table="limits")))  # fmt: skip
    result = found(asked)
    assert {line.rule.id for line in result.held} >= {"limit/sunflower/max"}
    assert result.apart_by_category == pytest.approx(4.0, abs=1e-6)


# Shea's least share keeps the formula away from the base, sunflower's most only from
# a cheaper one: what is asked first comes first, whatever stands first in a file.
@pytest.mark.parametrize("written", [("sunflower", "shea"), ("shea", "sunflower")])
def test_what_keeps_it_from_the_base_is_told_before_what_keeps_it_dear(written):
    sides = {"sunflower": (None, 30), "shea": (25, None)}
    limits = tuple(bound(key, *sides[key], table="limits") for key in written)
    held = found(bar(limits=limits)).held
    assert [line.rule.id for line in held] == ["limit/shea/min", "limit/sunflower/max"]


def test_what_else_lost_is_told_apart_from_what_goes():
    (also,) = found(bar(limits=(bound("cocoa", None, 38, table="limits"),))).also_less
    assert (also.what, also.points) == ("cocoa", pytest.approx(-2.0, abs=1e-6))


def test_what_the_base_does_not_hold_is_said():
    result = found(names=["olive"])
    assert result.apart == pytest.approx(0.0, abs=1e-6)
    assert result.nothing_out
    assert not found().nothing_out


def test_what_an_eased_exclusion_lets_in_is_no_longer_out():
    out = Exclusions(ingredients=("sunflower", "olive"))
    some = {"exclude/sunflower": (10.0, Origin("test.toml"))}
    result = found(bar(bands=(), exclude=out, eased=some))
    assert "sunflower" in result.came_in
    assert result.no_other == ()
    # Without oils, butters give way too.
    none = found(bar(bands=(), exclude=out))
    assert none.no_other == ("liquid oil",)


def test_what_was_let_in_before_is_out_where_it_must_go():
    some = {"exclude/almond": (10.0, Origin("test.toml"))}
    result = found(bar(exclude=Exclusions(ingredients=("almond",)), eased=some))
    assert "almond" not in result.formula.amounts


def test_a_category_or_an_allergen_may_be_named():
    asked, gone, _ = without(bar(), known(), ["Scent"])
    assert (gone, asked.exclude.categories) == (("scent",), ("scent",))


def test_another_ingredient_may_be_let_in():
    asked = bar(only=frozenset({*BASE, "olive"}))
    assert "sunflower" not in found(asked).formula.amounts
    assert "sunflower" in found(asked, also=["sunflower"]).formula.amounts


def test_names_that_are_not_known_are_told_all_at_once():
    with pytest.raises(InputError) as told:
        substitute(bar(), known(), ["almnd"], also=["xyz"])
    assert str(told.value) == (
        "option --without: 'almnd' is no ingredient, category or allergen; the nearest"
        " known name is almond.\n"
        "  To fix: correct the name, or see them all with: optimiser catalogue list.\n"
        "option --with: 'xyz' is no ingredient; no known name is near it.\n"
        "  To fix: correct the name, or see them all with: optimiser catalogue list."
    )


def test_without_a_base_the_best_formula_is_the_base():
    asked = scenario(bands=(bound("liquid oil", 30, 45), bound("hard butter", 55)))
    result = found(asked, names=["sunflower"])
    assert result.base_from.startswith("the scenario's own best")
    assert result.apart == pytest.approx(result.base.amounts["sunflower"], abs=1e-6)


def test_without_a_base_and_without_a_formula_the_run_stops():
    asked = scenario(bands=(bound("liquid oil", 60), bound("hard butter", 60)))
    with pytest.raises(InputError, match="has no base"):
        substitute(asked, known(), ["sunflower"])


def test_a_clash_is_returned_as_one():
    assert isinstance(substitute(bar(), known(), ["liquid oil"]), Clash)


@given(
    st.lists(st.floats(1, 10), min_size=6, max_size=6), st.sampled_from(sorted(BASE))
)
def test_no_formula_is_closer(weights, out):
    share = 100.0 * np.array(weights) / sum(weights)
    base = dict(zip(KINDS, share, strict=True))
    bands = (bound("liquid oil", 20, 80), bound("hard butter", 0, 50))
    result = substitute(scenario(base=base, bands=bands), known(), [out])
    lp = closest(base, out)
    if isinstance(result, Clash):
        assert lp.status == 2
    else:
        assert result.apart == pytest.approx(lp.fun, abs=1e-5)


def closest(base, out):
    """Half the least sum of moves, with columns for moves up and down."""
    keys = list(KINDS)
    oils = [float(KINDS[k] == "liquid oil") for k in keys]
    hard = [float(KINDS[k] == "hard butter") for k in keys]
    none = [0.0] * 12
    eye = np.eye(6)
    moves = np.hstack([eye, -eye, eye])
    start = [base[k] for k in keys]
    return linprog(
        [0.0] * 6 + [0.5] * 12,
        A_eq=[[1.0] * 6 + none, *moves],
        b_eq=[100.0, *start],
        A_ub=[[-x for x in oils] + none, oils + none, hard + none],
        b_ub=[-20.0, 80.0, 50.0],
        bounds=[(0, 0) if k == out else (0, 100) for k in keys] + [(0, None)] * 12,
    )


def listed(**status):
    """Return the catalogue with allergens: name -> ingredients that are listed."""
    return replace(
        known(),
        allergens={
            name.replace("_", " "): {
                key: AllergenStatus(
                    key,
                    name.replace("_", " "),
                    dict.fromkeys(("EU", "US"), key in keys),
                    None,
                    "",
                    Origin("allergens.csv"),
                )
                for key in KINDS
            }
            for name, keys in status.items()
        },
    )


def test_without_nuts_is_asked_which_and_not_led_to_the_nearest_name():
    catalogue = listed(tree_nut=("almond",), peanut=())
    with pytest.raises(InputError) as caught:
        without(bar(), catalogue, ["nuts"])
    said = str(caught.value)
    assert "'nuts' may mean tree nuts" in said
    assert "nearest" not in said


def test_without_tree_nuts_keeps_out_what_is_listed_as_one():
    catalogue = listed(tree_nut=("almond",), peanut=())
    asked, named, _ = without(bar(), catalogue, ["Tree nuts"])
    assert asked.exclude.allergens == ("tree nut",)
    assert named == ("tree nut",)


def test_closeness_needs_no_price_where_the_scenario_does_not_aim_at_cost():
    near = bar(aims=("change",))
    unknown = known(lavender=None)
    result = substitute(near, unknown, ["almond"])
    assert result.formula.amounts["lavender"] == pytest.approx(1.0)
    assert result.formula.cost_per_kg is None
    assert result.apart_by_category == pytest.approx(0.0, abs=1e-6)
    with pytest.raises(InputError, match="no price is known"):
        substitute(bar(aims=("change", "cost")), unknown, ["almond"])


def test_what_is_let_in_by_name_and_has_no_price_is_told_and_not_dropped():
    with pytest.raises(InputError) as told:
        substitute(bar(), known(olive=None), ["almond"], also=["olive"])
    assert str(told.value) == (
        "option --with: 'olive' cannot come in, for no price is known in workshop"
        " 'demo'.\n  To fix: add a pack to its prices.csv"
        " (ingredient,pack,unit,price,freight,currency), as in olive,100,g,PRICE,0,EUR;"
        " or leave it out."
    )


def test_what_is_let_in_by_name_needs_no_price_where_cost_is_not_aimed_at():
    few = known(olive=None, sunflower=None)
    near = bar(aims=("change",))
    result = substitute(near, few, ["almond", "sunflower"], also=["olive"])
    assert not isinstance(result, Clash)
    assert "olive" in result.formula.amounts


def test_what_is_let_in_by_name_and_lacks_a_figure_is_told_and_not_dropped():
    asked = scenario(
        base={"beeswax": 20.0, "sunflower": 80.0},
        windows=(window("firmness", 20.0, 80.0, at=25.0, over="lipids"),),
        second_opinion=False,
    )
    figures = {
        "wax firmness": {"beeswax": 2.0},
        "solid fat": {"sunflower": {25.0: 0.0}},
    }
    kinds = {"beeswax": "wax", "sunflower": "liquid oil", "olive": "liquid oil"}
    known = catalogue(kinds, figures=figures)
    with pytest.raises(InputError) as told:
        substitute(asked, known, ["beeswax"], also=["olive"])
    assert str(told.value).startswith("option --with: 'olive' cannot come in, for no ")


def test_cost_still_decides_last_where_every_price_is_known():
    result = substitute(bar(aims=("change",)), known(), ["almond"])
    assert result.formula.amounts["sunflower"] == pytest.approx(39.0, abs=1e-6)


WAXES = catalogue(
    {"beeswax": "wax", "candelilla": "wax", "sunflower": "liquid oil"},
    figures={
        "wax firmness": {"beeswax": 2.0, "candelilla": 4.0},
        "solid fat": {"sunflower": {25.0: 0.0}},
    },
)


# 20 % of beeswax reads 40, and as much candelilla the 80 that the window allows.
@pytest.mark.parametrize(("most", "candelilla"), [(80.0, 10.0), (30.0, 7.5)])
def test_what_takes_the_place_of_a_wax_sets_a_bar_about_as_firm(most, candelilla):
    asked = scenario(
        base={"beeswax": 20.0, "sunflower": 80.0},
        windows=(window("firmness", 20.0, most, at=25.0, over="lipids"),),
        second_opinion=False,
    )
    result = substitute(asked, WAXES, ["beeswax"])
    # Where the base itself breaks the window, that holds as it is written.
    assert result.formula.amounts["candelilla"] == pytest.approx(candelilla, abs=0.01)
