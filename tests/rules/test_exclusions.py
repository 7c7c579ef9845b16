"""Exclusions: allergens by authority and reading, vegan, palm-free, by name."""

import pytest
from msgspec.structs import replace

from optimiser.domain.exclusions import contains
from optimiser.domain.scenario import Exclusions
from optimiser.explaining import Clash, formulate
from optimiser.reading import read_catalogue, shipped_folder
from optimiser.rules import build
from optimiser.rules.exclusions import undecided
from tests.rules import workbench as wb

ALL = {"EU", "GB", "US", "AU", "CA"}


def nut(key, flag, *listed_by, known=ALL):
    listed = {authority: authority in listed_by for authority in known}
    return key, wb.status(key, "tree nut", flag, **listed)


# Regulation (EU) 1169/2011, Annex II; FDA guidance on food allergens, edition 5 (6 Jan
# 2025), which took shea and coconut off the US list; Standard 1.2.3 of AU and NZ;
# Health Canada. Argan, shea and coconut are on none of them; pine nut is on the US, AU
# and CA lists and not on the EU's.
STATUSES = dict(
    [
        nut("almond_oil", "listed_tree_nut", *ALL),
        nut("macadamia_oil", "listed_tree_nut", *ALL),
        nut("pine_nut_oil", "listed_tree_nut", "US", "AU", "CA"),
        nut("argan_oil", "botanical_nut_or_kernel_not_listed"),
        nut("shea_butter", "delisted_us_2025"),
        nut("coconut_oil", "delisted_us_2025"),
        nut("jojoba_oil", "no_nut_relation"),
        nut("kola_oil", "listed_tree_nut", "US", known={"US"}),
        nut("mystery_oil", "unknown", known=()),
        nut("half_known_oil", "no_nut_relation", known={"EU"}),
    ]
)
KNOWN = wb.catalogue(
    dict.fromkeys([*STATUSES, "new_oil"], "liquid oil"),
    allergens={"tree nut": STATUSES},
)


@pytest.mark.parametrize(
    ("key", "market", "listed", "cautious"),
    [
        ("almond_oil", "EU", True, True),
        ("macadamia_oil", "US", True, True),
        ("pine_nut_oil", "US", True, True),
        ("pine_nut_oil", "EU", False, True),
        ("argan_oil", "EU", False, True),
        ("shea_butter", "US", False, True),
        ("coconut_oil", "US", False, True),
        ("jojoba_oil", "EU", False, False),
        ("kola_oil", "US", True, True),
        # not known in the EU: a question for the supplier, never "no"
        ("kola_oil", "EU", None, True),
        ("mystery_oil", "EU", None, True),
        ("half_known_oil", "EU", False, False),
        ("half_known_oil", "US", None, None),
        ("new_oil", "EU", None, None),
    ],
)
def test_a_status_is_read_by_market_and_by_reading(key, market, listed, cautious):
    def read(reading):
        return contains(KNOWN, key, "tree nut", (market,), reading)

    assert read("listed") is listed
    assert read("cautious") is cautious


def test_without_a_market_every_authority_is_asked():
    assert contains(KNOWN, "pine_nut_oil", "tree nut", (), "listed") is True
    assert contains(KNOWN, "argan_oil", "tree nut", (), "listed") is False


def test_where_the_list_of_one_market_is_not_known_every_authority_is_asked():
    # The list of another market says nothing of New Zealand's, so neither is relied on.
    for markets in (("NZ",), ("EU", "NZ")):
        assert contains(KNOWN, "pine_nut_oil", "tree nut", markets, "listed") is True
        assert contains(KNOWN, "argan_oil", "tree nut", markets, "listed") is False
        assert contains(KNOWN, "half_known_oil", "tree nut", markets, "listed") is None


def test_two_markets_ask_both_authorities():
    assert contains(KNOWN, "pine_nut_oil", "tree nut", ("EU", "US"), "listed") is True


def test_an_ingredient_that_was_looked_at_for_another_allergen_is_no_tree_nut():
    known = wb.catalogue(
        {"soybean_oil": "liquid oil"},
        allergens={"soy": {"soybean_oil": wb.status("soybean_oil", "soy", "x")}},
    )
    assert contains(known, "soybean_oil", "tree nut", ("EU",), "listed") is False


@pytest.mark.parametrize(
    ("reading", "market", "left"),
    [
        (
            "listed",
            "EU",
            {
                "pine_nut_oil",
                "argan_oil",
                "shea_butter",
                "coconut_oil",
                "jojoba_oil",
                "half_known_oil",
            },
        ),
        ("listed", "US", {"argan_oil", "shea_butter", "coconut_oil", "jojoba_oil"}),
        ("cautious", "EU", {"jojoba_oil", "half_known_oil"}),
        ("cautious", "US", {"jojoba_oil"}),
    ],
)
def test_what_counts_or_is_not_known_is_kept_out(reading, market, left):
    asked = wb.scenario(
        markets=(market,),
        exclude=Exclusions(allergens=("tree nut",), reading=reading),
    )
    rule = wb.rules_of(asked, KNOWN)["exclude/tree nut"]
    out = {tuple(KNOWN.ingredients)[column] for column in rule.amounts.columns}
    assert set(KNOWN.ingredients) - out == left
    assert rule.owner == "safety"
    assert not rule.may_ease


BASE = {"almond_oil": 60.0, "shea_butter": 40.0}
NEAR = "near/tree nut"


def nut_free(reading="listed", **more):
    out = Exclusions(allergens=("tree nut",), reading=reading)
    return wb.scenario(**{"base": BASE, "markets": ("EU",), "exclude": out} | more)


def near(asked):
    """What is kept out for it is close to what is listed, and not in the base."""
    rule = wb.rules_of(asked, KNOWN)[NEAR]
    return {tuple(KNOWN.ingredients)[column] for column in rule.amounts.columns}


@pytest.mark.parametrize(
    ("more", "out"),
    [
        ({}, {"pine_nut_oil", "argan_oil", "coconut_oil"}),
        ({"markets": ("US",)}, {"argan_oil", "coconut_oil"}),
        (
            {"base": {"argan_oil": 100.0}},
            {"pine_nut_oil", "shea_butter", "coconut_oil"},
        ),
        ({"pins": (wb.pin("argan_oil", 5.0),)}, {"pine_nut_oil", "coconut_oil"}),
        (
            {"limits": (wb.bound("argan_oil", 0.0, 9.0, table="limits"),)},
            {"pine_nut_oil", "coconut_oil"},
        ),
        # a most of something is no wish to have it
        (
            {"limits": (wb.bound("argan_oil", None, 9.0, table="limits"),)},
            {"pine_nut_oil", "argan_oil", "coconut_oil"},
        ),
        # nor is a list of what may be chosen from
        (
            {"only": frozenset({"argan_oil", "jojoba_oil"})},
            {"argan_oil"},
        ),
    ],
    ids=["base", "market", "in the base", "pin", "least", "most", "list"],
)  # fmt: skip
def test_what_is_close_to_a_nut_does_not_newly_come_in_unless_asked_for(more, out):
    asked = nut_free(**more)
    if "only" in more:
        keys = build(asked, KNOWN).ingredients
        rule = next(x for x in build(asked, KNOWN).rules if x.id == NEAR)
        assert {keys[column] for column in rule.amounts.columns} == out
    else:
        assert near(asked) == out
    assert not set(wb.best(asked, KNOWN)) & out


@pytest.mark.parametrize("asked", [nut_free("cautious"), nut_free(base={})])
def test_the_cautious_reading_says_it_already_and_without_a_base_nothing_is_new(asked):
    assert NEAR not in wb.rules_of(asked, KNOWN)


def test_where_only_what_is_close_to_a_nut_fits_a_way_out_offers_it():
    only = frozenset({"almond_oil", "argan_oil", "coconut_oil"})
    band = wb.bound("liquid oil", 60.0)
    asked = nut_free(base={"almond_oil": 100.0}, only=only, bands=(band,))
    clash = formulate(asked, KNOWN)
    assert isinstance(clash, Clash)
    rules = {rule.id: rule for rule in clash.rules}
    assert rules[NEAR].may_ease
    ways = [{each.rule.id for each in way.easings} for way in clash.ways_out]
    assert {NEAR} in ways
    assert {each.name for each in clash.left_out} == {"argan oil", "coconut oil"}
    let_in = replace(asked, eased={NEAR: (None, wb.toml("dropped"))})
    assert set(wb.best(let_in, KNOWN)) <= {"argan_oil", "coconut_oil"}


SHIPPED = read_catalogue(shipped_folder("catalogues"), "demo")


@pytest.mark.parametrize(
    ("key", "listed", "cautious"),
    [
        ("sweet_almond_oil", True, True),
        ("macadamia_oil", True, True),
        ("almond_meal", True, True),
        ("argan_oil", False, True),
        ("shea_butter", False, True),
        ("coconut_oil", False, True),
        ("cocoa_butter", False, True),
        ("lavender_oil", False, False),
        ("beeswax", False, False),
    ],
)
def test_the_shipped_statuses_read_the_same_way(key, listed, cautious):
    assert contains(SHIPPED, key, "tree nut", ("EU",), "listed") is listed
    assert contains(SHIPPED, key, "tree nut", ("EU",), "cautious") is cautious


DIET = wb.catalogue(
    {
        "beeswax": wb.ingredient("beeswax", "wax", vegan="no", palm="no"),
        "plant_wax": wb.ingredient("plant_wax", "wax", vegan="yes", palm="no"),
        "stearic_acid": wb.ingredient(
            "stearic_acid", "fatty alcohol", vegan="ask", palm="ask"
        ),
        "palm_oil": wb.ingredient("palm_oil", "soft butter", vegan="yes", palm="yes"),
        "new_wax": wb.ingredient("new_wax", "wax"),
    }
)


@pytest.mark.parametrize(
    ("wish", "name", "out"),
    [
        ({"vegan": True}, "vegan", {"beeswax", "stearic_acid", "new_wax"}),
        ({"palm_free": True}, "palm", {"stearic_acid", "palm_oil", "new_wax"}),
        ({"ingredients": ("palm_oil",)}, "palm oil", {"palm_oil"}),
        ({"categories": ("wax",)}, "wax", {"beeswax", "plant_wax", "new_wax"}),
    ],
)
def test_what_is_not_known_to_fit_a_wish_is_kept_out(wish, name, out):
    asked = wb.scenario(exclude=Exclusions(**wish))
    rules = wb.rules_of(asked, DIET)
    assert list(rules) == ["total", f"exclude/{name}"]
    rule = rules[f"exclude/{name}"]
    assert {tuple(DIET.ingredients)[c] for c in rule.amounts.columns} == out
    assert rule.may_ease
    assert not set(wb.best(asked, DIET)) & out


# Something may be called what a wish or an allergen is called.
@pytest.mark.parametrize("name", ["palm", "vegan", "tree nut"])
def test_what_is_out_by_its_name_is_not_taken_for_a_wish_of_that_name(name):
    own = replace(wb.ingredient("own"), name=name)
    known = wb.catalogue({"own": own}, allergens={"tree nut": {}})
    exclude = Exclusions(ingredients=("own",), allergens=("tree nut",))
    asked = wb.scenario(exclude=exclude)
    by_name = [x for x in build(asked, known, ("own",)).rules if x.excludes][-1]
    assert by_name.sentence == f"no {name}"
    assert undecided(by_name, "own", asked, known) == ""


def test_an_exclusion_that_meets_nothing_does_not_bind():
    asked = wb.scenario(exclude=Exclusions(ingredients=("beeswax",)))
    answer = formulate(
        replace(asked, only=frozenset({"plant_wax"}), bands=(wb.bound("wax"),)), DIET
    )
    (line,) = [line for line in answer.rules if line.rule.kind == "exclusion"]
    assert not line.binding


def test_a_category_with_nothing_left_is_told_with_what_took_it_away():
    asked = wb.scenario(
        bands=(wb.bound("wax", 5.0), wb.bound("soft butter")),
        exclude=Exclusions(vegan=True, ingredients=("plant_wax",)),
    )
    clash = formulate(asked, DIET)
    assert isinstance(clash, Clash)
    assert clash.causes == (
        "no wax is left once 'nothing that is not known to be vegan', 'no plant wax' is"
        " kept",
    )
    assert {rule.id for rule in clash.rules} == {
        "band/wax/min",
        "exclude/vegan",
        "exclude/plant wax",
    }


def test_who_keeps_peanuts_out_keeps_out_what_is_called_one_until_it_is_settled():
    known = wb.catalogue({"own": "powder"}, allergens={"tree nut": {}, "peanut": {}})
    nuts = dict([nut("own", "no_nut_relation")])
    for name, counts in (("peanut butter", None), ("our butter", False)):
        own = replace(known.ingredients["own"], name=name)
        asked = replace(
            known, ingredients={"own": own}, allergens={"tree nut": nuts, "peanut": {}}
        )
        assert contains(asked, "own", "peanut", ("EU",), "listed") is counts
