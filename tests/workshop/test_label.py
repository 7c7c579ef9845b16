"""Labels against the texts of law: order, scent names by date, content, dates, fit."""

import html
import math
import re
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from optimiser import reading
from optimiser.domain.caution import Caution
from optimiser.domain.label import Letters, Maker
from optimiser.domain.law import Duty, ScentAllergen, Scope
from optimiser.domain.material import AllergenStatus, Lot
from optimiser.explaining.declared import Infused, declared, in_order
from optimiser.presenting.label_sheet import (
    FIRST,
    LabelLine,
    LabelSize,
    _rows,
    _width,
    fit,
    label_html,
    label_lines,
)
from optimiser.reading import read_catalogue, shipped_folder
from optimiser.reading.labels import read_label_rules
from optimiser.reading.net_content import read_net_content
from optimiser.workshop.label import Particulars, keeping, label, net_words
from tests.rules import workbench as wb

ROOT = shipped_folder("catalogues")
RULES = read_label_rules(ROOT)
CONTENT = read_net_content(ROOT)
SHIPPED = read_catalogue(ROOT, None)
TODAY = date(2026, 11, 26)
MADE = Particulars(made=TODAY)
EVERY = ("EU", "GB", "US", "CA", "AU")


def stuff(key, inci, category="liquid oil", **more):
    return replace(wb.ingredient(key, category, **more), inci=inci)


THINGS = {
    "shea": stuff("shea", "Butyrospermum Parkii (Shea) Butter", "soft butter"),
    "olein": stuff("olein", "Butyrospermum Parkii Butter"),
    "oil": stuff("oil", "Helianthus Annuus Seed Oil"),
    "wax": stuff("wax", "Cera Alba", "wax"),
    "acid": stuff("acid", "Stearic Acid", "fatty alcohol"),
    "keeper": stuff("keeper", "Phenoxyethanol (and) Benzyl Alcohol", "preservative"),
    "ready": stuff("ready", "Cetearyl Alcohol, Polysorbate 60", "emulsifier"),
    "rose": stuff("rose", "Rosa Damascena Flower Oil", "scent"),
    "mint": stuff("mint", "Mentha Piperita Oil", "scent", kind="flavour"),
    "rust": stuff("rust", "CI 77491 (and) CI 77492", "colour"),
    "mystery": stuff("mystery", None),
}
CONTENTS = {
    "phenoxyethanol": {"keeper": 90.0},
    "benzyl alcohol": {"keeper": 10.0, "rose": 1.0},
    "linalool": {"rose": wb.figure(10.0, 5.0, 20.0)},
}
IN_FORCE = ("Linalool", "Benzyl Alcohol")
ALLERGENS = tuple(
    ScentAllergen(market, name, (name.lower(),), 0.001, 0.01, "act")
    for market in ("EU", "CA")
    for name in IN_FORCE
)


def known(**more):
    found = wb.catalogue(THINGS, contents=CONTENTS, allergens=more.pop("allergens", {}))
    return replace(found, scent_allergens=ALLERGENS, **more)


def written(market, amounts, *, catalogue=None, asked=MADE, on=TODAY, **more):
    """The label of a formula in one market."""
    more = {"product": "balm", "markets": (market,), "on": on} | more
    return label(
        amounts,
        wb.scenario(**more),
        catalogue or known(),
        RULES[market],
        CONTENT.get(market),
        asked,
    )


MAKER = Maker(
    "A & B", "1 Street, Town", "post@example.org",
    elsewhere={"GB": Maker("C", "2 Road, City")},
)  # fmt: skip


@pytest.mark.parametrize(
    ("market", "printed", "open_", "for_all"),
    [
        ("US", [("address", "A & B, 1 Street, Town"), ("contact", "post@example.org")],
         set(), 2),
        ("EU", [("address", "A & B, 1 Street, Town")], {"country"}, 1),
        # Another stands for the maker there, and nobody has to be reminded of it.
        ("GB", [("address", "C, 2 Road, City")], {"country"}, 0),
        # No address is asked for there; it stands there all the same.
        ("CA", [("address", "A & B, 1 Street, Town"), ("contact", "post@example.org")],
         {"language"}, 1),
        ("AU", [("address", "A & B, 1 Street, Town")], set(), 0),
    ],
)  # fmt: skip
def test_the_maker_s_name_and_address_stand_on_the_label(
    market, printed, open_, for_all
):
    asked = replace(MADE, maker=MAKER)
    found = written(market, {"shea": 100.0}, asked=asked)
    lines = label_lines(found, "Balm", "balm")
    who = [(x.what, x.text) for x in lines if x.what in {"address", "contact"}]
    assert who == printed
    still = {what for what, _ in found.to_fill_in}
    assert still & {"address", "contact", "country", "language"} == open_
    assert len(found.for_all) == for_all
    size = LabelSize(60.0, 40.0)
    page = label_html("t", [(found, lines, fit(lines, found, size))], size, "note")
    told = html.escape(printed[0][1])
    assert told in page
    assert "A & B," not in page


def test_a_name_without_an_address_fills_nothing_in():
    asked = replace(MADE, maker=Maker("A & B"))
    found = written("US", {"shea": 100.0}, asked=asked)
    assert found.by_maker == ()
    assert {"address", "contact"} <= {what for what, _ in found.to_fill_in}


def names(found):
    return [each.name for each in found.entries]


# Art. 19(1)(g) and the 2020 standard leave free what is below 1 %, 21 CFR 701.3(f) and
# C.R.C. c. 869 s. 21.4 what is 1 % or less.
@pytest.mark.parametrize(
    ("market", "free"),
    [
        ("EU", {"Stearic Acid"}),
        ("GB", {"Stearic Acid"}),
        ("AU", {"Stearic Acid"}),
        ("US", {"Stearic Acid", "Beeswax"}),
        ("CA", {"Stearic Acid", "Cera Alba"}),
    ],
)
def test_exactly_one_percent_is_ordered_and_free_only_where_the_law_says_so(
    market, free
):
    amounts = {"acid": 0.999, "wax": 1.0 + 1e-10, "oil": 97.001, "shea": 1.0009}
    found = written(market, amounts)
    assert [each.of for each in found.entries] == [
        ("oil",),
        ("shea",),
        ("wax",),
        ("acid",),
    ]
    assert {x.name for x in found.entries if x.place == "any order"} == free


@pytest.mark.parametrize("market", EVERY)
def test_the_order_is_by_weight_as_added_with_colours_last(market):
    amounts = {"rust": 3.0, "acid": 0.4, "wax": 10.0, "oil": 26.6, "shea": 60.0}
    assert [each.of[0] for each in written(market, amounts).entries][:4] == [
        "shea", "oil", "wax", "acid",
    ]  # fmt: skip
    last = written(market, amounts).entries[4:]
    assert {each.place for each in last} == {"colour"}
    # The US names both pigments alike, and a name stands once.
    assert len(last) == (1 if market == "US" else 2)


def test_one_inci_name_is_one_entry_however_many_bring_it():
    found = written("EU", {"shea": 20.0, "olein": 25.0, "oil": 40.0, "wax": 15.0})
    first = found.entries[0]
    assert (first.name, first.percent, first.of) == (
        "Butyrospermum Parkii (Shea) Butter", 45.0, ("shea", "olein"),
    )  # fmt: skip


def test_what_is_not_in_a_formula_or_is_mere_dust_of_it_is_not_on_its_label():
    found = written("EU", {"oil": 100.0, "wax": 0.0, "acid": 1e-10})
    assert names(found) == ["Helianthus Annuus Seed Oil"]


def test_parts_of_a_mixture_stand_by_their_own_shares():
    # 90 % of 12 is 10.8, below 11; 10 % of 12 is 1.2, above 1.1.
    found = written("EU", {"oil": 75.9, "wax": 11.0, "keeper": 12.0, "acid": 1.1})
    assert names(found) == [
        "Helianthus Annuus Seed Oil", "Cera Alba", "Phenoxyethanol", "Benzyl Alcohol",
        "Stearic Acid",
    ]  # fmt: skip
    assert not any(each.unsure for each in found.entries)


def test_parts_of_unknown_shares_are_there_and_said_where_their_place_is_unsure():
    found = written("EU", {"oil": 89.0, "wax": 3.0, "ready": 8.0})
    unsure = {each.name: (each.low, each.high) for each in found.entries if each.unsure}
    assert unsure == {"Cetearyl Alcohol": (0.0, 8.0), "Polysorbate 60": (0.0, 8.0)}
    # Below 1 % in any case they may stand anywhere: nothing is unsure.
    small = written("EU", {"oil": 99.1, "ready": 0.9})
    assert not any(each.unsure for each in small.entries)
    assert {"Cetearyl Alcohol", "Polysorbate 60"} < set(names(small))


def test_of_an_infusion_of_unknown_shares_the_oil_stands_before_what_is_infused():
    infused = stuff("infused", "Olea Europaea Fruit Oil (and) Calendula Flower Extract")
    catalogue = known()
    more = {**catalogue.ingredients, "infused": infused}
    found = written(
        "EU",
        {"wax": 4.0, "infused": 96.0},
        catalogue=replace(catalogue, ingredients=more),
    )
    first, second = found.entries[:2]
    assert first.name == "Olea Europaea Fruit Oil"
    assert second.name == "Calendula Flower Extract"
    assert second.unsure


def test_the_part_that_is_left_is_known_where_the_others_are():
    catalogue = known(
        contents={"polysorbate 60": {"ready": wb.figure(20.0, 15.0, 25.0)}}
    )
    shares = {
        x.name: (x.percent, x.low, x.high) for x in declared({"ready": 10.0}, catalogue)
    }
    assert shares["Cetearyl Alcohol"] == pytest.approx((8.0, 7.5, 8.5))
    assert shares["Polysorbate 60"] == pytest.approx((2.0, 1.5, 2.5))


def test_an_inci_name_that_is_missing_stands_in_brackets_and_is_to_fill_in():
    found = written("EU", {"mystery": 60.0, "oil": 40.0})
    assert found.ingredients == "[INCI name of mystery], Helianthus Annuus Seed Oil"
    assert ("INCI name", "INCI name of mystery") in found.to_fill_in


@pytest.mark.parametrize(
    ("market", "scent", "flavour"),
    [("EU", "Parfum", "Aroma"), ("US", "Fragrance", "Flavor"),
     ("AU", "Fragrance", "Flavour"), ("CA", "Parfum", "Aroma")],
)  # fmt: skip
def test_scents_are_one_word_and_flavours_another(market, scent, flavour):
    found = written(market, {"oil": 95.0, "rose": 3.0, "mint": 2.0})
    assert [scent in names(found), flavour in names(found)] == [True, True]
    assert "Rosa Damascena Flower Oil" not in names(found)


# Both words are the law's; what goes on lips is tasted.
@pytest.mark.parametrize("market", EVERY)
def test_scents_of_a_lip_product_stand_as_its_flavour_once(market):
    amounts = {"oil": 95.0, "rose": 3.0, "mint": 2.0}
    found = written(market, amounts, product="lip balm")
    flavours = [each for each in found.entries if each.name == RULES[market].flavour]
    assert [each.percent for each in flavours] == [pytest.approx(5.0)]
    assert RULES[market].scent not in names(found)


def test_canada_reads_the_words_of_a_label_in_two_languages():
    asked = replace(MADE, lot="B1", best_before=date(2027, 2, 28))
    row = AllergenStatus("oil", "soy", {"CA": True}, None, "book", wb.CSV)
    soy = {"soy": {"oil": row}}
    lines = {
        line.what: line.text
        for line in label_lines(
            written("CA", {"oil": 100.0}, asked=asked, catalogue=known(allergens=soy)),
            "Balm",
            "balm",
        )
    }
    assert lines["ingredients"].startswith("Ingredients/Ingr\u00e9dients: Helianthus")
    assert lines["contains"] == "Contains/Contient: soy (oil)"
    assert lines["date"] == "Best used before/Meilleur avant 2027-02-28"
    assert lines["batch"] == "Batch/Lot B1"
    assert "in French too" in lines["language"]
    plain = label_lines(written("EU", {"oil": 100.0}, asked=asked), "Balm", "balm")
    told = [line.text for line in plain]
    assert "Best used before the end of 02/2027" in told
    assert not any("/" in text for text in told if "Batch" in text)


def test_canada_lets_the_word_for_scent_stand_at_the_end():
    amounts = {"oil": 95.0, "rose": 3.0, "rust": 1.0, "acid": 1.0}
    assert names(written("CA", amounts))[-1] == "Parfum"
    assert names(written("EU", amounts))[1] == "Parfum"


def test_a_scent_name_is_there_once_and_counts_every_source_at_its_high_end():
    # Benzyl alcohol: 10 % of 0.5 and 1 % of 0.2, 0.052; linalool: 20 % of 0.2, 0.04.
    found = written("EU", {"oil": 99.3, "keeper": 0.5, "rose": 0.2})
    sums = {each.name: each.percent for each in found.allergens}
    assert sums == pytest.approx({"Benzyl Alcohol": 0.052, "Linalool": 0.04})
    assert names(found).count("Benzyl Alcohol") == 1
    assert names(found)[-1] == "Linalool"
    assert written("US", {"oil": 99.8, "rose": 0.2}).allergens == ()


@pytest.mark.parametrize(
    ("use", "dose", "named"),
    [("leave-on", 0.005, False), ("leave-on", 0.006, True),
     ("rinse-off", 0.05, False), ("rinse-off", 0.051, True)],
)  # fmt: skip
def test_a_scent_name_stands_over_its_threshold_by_use_not_at_it(use, dose, named):
    # 20 % linalool: exactly 0.001 % and 0.01 % are not over.
    found = written("EU", {"oil": 100.0 - dose, "rose": dose}, use=use)
    assert ("Linalool" in names(found)) is named


def test_scents_and_the_names_they_bring_stand_together_after_the_other_small_ones():
    # Less of the acid than of the scent; both below 1 %, where the order is free.
    found = written("EU", {"oil": 99.5, "rose": 0.4, "acid": 0.1})
    assert names(found)[:3] == ["Helianthus Annuus Seed Oil", "Stearic Acid", "Parfum"]
    assert set(names(found)[3:]) == {"Linalool", "Benzyl Alcohol"}


@pytest.mark.parametrize(("product", "asked"), [(None, True), ("balm", False)])
def test_what_a_product_is_for_is_to_fill_in_where_nobody_told(product, asked):
    found = written("EU", {"oil": 100.0}, product=product)
    assert ("function" in dict(found.to_fill_in)) is asked


def test_lavender_brings_the_names_of_the_worked_example():
    # 1 % lavender in a balm: up to 0.45 % linalool, 0.47 % linalyl acetate, 0.015 %
    # camphor, 0.02 % terpineol, and the whole oil.
    balm = {"shea_butter": 99.0, "lavender_oil": 1.0}
    found = written("EU", balm, catalogue=SHIPPED)
    sums = {each.name: each.percent for each in found.allergens}
    worked = {
        "Linalool": 0.45, "Linalyl Acetate": 0.47, "Camphor": 0.015, "Terpineol": 0.02,
        "Lavandula Oil/Extract": 1.0,
    }  # fmt: skip
    assert {name: sums[name] for name in worked} == pytest.approx(worked)


@pytest.mark.parametrize(
    ("market", "day", "named", "later", "older"),
    [
        # Regulation (EU) 2023/1545: placed without until 31 July 2026, supplied until
        # 31 July 2028; the same days in Canada, where the first 24 began 12 April 2026.
        ("EU", date(2026, 7, 31), False, True, False),
        ("EU", date(2026, 8, 1), True, False, True),
        ("EU", date(2028, 7, 31), True, False, True),
        ("EU", date(2028, 8, 1), True, False, False),
        ("CA", date(2026, 7, 31), False, True, False),
        ("CA", date(2026, 8, 1), True, False, True),
        ("CA", date(2028, 8, 1), True, False, False),
        ("GB", date(2028, 8, 1), False, False, False),
    ],
)
def test_the_names_of_2023_begin_and_older_stock_ends_on_their_days(
    market, day, named, later, older
):
    balm = {"shea_butter": 99.0, "lavender_oil": 1.0}
    found = written(market, balm, catalogue=SHIPPED, on=day)
    new = "Linalyl Acetate"
    assert (new in names(found)) is named
    assert (new in {each.name for each in found.later}) is later
    assert (new in {each.name for each in found.in_transition}) is older
    assert "Linalool" in names(found)


@pytest.mark.parametrize(("day", "named"), [(11, False), (12, True)])
def test_canada_s_first_names_began_on_12_april_2026(day, named):
    balm = {"shea_butter": 99.0, "lavender_oil": 1.0}
    found = written("CA", balm, catalogue=SHIPPED, on=date(2026, 4, day))
    assert ("Linalool" in names(found)) is named


def test_a_scent_of_which_nothing_is_known_is_said():
    found = written("EU", {"oil": 97.0, "rose": 1.0, "mint": 2.0})
    assert found.unjudged == ("mint",)


@pytest.mark.parametrize(
    ("grams", "words"),
    [
        (60, "Net Wt 2.11 oz (60 g)"),  # 2.116 oz, never more than there is
        (453.0, "Net Wt 15.97 oz (453 g)"),
        # 21 CFR 701.13: ounces and pounds from 1 lb to under 4 lb
        (453.59237, "Net Wt 16 oz (1 lb) 453.6 g"),
        (1000, "Net Wt 35.27 oz (2 lb 3.27 oz) 1 kg"),
        (2000, "Net Wt 4 lb 6.54 oz (2 kg)"),
    ],
)
def test_ounces_stand_before_grams_in_the_us(grams, words):
    assert net_words(grams, ounces=True) == words


@pytest.mark.parametrize(
    ("market", "net", "sides", "height"),
    [
        # Directive 76/211/EEC Annex I 3.1, by nominal content in grams.
        ("EU", 50, None, 2), ("EU", 50.5, None, 3), ("EU", 200, None, 3),
        ("EU", 1000, None, 4), ("EU", 1001, None, 6), ("GB", 201, None, 4),
        # 21 CFR 701.13(i), by square inches: 5 of them are 32.258 cm2.
        ("US", 60, (60, 40), 1.6), ("US", 60, (100, 32.2), 1.6),
        ("US", 60, (100, 32.3), 3.2), ("US", 60, (100, 162.0), 4.8),
        # C.R.C. c. 417 s. 14(2), by cm2.
        ("CA", 60, (100, 32.0), 1.6), ("CA", 60, (100, 32.1), 3.2),
        ("CA", 60, (100, 259.0), 6.4),
        # The Australian table, by the longest side in mm.
        ("AU", 60, (60, 120), 2), ("AU", 60, (121, 60), 2.5),
        # Not known: no size was given.
        ("US", 60, None, None), ("AU", 60, None, None),
    ],
)  # fmt: skip
def test_the_figures_of_the_net_content_are_as_high_as_the_law_says(
    market, net, sides, height
):
    asked = replace(MADE, net=net, sides=sides)
    assert written(market, {"oil": 100.0}, asked=asked).digits == height


def test_under_five_grams_no_net_content_is_asked_for_in_the_eu():
    for market, net, needed in (("EU", 4.9, False), ("EU", 5.0, True), ("US", 4, True)):
        asked = replace(MADE, net=net)
        assert written(market, {"oil": 100.0}, asked=asked).net_asked is needed


def lots(*rows):
    return tuple(Lot(key, lot, 1.0, until, wb.CSV) for key, lot, until in rows)


SHELF = lots(
    ("oil", "C1", date(2027, 3, 31)),
    ("oil", "C0", date(2026, 11, 25)),  # had expired
    ("shea", "A1", date(2028, 1, 31)),
    ("wax", "B1", None),
    ("acid", "D1", date(2026, 12, 1)),  # not in the formula
)


def test_a_bar_keeps_as_long_as_its_earliest_lot_and_what_is_not_known_is_said():
    kept = keeping({"oil": 50.0, "shea": 40.0, "wax": 10.0}, known(stock=SHELF), TODAY)
    assert (kept.until, kept.lot) == (date(2027, 3, 31), "C1")
    assert (kept.unknown, kept.expired) == (("wax",), ("oil",))
    none = keeping({"wax": 100.0}, known(stock=SHELF), TODAY)
    assert (none.until, none.unknown) == (None, ("wax",))


def printed_date(found):
    """What stands on the label as its date; None where nothing does."""
    return next((x.text for x in label_lines(found, "Bar", None) if x.what == "date"
                 and not x.open), None)  # fmt: skip


def test_one_lot_does_not_date_what_holds_another_whose_life_is_not_known():
    stock = known(stock=SHELF)
    both = written("EU", {"oil": 50.0, "shea": 50.0}, catalogue=stock)
    assert printed_date(both) == "Best used before the end of 03/2027"
    found = written("EU", {"oil": 90.0, "wax": 10.0}, catalogue=stock)
    assert printed_date(found) is None
    assert "date" in dict(found.to_fill_in)
    own = replace(MADE, best_before=date(2027, 1, 31))
    mine = written("EU", {"oil": 90.0, "wax": 10.0}, catalogue=stock, asked=own)
    assert printed_date(mine) == "Best used before the end of 01/2027"


def test_lots_do_not_date_what_may_spoil_before_them():
    care = Caution("wet", 90.0, "Spoils.", "", wb.CSV, without=("preservative",))
    other = Caution("dry", 80.0, "Ages.", "", wb.CSV, without=("antioxidant",))
    stock = replace(known(stock=SHELF), cautions=(other, care))
    found = written("EU", {"oil": 100.0}, catalogue=stock)
    assert printed_date(found) is None
    assert [each.key for each in found.spoils] == ["wet"]
    kept = replace(stock, stock=(*SHELF, *lots(("keeper", "K", date(2028, 1, 31)))))
    found = written("EU", {"oil": 99.0, "keeper": 1.0}, catalogue=kept)
    assert printed_date(found) == "Best used before the end of 03/2027"


def test_a_product_named_after_what_it_is_says_so_once():
    found = written("EU", {"oil": 100.0})
    for function, whats in (("Lip Balm", {"name"}), ("balm", {"name", "function"})):
        lines = label_lines(found, "lip balm", function)
        assert {x.what for x in lines if not x.open} & {"name", "function"} == whats


def test_an_invented_lot_dates_nothing():
    made_up = tuple(replace(each, invented=True) for each in SHELF)
    found = written("EU", {"oil": 100.0}, catalogue=known(stock=made_up))
    assert printed_date(found) is None
    kept = keeping({"oil": 100.0}, known(stock=made_up), TODAY)
    assert (kept.invented, kept.until) == ("all", date(2027, 3, 31))


@pytest.mark.parametrize(
    ("market", "until", "opened", "printed", "lacking"),
    [
        # Art. 19(1)(c): over 30 months no date, but a period after opening.
        ("EU", date(2029, 5, 26), None, "Best used before 26 May 2029", False),
        ("EU", date(2029, 5, 31), 12, "12M", False),
        ("EU", date(2029, 5, 27), None, None, True),
        ("EU", date(2027, 2, 28), None, "Best used before the end of 02/2027", False),
        ("EU", None, None, None, True),
        ("US", date(2029, 5, 31), None, "Best used before the end of 05/2029", False),
        ("US", None, None, "Made 2026-11-26", False),
    ],
)
def test_a_date_or_months_after_opening_as_the_law_asks(
    market, until, opened, printed, lacking
):
    stock = lots(("oil", "C1", until))
    asked = replace(MADE, after_opening=opened)
    found = written(market, {"oil": 100.0}, asked=asked, catalogue=known(stock=stock))
    lines = label_lines(found, "Bar", None)
    told = [
        x.text for x in lines if x.what in {"date", "opening", "made"} and not x.open
    ]
    assert told == ([] if printed is None else [printed])
    assert ("date" in dict(found.to_fill_in)) is lacking


def test_warnings_are_the_words_of_law_and_of_cautions_and_the_rest_is_to_fill_in():
    def duty(words, substance="linalool", above=0.0):
        row = ("EU", "scent", "label", "any", substance, above, "say so")
        return Duty(*row, "Act", "", "act", wb.LAW, Scope(), words)

    care = Caution("a", 50.0, "Say so.", "", wb.CSV, categories=("soft butter",),
                   label="Makes floors slippery.")  # fmt: skip
    catalogue = known(
        duties=(duty("Hot."), duty(""), duty("Never.", above=50.0)), cautions=(care,)
    )
    found = written("EU", {"shea": 99.0, "rose": 1.0}, catalogue=catalogue)
    assert found.warnings == ("Hot.", "Makes floors slippery.")
    assert ("warning", "scent: say so") in found.to_fill_in
    other = written("EU", {"oil": 100.0}, catalogue=catalogue)
    assert (other.warnings, other.to_word) == ((), ())


def test_food_allergens_are_those_of_this_market_s_list():
    row = AllergenStatus("oil", "soy", {"US": True, "EU": False}, None, "book", wb.CSV)
    catalogue = known(allergens={"soy": {"oil": row}})
    assert [
        x.allergen for x in written("US", {"oil": 100.0}, catalogue=catalogue).contains
    ]
    assert written("EU", {"oil": 100.0}, catalogue=catalogue).contains == ()


def test_a_market_that_the_scenario_does_not_name_was_not_checked():
    assert written("EU", {"oil": 100.0}).checked
    assert not written("EU", {"oil": 100.0}, markets=("US",)).checked


def test_the_order_of_studies_is_that_of_labels():
    from optimiser.studies.made import label_order  # noqa: PLC0415

    amounts = {"shea": 20.0, "olein": 25.0, "oil": 40.0, "wax": 15.0}
    inci = tuple(each.name for each in in_order(declared(amounts, known())))
    assert label_order(amounts, known()) == inci
    assert inci[0] == "Butyrospermum Parkii (Shea) Butter"


# Widths of Helvetica: m 0.833 and a space 0.278 of the letter size. On 50 mm with
# letters of 1.8 mm there is room for 27.8: six words of five m (26.4), not seven.
@pytest.mark.parametrize(
    ("text", "rows"),
    [
        (" ".join(["mmmmm"] * 6), 1),
        (" ".join(["mmmmm"] * 7), 2),
        (" ".join(["mmmmm"] * 12), 2),
        (" ".join(["mmmmm"] * 13), 3),
        ("m" * 33, 1),
        ("m" * 34, 2),  # broken where it must be
    ],
)
def test_words_take_the_rows_that_their_widths_make(text, rows):
    found = written("EU", {"oil": 100.0})
    needs = fit([LabelLine("text", text)], found, LabelSize(54, 40)).needs
    assert needs == math.ceil(2 * 2.0 + rows * 1.8 * 1.2)


OWN_NAMES = ["shea", "oil", "wax", "acid", "rose", "rust", "mystery"]


@given(
    market=st.sampled_from(EVERY),
    parts=st.lists(
        st.sampled_from([0.0, 0.3, 0.999, 1.0, 1.001, 2.0, 7.0, 20.0]),
        min_size=len(OWN_NAMES),
        max_size=len(OWN_NAMES),
    ),
)
def test_no_list_breaks_its_market_s_rule_and_none_leaves_anything_out(market, parts):
    """The rule as the texts have it, asked of every pair of names."""
    amounts = dict(zip(OWN_NAMES, parts, strict=True))
    amounts = {key: percent for key, percent in amounts.items() if percent}
    entries = written(market, amounts).entries
    assert {of for each in entries for of in each.of} >= amounts.keys()
    bound = [each for each in entries if each.kind not in {"colour", "scent allergen"}]
    if market == "CA":
        bound = [each for each in bound if each.kind != "scent"]
    small = (lambda x: x <= 1.0) if market in {"US", "CA"} else (lambda x: x < 1.0)
    for place, first in enumerate(bound):
        for later in bound[place + 1 :]:
            assert later.percent <= first.percent or small(later.percent)
            assert small(later.percent) or not small(first.percent)
    colours = [place for place, each in enumerate(entries) if each.kind == "colour"]
    after = {each.kind for each in entries[min(colours, default=len(entries)) :]}
    assert after <= ({"colour", "scent"} if market == "CA" else {"colour"})


@pytest.mark.parametrize(
    ("market", "size", "least"),
    [
        # 21 CFR 701.3(b): 1/16 inch, 1/32 where there are under 12 square inches.
        ("US", LabelSize(60, 40), 0.8), ("US", LabelSize(100, 77), 0.8),
        ("US", LabelSize(100, 78), 1.6), ("EU", LabelSize(60, 40), 0.9),
        ("EU", LabelSize(100, 80), 1.2),
    ],
)  # fmt: skip
def test_letters_are_as_high_as_the_law_or_its_yardstick_says(market, size, least):
    found = written(market, {"oil": 100.0})
    assert fit(label_lines(found, "Bar", None), found, size).least == least
    assert found.rules.letters.law is (market == "US")


def test_a_label_that_is_too_small_says_which_would_do_and_that_one_does():
    found = written("EU", {"oil": 60.0, "shea": 39.0, "rose": 1.0},
                    asked=replace(MADE, net=60.0))  # fmt: skip
    lines = label_lines(found, "Bar", "balm")
    small = fit(lines, found, LabelSize(40, 15))
    assert not small.fits
    assert fit(lines, found, LabelSize(40, small.needs)).fits
    assert not fit(lines, found, LabelSize(40, small.needs - 1)).fits
    large = fit(lines, found, LabelSize(100, 70))
    assert large.letters > large.least


def test_what_is_printed_is_escaped_and_needs_no_other_file():
    evil = '<script src="http://x/y.js">alert(1)</script>&"'
    found = written("EU", {"oil": 100.0}, asked=replace(MADE, lot=evil, net=60.0))
    size = LabelSize(60, 40)
    lines = label_lines(found, evil, evil)
    text = label_html(evil, [(found, lines, fit(lines, found, size))], size, "Draft")
    assert text.startswith(FIRST)
    assert "<script" not in text
    assert html.escape(evil) in text
    assert not re.search(
        r"(src|href)\s*=|url\(|@import", text.replace(html.escape(evil), "")
    )
    assert "@page { size: 60mm 40mm; margin: 0 }" in text


def test_a_label_whose_words_do_not_fit_is_printed_on_a_longer_page_with_all_of_them():
    found = written("EU", {"oil": 60.0, "shea": 39.0, "rose": 1.0})
    size, lines = LabelSize(30, 10), label_lines(found, "Bar", "balm")
    needs = fit(lines, found, size)
    text = label_html("Bar", [(found, lines, needs)], size, "Draft")
    assert f"@page {{ size: 30mm {needs.needs:g}mm; margin: 0 }}" in text
    assert all(html.escape(line.text) in text for line in lines)


def test_a_yardstick_is_no_law():
    assert Letters(1.2, 80.0, 0.9, law=False).on(79.9) == 0.9
    assert {m for m in EVERY if RULES[m].letters.law} == {"US"}


def test_every_shipped_bar_has_a_label_in_every_market_with_all_its_ingredients():
    for name in ("massage_bar", "lip_balm", "foot_scrub_bar"):
        asked, catalogue = reading.read_scenario(
            shipped_folder("scenarios") / f"{name}.toml"
        )
        for market in EVERY:
            found = label(
                asked.base, asked, catalogue, RULES[market], CONTENT[market], MADE
            )
            brought = {of for each in found.entries for of in each.of}
            assert brought >= {catalogue.ingredients[key].name for key in asked.base}


# However its words are parted into rows that each fit, a text takes no fewer.
@given(
    st.lists(st.text("nliMW", min_size=1, max_size=4), min_size=1, max_size=7),
    st.floats(4.0, 9.0),
)
def test_a_text_takes_the_fewest_rows_that_hold_it(words, room):
    fewest = [0, *[math.inf] * len(words)]
    for end in range(1, len(words) + 1):
        for start in range(end):
            if _width(" ".join(words[start:end])) <= room:
                fewest[end] = min(fewest[end], fewest[start] + 1)
    assert _rows(" ".join(words), room) == fewest[-1]


# -- infusions and mixtures of which no shares are known ------------------------------

INFUSED = stuff("infused", "Helianthus Annuus Seed Oil, Plantago Leaf Extract")


def infusion(inci=INFUSED.inci, shares=()):
    """A catalogue with an infusion in the oil, and shares of its names in percent."""
    made = replace(INFUSED, inci=inci, made_in="oil")
    found = known(
        contents=CONTENTS
        | {name: {"infused": wb.figure(x, x, x)} for name, x in shares}
    )
    return replace(found, ingredients={**found.ingredients, "infused": made})


def of_infusion(amounts, **more):
    return written("EU", amounts, catalogue=infusion(**more), workshop="mine")


BESIDE = {"shea": 60.0, "infused": 22.0, "wax": 18.0}


def test_an_oil_that_was_infused_stands_by_its_weight_and_what_is_in_it_last_unasked():
    found = of_infusion(BESIDE)
    # Halves of 22 would both stand below the wax.
    assert names(found) == [
        "Butyrospermum Parkii (Shea) Butter", "Helianthus Annuus Seed Oil", "Cera Alba",
        "Plantago Leaf Extract",
    ]  # fmt: skip
    oil, infused = found.entries[1], found.entries[3]
    assert (oil.percent, oil.low, oil.high) == (None, 11.0, 22.0)
    assert (infused.percent, infused.low, infused.high) == (None, 0.0, 11.0)
    assert "share" not in dict(found.to_fill_in)
    assert not any(each.unsure for each in found.entries)
    (told,) = found.infused  # 1 % of the whole is a twenty-second of it
    assert told == Infused(
        ("Plantago Leaf Extract",), "infused", pytest.approx(100 / 22)
    )
    lines = label_lines(found, "Balm", None)
    assert [line.open for line in lines if line.what == "ingredients"] == [False]


def test_what_is_infused_and_cannot_reach_another_place_is_not_asked():
    small = of_infusion({"shea": 98.5, "infused": 1.5})
    assert "share" not in dict(small.to_fill_in)
    assert small.infused == ()
    assert not any(each.unsure for each in small.entries)


def test_a_share_that_is_told_settles_the_place():
    found = of_infusion(BESIDE, shares=[("plantago leaf extract", 3.0)])
    shares = {each.name: each.percent for each in found.entries}
    assert shares["Helianthus Annuus Seed Oil"] == pytest.approx(0.97 * 22)
    assert shares["Plantago Leaf Extract"] == pytest.approx(0.03 * 22)
    assert "share" not in dict(found.to_fill_in)
    assert found.infused == ()
    assert not any(each.unsure for each in found.entries)


@pytest.mark.parametrize(
    "inci",
    ["Plantago Leaf Extract", "Plantago Leaf Extract (and) Helianthus Annuus Seed Oil"],
)
def test_the_oil_of_an_infusion_is_there_and_first_however_its_name_is_written(inci):
    found = of_infusion(BESIDE, inci=inci)
    assert names(found)[1:] == [
        "Helianthus Annuus Seed Oil", "Cera Alba", "Plantago Leaf Extract",
    ]  # fmt: skip


def test_an_infusion_adds_to_its_oil_where_that_is_in_the_formula_too():
    found = of_infusion({"oil": 30.0, "infused": 30.0, "wax": 40.0})
    assert names(found)[0] == "Helianthus Annuus Seed Oil"
    oil = found.entries[0]
    assert (oil.percent, oil.low, oil.high) == (None, 45.0, 60.0)


def test_two_herbs_stand_last_and_are_told_together():
    inci = "Helianthus Annuus Seed Oil, Plantago Leaf Extract, Arnica Flower Extract"
    found = of_infusion(BESIDE, inci=inci)
    assert "share" not in dict(found.to_fill_in)
    assert names(found)[-2:] == ["Plantago Leaf Extract", "Arnica Flower Extract"]
    herbs = ("Plantago Leaf Extract", "Arnica Flower Extract")
    assert [each.names for each in found.infused] == [herbs]


def test_parts_of_unknown_shares_stand_where_the_whole_would_and_are_asked():
    # Halves of 8 % would both stand below the wax.
    found = written("EU", {"oil": 87.0, "wax": 5.0, "ready": 8.0}, workshop="mine")
    assert names(found) == [
        "Helianthus Annuus Seed Oil", "Cetearyl Alcohol", "Polysorbate 60", "Cera Alba",
    ]  # fmt: skip
    assert [each.percent for each in found.entries] == [87.0, None, None, 5.0]
    told = dict(found.to_fill_in)["share"]
    assert told == (
        "share of Cetearyl Alcohol in ready, percent: a row in"
        " catalogues/workshops/mine/constituents.csv (columns"
        " ingredient,constituent,value,unit,evidence), such as:"
        " ready,Cetearyl Alcohol,SHARE,%,supplier"
    )
    small = written("EU", {"oil": 99.1, "ready": 0.9})
    assert "share" not in dict(small.to_fill_in)


def test_a_share_that_is_asked_is_no_word_of_the_label():
    found = written("EU", {"oil": 87.0, "wax": 5.0, "ready": 8.0}, workshop="mine")
    lines = label_lines(found, "Balm", None)
    assert not any("share of" in line.text for line in lines)
    assert [line.open for line in lines if line.what == "ingredients"] == [True]


@pytest.mark.parametrize("market", EVERY)
def test_a_formula_is_told_with_the_words_that_a_market_s_label_has(market):
    from optimiser.studies.made import label_order  # noqa: PLC0415

    order = label_order({"oil": 98.0, "rose": 1.5, "mint": 0.5}, known(), (market,))
    assert order[1:] == (RULES[market].scent, RULES[market].flavour)
