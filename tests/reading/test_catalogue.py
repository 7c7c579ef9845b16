"""A catalogue: figures merged, own rows over shared ones, units made one."""

from datetime import date

import pytest
from msgspec.structs import replace

from optimiser.domain.material import Origin
from optimiser.errors import InputError
from optimiser.reading import read_catalogue, shipped_folder

PROPERTIES = "workshops/demo/properties.csv"
PROPERTY_HEADER = "ingredient,property,at,value,low,high,unit,evidence,source"


def test_rows_of_one_figure_become_median_least_low_and_greatest_high(desk):
    figure = desk.catalogue().figures["solid fat"]["cocoa_butter"][30.0]
    assert (figure.value, figure.low, figure.high) == (43.0, 35.0, 46.0)
    assert (figure.unit, figure.evidence) == ("%", "review")
    assert figure.sources == ("book", "paper")
    assert figure.origin == Origin("catalogues/materials/properties.csv", 2)


@pytest.mark.parametrize(
    ("values", "median"), [((41, 47, 44), 44), ((41, 47, 44, 60), 45.5), ((41,), 41)]
)
def test_the_value_of_several_rows_is_their_median(desk, values, median):
    rows = [f"shea_butter,solid fat,20 degC,{v},,,%,,,review,book," for v in values]
    desk.add("materials/properties.csv", "\n".join(rows))
    assert desk.catalogue().figures["solid fat"]["shea_butter"][20.0].value == median


def test_a_range_without_a_value_is_told_by_its_middle(desk):
    figure = desk.catalogue().figures["melting point"]["cocoa_butter"][None]
    assert (figure.low, figure.value, figure.high) == (31.0, 33.0, 35.0)


def test_a_figure_is_turned_into_the_unit_of_its_property(desk):
    figure = desk.catalogue().figures["density"]["jojoba_oil"][25.0]
    assert figure.value == pytest.approx(860.0, rel=1e-12)
    assert figure.unit == "kg/m^3"


def test_temperatures_in_fahrenheit_are_read_in_celsius(desk):
    desk.table("materials/properties.csv", "20 degC", "68 degF")
    (at,) = desk.catalogue().figures["density"]["cocoa_butter"]
    assert at == pytest.approx(20.0, abs=1e-9)


def test_a_new_property_needs_no_code_but_one_unit(desk):
    rows = "beeswax,penetration,25 degC,12,,,0.1 mm,,,review,book,\n"
    desk.add("materials/properties.csv", rows + rows.replace("12", "18"))
    figure = desk.catalogue().figures["penetration"]["beeswax"][25.0]
    assert (figure.value, figure.unit) == (15.0, "0.1 mm")
    desk.add("materials/properties.csv", rows.replace("0.1 mm", "mm"))
    assert desk.catalogue_said() == (
        "catalogues/materials/properties.csv, row 11, column unit: "
        "'mm' is not the unit of penetration.\n  To fix: give the figure in 0.1 mm."
    )


def test_a_content_is_told_by_its_highest_value_and_widest_range(desk):
    content = desk.catalogue().contents["linalool"]["lavender_oil"]
    assert (content.low, content.value, content.high) == (20.0, 38.0, 45.0)
    assert (content.evidence, content.sources) == ("review", ("book", "paper"))


@pytest.mark.parametrize(
    ("row", "spread"),
    [
        ("8,,12", (8.0, 10.0, 12.0)),
        (",,12", (0.0, 6.0, 12.0)),
        (",90,", (90.0, 90.0, 90.0)),
        (",0,0", (0.0, 0.0, 0.0)),
        ("2,5,", (2.0, 5.0, 5.0)),
    ],
)
def test_a_content_may_be_known_in_part(desk, row, spread):
    desk.add("materials/constituents.csv", f"beeswax,ester,{row},%,review,book,")
    content = desk.catalogue().contents["ester"]["beeswax"]
    assert (content.low, content.value, content.high) == spread


def test_own_rows_replace_all_shared_rows_of_the_same_figure(desk):
    row = "cocoa butter,solid fat,30 degC,50,,,%,measured,"
    desk.write(f"catalogues/{PROPERTIES}", f"{PROPERTY_HEADER}\n{row}\n")
    figures = desk.catalogue().figures
    own = figures["solid fat"]["cocoa_butter"][30.0]
    assert (own.low, own.value, own.high) == (50.0, 50.0, 50.0)
    assert (own.evidence, own.sources) == ("measured", ())
    assert own.origin == Origin("catalogues/workshops/demo/properties.csv", 2)
    assert figures["density"]["cocoa_butter"][20.0].value == 910.0
    assert desk.catalogue(None).figures["solid fat"]["cocoa_butter"][30.0].value == 43


def test_own_ingredients_limits_contents_and_allergens_stand_over_shared_ones(desk):
    own = "catalogues/workshops/demo"
    desk.write(
        f"{own}/ingredients.csv",
        "key,name,category\nmurumuru,murumuru butter,hard butter\n"
        "beeswax,yellow beeswax,wax\n",
    )
    desk.write(
        f"{own}/limits.csv",
        "ingredient,whose,use,min_percent,max_percent,of,evidence\n"
        "yellow beeswax,practice,leave-on,,10,product,invented\n",
    )
    desk.write(
        f"{own}/constituents.csv",
        "ingredient,constituent,value,unit,evidence\n"
        "preserver,Phenoxyethanol,70,%,invented\n",
    )
    desk.write(
        f"{own}/allergens.csv", "ingredient,allergen,EU\nshea_butter,Tree nut,yes\n"
    )
    catalogue = desk.catalogue()
    assert catalogue.ingredients["murumuru"].category == "hard butter"
    assert catalogue.find("white wax") == "beeswax"
    assert [(each.high, each.of) for each in catalogue.limits] == [
        (1.0, "product"),
        (10.0, "product"),
    ]
    assert catalogue.contents["phenoxyethanol"]["preserver"].value == 70.0
    assert catalogue.allergens["tree nut"]["shea_butter"].listed == {
        "EU": True,
        "GB": False,
        "US": True,
        "AU": None,
        "CA": False,
    }


def test_an_own_row_says_only_what_differs_and_blank_keeps_the_rest(desk):
    desk.write(
        "catalogues/workshops/demo/ingredients.csv", "key,vegan\ncocoa_butter,ask\n"
    )
    shared = desk.catalogue(None).ingredients["cocoa_butter"]
    own = desk.catalogue().ingredients["cocoa_butter"]
    assert (shared.vegan, own.vegan) == ("yes", "ask")
    assert own.origin == Origin("catalogues/workshops/demo/ingredients.csv", 2)
    assert replace(own, vegan="yes", origin=shared.origin) == shared


def test_both_names_stand_for_an_ingredient_that_a_workshop_calls_otherwise(desk):
    desk.write(
        "catalogues/workshops/demo/ingredients.csv",
        "key,name,category,aliases\ncocoa_butter,cocoa from Jo,,jo;cacao butter\n",
    )
    catalogue = desk.catalogue()
    for name in ("cocoa from Jo", "jo", "cocoa butter", "theobroma oil"):
        assert catalogue.find(name) == "cocoa_butter"
    assert catalogue.ingredients["cocoa_butter"].category == "hard butter"


def test_a_new_ingredient_of_a_workshop_needs_its_name_and_category(desk):
    desk.write("catalogues/workshops/demo/ingredients.csv", "key,vegan\nmurumuru,yes\n")
    said = desk.catalogue_said()
    assert "row 2, column name: is blank" in said
    assert "row 2, column category: is blank" in said


def test_the_sources_of_own_rows_are_checked_when_they_have_any(desk):
    desk.write(
        f"catalogues/{PROPERTIES}",
        f"{PROPERTY_HEADER}\nbeeswax,solid fat,30 degC,50,,,%,measured,my notes\n",
    )
    assert desk.catalogue_said() == (
        "catalogues/workshops/demo/properties.csv, row 2, column source: 'my notes' is "
        "not a known source; no known name is near it.\n"
        "  To fix: correct the key, or add the source to sources.csv."
    )
    desk.write(
        "catalogues/workshops/demo/sources.csv",
        "key,reference\nmy notes,Weighed here in March\n",
    )
    assert desk.catalogue().sources["my notes"].reference == "Weighed here in March"


def test_blank_cells_are_unknown_and_not_no(desk):
    catalogue = desk.catalogue()
    status = catalogue.allergens["tree nut"]["shea_butter"]
    assert (status.listed["US"], status.listed["AU"], status.listed["EU"]) == (
        True,
        None,
        False,
    )
    assert catalogue.ingredients["preserver"].inci is None
    assert "beeswax" not in catalogue.allergens["tree nut"]


def test_ingredients_keep_what_their_rows_say(desk):
    cocoa = desk.catalogue().ingredients["cocoa_butter"]
    assert cocoa.aliases == ("cacao butter", "theobroma oil")
    assert cocoa.cautions == ("slips", "food-look")
    assert (cocoa.family, cocoa.vegan, cocoa.palm, cocoa.stage) == (
        "cocoa-type",
        "yes",
        "no",
        "melt",
    )


def test_packs_are_priced_landed_per_kg_whatever_their_unit(desk):
    prices = desk.catalogue().prices
    assert [pack.price_per_kg for pack in prices["cocoa_butter"]] == [20.0, 24.0]
    (litre,) = prices["jojoba_oil"]
    assert litre.pack_kg == pytest.approx(0.86, rel=1e-12)
    (pound,) = prices["beeswax"]
    assert pound.pack_kg == 0.45359237
    assert (pound.currency, pound.day) == ("EUR", None)
    assert prices["cocoa_butter"][0].day == date(2026, 11, 2)


@pytest.mark.parametrize(
    ("unit", "kg"),
    [
        ("g", 0.001),
        ("mg", 1e-6),
        ("oz", 0.45359237 / 16),
        ("ml", 0.86e-3),
        ("litres", 0.86),
    ],
)
def test_a_pack_by_mass_or_volume_is_told_in_kg(desk, unit, kg):
    desk.table("workshops/demo/prices.csv", "1,l,", f"1,{unit},")
    (pack,) = desk.catalogue().prices["jojoba_oil"]
    assert pack.pack_kg == pytest.approx(kg, rel=1e-9)


def test_a_liquid_sold_in_ml_is_weighed_as_a_spoon_of_it_where_no_density_is_known(
    desk,
):
    desk.add("workshops/demo/prices.csv", "lavender_oil,10,ml,8,,EUR,")
    desk.add("workshops/demo/stock.csv", "lavender_oil,A9,20,ml,,")
    catalogue = desk.catalogue()
    (pack,) = catalogue.prices["lavender_oil"]
    # volumes.csv: scents 0.92 g/ml, from citrus (0.84) to clove (1.06)
    assert pack.pack_kg == pytest.approx(0.0092, rel=1e-12)
    assert pack.by_volume
    assert catalogue.stock[-1].amount == pytest.approx(0.0184, rel=1e-12)


def test_a_wax_sold_in_ml_is_priced_once_the_row_that_is_told_is_there(desk):
    desk.table("workshops/demo/prices.csv", "beeswax,1,lb,9", "beeswax,10,ml,9")
    said = desk.catalogue_said()
    header = said.split("properties.csv (")[1].split(")")[0]
    row = said.split("the row ")[1].split(" with")[0].replace("VALUE", "0.88")
    desk.write("catalogues/workshops/demo/properties.csv", f"{header}\n{row}\n")
    (pack,) = desk.catalogue().prices["beeswax"]
    assert pack.pack_kg == pytest.approx(0.0088, rel=1e-12)


def test_the_density_nearest_to_room_temperature_is_taken(desk):
    desk.add(
        "materials/properties.csv",
        "jojoba_oil,density,80 degC,820,,,kg/m^3,,,review,book,",
    )
    (pack,) = desk.catalogue().prices["jojoba_oil"]
    assert pack.pack_kg == pytest.approx(0.86, rel=1e-12)


def test_the_currency_is_that_of_the_scale_file_or_of_the_first_row(desk):
    assert desk.catalogue().currency == "EUR"
    desk.write("catalogues/workshops/demo/scale.toml", 'title = "Demo"\n')
    assert desk.catalogue().currency == "EUR"
    desk.table("workshops/demo/prices.csv", "43,0,EUR", "43,0,USD")
    assert desk.catalogue_said() == (
        "catalogues/workshops/demo/prices.csv, row 4, column currency: 'USD' is a "
        "second currency beside EUR (catalogues/workshops/demo/prices.csv, row 2).\n"
        "  To fix: convert the price to EUR."
    )


def test_an_invented_pack_gives_way_to_one_of_the_maker_s_own(desk):
    path = desk.folder / "catalogues/workshops/demo/prices.csv"
    path.write_text(
        "ingredient,pack,unit,price,freight,currency,evidence\n"
        "beeswax,5,kg,50,0,EUR,invented\nbeeswax,1,kg,19.50,0,EUR,\n"
        "jojoba_oil,1,kg,30,0,EUR,invented\n",
        encoding="utf-8",
    )
    found = desk.catalogue()
    assert [each.price for each in found.prices["beeswax"]] == [19.5]
    assert [each.price for each in found.prices["jojoba_oil"]] == [30.0]
    assert found.invented_prices == "some"


@pytest.mark.parametrize(
    ("whose", "market", "fine"),
    [("opinion", "UK", True), ("opinion", "", False), ("practice", "EU", False)],
)
def test_an_opinion_says_for_which_market_it_was_given(desk, whose, market, fine):
    header = "ingredient,whose,use,min_percent,max_percent,of,market,evidence,source"
    desk.write(
        "catalogues/materials/limits.csv",
        f"{header}\nbeeswax,{whose},any,,25,product,{market},review,book\n",
    )
    if fine:
        (limit,) = desk.catalogue().limits
        assert (limit.whose, limit.market) == ("opinion", "GB")
    else:
        assert "column market" in desk.catalogue_said()


# A gallon is 231 cubic inches in the US and 4.54609 l in the UK, a fluid ounce its
# 128th and its 160th; jojoba oil weighs 0.86 g/ml here.
@pytest.mark.parametrize(
    ("written", "currency", "kg"),
    [
        ("1/2,US gal", "EUR", 0.5 * 3.785411784 * 0.86),
        ("2 1/2,fl oz", "USD", 2.5 * 0.0295735295625 * 0.86),
        ("1,gal", "USD", 3.785411784 * 0.86),
        ("1,gal", "GBP", 4.54609 * 0.86),
        ("1,imperial gallons", "USD", 4.54609 * 0.86),
        ("1,fl oz", "GBP", 4.54609 / 160 * 0.86),
        ("1/2,qt", "USD", 3.785411784 / 8 * 0.86),
        ("1/2,lb", "EUR", 0.5 * 0.45359237),
        ("\u00bd,kg", "EUR", 0.5),
    ],
)
def test_a_pack_and_a_lot_are_read_as_recipes_write_amounts(
    desk, written, currency, kg
):
    desk.write(SCALE, f'[currency]\ncode = "{currency}"\n')
    row = f"jojoba_oil,{written}"
    desk.write(PRICES, f"ingredient,pack,unit,price\n{row},9\n")
    desk.write(
        "catalogues/workshops/demo/stock.csv", f"ingredient,amount,unit\n{row}\n"
    )
    found = desk.catalogue()
    (pack,), (lot,) = found.prices["jojoba_oil"], found.lots
    assert pack.pack_kg == pytest.approx(kg, rel=1e-9)
    assert lot.amount == pytest.approx(kg, rel=1e-9)


@pytest.mark.parametrize("written", ["1/0", "-1/2", "1/2/3", "half"])
def test_what_is_no_amount_is_told(desk, written):
    desk.write(PRICES, f"ingredient,pack,unit,price\nbeeswax,{written},kg,9\n")
    assert f"column pack: '{written}'" in desk.catalogue_said()


PRICES = "catalogues/workshops/demo/prices.csv"
SCALE = "catalogues/workshops/demo/scale.toml"
INVENTED_PRICES = (
    "ingredient,pack,unit,price,freight,currency,evidence\n"
    "beeswax,5,kg,50,0,EUR,invented\njojoba_oil,1,kg,30,0,EUR,invented\n"
)
INVENTED_SCALE = 'evidence = "invented"\n[currency]\ncode = "{}"\n'


@pytest.mark.parametrize(
    ("code", "own", "currency", "priced", "invented"),
    [
        ("EUR", "", "EUR", {"beeswax": 50, "jojoba_oil": 30}, "all"),
        # A price of one's own in another currency tells which is the workshop's, ...
        ("EUR", "beeswax,1,lb,9,0,USD,\n", "USD", {"beeswax": 9}, "uncounted"),
        # ... and so does the code, with prices of one's own or before.
        ("USD", "beeswax,1,lb,9,0,USD,\n", "USD", {"beeswax": 9}, "uncounted"),
        ("USD", "beeswax,1,lb,9,0,,\n", "USD", {"beeswax": 9}, "uncounted"),
        ("USD", "", "USD", {}, "uncounted"),
        # What is invented and names no currency is in that of its own file.
        ("EUR", "jojoba_oil,1,kg,9,0,,invented\nbeeswax,1,kg,9,0,GBP,\n", "GBP",
         {"beeswax": 9}, "uncounted"),
        ("EUR", "beeswax,1,lb,9,0,EUR,\n", "EUR", {"beeswax": 9, "jojoba_oil": 30},
         "some"),
    ],
)  # fmt: skip
def test_invented_prices_in_another_currency_than_the_maker_s_do_not_count(
    desk, code, own, currency, priced, invented
):
    desk.write(SCALE, INVENTED_SCALE.format(code))
    desk.write(PRICES, INVENTED_PRICES + own)
    found = desk.catalogue()
    assert found.currency == currency
    assert {key: packs[0].price for key, packs in found.prices.items()} == priced
    assert found.invented_prices == invented


@pytest.mark.parametrize(
    ("code", "scale", "own", "fix"),
    [
        # His own prices are in two: no code can mend that, so none is offered.
        ("EUR", INVENTED_SCALE, "beeswax,1,kg,9,0,USD,\nbeeswax,1,kg,9,0,GBP,\n",
         "convert the price to USD."),
        ("USD", INVENTED_SCALE, "beeswax,1,kg,9,0,USD,\nbeeswax,1,kg,9,0,GBP,\n",
         "convert the price to USD."),
        ("GBP", '[currency]\ncode = "{}"\n', "beeswax,1,kg,9,0,USD,\n",
         'convert the price to GBP; or, where all your prices are in USD, write code ='
         ' "USD" below [currency] in catalogues/workshops/demo/scale.toml.'),
    ],
)  # fmt: skip
def test_prices_of_one_s_own_in_two_currencies_are_told_with_what_mends_it(
    desk, code, scale, own, fix
):
    desk.write(SCALE, scale.format(code))
    desk.write(PRICES, INVENTED_PRICES + own)
    told = desk.catalogue_said()
    assert told.count("second currency") == 1
    assert told.endswith(f"To fix: {fix}")


def test_doing_as_the_message_on_a_second_currency_says_ends_it(desk):
    desk.write(SCALE, '[currency]\ncode = "EUR"\n')
    desk.write(PRICES, INVENTED_PRICES + "beeswax,1,kg,9,0,USD,\n")
    assert 'write code = "USD" below [currency]' in desk.catalogue_said()
    desk.write(SCALE, '[currency]\ncode = "USD"\n')
    assert desk.catalogue().currency == "USD"


def test_one_message_is_enough_for_all_prices_in_another_currency(desk):
    path = "catalogues/workshops/demo/prices.csv"
    prices = (desk.folder / path).read_text(encoding="utf-8")
    assert prices.count(",EUR") > 2
    desk.write(path, prices.replace(",EUR", ",GBP"))
    told = desk.catalogue_said()
    assert told.count("second currency") == 1
    rows = prices.count(",EUR") - 1
    assert f"; so it is in {rows} more rows" in told
    assert 'write code = "GBP" below [currency]' in told


def test_a_price_without_any_currency_is_told(desk):
    desk.write("catalogues/workshops/demo/scale.toml", "")
    desk.write(
        "catalogues/workshops/demo/prices.csv",
        "ingredient,pack,unit,price\nbeeswax,1,kg,9\n",
    )
    assert desk.catalogue_said() == (
        "catalogues/workshops/demo/prices.csv, row 2, column currency: is blank, and "
        "scale.toml names none.\n  To fix: write its code, as in EUR."
    )


@pytest.mark.parametrize(
    ("scale", "wrong", "fix"),
    [
        (
            '[currency]\ncode = "euros"',
            ", key currency.code: 'euros' is not a currency of three capital letters",
            'write [currency] and, below it, code = "EUR"',
        ),
        (
            "currency = 1",
            ", key currency.code: '1' is not a currency of three capital letters",
            'write [currency] and, below it, code = "EUR"',
        ),
        (
            "[currency]",
            ", key currency.code: is not a currency of three capital letters",
            'write [currency] and, below it, code = "EUR"',
        ),
        (
            "[currency]\ncode = EUR",
            ": line 2 is not written as TOML (invalid value)",
            'put text in quotes, as in use = "leave-on"',
        ),
    ],
)
def test_a_currency_that_is_none_is_told(desk, scale, wrong, fix):
    desk.write("catalogues/workshops/demo/scale.toml", scale)
    assert desk.catalogue_said() == (
        f"catalogues/workshops/demo/scale.toml{wrong}.\n  To fix: {fix}."
    )


def test_a_workshop_may_have_no_files_at_all(desk):
    (desk.folder / "catalogues/workshops/bare").mkdir()
    catalogue = desk.catalogue("bare")
    assert (catalogue.prices, catalogue.stock, catalogue.currency) == ({}, (), "")


def test_without_a_workshop_there_are_no_prices_and_no_stock(desk):
    catalogue = desk.catalogue(None)
    assert (catalogue.prices, catalogue.stock, catalogue.currency) == ({}, (), "")
    assert catalogue.find("white wax") == "beeswax"


@pytest.mark.parametrize("name", ["demi", "", ".", "../materials", "a\0b"])
def test_a_workshop_that_is_not_there_lists_those_that_are(desk, name):
    told = desk.catalogue_said(name)
    near = (
        "the nearest known name is demo"
        if name == "demi"
        else ("no known name is near it")
    )
    assert told == (
        f"'{name}' is not a workshop of catalogues/workshops.\n"
        f"  To fix: {near}; the workshops are demo."
    )


def test_a_catalogue_without_workshops_says_so(desk):
    for path in (desk.folder / "catalogues/workshops/demo").iterdir():
        path.unlink()
    (desk.folder / "catalogues/workshops/demo").rmdir()
    (desk.folder / "catalogues/workshops").rmdir()
    assert desk.catalogue_said() == (
        "'demo' is not a workshop of catalogues/workshops.\n"
        "  To fix: make the folder demo there; it holds none yet."
    )


def test_a_folder_that_is_not_there_is_told(desk):
    desk.folder /= "nowhere"
    assert desk.catalogue_said() == (
        "catalogues: is not a folder.\n"
        "  To fix: name the folder that holds materials, markets and workshops."
    )


def test_a_shared_table_that_is_not_there_is_told(desk):
    (desk.folder / "catalogues/markets/shared_limits.csv").unlink()
    assert desk.catalogue_said() == (
        "catalogues/markets/shared_limits.csv: is not there.\n"
        "  To fix: put it there; its header row is market,group,substance,use,"
        "max_percent,instrument,entry,verified,source,note."
    )


def test_every_shared_table_is_asked_for(desk):
    for path in (desk.folder / "catalogues").glob("ma*/*.csv"):
        path.unlink()
    told = desk.catalogue_said()
    missing = [line for line in told.splitlines() if line.endswith(": is not there.")]
    assert len(missing) == 13


def test_problems_of_all_tables_are_told_at_once(desk):
    desk.table("materials/ingredients.csv", "soft butter", "softish")
    desk.table("materials/properties.csv", "melting point", "meltingpoint")
    desk.table("markets/climate.csv", "32,35", "36,35")
    desk.table("workshops/demo/stock.csv", "1.5", "1.5 kg")
    told = desk.catalogue_said()
    assert [line.split(":")[0] for line in told.splitlines()[::2]] == [
        "catalogues/materials/ingredients.csv, row 3, column category",
        "catalogues/materials/properties.csv, row 5, column property",
        "catalogues/workshops/demo/stock.csv, row 2, column amount",
        "catalogues/markets/climate.csv, row 3, column low_degC",
    ]


def test_one_key_of_a_source_stands_for_one_reference(desk):
    desk.table("markets/sources.csv", "act,", "book,Another book,,,\nact,")
    desk.write(
        "catalogues/workshops/demo/sources.csv", "key,reference\npaper,Our paper\n"
    )
    assert desk.catalogue_said() == (
        "catalogues/workshops/demo/sources.csv, row 2, column key: 'paper' stands for "
        "another reference in another sources.csv.\n"
        "  To fix: give one of the two another key.\n"
        "catalogues/markets/sources.csv: 'book' stands for another reference in "
        "catalogues/materials.\n  To fix: give one of the two another key."
    )


def test_law_counts_the_substances_of_its_table_or_its_own_name(desk):
    limits = {each.name: each for each in desk.catalogue().substance_limits}
    assert limits["sorbic acid"].factors == {
        "sorbic acid": 1.0,
        "potassium sorbate": 0.7464,
    }
    assert limits["phenoxyethanol"].factors == {"phenoxyethanol": 1.0}
    linalool = limits["linalool"]
    assert (linalool.table, linalool.use, linalool.high, linalool.market) == (
        "restricted",
        "rinse-off",
        5.0,
        "GB",
    )


def test_shares_of_one_group_and_names_of_one_label_come_together(desk):
    catalogue = desk.catalogue()
    (shared,) = catalogue.shared_limits
    assert (shared.group, shared.caps) == (
        "phototoxic oils",
        {"lemon oil": 2.0, "lime oil": 0.7},
    )
    labels = {each.label_name: each for each in catalogue.scent_allergens}
    assert labels["Citral"].substances == ("geranial", "neral")
    assert (labels["Citral"].leave_on, labels["Citral"].rinse_off) == (0.001, 0.01)


def test_a_new_market_is_new_rows(desk):
    desk.table("markets/restricted.csv", "GB", "NZ")
    assert desk.catalogue().substance_limits[-1].market == "NZ"


def test_zones_are_ranges_in_celsius(desk):
    zones = desk.catalogue().zones
    assert (zones["skin"].low, zones["skin"].high, zones["skin"].kind) == (
        32.0,
        35.0,
        "skin",
    )


def test_every_misspelling_gets_its_nearest_name_however_many_came_before(desk):
    rows = [f"oil number {i},melting point,,3,,,degC,,,review,book," for i in range(60)]
    rows += ["jojoba_oyl,melting point,,3,,,degC,,,review,book,"]
    desk.add("materials/properties.csv", "\n".join(rows))
    told = desk.catalogue_said().splitlines()[::2]
    assert len(told) == 61
    assert told[59].endswith("is not a known ingredient; no known name is near it.")
    assert "the nearest known name is jojoba_oil" in told[-1]


def test_the_shipped_catalogue_is_read_without_problems():
    catalogue = read_catalogue(shipped_folder("catalogues"), "demo")
    assert catalogue.find("cacao butter") == "cocoa_butter"
    assert len(catalogue.ingredients) > 100
    assert {"solid fat", "density", "melting point"} <= set(catalogue.figures)
    assert catalogue.currency == "EUR"


def test_how_well_an_inci_name_is_known_may_be_told(desk):
    table = "workshops/demo/ingredients.csv"
    header = "key,name,inci,inci_evidence,category,source"
    desk.write(
        f"catalogues/{table}",
        f"{header}\nmy_wax,my wax,Cera Alba,supplier,wax,book\n"
        "my_oil,my oil,Olus Oil,,liquid oil,book\n",
    )
    found = desk.catalogue().ingredients
    assert found["my_wax"].inci_evidence == "supplier"
    assert found["my_oil"].inci_evidence is None
    desk.write(
        f"catalogues/{table}",
        f"{header}\nmy_wax,my wax,,memory,wax,book\n"
        "my_oil,my oil,Olus Oil,rumour,liquid oil,book\n",
    )
    with pytest.raises(InputError) as stopped:
        desk.catalogue()
    (none, unknown) = stopped.value.problems
    assert (none.row, none.field) == (2, "inci_evidence")
    assert none.wrong == "tells how well an INCI name is known, and there is none"
    assert (unknown.row, unknown.field, unknown.found) == (3, "inci_evidence", "rumour")


def test_a_table_of_before_may_still_give_wax_firmness_its_old_unit(desk):
    table = desk.folder / "catalogues/materials/properties.csv"
    text = table.read_text(encoding="utf-8")
    assert "beeswax,wax firmness,,5,4,6,," in text
    table.write_text(text.replace("5,4,6,,", "5,4,6,point per %,"), encoding="utf-8")
    figures = desk.catalogue().figures["wax firmness"]["beeswax"]
    assert [(each.value, each.unit) for each in figures.values()] == [(5.0, "")]


ROW = "orange_oil,orange oil,scent,{},{}"
KIND_HEADER = "key,name,category,kind,dissolves"


def kinds_of(desk, kind, dissolves):
    table = f"{KIND_HEADER}\n{ROW.format(kind, dissolves)}\n"
    desk.write("catalogues/workshops/demo/ingredients.csv", table)


def test_an_ingredient_has_a_kind_and_tells_whether_it_dissolves(desk):
    kinds_of(desk, "citrus", "no")
    found = desk.catalogue().ingredients["orange_oil"]
    assert (found.kind, found.dissolves) == ("citrus", "no")
    kinds_of(desk, "", "")
    found = desk.catalogue().ingredients["orange_oil"]
    assert (found.kind, found.dissolves) == (None, None)


def test_a_kind_of_another_category_is_refused_with_those_there_are(desk):
    kinds_of(desk, "sugar", "perhaps")
    where = "catalogues/workshops/demo/ingredients.csv, row 2, column"
    assert desk.catalogue_said() == (
        f"{where} kind: 'sugar' is not one of the words allowed here.\n"
        "  To fix: write one of: citrus, floral, herbal, mint, wood, spice, resin, "
        "flavour.\n"
        f"{where} dissolves: 'perhaps' is not one of the words allowed here.\n"
        "  To fix: write one of: yes, no, ask."
    )
