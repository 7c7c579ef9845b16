"""An infusion of one's own has what the oil lends that it is made in."""

import shutil
from pathlib import Path

import pytest

from optimiser.domain.exclusions import contains
from optimiser.domain.material import ALLERGEN_FLAGS
from optimiser.errors import InputError
from optimiser.explaining.basis import basis
from optimiser.explaining.facts import allergens
from optimiser.reading import read_catalogue, read_scenario

SHARED = "calendula_sunflower_oil"
HERBAL = "herbal_oil,herbal oil,liquid oil,{oil}\n"
SHIPPED = Path(__file__).parents[2] / "catalogues"


@pytest.fixture
def catalogues(tmp_path):
    shutil.copytree(SHIPPED, tmp_path / "catalogues")
    return tmp_path / "catalogues"


def own(catalogues, rows, name="ingredients.csv", header="key,name,category,made_in"):
    place = catalogues / "workshops" / "demo" / name
    place.write_text(f"{header}\n{rows}", encoding="utf-8")
    return read_catalogue(catalogues, "demo")


def test_it_melts_and_weighs_as_its_oil_and_keeps_as_long_as_nobody_knows(catalogues):
    found = own(catalogues, HERBAL.format(oil="olive oil"))
    herbal = found.ingredients["herbal_oil"]
    assert (herbal.made_in, herbal.kind) == ("olive_oil", "rich")
    for name in ("solid fat", "density", "melting point"):
        lent = found.figures[name]["herbal_oil"]
        for at, figure in found.figures[name]["olive_oil"].items():
            assert lent[at].value == figure.value
            assert lent[at].sources == figure.sources
            assert lent[at].evidence == "assumed"
    assert "olive_oil" in found.figures["shelf life"]
    assert "herbal_oil" not in found.figures["shelf life"]
    assert found.fats.acids["herbal_oil"] == found.fats.acids["olive_oil"]


def test_a_litre_of_it_is_priced_by_the_weight_of_its_oil(catalogues):
    own(catalogues, HERBAL.format(oil="olive_oil"))
    with (catalogues / "workshops/demo/prices.csv").open("a", encoding="utf-8") as file:
        file.write("herbal oil,1,l,18.26,0,EUR,2026-11-02,\n")
    found = read_catalogue(catalogues, "demo")
    assert found.price_per_kg("herbal_oil") == pytest.approx(20.0)  # 0.913 g/ml


def test_what_is_known_of_it_stands_before_what_its_oil_lends(catalogues):
    own(catalogues, HERBAL.format(oil="olive oil"))
    header = "ingredient,property,at,value,unit,evidence"
    row = "herbal_oil,density,20 degC,0.95,g/ml,measured\n"
    found = own(catalogues, row, "properties.csv", header)
    (figure,) = found.figures["density"]["herbal_oil"].values()
    assert (figure.value, figure.evidence) == (pytest.approx(950.0), "measured")


def test_it_is_the_allergens_of_its_oil_and_what_its_oil_is_not_is_not_known(
    catalogues,
):
    for oil, nut in (
        ("olive oil", None),
        ("shea butter", None),
        ("hazelnut oil", True),
    ):
        found = own(catalogues, HERBAL.format(oil=oil))
        for reading in ("listed", "cautious"):
            assert contains(found, "herbal_oil", "tree nut", ["EU"], reading) is nut
            assert contains(found, "herbal_oil", "milk", ["EU"], reading) is None
            # As an infusion of the catalogue that nobody has told of.
            assert contains(found, SHARED, "tree nut", ["EU"], reading) is not False


def test_what_its_oil_is_and_what_nobody_told_of_it_are_both_said(catalogues):
    found = own(catalogues, HERBAL.format(oil="hazelnut oil"))
    told = [
        (x.allergen, bool(x.listed)) for x in allergens({"herbal_oil": 100.0}, found)
    ]
    assert told == [("not known", False), ("tree nut", True)]


@pytest.mark.parametrize("key", ["herbal_oil", SHARED])
def test_a_suppliers_word_that_it_is_on_no_list_ends_the_asking(catalogues, key):
    own(catalogues, HERBAL.format(oil="olive oil"))
    header = "ingredient,allergen,EU,GB,US,AU,CA,evidence"
    row = f"{key},tree nut,no,no,no,no,no,"
    told = own(catalogues, f"{row}supplier\n", "allergens.csv", header)
    assert contains(told, key, "tree nut", ["EU"], "listed") is False
    assert contains(told, key, "tree nut", ["EU"], "cautious") is False
    assert not allergens({key: 100.0}, told)
    nobodys = own(catalogues, f"{row}\n", "allergens.csv", header)
    assert contains(nobodys, key, "tree nut", ["EU"], "cautious") is True


def test_what_one_list_has_of_its_oil_leaves_other_lists_not_known(catalogues):
    own(catalogues, HERBAL.format(oil="olive oil"))
    row = "olive_oil,tree nut,no,yes\n"
    found = own(catalogues, row, "allergens.csv", "ingredient,allergen,EU,US")
    for market, nut in (("EU", None), ("US", True)):
        assert contains(found, "herbal_oil", "tree nut", [market], "listed") is nut


def test_a_row_of_its_own_stands_before_what_its_oil_is(catalogues):
    own(catalogues, HERBAL.format(oil="hazelnut oil"))
    row = "herbal_oil,tree nut,no,yes\n"
    found = own(catalogues, row, "allergens.csv", "ingredient,allergen,EU,US")
    for market, nut in (("EU", False), ("US", True)):
        assert contains(found, "herbal_oil", "tree nut", [market], "listed") is nut


def test_a_suppliers_word_makes_no_other_thing_of_a_kernel(catalogues):
    header = "ingredient,allergen,EU,GB,US,AU,CA,evidence"
    row = "argan_oil,tree nut,no,no,no,no,no,supplier\n"
    found = own(catalogues, row, "allergens.csv", header)
    assert contains(found, "argan_oil", "tree nut", ["EU"], "cautious") is True


def test_a_word_that_is_no_flag_is_refused_with_those_that_are(catalogues):
    header = "ingredient,allergen,EU,GB,US,AU,CA,flag"
    with pytest.raises(InputError) as told:
        own(
            catalogues,
            "olive_oil,tree nut,no,no,no,no,no,none\n",
            "allergens.csv",
            header,
        )
    (problem,) = told.value.problems
    assert (problem.field, problem.row, problem.found) == ("flag", 2, "none")
    assert "leave it blank" in problem.fix
    for flag in ALLERGEN_FLAGS:
        assert flag in problem.fix


def test_a_limit_on_its_oil_holds_for_it_too(catalogues):
    header = "ingredient,whose,use,min_percent,max_percent,of,evidence"
    own(catalogues, HERBAL.format(oil="olive oil"))
    row = "olive_oil,supplier,any,,7,product,supplier\n"
    found = own(catalogues, row, "limits.csv", header)
    assert [x.high for x in found.limits if x.ingredient == "herbal_oil"] == [7.0]


def test_what_is_infused_stays_unknown_to_the_law(catalogues):
    own(catalogues, HERBAL.format(oil="olive oil"))
    path = catalogues.parent / "bar.toml"
    text = 'title = "Bar"\nworkshop = "demo"\nuse = "leave-on"\nmarket = ["EU"]\n'
    path.write_text(text + "[batch]\nsize = '1 kg'\n", encoding="utf-8")
    scenario, found = read_scenario(path)
    told = basis({"herbal_oil": 50.0, "beeswax": 50.0}, scenario, found)
    assert told.infusions == ("herbal oil",)
    assert told.strangers == ()
    assert [each.unknown for each in told.law] == [1]


@pytest.mark.parametrize(
    ("rows", "wrong"),
    [
        (HERBAL.format(oil="unicorn oil"), "is not a known ingredient"),
        (HERBAL.format(oil="herbal oil"), "is an infusion itself"),
        (
            HERBAL.format(oil="olive oil")
            + "twice,twice infused,liquid oil,herbal oil",
            "is an infusion itself",
        ),
    ],
)
def test_an_infusion_in_no_oil_is_told_with_its_row(rows, wrong, catalogues):
    with pytest.raises(InputError) as told:
        own(catalogues, f"{rows}\n")
    (problem,) = told.value.problems
    assert (problem.field, problem.row) == (
        "made_in",
        rows.count("\n") + 1 + ("twice" in rows),
    )
    assert wrong in problem.wrong
