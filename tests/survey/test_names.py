"""Names as published recipes write them, matched to the catalogue."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from optimiser.domain.recipe import Match
from optimiser.reading.recipes import Matcher


@pytest.mark.parametrize(
    ("written", "key"),
    [
        ("Theobroma Cacao (Cocoa) Seed Butter", "cocoa_butter"),
        ("shea butter", "shea_butter"),
        ("organic cane sugar", "sugar_granulated"),
        ("cocoa butter, grated, loosely packed", "cocoa_butter"),
        ("grated beeswax", "beeswax"),
        ("pumice (or 80% pumice, 20% baking soda)", "pumice_powder"),
        ("SOY WAX", "hydrogenated_soybean_oil"),
        ("Epsom salts", "epsom_salt"),
        ("lavender fragrance", "fragrance_oil"),
    ],
)
def test_a_name_is_found_under_what_makers_add_to_it(matcher, written, key):
    assert matcher.match(written).ingredient == key


@pytest.mark.parametrize(
    ("written", "key"),
    [
        ("coco butter", "cocoa_butter"),
        ("beeswx", "beeswax"),
        ("jojobba oil", "jojoba_oil"),
    ],
)
def test_a_slip_of_spelling_is_taken_with_its_likeness_told(matcher, written, key):
    found = matcher.match(written)
    assert found.ingredient == key
    assert found.sure == "assumed"
    assert "spelt nearly as" in found.how
    assert 0.85 <= found.score < 1.0


def test_rose_is_not_rosemary_however_alike_the_names_are(matcher):
    found = matcher.match("rose essential oil")
    assert found.ingredient is None
    assert found.category == "scent"


@pytest.mark.parametrize(
    ("written", "options", "category"),
    [
        ("shea or cocoa butter", ("shea_butter", "cocoa_butter"), "butters"),
        (
            "cocoa, shea or mango butter",
            ("cocoa_butter", "shea_butter", "mango_butter"),
            "butters",
        ),
        (
            "light olive, safflower or grapeseed oil",
            ("olive_oil", "safflower_oil", "grapeseed_oil"),
            "liquid oil",
        ),
        (
            "cetyl alcohol or stearic acid",
            ("cetyl_alcohol", "stearic_acid"),
            "fatty alcohol",
        ),
        (
            "lavender, eucalyptus and patchouli essential oils",
            ("lavender_oil", "eucalyptus_oil", "patchouli_oil"),
            "scent",
        ),
        ("sugar or salt", ("sugar_granulated", "sea_salt_fine"), "exfoliant"),
        (
            "hardener (stearic acid, cetyl alcohol or sodium lactate)",
            ("stearic_acid", "cetyl_alcohol", "sodium_lactate"),
            "fatty alcohol",
        ),
        ("beeswax (or candelilla)", ("beeswax", "candelilla_wax"), "wax"),
        (
            "oil (jojoba, argan or olive)",
            ("jojoba_oil", "argan_oil", "olive_oil"),
            "liquid oil",
        ),
        # the noun stands with the first of them alone
        ("cocoa butter or mango", ("cocoa_butter", "mango_butter"), "butters"),
        ("olive oil/rapeseed", ("olive_oil", "rapeseed_oil"), "liquid oil"),
    ],
)
def test_a_choice_keeps_all_its_ingredients(matcher, written, options, category):
    found = matcher.match(written)
    assert (found.options, found.category) == (options, category)
    assert found.ingredient is None


def test_a_choice_of_one_category_is_as_it_was_written(matcher):
    assert matcher.match("cocoa butter or mango").sure == "as written"


def test_a_choice_over_two_categories_counts_as_the_first_and_says_so(matcher):
    found = matcher.match("beeswax or soy wax (candelilla: use 1%)")
    assert found.category == "wax"
    assert found.sure == "assumed"
    assert "counted as wax, the first of them" in found.how
    assert "not read: (candelilla: use 1%)" in found.how


@pytest.mark.parametrize(
    ("written", "category"),
    [
        ("oil (your choice)", "liquid oil"),
        ("butters", "butters"),
        ("any soft butter", "soft butter"),
        ("broad-spectrum preservative", "preservative"),
        ("liquid preservative A", "preservative"),
        ("broccoli seed oil", "liquid oil"),
        ("coffee butter", "butters"),
        ("jasmine wax", "wax"),
        ("agave syrup", "humectant"),
        ("flavouring oil", "scent"),
        ("shredded soap", "surfactant"),
    ],
)
def test_a_group_is_known_by_its_noun(matcher, written, category):
    found = matcher.match(written)
    assert found.options == ()
    assert found.category == category


@pytest.mark.parametrize(
    "written", ["silk protein", "EDTA", "tincture of benzoin", "x"]
)
def test_what_nothing_stands_for_is_not_guessed(matcher, written):
    found = matcher.match(written)
    assert (found.options, found.category, found.sure) == ((), None, "unknown")


def test_what_is_strained_out_is_not_in_the_product(matcher):
    assert matcher.match("dried flowers (infused, strained out)").absent


@pytest.mark.parametrize(
    ("written", "form"),
    [
        ("cocoa butter, grated, loosely packed", "grated"),
        ("beeswax, grated, tightly packed", "packed"),
        ("coconut oil, melted", "melted"),
        ("candelilla wax pellets", "pellets"),
        ("beeswax", ""),
    ],
)
def test_how_a_cup_is_filled_is_kept(matcher, written, form):
    assert matcher.match(written).form == form


def test_a_taught_name_comes_before_all_else(catalogue, knowledge):
    taught = {
        "cocoa butter": Match(("shea_butter",), "soft butter", "taught", "as written")
    }
    found = Matcher(catalogue, knowledge.words, taught).match("Cocoa  Butter")
    assert found.ingredient == "shea_butter"


# Words for a category that no maker uses: they are not in the catalogue, and may be
# taught.
COINED = {"soft solid oil": "soft butter", "brittle solid oil": "hard butter"}


@pytest.mark.parametrize(("words", "category"), list(COINED.items()))
def test_words_for_a_category_may_be_taught(catalogue, knowledge, words, category):
    assert Matcher(catalogue, knowledge.words).match(words).category != category
    taught = {words: Match((), category, "taught", "as written")}
    found = Matcher(catalogue, knowledge.words, taught).match(words.title())
    assert (found.category, found.sure) == (category, "as written")


def test_names_are_matched_without_any_words_of_recipes(catalogue):
    for text in ("Cocoa  Butter", "organic cocoa butter"):
        assert Matcher(catalogue, ()).match(text).ingredient == "cocoa_butter"


@given(st.text(max_size=80))
def test_any_text_is_matched_or_not_and_never_breaks(catalogue, knowledge, text):
    found = Matcher(catalogue, knowledge.words).match(text)
    assert found.sure in {"as written", "assumed", "unknown"}


@pytest.mark.parametrize(
    "written",
    [
        "calendula infused olive oil",
        "olive oil infused with calendula",
        "calendula infused almond oil",
        "calendula infused oil (olive)",
        "calendula oil (in olive oil)",
        "calendula infused oil, olive",
        "olive oil (calendula infused)",
    ],
)
def test_an_infusion_in_another_oil_is_not_the_one_that_the_label_would_name(
    written, matcher, catalogue
):
    known = catalogue.ingredients["calendula_sunflower_oil"]
    assert "Helianthus Annuus" in known.inci
    found = matcher.match(written)
    assert (found.options, found.category) == ((), "liquid oil")
    assert catalogue.find(written) is None


@pytest.mark.parametrize(
    "written",
    ["calendula infused sunflower oil", "calendula infused oil (organic sunflower)"],
)
def test_an_infusion_whose_oil_is_the_labels_is_known(written, matcher):
    assert matcher.match(written).ingredient == "calendula_sunflower_oil"


# The catalogue's is in sunflower oil; a label that named that of any would be wrong.
@pytest.mark.parametrize(
    ("written", "asked"),
    [
        ("calendula infused oil", True),
        ("infused calendula oil", True),
        ("calendula oil", True),
        ("St John's wort macerated oil", True),
        ("calendula infused olive oil", False),
        ("calendula infusion in almond oil", False),
        ("olive oil", False),
    ],
)
def test_an_infusion_is_asked_for_its_oil_where_it_tells_none(written, asked, matcher):
    assert matcher.asks_its_oil(written) is asked
    wrong = matcher.left_open(written) or ""
    assert ("an oil that it does not tell" in wrong) is asked


@pytest.mark.parametrize(
    ("written", "oil"),
    [
        ("calendula infused olive oil", "olive_oil"),
        ("olive oil (calendula infused)", "olive_oil"),
        ("calendula oil (olive)", "olive_oil"),
        ("lavender-infused jojoba", "jojoba_oil"),
        ("coffee infused cocoa butter", "cocoa_butter"),
        ("rosehip infused olive oil", "olive_oil"),
        ("arnica infused oil", None),
        ("olive oil", None),
        ("calendula infused olive and sunflower oil", None),
        ("calendula infused butter", None),
    ],
)
def test_an_infusion_tells_the_oil_that_it_is_made_in(written, oil, matcher):
    assert matcher.made_in(written) == oil
