"""What goes comes back as what is like it: a kind before a category, before a price."""

import pytest
from msgspec.structs import replace

from optimiser.domain.material import MINOR
from optimiser.domain.scenario import Aim
from optimiser.explaining import formulate
from optimiser.presenting.studies.words import substitute_notes
from optimiser.reading import read_scenario, shipped_folder
from optimiser.studies.substitute import Substitution, substitute
from tests.rules import workbench as wb

SCENARIOS = shipped_folder("scenarios")
# Shea is a tenth of the price of all else, olive a third of it.
PRICES = {"cocoa": 20.0, "shea": 1.0, "almond": 13.0, "olive": 4.0, "apricot": 14.0}
KNOWN = wb.catalogue(
    {
        "cocoa": wb.ingredient("cocoa", "hard butter", kind="cocoa-type"),
        "shea": wb.ingredient("shea", "soft butter", kind="shea-type"),
        "almond": wb.ingredient("almond", kind="light"),
        "olive": wb.ingredient("olive", kind="rich"),
        "apricot": wb.ingredient("apricot", kind="light"),
    },
    prices=PRICES,
)
BASE = {"cocoa": 40.0, "shea": 20.0, "almond": 40.0}


def without(asked, known, *names, also=()):
    found = substitute(asked, known, names, also=also, runners_up=1)
    assert isinstance(found, Substitution)
    return found


def test_the_same_kind_comes_before_the_same_category_and_the_cost():
    found = without(wb.scenario(base=BASE), KNOWN, "almond")
    assert found.came_in == ("apricot",)
    assert (found.apart, found.apart_by_kind, found.apart_by_category) == (
        pytest.approx((40.0, 0.0, 0.0), abs=1e-6)
    )
    assert found.runners_up[0].apart_by_kind == pytest.approx(40.0)


def test_the_least_change_by_ingredient_comes_before_the_kind():
    at_most = (wb.bound("apricot", None, 10.0, table="limits"),
               wb.bound("cocoa", None, 40.0, table="limits"))  # fmt: skip
    found = without(wb.scenario(base=BASE, limits=at_most), KNOWN, "almond")
    assert found.apart == pytest.approx(40.0)
    assert found.formula.amounts["apricot"] == pytest.approx(10.0)
    assert found.apart_by_kind == pytest.approx(30.0)


def demo(name, *, stepped=False, **base):
    """A demo scenario from a base that keeps its rules, all the catalogue to choose.

    The base as written does not always: then more moves than what goes, and where it
    goes is for those rules to say. In its steps only where that is asked for, for a
    search among all the catalogue takes a while.
    """
    asked, known = read_scenario(SCENARIOS / name)
    asked = asked if stepped else replace(asked, steps=None)
    nearest = replace(
        asked, base={**asked.base, **base}, aims=(Aim("change"),), pins=(), limits=()
    )
    found = wb.percent(formulate(nearest, known))
    return replace(asked, base=found, only=frozenset(), pins=(), limits=()), known


def moved(found, known):
    """Points that each ingredient gained or lost, by key."""
    return {known.find(move.what): move.points for move in found.moves}


def test_walnut_shell_goes_to_a_fruit_stone_and_not_to_salt_or_pumice():
    asked, known = demo("foot_scrub_bar.toml", sugar_fine=33.0, walnut_shell_powder=5.0)
    shell = asked.base["walnut_shell_powder"]
    assert shell == pytest.approx(5.0)
    assert moved(without(asked, known, "walnut shell powder"), known) == pytest.approx(
        {"walnut_shell_powder": -shell, "apricot_stone_powder": shell}, abs=1e-4
    )


@pytest.mark.parametrize(
    ("name", "out"),
    [
        ("massage_bar.toml", "sweet_almond_oil"),
        ("lip_balm.toml", "sweet_almond_oil"),
        ("foot_scrub_bar.toml", "sugar_fine"),
        ("foot_scrub_bar.toml", "kaolin"),
        ("massage_bar.toml", "cetyl_alcohol"),
    ],
)
def test_what_goes_is_made_up_for_by_its_own_kind_alone(name, out):
    asked, known = demo(name)
    came = moved(without(asked, known, out), known)
    assert came.pop(out) == pytest.approx(-asked.base[out])
    kinds = {(known.ingredients[key].category, known.ingredients[key].kind)
             for key in came}  # fmt: skip
    gone = known.ingredients[out]
    assert kinds == {(gone.category, gone.kind)}


def test_beeswax_goes_to_the_other_wax_that_melts_about_as_warm():
    asked, known = demo("massage_bar.toml", stepped=True)
    found = without(asked, known, "beeswax")
    came = moved(found, known)
    gained = {key: points for key, points in came.items() if points > 0}
    # As little as the band on wax allows, for 5 % sets a bar as firm as the base. Oil
    # makes up for the rest; no other wax comes in.
    assert gained["candelilla_wax"] == pytest.approx(6.0)
    assert {known.ingredients[key].category for key in gained} == {"wax", "liquid oil"}
    assert [each for each in gained if known.ingredients[each].category == "wax"] == [
        "candelilla_wax"
    ]
    (firm,) = (x for x in found.formula.properties if x.property == "firmness")
    assert firm.most - 1.0 < firm.value <= firm.most


@pytest.mark.parametrize(
    ("name", "out", "share"),
    [
        ("foot_scrub_bar.toml", "peppermint oil", 1.0),
        ("massage_bar.toml", "lavender oil", 1.0),
        ("massage_bar.toml", "mixed tocopherols", 0.5),
        ("foot_scrub_bar.toml", "phenoxyethanol with ethylhexylglycerin", 0.8),
    ],
)
def test_a_scent_or_a_preservative_is_never_replaced_unasked(name, out, share):
    asked, known = demo(name)
    found = without(asked, known, out)
    gone = known.ingredients[known.find(out)]
    gained = {known.ingredients[key].category
              for key, points in moved(found, known).items() if points > 0}  # fmt: skip
    assert not gained & set(MINOR)
    assert (
        f"no other {gone.category} takes the place of {gone.name} ({share:g} %): its"
        ' share went to the rest; name one with --with "..."'
    ) in substitute_notes(found)


def test_the_scent_that_the_maker_names_takes_the_place():
    asked, known = demo("massage_bar.toml")
    found = without(asked, known, "lavender oil", also=["sweet orange oil"])
    assert moved(found, known) == pytest.approx(
        {"lavender_oil": -1.0, "sweet_orange_oil": 1.0}, abs=1e-4
    )
    assert not any("takes the place" in note for note in substitute_notes(found))
