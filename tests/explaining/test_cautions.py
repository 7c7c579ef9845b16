"""Cautions are told where they apply: by kind of product, ingredients and amounts."""

import pytest
from msgspec.structs import replace

from optimiser.domain.caution import KNOWN, Caution
from optimiser.domain.scenario import Exclusions
from optimiser.explaining.cautions import (
    at_the_bench,
    cautions,
    on_a_label,
    that_spoil,
)
from optimiser.reading.catalogue import read_catalogue
from optimiser.reading.folders import shipped_folder
from tests.rules import workbench as wb

SHIPPED = read_catalogue(shipped_folder("catalogues"), None)
OF_FOOD = {
    "shea_butter": 40.0,
    "cocoa_butter": 30.0,
    "oat_meal": 10.0,
    "poppy_seed": 5.0,
    "hazelnut_meal": 10.0,
    "honey": 5.0,
}


def told(amounts, known=SHIPPED, **asked):
    """The cautions that a formula calls for, by key, in their order."""
    found = cautions(amounts, wb.scenario(**asked), known)
    return {each.key: each for each in found}


def test_a_wet_bar_of_food_without_preservative_hears_of_each_danger_by_name():
    found = told(OF_FOOD, use="rinse-off", product="scrub bar")
    named = {
        "plant_matter_wet": {"poppy seed", "oat meal", "hazelnut meal", "honey"},
        "food_proteins": {"oat meal", "hazelnut meal"},
        "takes_up_water": {"honey"},
        "like_food": {"cocoa butter", "honey", "poppy seed"},
    }
    for key, names in named.items():
        assert names <= set(found[key].names)
    assert "poppy seed" in found["plant_matter_wet"].text
    assert {"wet_in_use", "slippery"} <= set(found)
    assert [*found][:3] == ["plant_matter_wet", "wet_in_use", "food_proteins"]
    assert all(each.reason and each.reference for each in found.values())


def test_with_a_preservative_the_same_bar_is_told_to_prove_it_and_further_down():
    kept = {**OF_FOOD, "shea_butter": 39.0, "phenoxyethanol_ethylhexylglycerin": 1.0}
    found = told(kept, use="rinse-off", product="scrub bar")
    assert "must be proven" in found["plant_matter_wet"].text
    assert next(iter(found)) == "food_proteins"


# Product, use, formula; what it must hear of, and what it must not.
TOLD = [
    ("scrub bar", "leave-on", OF_FOOD, {"food_proteins"}, {"plant_matter_wet"}),
    ("lip balm", "leave-on", {"beeswax": 100}, {"swallowed"}, {"wet_in_use"}),
    ("hand salve", "leave-on", {"beeswax": 100}, set(), {"swallowed", "dust"}),
    (
        "massage bar",
        "leave-on",
        {"cocoa_butter": 98, "bergamot_oil": 2},
        {"burns_in_sun", "ages_into_allergens", "scent_allergy"},
        {"silica_dust"},
    ),
    (
        "massage bar",
        "leave-on",
        {"cocoa_butter": 98, "bergamot_oil_fcf": 2},
        set(),
        {"burns_in_sun"},
    ),
    (
        "deodorant",
        "leave-on",
        {"shea_butter": 90, "sodium_bicarbonate": 10},
        {"alkaline", "dust"},
        set(),
    ),
    (
        "bath melt",
        "rinse-off",
        {"shea_butter": 60, "sodium_bicarbonate": 40},
        {"slippery"},
        {"alkaline"},
    ),
    (
        "foot scrub",
        "rinse-off",
        {"shea_butter": 90, "pumice_powder": 10},
        {"silica_dust", "sharp_grains"},
        set(),
    ),
    ("balm", "leave-on", {"hemp_seed_oil": 90, "beeswax": 10}, {"rancid"}, set()),
    ("balm", "leave-on", {"castor_oil": 90, "beeswax": 10}, set(), {"rancid"}),
    ("lotion", "leave-on", {"water": 80, "shea_butter": 20}, {"water_inside"}, set()),
    # No floor gets slippery of what stays on lips, face, hair or under the arms.
    ("lip balm", "leave-on", {"coconut_oil": 100}, set(), {"slippery"}),
    ("lip scrub", "rinse-off", {"coconut_oil": 100}, set(), {"slippery"}),
    ("deodorant stick", "leave-on", {"coconut_oil": 100}, set(), {"slippery"}),
    ("beard balm", "leave-on", {"coconut_oil": 100}, set(), {"slippery"}),
    ("face oil", "leave-on", {"jojoba_oil": 100}, set(), {"slippery"}),
    ("foot balm", "leave-on", {"coconut_oil": 100}, {"slippery"}, set()),
    ("shampoo bar", "rinse-off", {"coconut_oil": 100}, {"slippery"}, set()),
    (
        "soap cube",
        "rinse-off",
        {"sodium_cocoyl_isethionate": 98, "sunflower_oil": 2},
        {"wet_in_use"},
        {"slippery"},
    ),
    # Humectants bound in an emulsion draw no water to a surface.
    (
        "lotion",
        "leave-on",
        {"water": 80, "shea_butter": 15, "glycerin": 5},
        set(),
        {"takes_up_water"},
    ),
    ("balm", "leave-on", {"beeswax": 95, "glycerin": 5}, {"takes_up_water"}, set()),
    ("balm", "leave-on", {"beeswax": 98, "cocoa_butter": 2}, set(), {"like_food"}),
    (
        "baby balm",
        "leave-on",
        {"shea_butter": 98, "honey": 2},
        {"honey_for_infants", "for_babies"},
        {"like_food"},
    ),
    ("lip balm", "leave-on", {"beeswax": 95, "honey": 5}, {"honey_for_infants"}, set()),
    (
        "hand balm",
        "leave-on",
        {"beeswax": 95, "honey": 5},
        set(),
        {"honey_for_infants"},
    ),
    (
        "face scrub",
        "rinse-off",
        {"shea_butter": 60, "sodium_bicarbonate": 40},
        {"alkaline"},
        {"slippery"},
    ),
]


@pytest.mark.parametrize(("product", "use", "formula", "hears", "not_of"), TOLD)
def test_a_caution_is_told_where_it_applies_and_only_there(
    product, use, formula, hears, not_of
):
    found = told(formula, product=product, use=use)
    assert hears <= set(found)
    assert not not_of & set(found)


@pytest.mark.parametrize(
    ("product", "begins", "weight"),
    [
        ("baby balm", "Not for children under three", 99),
        ("child's chest balm", "For children of three to six", 94),
        ("chest balm", "Keep from children under three", 64),
    ],
)
def test_menthol_cineole_and_camphor_weigh_more_the_younger_the_user(
    product, begins, weight
):
    found = told({"shea_butter": 99.0, "eucalyptus_oil": 1.0}, product=product)
    line = found["terpenes_on_infants"]
    assert line.text.startswith(begins)
    assert line.weight == weight
    assert line.names == ("eucalyptus oil",)


@pytest.mark.parametrize(
    ("use", "formula", "keys"),
    [
        ("leave-on", {"shea_butter": 95, "water": 5}, ["water_inside"]),
        ("leave-on", {"beeswax": 95, "honey": 5}, ["takes_up_water"]),
        ("rinse-off", {"shea_butter": 90, "ground_coffee": 10},
         ["plant_matter_wet", "wet_in_use"]),
        ("leave-on", {"beeswax": 95, "glycerin": 5}, []),
        ("leave-on", {"hemp_seed_oil": 100}, []),
        ("leave-on", {"shea_butter": 94, "water": 5, "phenoxyethanol": 1}, []),
    ],
)  # fmt: skip
def test_what_wants_a_preservative_may_spoil_before_its_lots(use, formula, keys):
    found = that_spoil(tuple(told(formula, use=use).values()))
    assert [each.key for each in found] == keys


def test_grains_that_are_harmless_on_feet_are_too_sharp_for_the_face():
    sugar = {"shea_butter": 60.0, "sugar_granulated": 40.0}
    face = told(sugar, product="face scrub", use="rinse-off")
    assert next(iter(face)) == "sharp_grains"
    assert "sharp_grains" not in told(sugar, product="foot scrub", use="rinse-off")


def test_fine_sugar_is_what_lips_are_told_to_use_and_is_not_warned_of():
    fine = told({"sugar_fine": 60.0, "coconut_oil": 40.0}, product="lip scrub")
    assert "sharp_grains" not in fine
    coarse = told({"sugar_brown": 60.0, "coconut_oil": 40.0}, product="lip scrub")
    assert "fine sugar" in coarse["sharp_grains"].text


def test_a_strong_oil_in_what_is_made_for_babies_is_not_told_as_one_for_adults():
    formula = {"shea_butter": 99.0, "tarragon_oil": 1.0}
    baby, adult = (told(formula, product=x) for x in ("baby balm", "balm"))
    assert baby["strong_oils"].text == "Not for babies: tarragon oil. Leave it out."
    assert "nor in pregnancy" in adult["strong_oils"].text


def test_a_promise_to_be_free_of_something_is_told_only_where_one_is_asked_for():
    asked = Exclusions(allergens=("tree nut",))
    assert "free_from" in told({"beeswax": 100.0}, exclude=asked)
    assert "free_from" not in told({"beeswax": 100.0})


def test_what_goes_with_every_formula_stands_last_and_once():
    keys = [*told(OF_FOOD)]
    assert keys[-2:] == ["decision_aid", "make_100_g"]
    assert len(keys) == len(set(keys))


def test_whoever_pours_is_told_of_hot_oil_and_dust_and_not_what_users_mind():
    formula = {"shea_butter": 50.0, "kaolin": 10.0, "sugar_fine": 40.0}
    keys = [each.key for each in at_the_bench(formula, SHIPPED)]
    assert keys == ["silica_dust", "dust", "hot_oil", "water_in_hot_oil", "level_tray"]


def row(key, weight=50.0, **more):
    return Caution(key, weight, f"Mind {key}.", "It is so.", wb.CSV, **more)


def small(*rows):
    kinds = {"oil": "liquid oil", "mint": "scent", "keeper": "preservative"}
    known = wb.catalogue(kinds, contents={"menthol": {"mint": wb.figure(40, 30, 50)}})
    return wb.replace(known, cautions=rows)


@pytest.mark.parametrize(
    ("amounts", "heard"),
    [
        ({"oil": 99.0, "mint": 1.0}, False),  # 0.5 % menthol at the high end
        ({"oil": 98.9, "mint": 1.1}, True),
        ({"oil": 90.0, "mint": 1.1, "keeper": 8.9}, False),
    ],
)
def test_an_amount_counts_at_its_high_end_above_its_limit_and_without_counts(
    amounts, heard
):
    known = small(
        row("mint", constituents=("menthol",), over=0.5, without=("preservative",))
    )
    assert ("mint" in told(amounts, known)) == heard


def test_of_the_variants_of_one_caution_the_first_that_applies_is_told():
    known = small(
        row("a", 90.0, products=("lip",)),
        row("a", 10.0),
        row("b", 20.0),
        row("c", 15.0, use="rinse-off"),
    )
    lip = told({"oil": 100.0}, known, product="lip balm")
    assert [(key, line.weight) for key, line in lip.items()] == [("a", 90), ("b", 20)]
    body = told({"oil": 100.0}, known, product="body butter")
    assert [*body] == ["b", "a"]


def test_names_are_told_largest_share_first_and_many_are_counted():
    oils = {f"oil_{n}": "liquid oil" for n in range(6)}
    known = wb.replace(
        wb.catalogue(oils),
        cautions=(
            Caution("slips", 1.0, "Slips: {what}.", "So.", wb.CSV,
                    categories=("liquid oil",)),
        ),
    )  # fmt: skip
    amounts = {f"oil_{n}": 10.0 + n for n in range(6)}
    (line,) = told(amounts, known).values()
    assert line.text == "Slips: oil 5, oil 4, oil 3, oil 2 and 2 more."


@pytest.mark.parametrize(
    ("amounts", "product", "printed"),
    [
        # Mint is a strong oil, and holds menthol and cineole.
        ({"shea_butter": 97.0, "peppermint_oil": 3.0}, "balm",
         "Not for babies and small children."),
        ({"shea_butter": 97.0, "menthol": 3.0}, "balm",
         "Not for babies and small children."),
        ({"shea_butter": 90.0, "honey": 10.0}, "lip balm",
         "Not for babies under one year."),
    ],
)  # fmt: skip
def test_a_label_warns_once_of_each_danger_by_the_strictest_words(
    amounts, product, printed
):
    found = [*told(amounts, product=product).values()]
    dangers = [each for each in found if each.danger == "small children"]
    words = on_a_label(found)
    assert printed in words
    assert [each for each in words if each in {x.label for x in dangers}] == [printed]


def test_what_is_no_danger_of_another_is_all_printed():
    known = small(row("a", label="Hot."), row("b", label="Cold."), row("c"))
    assert on_a_label([*told({"oil": 100.0}, known).values()]) == ("Hot.", "Cold.")


@pytest.mark.parametrize(
    ("product", "use", "printed"),
    [
        ("hand balm", "leave-on", False),
        ("massage bar", "leave-on", False),
        ("foot balm", "leave-on", True),
        ("cracked heel stick", "leave-on", True),
        ("shower scrub bar", "rinse-off", True),
        ("bath melt", "rinse-off", True),
    ],
)
def test_a_label_speaks_of_slippery_floors_only_where_one_walks_or_washes(
    product, use, printed
):
    found = told({"shea_butter": 100.0}, product=product, use=use)
    words = " ".join(on_a_label([*found.values()]))
    assert ("slippery" in words) is printed


@pytest.mark.parametrize(("dose", "spared"), [(0.1, False), (0.5, True)])
def test_a_preservative_spares_a_caution_in_the_dose_at_which_it_works(dose, spared):
    # Its supplier asks for 0.5 % at least (limits.csv).
    amounts = {"shea_butter": 100 - dose, "phenoxyethanol_caprylyl_glycol": dose}
    found = told(amounts, use="rinse-off", product="scrub bar")["wet_in_use"]
    assert ("has no preservative" in found.text) != spared


@pytest.mark.parametrize("row", [x for x in SHIPPED.cautions if KNOWN in x.text])
def test_what_it_is_without_is_certain_only_where_all_is_known(row):
    sure = replace(SHIPPED, cautions=(row,))
    own = wb.ingredient("zorvex", "unknown")
    known = replace(sure, ingredients={**sure.ingredients, "zorvex": own})
    asked = {"use": row.use if row.use != "any" else "rinse-off", "product": "bar"}
    plain = {"honey": 5.0, "water": 5.0, "poppy_seed": 5.0, "hemp_seed_oil": 85.0}
    plain |= {} if "water" not in row.without else {"water": 0.0, "beeswax": 5.0}
    (found,) = told(plain, known, **asked).values()
    assert "known" not in found.text
    assert found.unsure == ()
    (found,) = told({**plain, "zorvex": 1.0}, known, **asked).values()
    assert "that is known here (what zorvex is, is not known)" in found.text
    assert found.unsure == ("zorvex",)


def test_every_shipped_caution_for_want_of_something_says_how_sure_that_is():
    for row in SHIPPED.cautions:
        if {"preservative", "antioxidant"} & {*row.without}:
            assert f"no {row.without[0]}{KNOWN}" in row.text
