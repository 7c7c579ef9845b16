"""What a formula holds: allergens and the names that a label has to carry."""

from datetime import date, timedelta

import pytest
from msgspec.structs import replace

from optimiser.domain.law import ScentAllergen, Scope
from optimiser.domain.material import AllergenStatus
from optimiser.explaining.answer import AllergenLine
from optimiser.explaining.basis import basis
from optimiser.explaining.declared import Declared, in_order
from optimiser.explaining.facts import allergens, label_names, properties
from tests.rules import workbench as wb

KINDS = {"oil": "liquid oil", "shea": "soft butter", "lavender": "scent"}


def status(key, flag=None, **listed):
    every = dict.fromkeys(wb.AUTHORITIES, False) | listed
    return AllergenStatus(key, "tree nut", every, flag, "book", wb.CSV)


@pytest.mark.parametrize(
    ("rows", "told"),
    [
        ({}, [AllergenLine("not known", "oil")]),
        ({"oil": status("oil", "no_nut_relation")}, []),
        (
            {"oil": status("oil", US=True, AU=True)},
            [AllergenLine("tree nut", "oil", ("AU", "US"))],
        ),
        (
            {"oil": status("oil", "botanical_nut_not_listed")},
            [AllergenLine("tree nut", "oil", flag="botanical_nut_not_listed")],
        ),
        # what is not in the formula is not spoken of, and does not settle the rest
        (
            {"shea": status("shea", US=True)},
            [AllergenLine("not known", "oil")],
        ),
    ],
)
def test_what_nobody_has_classified_is_told_as_not_known(rows, told):
    known = wb.catalogue(KINDS, allergens={"tree nut": rows})
    found = allergens({"oil": 100.0, "shea": 0.0, "lavender": 0.0}, known)
    assert found == tuple(told)


def test_however_little_of_an_ingredient_brings_an_allergen_in():
    rows = {key: status(key, US=True) for key in ("lavender", "oil", "shea")}
    known = wb.catalogue(KINDS, allergens={"tree nut": rows})
    found = allergens({"oil": 99.5, "shea": 0.5, "lavender": 0.0}, known)
    listed = {each.name: each.listed for each in found}
    assert listed == {"oil": ("US",), "shea": ("US",)}


def test_a_scent_of_unknown_contents_is_told_where_it_is_in_the_formula():
    known = wb.catalogue({**KINDS, "rose": "scent"}, contents={"geraniol": {"rose": 2}})
    for amounts, told in (
        ({"oil": 99.0, "lavender": 1.0, "rose": 0.0}, ("lavender",)),
        ({"oil": 99.0, "lavender": 0.0, "rose": 1.0}, ()),
    ):
        assert basis(amounts, wb.scenario(), known).unknown_contents == told


def test_what_is_sold_by_volume_is_told_where_it_is_weighed_as_a_spoon_of_it():
    known = wb.catalogue(KINDS, figures={"density": {"shea": 0.92}})
    by_volume = {
        key: (replace(known.prices[key][0], volume="50 ml"),) for key in ("oil", "shea")
    }
    known = replace(known, prices={**known.prices, **by_volume})
    for amounts, told in (
        ({"oil": 60.0, "shea": 39.0, "lavender": 1.0}, ("oil",)),
        ({"oil": 0.0, "shea": 99.0, "lavender": 1.0}, ()),
    ):
        assert basis(amounts, wb.scenario(), known).by_spoon == told


def test_parts_of_a_mixture_of_unknown_shares_stand_as_its_name_tells_them():
    parts = [
        Declared(name, None, 0.0, 8.0, 8.0, of=("ready",), settled=False)
        for name in ("Polysorbate 60", "Cetearyl Alcohol")
    ]
    alike = [Declared(name, 8.0, 8.0, 8.0, 8.0) for name in ("Zinc Oxide", "Olus Oil")]
    most = Declared("Zea Mays Oil", 76.0, 76.0, 76.0, 76.0)
    assert [each.name for each in in_order([*parts, *alike, most])] == [
        "Zea Mays Oil", "Olus Oil", "Polysorbate 60", "Cetearyl Alcohol", "Zinc Oxide",
    ]  # fmt: skip


# At 1 % of the product: over 0.001 % only where the high end of the content is counted.
@pytest.mark.parametrize(
    ("content", "percent"),
    [
        (wb.figure(0.08, 0.05, 0.2), 0.002),
        (wb.figure(0.2, 0.05, 0.2), 0.002),
        (wb.figure(0.08, 0.05, 0.1), None),
        (wb.figure(0.0, 0.0, 0.0), None),
    ],
)
def test_a_scent_allergen_is_named_by_the_high_end_of_what_may_be_in_it(
    content, percent
):
    known = replace(
        wb.catalogue(KINDS, contents={"linalool": {"lavender": content}}),
        scent_allergens=(
            ScentAllergen("EU", "Linalool", ("linalool",), 0.001, 0.01, "act"),
        ),
    )
    asked = wb.scenario(markets=("EU",))
    found = label_names({"oil": 99.0, "lavender": 1.0}, asked, known)
    if percent is None:
        assert found == ()
        return
    (name,) = found
    assert (name.name, name.from_ingredients) == ("Linalool", ("lavender",))
    assert name.percent == pytest.approx(percent)


@pytest.mark.parametrize(("later", "named"), [(-1, True), (0, True), (1, False)])
def test_a_name_is_asked_for_from_the_day_on_which_its_law_begins(later, named):
    day = date(2026, 7, 1)
    scope = Scope(begins=day + timedelta(days=later))
    known = replace(
        wb.catalogue(KINDS, contents={"linalool": {"lavender": 30.0}}),
        scent_allergens=(
            ScentAllergen("EU", "Linalool", ("linalool",), 0.001, 0.01, "act", scope),
        ),
    )
    asked = wb.scenario(markets=("EU",), on=day)
    found = label_names({"oil": 99.0, "lavender": 1.0}, asked, known)
    assert bool(found) == named


# Invented names of a maker's own, of which no row tells anything, or of nuts alone.
@pytest.mark.parametrize(
    ("name", "doubts"),
    [
        ("peanut butter", {"peanut"}),
        ("Ground almonds", {"tree nut"}),
        ("our oat milk", {"oat"}),
        ("goat milk soap base", {"milk"}),
        ("tahini and soya paste", {"sesame", "soy"}),
        ("coconut milk", set()),
        ("nutmeg butter", set()),
        ("milk thistle oil", set()),
        ("buckwheat husk", set()),
    ],
)
@pytest.mark.parametrize("nuts_settled", [True, False])
def test_a_name_that_tells_of_an_allergen_is_never_told_as_free_of_it(
    name, doubts, nuts_settled
):
    rows = {"own": status("own", "no_nut_relation")} if nuts_settled else {}
    known = wb.catalogue({"own": "powder"}, allergens={"tree nut": rows})
    own = replace(known.ingredients["own"], name=name)
    found = allergens({"own": 100.0}, replace(known, ingredients={"own": own}))
    told = {each.allergen for each in found if each.flag == "by_its_name"}
    assert told == doubts - ({"tree nut"} if nuts_settled else set())
    assert ("not known" in {each.allergen for each in found}) is not nuts_settled


@pytest.mark.parametrize(
    ("formula", "firm", "fat"),
    [
        ({"cocoa": 45.0, "coconut": 5.0, "oil": 50.0}, (), ()),
        # 10 of 40 butters.
        ({"cocoa": 30.0, "coconut": 10.0, "oil": 60.0}, (("lauric", 25.0),),
         (("lauric", 25.0),)),
        # Of 40 % wax the solid fat says nothing.
        ({"oil": 60.0, "beeswax": 40.0}, (("wax", 40.0),), ()),
    ],
)  # fmt: skip
def test_figures_that_are_a_rough_guess_are_told_with_what_makes_them_so(
    formula, firm, fat
):
    known = wb.catalogue(
        {
            "cocoa": wb.ingredient("cocoa", "hard butter", family="cocoa-type"),
            "coconut": wb.ingredient("coconut", "soft butter", family="lauric"),
            "oil": "liquid oil",
            "beeswax": "wax",
        }
    )
    lines = properties(formula, wb.scenario(), known)
    rough = {each.property: each.rough for each in lines}
    assert (rough["firmness"], rough["solid fat"], rough["density"]) == (firm, fat, ())
