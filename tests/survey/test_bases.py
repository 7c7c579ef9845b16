"""Bases: what is named keeps its share, and what is bare goes to a stand-in."""

import pytest

from optimiser.domain.properties import PROPERTIES
from optimiser.presenting.survey.page import survey_page
from optimiser.presenting.survey.remarks import remark_told
from optimiser.presenting.survey.scenario import survey_scenario
from optimiser.presenting.survey.words import (
    meant_words,
    nearest_words,
    stand_in_words,
)
from optimiser.presenting.terminal import as_text
from optimiser.science.mixing import blend_value
from optimiser.studies.survey import Asked, survey
from optimiser.studies.survey.base import WIDENED, _around
from optimiser.studies.survey.remarks import OffTheMiddle
from optimiser.studies.survey.summaries import members
from optimiser.studies.survey.usage import Usage, seen_ingredients
from optimiser.studies.survey.values import BaseLine, HeldWindow, Wishes
from tests.survey.test_published import CLASSES


def rows(names, lines, product_class="bar"):
    """Return the rows of recipes that are all the same, written "shea butter 40"."""
    return "".join(
        f"{name},{product_class},{line.rpartition(' ')[0]},{line.split()[-1]},%,\n"
        for name in names
        for line in lines
    )


def base_of(found):
    return {each.ingredient: each for each in found.base.lines}


def percents(found):
    return {key: pytest.approx(each.percent) for key, each in base_of(found).items()}


PLAIN = ["cocoa butter 60", "beeswax 25"]
BARE = [*PLAIN, "liquid oil 14", "dimethicone 1"]


# Both recipes are the same, so the centre is the recipe: the silicone has its 1 %,
# and an oil that is not named has the 14 %, for no recipe holds much of the silicone.
def test_a_minor_ingredient_keeps_its_share_beside_a_bare_one(surveyed):
    base = base_of(surveyed(rows("AB", BARE), product_class="bar"))
    assert base["dimethicone"].percent == pytest.approx(1.0)
    assert base["dimethicone"].stands_in is None
    (oil,) = base.keys() - {"cocoa_butter", "beeswax", "dimethicone"}
    assert base[oil].percent == pytest.approx(14.0)
    assert (base[oil].stands_in, base[oil].standing) == (
        "liquid oil",
        pytest.approx(14.0),
    )


# Three recipes of another class name olive oil; nothing but the silicone is named in
# this one, so it is olive oil that stands in.
def test_what_stands_in_is_what_most_recipes_of_all_classes_name(surveyed):
    others = rows("XYZ", ["olive oil 80", "beeswax 20"], "salve")
    base = base_of(surveyed(rows("AB", BARE) + others, product_class="bar"))
    assert base["olive_oil"].percent == pytest.approx(14.0)


# One recipe of the class names grapeseed oil, and it comes before olive oil. All hold
# 15 % of oil: 14 in two recipes are bare and 15 in one grapeseed oil, so it gets
# (14 + 14 + 15) / 3, of which 28 / 3 stand in; the silicone gets (1 + 1 + 0) / 3.
def test_what_the_class_names_stands_in_before_what_others_name(surveyed):
    others = rows("XYZ", ["olive oil 80", "beeswax 20"], "salve")
    own = rows("C", [*PLAIN, "grapeseed oil 15"])
    base = base_of(surveyed(rows("AB", BARE) + own + others, product_class="bar"))
    assert base["grapeseed_oil"].percent == pytest.approx(43 / 3)
    assert base["grapeseed_oil"].standing == pytest.approx(28 / 3)
    assert base["dimethicone"].percent == pytest.approx(2 / 3)
    assert "olive_oil" not in base


# 20 % over the two options named, 10 each, beside the 50 % that is written.
def test_a_choice_is_shared_among_the_options_it_names(surveyed):
    lines = ["cocoa butter 50", '"mango, shea or other butter" 20', "beeswax 30"]
    found = surveyed(rows("AB", lines), product_class="bar")
    assert percents(found) == {
        "cocoa_butter": 50,
        "mango_butter": 10,
        "shea_butter": 10,
        "beeswax": 30,
    }
    assert all(each.stands_in is None for each in found.base.lines)


# Two recipes name rose wax and one beeswax, but a habit allows 5 % of
# rose wax, far below 30.
def test_what_is_limited_far_below_a_share_does_not_stand_in_for_it(surveyed):
    lines = rows("AB", ["cocoa butter 30", "olive oil 40", "wax 30"])
    lines += rows("XY", ["rose wax 30", "olive oil 70"], "balm")
    lines += rows("Z", ["beeswax 30", "olive oil 70"], "balm")
    base = base_of(surveyed(lines, product_class="bar"))
    assert base["beeswax"].percent == pytest.approx(30)
    assert "rose_wax" not in base


# Practice ends sodium cocoyl isethionate at 50 % of what is rinsed off: it takes 50 of
# the 60, and the rest goes to the next that is named.
def test_what_a_limit_does_not_allow_goes_to_the_next_that_is_named(surveyed):
    lines = rows("AB", ["surfactant 60", "cocoa butter 40"], "shampoo bar")
    lines += rows(
        "XY", ["sodium cocoyl isethionate 50", "cocoa butter 50"], "soap-free cube"
    )
    lines += rows("Z", ["cocamidopropyl betaine 30", "cocoa butter 70"], "wash")
    found = surveyed(lines, product_class="shampoo bar")
    assert percents(found) == {
        "sodium_cocoyl_isethionate": 50,
        "cocoa_butter": 40,
        "cocamidopropyl_betaine": 10,
    }
    assert found.base.moved == pytest.approx(0.0, abs=1e-9)


# C names a third of it: 50 of 170 in all, 16.7 %, and practice ends it at 50. In its
# own name and for others it is 50 together; what is left of 56.7 is the next's.
def test_what_is_named_too_stands_in_only_up_to_its_limit(surveyed):
    lines = rows("AB", ["surfactant 60", "cocoa butter 40"], "shampoo bar")
    syndet = "sodium cocoyl isethionate"
    lines += rows("C", [f"{syndet} 60", "cocoa butter 40"], "shampoo bar")
    lines += rows("Z", ["cocamidopropyl betaine 30", "cocoa butter 70"], "wash")
    found = surveyed(lines, product_class="shampoo bar")
    centre = {key: each.centre for key, each in base_of(found).items()}
    assert centre == pytest.approx(
        {
            "sodium_cocoyl_isethionate": 50,
            "cocoa_butter": 40,
            "cocamidopropyl_betaine": 10,
        }
    )
    assert found.base.lowered == ()


# Practice ends it at 50 % and five recipes name it at 70: nothing is left of it to
# stand in for what the sixth leaves bare.
def test_what_is_at_its_limit_is_not_told_to_stand_in(surveyed):
    syndet = "sodium cocoyl isethionate"
    lines = rows("ABCDE", [f"{syndet} 70", "cocoa butter 30"], "shampoo bar")
    lines += rows("F", ["surfactant 70", "cocoa butter 30"], "shampoo bar")
    lines += rows("Z", ["cocamidopropyl betaine 30", "cocoa butter 70"], "wash")
    base = base_of(surveyed(lines, product_class="shampoo bar"))
    assert base["sodium_cocoyl_isethionate"].stands_in is None
    assert base["cocamidopropyl_betaine"].stands_in == "surfactant"


# Of 80 % butters in eight recipes one leaves bare that it is a hard one: an eighth,
# 10 %, less than a named ingredient needs to be kept, goes to the hard butter named
# elsewhere. The eighth that is only "butter" goes to shea butter.
def test_a_bare_share_does_not_vanish_because_it_is_small(surveyed):
    lines = rows("ABCDEF", ["shea butter 80", "olive oil 20"])
    lines += rows("G", ["hard butter 80", "olive oil 20"])
    lines += rows("H", ["butter 80", "olive oil 20"])
    lines += rows("X", ["cocoa butter 80", "olive oil 20"], "balm")
    base = base_of(surveyed(lines, product_class="bar"))
    assert base["cocoa_butter"].percent == pytest.approx(10)
    assert base["cocoa_butter"].stands_in == "hard butter"
    assert base["shea_butter"].percent == pytest.approx(70)
    assert base["shea_butter"].standing == pytest.approx(10)


# A habit allows 1 % of the preservative that stands in, for the one named has no price.
# What it leaves is told as open: two that nobody named do not make up one dose.
def test_what_a_limit_does_not_allow_is_left_open_where_no_other_is_named(surveyed):
    of = "diazolidinyl urea and iodopropynyl butylcarbamate"
    lines = rows("AB", ["cocoa butter 50", "olive oil 48.6", "preservative 1.4"])
    lines += rows("X", ["cocoa butter 50", "olive oil 49.6", f"{of} 0.4"], "balm")
    found = surveyed(lines, product_class="bar", workshop="demo")
    assert found.base.left_open == {"preservative": pytest.approx(0.4)}
    held = {k: x.percent for k, x in base_of(found).items() if x.stands_in}
    assert list(held.values()) == [pytest.approx(1.0)]


OILS = [
    "olive",
    "sunflower",
    "grapeseed",
    "castor",
    "avocado",
    "jojoba",
    "safflower",
    "soybean",
    "pumpkin_seed",
    "rice_bran",
]


# Each oil is 19 of 20 in one recipe. Of five, each holds a fifth of the named and
# two are kept (of equals those in most recipes, but no three of a kind); of ten, none
# has 15 % of it and one is kept. What is cut goes to those that are kept, and none
# of it to the silicone.
@pytest.mark.parametrize(("count", "kept"), [(5, 2), (10, 1)])
def test_what_is_cut_does_not_go_to_a_minor_ingredient(surveyed, count, kept):
    lines = "".join(
        rows(f"{n}", [*PLAIN[:1], "beeswax 20", f"{oil} oil 19", "dimethicone 1"])
        for n, oil in enumerate(each.replace("_", " ") for each in OILS[:count])
    )
    base = base_of(surveyed(lines, product_class="bar"))
    assert base["dimethicone"].percent == pytest.approx(1)
    oils = [base[f"{each}_oil"].percent for each in OILS if f"{each}_oil" in base]
    assert oils == pytest.approx([19 / kept] * kept)


# The workshop has no price for the one that is named, so it is told and another
# stands; without a workshop it keeps its share.
def test_what_has_no_price_is_told_and_not_in_the_base(surveyed):
    lines = rows("AB", ["bacuri butter 40", "shea butter 40", "beeswax 20"])
    plain = surveyed(lines, product_class="bar")
    assert base_of(plain)["bacuri_butter"].percent == pytest.approx(40)
    priced = surveyed(lines, product_class="bar", workshop="demo")
    assert "bacuri_butter" not in base_of(priced)
    assert priced.base.remarks == (
        "these recipes name what has no price, and others of its kind take its share: "
        "bacuri butter",
    )


@pytest.mark.parametrize(
    ("use", "markets", "key", "most"),
    [
        ("leave-on", (), "benzyl_alcohol", 100.0),
        ("leave-on", ("EU",), "benzyl_alcohol", 1.0),  # Annex V, entry 34
        ("leave-on", (), "candelilla_wax", 20.0),  # its supplier's 10 is for sticks
        ("leave-on", (), "sodium_cocoyl_isethionate", 17.0),
        ("rinse-off", (), "sodium_cocoyl_isethionate", 50.0),
        ("leave-on", (), "shea_butter", 100.0),
    ],
)
def test_a_ceiling_is_the_least_of_law_supplier_and_practice(
    catalogue, use, markets, key, most
):
    usage = Usage((), (), catalogue, Wishes("", use, markets, None))
    assert usage.ceiling(key) == pytest.approx(most)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        (BaseLine("olive_oil", 5.0, 5.0), ""),
        (
            BaseLine("olive_oil", 4.0, 4.0, "liquid oil", 4.0),
            "stands in for what was read only as liquid oil",
        ),
        (
            BaseLine("olive_oil", 5.0, 5.0, "liquid oil", 4.0),
            "4.0 of it stands in for what was read only as liquid oil",
        ),
    ],
)
def test_a_line_says_how_much_of_it_stands_in(line, words):
    assert stand_in_words(line) == words


def of_class(written, catalogue, knowledge, **asked):
    return survey(written, catalogue, knowledge, {}, Asked(workshop="demo", **asked))


# The base of SB01 sums to 100 and as much again goes on top: its shares are half of
# those written. SB02 has 0.75 more and its shares are 0.7 % lower, so the centre lies
# between (25 and 24.8 for cocoa butter). Butters beside it are 10, and oils 8. Of more
# than twelve lines those that fewest recipes name are handed to others of their
# category of which some recipe holds as much; none goes to the silicone, of which they
# hold 1. So stearic acid goes to cetyl alcohol, of which oil dissolves more, and a
# little of the soy wax that they name brings the firmness of the softest back.
def test_the_solid_scrub_bar_is_a_recipe_one_would_make(written, catalogue, knowledge):
    found = of_class(written, catalogue, knowledge, product_class="solid scrub bar")
    base = base_of(found)
    centre = {
        category: sum(
            each.centre
            for key, each in base.items()
            if catalogue.ingredients[key].category in members(category)
        )
        for category in ("soft butter", "liquid oil", "exfoliant")
    }
    assert base["cocoa_butter"].centre == pytest.approx(25.0, rel=0.01)
    expected = {"soft butter": 10.0, "liquid oil": 8.0, "exfoliant": 50.0}
    assert centre == pytest.approx(expected, rel=0.01)
    centred = {key for key, each in base.items() if each.centre > 0.0}
    assert 7 <= len(centred) <= 12
    assert set(base) - centred == {"hydrogenated_soybean_oil"}
    assert 0.1 <= base["hydrogenated_soybean_oil"].percent <= 1.0
    grains = [k for k in base if catalogue.ingredients[k].category == "exfoliant"]
    assert len(grains) == 1
    assert base["benzyl_alcohol"].stands_in == "preservative"
    silicone = base.get("dimethicone")
    assert silicone is None or silicone.percent <= 1.01
    assert found.base.nearest.recipe == "SB02"


# All hold 30 % of butters that are a choice of a soft and a hard one, and so does the
# base. With as many recipes that hold none the centre holds less than the 30 to 30 %
# of those that have some, and the message counts the butters that are there.
def test_the_middle_half_of_butters_is_held_against_all_butters(surveyed, catalogue):
    lines = rows("ABCD", ['"shea or cocoa butter" 30', "beeswax 20", "olive oil 50"])
    found = surveyed(lines, product_class="bar")
    assert found.base.remarks == ()
    lines += rows("EFGH", ["beeswax 20", "olive oil 80"])
    found = surveyed(lines, product_class="bar")
    butters = sum(
        each.percent
        for each in found.base.lines
        if catalogue.ingredients[each.ingredient].category in members("butters")
    )
    assert 0.0 < butters < 29.0
    told = OffTheMiddle("butters", pytest.approx(butters), 30.0, 30.0)
    assert [x for x in found.base.remarks if isinstance(x, OffTheMiddle)] == [told]
    assert remark_told(found.base.remarks[-1]).startswith(
        f"butters is {butters:.1f} % in the base, and 30.0 to 30.0 % in the middle half"
    )


@pytest.fixture(scope="module")
def bases(written, catalogue, knowledge):
    """Every structure of every class, as a survey of its own."""
    found = []
    for name in CLASSES:
        first = of_class(written, catalogue, knowledge, product_class=name)
        for each in first.structures:
            asked = {"product_class": name, "structure": each.name}
            found.append(of_class(written, catalogue, knowledge, **asked))
    return found


def test_no_published_base_holds_more_than_limits_allow(bases, catalogue):
    for found in bases:
        wishes = Wishes("", found.use, (), None)
        usage = Usage((), (), catalogue, wishes)
        for each in found.base.lines:
            assert each.percent <= usage.ceiling(each.ingredient) + 1e-6


def test_no_published_base_holds_what_nobody_names_and_nothing_stands_for(bases):
    for found in bases:
        named = seen_ingredients(found.recipes)
        for each in found.base.lines if WIDENED not in found.base.remarks else ():
            assert each.stands_in or named[each.ingredient]


def test_of_ingredients_as_often_named_the_first_to_be_named_comes_first(published):
    for each in published.recipes:
        named = [
            key
            for line in each.lines
            if line.status in {"read", "no amount"}
            for key in line.match.options
        ]
        assert list(seen_ingredients([each])) == list(dict.fromkeys(named))


def test_no_published_base_says_it_holds_nothing_of_what_it_holds(bases, catalogue):
    for found in bases:
        held = {catalogue.ingredients[x.ingredient].category for x in found.base.lines}
        for each in found.base.remarks:
            if isinstance(each, OffTheMiddle) and held & set(members(each.category)):
                assert each.share > 0.05


# What stands in is a part of the centre, and the shares of the centre add to 100.
def test_what_stands_in_is_a_part_of_the_centre(bases):
    for found in bases:
        for each in found.base.lines:
            assert 0.0 <= each.standing <= each.centre + 1e-9
            assert (each.standing > 0.0) == (each.stands_in is not None)


# A habit allows 20 % of sunflower wax; what takes the rest is a plant wax too.
def test_nothing_of_animals_comes_into_recipes_of_plants(surveyed, catalogue):
    lines = rows("ABC", ["sunflower wax 24", "shea butter 46", "olive oil 30"])
    found = surveyed(lines, product_class="bar", workshop="demo")
    held = [catalogue.ingredients[key] for key in base_of(found)]
    assert sum(each.category == "wax" for each in held) > 1
    assert all(each.vegan != "no" for each in held)


def test_no_allergen_and_no_scent_that_nobody_names_stands_in(surveyed):
    others = rows(
        "XYZ", ["sweet almond oil 80", "beeswax 19", "lavender oil 1"], "salve"
    )
    bare = rows("AB", ["cocoa butter 50", "beeswax 20", "liquid oil 29", "scent 1"])
    found = surveyed(bare + others, product_class="bar")
    base = base_of(found)
    assert {"sweet_almond_oil", "lavender_oil"}.isdisjoint(base)
    assert found.base.left_open == {"scent": pytest.approx(1.0)}


ONE = ["cocoa butter 30", "beeswax 23", "sunflower oil 47"]


def test_a_base_made_from_one_recipe_is_that_recipe_and_says_so(surveyed, catalogue):
    found = surveyed(rows("A", ONE), product_class="bar")
    shares = {key: each.percent for key, each in base_of(found).items()}
    assert shares == {
        "cocoa_butter": pytest.approx(30.0),
        "beeswax": pytest.approx(23.0),
        "sunflower_oil": pytest.approx(47.0),
    }
    assert found.base.moved == pytest.approx(0.0, abs=1e-6)
    assert nearest_words(found.base, catalogue) == "It is A as it stands"


# The centre is the geometric mean of each category, scaled to 100: of 30, 24 and 30
# cocoa butter, of 23, 29 and 23 beeswax and of 47 oil, 27.93, 24.92 and 47.14. No
# recipe has more than 47 of oil, so 0.14 goes to the butter or, as near, to the wax
# (28.08 and 24.92, or 27.93 and 25.07); of ties the keys decide, here for the wax. A
# and C are half of 30 - 27.93 and 25.07 - 23 from that, B twice as far.
def test_the_recipe_nearest_to_a_base_is_told_with_how_far_it_is(surveyed, catalogue):
    other = ["cocoa butter 24", "beeswax 29", "sunflower oil 47"]
    lines = rows("A", ONE) + rows("B", other) + rows("C", ONE)
    found = surveyed(lines, product_class="bar")
    base = {key: each.percent for key, each in base_of(found).items()}
    near = found.base.nearest
    assert near.recipe == "A"
    moves = [abs(base.get(k, 0.0) - near.percents.get(k, 0.0)) for k in base]
    assert near.away == pytest.approx(sum(moves) / 2.0)
    assert near.away == pytest.approx(2.066, abs=0.001)
    told = "A is the recipe nearest to it, 2 points away"
    assert nearest_words(found.base, catalogue) == told


UNLIKE = (
    rows("A", ["beeswax 34", "cocoa butter 33", "sweet almond oil 33"])
    + rows("B", ["beeswax 34", "mango butter 33", "sunflower oil 33"])
    + rows("C", ["beeswax 30", "beef tallow 46", "olive oil 24"])
    + rows("D", ["beeswax 33", "lanolin 7", "kokum butter 27", "jojoba oil 33"])
)


# No two of them have more than beeswax in common, so whatever lies between them is far
# from each: one of them as it stands is what somebody makes.
def test_a_base_that_no_recipe_is_near_gives_way_to_a_recipe(surveyed, catalogue):
    found = surveyed(UNLIKE, product_class="bar")
    base = found.base
    own = base.instead
    assert own is not None
    assert own.away > 30.0
    assert percents(found) == own.percents
    assert base.moved == pytest.approx(0.0, abs=1e-6)
    told = meant_words(base)
    assert f"so the base is one of them, {own.recipe}, in its own lines" in told
    page = survey_page(found, catalogue)
    assert "centre" not in str(page)
    heads = [line.split() for line in as_text(page, 80).splitlines()]
    assert ["ingredient", "%", own.recipe, "%"] in heads
    written = survey_scenario(found, catalogue).replace("\n#   ", " ")
    assert told in written


def test_a_base_with_a_recipe_near_it_stays_the_middle(surveyed):
    lines = rows("AB", ["cocoa butter 30", "beeswax 23", "sunflower oil 47"])
    lines += rows("C", ["cocoa butter 40", "beeswax 23", "sunflower oil 37"])
    assert surveyed(lines, product_class="bar").base.instead is None


# E holds 41 of wax in 96 of lipids, 42.7 %: a maker who keeps to the band, up to 42 %
# of the product, meets no guard of the model that is narrower.
def test_no_guard_lies_inside_the_band_that_recipes_gave(surveyed):
    lines = rows("AB", ["cocoa butter 35", "beeswax 31", "sunflower oil 34"])
    lines += rows("CD", ["cocoa butter 32", "beeswax 36", "sunflower oil 32"])
    lines += rows("E", ["cocoa butter 27", "beeswax 41", "olive oil 28", "mica 4"])
    base = surveyed(lines, product_class="bar").base
    (wax,) = (each for each in base.bands if each.category == "wax")
    assert wax.high >= 41.0
    assert base.guards["wax"] >= max(wax.high, 41.0 / 0.96)


# Grains melt nowhere: what they stand beside is as firm as it is without them.
def test_a_base_firmer_than_the_recipes_lies_inside_the_windows_written_for_it(
    catalogue,
):
    fats = {"cocoa_butter": 55.0, "beeswax": 20.0, "olive_oil": 5.0}
    alone = {key: share / 0.8 for key, share in fats.items()}
    firm = blend_value(PROPERTIES["firmness"], alone, 25.0, catalogue).value
    asked = [
        HeldWindow("stays solid", "firmness", 25.0, False, 20.0, top, 3)
        for top in (30.0, 500.0, None)
    ]
    base = {**fats, "sea_salt_fine": 20.0}
    low, high, open_ = _around(base, asked, asked, catalogue)
    assert 30.0 < firm <= low.high < firm + 1.0
    assert (high.high, open_.high) == (500.0, None)


def test_recipes_of_another_structure_are_not_counted_as_behind_a_page(
    surveyed, catalogue
):
    lines = rows("ABC", ["cocoa butter 35", "beeswax 31", "sunflower oil 34"])
    lines += rows("D", ["cocoa butter 42", "candelilla wax 24", "sunflower oil 34"])
    found = surveyed(lines, product_class="bar")
    about = "; ".join(survey_page(found, catalogue).about)
    assert "4 recipes of 4, 4 of them fit to be used, 3 of one structure" in about
