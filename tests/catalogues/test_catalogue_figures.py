"""The figures in the materials are those of the tables they were taken from."""

import csv
import pathlib
import statistics

import pytest

from tests.catalogues.collected import FIX, adds_up, collected

CATALOGUES = pathlib.Path(__file__).resolve().parents[2] / "catalogues"


def rows(name):
    with (CATALOGUES / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def column(table, name):
    return [float(row[name]) for row in table if row[name]]


def temperatures(table):
    return [float(row["at"].removesuffix(" degC")) for row in table]


PROPERTIES = rows("materials/properties.csv")
CONSTITUENTS = rows("materials/constituents.csv")
CATEGORY = {r["key"]: r["category"] for r in rows("materials/ingredients.csv")}


def of(prop, **cells):
    return [
        row
        for row in PROPERTIES
        if row["property"] == prop and all(row[k] == v for k, v in cells.items())
    ]


# Solid fat content, table by table: rows, sum of the temperatures in degC, sum of
# the values in %. Left out: mutton tallow and the quick-cooled cocoa butter.
SOLID_FAT = [
    ("shukla1995", 20, 550.0, 925.0),  # cocoa butter, five origins
    ("tan_oh1981", 17, 450.0, 594.0),  # palm oil 8 rows, palm stearin 9
    ("porim_palm_kernel", 6, 105.0, 253.3),  # palm kernel oil
    ("recalled_typical", 66, 1825.0, 2592.0),  # typical figures, 13 fats
    ("amazonian_fats", 8, 201.6, 258.19),  # Authorea 435323, section 3.3
    ("pantzaris_uses", 3, 60.0, 114.0),  # palm oil, stearin and kernel oil at 20 degC
    ("sonwai2022", 3, 80.0, 56.0),  # milk fat, Fig. 2 at second hand
]


@pytest.mark.parametrize(("source", "count", "sum_at", "sum_value"), SOLID_FAT)
def test_solid_fat_is_transcribed_whole(source, count, sum_at, sum_value):
    table = collected("properties.csv", of("solid fat"), "solid fat", source)
    assert len(table) == count
    assert sum(temperatures(table)) == pytest.approx(sum_at), FIX
    adds_up(table, "value", sum_value)


# Printed spreads: Tan & Oh 1981 on 16 of 17 rows, Pantzaris on palm stearin 25-71,
# Authorea 435323 on murumuru and tucuma 2-4 each.
@pytest.mark.parametrize(
    ("source", "count", "sum_low", "sum_high"),
    [
        ("tan_oh1981", 16, 287.1, 769.5),
        ("pantzaris_uses", 1, 25.0, 71.0),
        ("amazonian_fats", 2, 4.0, 8.0),
        ("shukla1995", 0, 0.0, 0.0),
        ("porim_palm_kernel", 0, 0.0, 0.0),
        ("sonwai2022", 0, 0.0, 0.0),
    ],
)
def test_only_printed_spreads_stand_beside_published_solid_fat(
    source, count, sum_low, sum_high
):
    table = collected("properties.csv", of("solid fat"), "solid fat", source)
    assert len(column(table, "low")) == len(column(table, "high")) == count, FIX
    adds_up(table, "low", sum_low)
    adds_up(table, "high", sum_high)


def test_typical_solid_fat_carries_the_assumed_spread():
    ten, three, full = 10, 3, 100
    for row in of("solid fat", source="recalled_typical"):
        value, low, high = (float(row[c]) for c in ("value", "low", "high"))
        assert row["evidence"] == "memory_low"
        if value < three:
            expected = (0, value + three)
        else:
            expected = (max(0, value - ten), min(full, value + ten))
        assert (low, high) == expected, row


def test_unrefined_shea_melts_as_the_refined_one_but_is_less_known():
    refined = {row["at"]: row for row in of("solid fat", ingredient="shea_butter")}
    raw = of("solid fat", ingredient="shea_butter_unrefined")
    assert {row["at"] for row in raw} == refined.keys()
    for row in raw:
        known = refined[row["at"]]
        assert row["value"] == known["value"]
        if row["source"] == "shea_as_refined":
            assert float(row["high"]) > float(known["high"])


# Five origins, Shukla 1995: median 76.0, 69.1, 43.3 and 1.0 % at 20 to 35 degC.
@pytest.mark.parametrize(
    ("at", "median"), [("20", 76.0), ("25", 69.1), ("30", 43.3), ("35", 1.0)]
)
def test_cocoa_butter_has_the_median_of_five_origins(at, median):
    table = of("solid fat", ingredient="cocoa_butter", at=f"{at} degC")
    assert {row["variant"] for row in table} == {
        "Ghana",
        "Ivory Coast",
        "Nigeria",
        "Malaysia",
        "Brazil",
    }
    assert statistics.median(column(table, "value")) == pytest.approx(median)


def test_liquid_oils_with_solid_fat_have_none_from_15_to_45_degrees():
    table = of("solid fat", source="liquid_oil_rule")
    oils = {row["ingredient"] for row in table}
    assert {CATEGORY[oil] for oil in oils} == {"liquid oil"}
    assert sorted(set(temperatures(table))) == [15, 45]
    assert set(column(table, "value")) == {0}
    # These two cloud when cool, so nothing is said of them.
    assert not oils & {"palm_olein", "shea_olein"}


# Table of 58 fats, oils, waxes and alcohols (collected 2026 from the sources named in
# each row): rows, sum of the low ends, sum of the high ends.
@pytest.mark.parametrize(
    ("prop", "count", "sum_low", "sum_high"),
    [
        ("iodine value", 57, 2283.5, 2935.5),
        ("saponification value", 57, 9580.8, 10428.9),
        ("melting point", 53, 1473.4, 1861.5),
    ],
)
def test_ranges_of_the_fats_are_transcribed_whole(prop, count, sum_low, sum_high):
    table = [row for row in collected("properties.csv", of(prop), prop) if row["low"]]
    assert len(table) == count, FIX
    adds_up(table, "low", sum_low)
    adds_up(table, "high", sum_high)
    for row in table:
        middle = (float(row["low"]) + float(row["high"])) / 2
        assert float(row["value"]) == pytest.approx(middle, rel=1e-5)


# Four fats with one figure: shea olein 16, coconut 33.3, almond -18, sunflower -18.
def test_single_melting_points_are_transcribed_whole():
    table = collected("properties.csv", of("melting point"), "melting point")
    single = [row for row in table if not row["low"]]
    assert sorted(column(single, "value")) == [-18, -18, 16, 33.3], FIX


# The same table: 41 densities, sum 37.2617 g/ml.
def test_densities_of_the_fats_are_transcribed_whole():
    kept = "g/ml times 1000", "relative density"
    table = [row for row in of("density") if row["note"].startswith(kept)]
    table = collected("properties.csv", table, "density")
    count = 41
    assert len(table) == count
    adds_up(table, "value", 37261.7)


# Codex Alimentarius CXS 210-1999, Table 2: iodine value, saponification value.
CODEX = [
    ("babassu_oil", (10, 18), (245, 256)),
    ("coconut_oil", (6.3, 10.6), (248, 265)),
    ("palm_oil", (50, 55), (190, 209)),
    ("palm_kernel_oil", (14.1, 21), (230, 254)),
    ("peanut_oil", (86, 107), (187, 196)),
    ("rapeseed_oil", (105, 126), (182, 193)),
    ("rice_bran_oil", (90, 115), (180, 199)),
    ("safflower_oil", (136, 148), (186, 198)),
    ("sesame_oil", (104, 120), (186, 195)),
    ("soybean_oil", (124, 139), (189, 195)),
    ("sunflower_oil_high_oleic", (78, 90), (182, 194)),
]


@pytest.mark.parametrize(("oil", "iodine", "saponification"), CODEX)
def test_named_vegetable_oils_have_the_codex_ranges(oil, iodine, saponification):
    for prop, limits in (
        ("iodine value", iodine),
        ("saponification value", saponification),
    ):
        (row,) = of(prop, ingredient=oil)
        assert (float(row["low"]), float(row["high"])) == limits


# Saponification value = 1000 x 56.106 n / M mg/g, n acids in a molecule of mass M
# (g/mol, IUPAC abridged atomic weights): stearic acid 284.48, tristearin 891.5,
# trilaurin 639.0, tricaprylin 470.7.
@pytest.mark.parametrize(
    ("ingredient", "acids", "mass"),
    [
        ("stearic_acid_purified", 1, 284.48),
        ("hydrogenated_soybean_oil", 3, 891.5),
        ("coconut_oil", 3, 639.0),
        ("caprylic_capric_triglyceride", 3, 470.7),
    ],
)
def test_saponification_ranges_hold_their_pure_main_substance(ingredient, acids, mass):
    (row,) = of("saponification value", ingredient=ingredient)
    pure = 56106 * acids / mass
    assert float(row["low"]) <= pure <= float(row["high"])


# IAPWS-95, Wagner & Pruss 2002: water at 20 degC and 101.325 kPa.
def test_water_has_the_density_of_the_reference_formulation():
    (row,) = of("density", ingredient="water")
    assert float(row["value"]) == pytest.approx(998.207, abs=0.001)


# Yilmaz & Ogutcu 2014: 3 % sunflower wax = 7 % beeswax. Makers' thread, 2011: half as
# much candelilla as beeswax, of which some stays dissolved; carnauba no weaker.
def test_wax_firmness_keeps_the_published_ratios():
    sunflower, beeswax, candelilla, carnauba = (
        float(of("wax firmness", ingredient=wax)[0]["value"])
        for wax in ("sunflower_wax", "beeswax", "candelilla_wax", "carnauba_wax")
    )
    assert beeswax / sunflower == pytest.approx(3 / 7, abs=0.03)
    assert 2.0 <= candelilla / beeswax <= 2.4
    assert carnauba >= candelilla


# Hwang et al. 2013: 18 % hard fat at 2 % wax, 30 % at 6 %.
def test_sunflower_wax_firmness_spans_the_published_margarines():
    (row,) = of("wax firmness", ingredient="sunflower_wax")
    assert float(row["high"]) == pytest.approx(18 / 2)
    assert float(row["value"]) == pytest.approx(30 / 6, abs=0.5)
    assert float(row["low"]) == pytest.approx((30 - 18) / (6 - 2))


# What was added later, as its pages have it: low, value, high.
LATER = [
    ("camellia_oil", "iodine value", "hu2018_camellia", (82.0, 84.55, 87.1)),
    ("borage_oil", "density", "bp2025_borage", (921,)),
    ("baobab_oil", "iodine value", "baobab_monograph", (65, 80, 95)),
    ("petrolatum", "density", "usp28_petrolatum", (815, 847.5, 880)),
    ("petrolatum", "melting point", "usp28_petrolatum", (38, 49, 60)),
    ("paraffin_wax", "melting point", "nf23_paraffin", (47, 56, 65)),
    ("ucuuba_butter", "melting point", "ucuuba_page", (53,)),
    (
        "coco_caprylate_caprate",
        "saponification value",
        "pheur_cocoyl_caprylocaprate",
        (160, 166.5, 173),
    ),
    ("myrica_fruit_wax", "saponification value", "myrica_pages", (210, 225, 240)),
]


@pytest.mark.parametrize(("ingredient", "prop", "source", "figures"), LATER)
def test_figures_added_later_are_those_of_their_pages(
    ingredient, prop, source, figures
):
    (row,) = of(prop, ingredient=ingredient, source=source)
    found = tuple(float(row[c]) for c in ("low", "value", "high") if row[c])
    assert found == figures


# Constituents of essential oils: rows, sum of low ends, sum of high ends, a single
# analysis counting as both. The standards and papers are named in each row.
OILS = [
    ("sweet_orange_oil", 12, 187.79, 199.8),
    ("lemon_oil", 13, 73.41, 118.91),
    ("lavender_oil", 12, 46.4, 124.1),
    ("peppermint_oil", 12, 55.7, 146.5),
    ("tea_tree_oil", 17, 110.0, 252.5),
    ("rosemary_oil", 22, 110.78, 182.83),
    ("eucalyptus_oil", 7, 70.0, 119.4),
    ("cedarwood_oil_virginia", 4, 62.9, 92.8),
    ("cedarwood_oil_atlas", 1, 50.0, 75.0),
    ("patchouli_oil", 7, 56.15, 84.5),
    ("ylang_ylang_oil", 19, 98.8, 170.2),
    ("geranium_oil", 14, 105.6, 169.4),
    ("clove_bud_oil", 7, 240.57, 315.57),
    ("clove_leaf_oil", 5, 78.91, 118.1),
]


@pytest.mark.parametrize(("oil", "count", "sum_low", "sum_high"), OILS)
def test_essential_oil_constituents_are_transcribed_whole(
    oil, count, sum_low, sum_high
):
    oils = collected("constituents.csv", CONSTITUENTS)
    table = [row for row in oils if row["ingredient"] == oil]
    assert len(table) == count
    single = sum(column(table, "value"))
    adds_up(table, "low", sum_low - single)
    adds_up(table, "high", sum_high - single)


# ISO 3515:2002 and Ph. Eur. 10: upper limits for lavender oil, in %.
@pytest.mark.parametrize(
    ("constituent", "most"),
    [
        ("linalool", 45),
        ("linalyl acetate", 47),
        ("camphor", 1.5),
        ("alpha-terpineol", 2),
    ],
)
def test_lavender_oil_holds_at_most_what_its_standards_allow(constituent, most):
    highs = [
        float(row["high"])
        for row in CONSTITUENTS
        if row["ingredient"] == "lavender_oil" and row["constituent"] == constituent
    ]
    assert max(highs) == most


def test_ready_mixed_preservatives_add_up_to_the_whole():
    blends = (
        "phenoxyethanol_ethylhexylglycerin",
        "benzyl_alcohol_dehydroacetic_acid",
    )
    for blend in blends:
        parts = [row for row in CONSTITUENTS if row["ingredient"] == blend]
        assert sum(column(parts, "value")) == pytest.approx(100)


# Worked example of formulators' pages: 10 soybean, 7.5 cocoa, 7.5 mango need HLB 7.0;
# with emulsifiers of 2.9 and 15 that is 34 % of the high one. Required values here.
def test_required_hlb_reproduces_the_published_worked_example():
    shares = {"soybean_oil": 10, "cocoa_butter": 7.5, "mango_butter": 7.5}
    need = sum(
        share * float(of("required HLB", ingredient=key)[0]["value"])
        for key, share in shares.items()
    ) / sum(shares.values())
    assert need == pytest.approx(7.0)
    (high,) = of("HLB", ingredient="polysorbate_80")
    assert (need - 2.9) / (float(high["value"]) - 2.9) == pytest.approx(0.34, abs=0.005)


# Wille & Lutton 1966: form VI of cocoa butter, the last to melt, melts at 36.3 degC.
def test_a_curve_is_closed_only_above_the_end_of_the_melting_range():
    form_six = 36.3
    table = of("solid fat", source="melting_end")
    assert set(column(table, "value")) == {0}
    for row in table:
        (melting,) = of("melting point", ingredient=row["ingredient"])
        (at,) = temperatures([row])
        assert at > float(melting["high"]), row
        if row["ingredient"] == "cocoa_butter":
            assert at > form_six
