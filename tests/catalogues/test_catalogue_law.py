"""The markets hold the limits of the published law, and names agree throughout."""

import csv
import pathlib

import pytest

from tests.catalogues.collected import FIX, collected

CATALOGUES = pathlib.Path(__file__).resolve().parents[2] / "catalogues"


def rows(name):
    with (CATALOGUES / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


PRESERVATIVES = rows("markets/preservatives.csv")
RESTRICTED = rows("markets/restricted.csv")
SUBSTANCES = rows("markets/substances.csv")
SHARED = rows("markets/shared_limits.csv")
SCENTS = rows("markets/scent_allergens.csv")
CLIMATE = rows("markets/climate.csv")
CONSTITUENTS = rows("materials/constituents.csv")
FACTOR = {(r["limit"], r["substance"]): float(r["factor"]) for r in SUBSTANCES}


def plain(row):
    """Whether a row is the EU's, or of the trade, and for no kind of product alone."""
    return row["market"] in {"EU", "any"} and not row["products"]


def most(table, limit, use):
    (row,) = [
        row
        for row in table
        if plain(row) and row["limit"] == limit and row["use"] in {use, "any"}
    ]
    return float(row["max_percent"])


# Regulation (EC) 1223/2009, Annex V: limit, leave-on %, rinse-off %.
ANNEX_V = [
    ("benzoic acid", 0.5, 2.5),
    ("benzoic acid, other salts and esters", 0.5, 0.5),
    ("propionic acid", 2.0, 2.0),
    ("salicylic acid", 0.5, 0.5),
    ("sorbic acid", 0.6, 0.6),
    ("o-phenylphenol", 0.15, 0.2),
    ("sulphites", 0.2, 0.2),
    ("methylparaben", 0.4, 0.4),
    ("ethylparaben", 0.4, 0.4),
    ("parabens, total", 0.8, 0.8),
    ("propylparaben and butylparaben", 0.14, 0.14),
    ("dehydroacetic acid", 0.6, 0.6),
    ("formic acid", 0.5, 0.5),
    ("undecylenic acid", 0.2, 0.2),
    ("dichlorobenzyl alcohol", 0.15, 0.15),
    ("imidazolidinyl urea", 0.6, 0.6),
    ("phenoxyethanol", 1.0, 1.0),
    ("dmdm hydantoin", 0.6, 0.6),
    ("benzyl alcohol", 1.0, 1.0),
    ("o-cymen-5-ol", 0.1, 0.1),
    ("mci/mi mixture", 0, 0.0015),
    ("methylisothiazolinone", 0, 0.0015),
    ("chlorhexidine", 0.3, 0.3),
    ("phenoxyisopropanol", 0, 1.0),
    ("diazolidinyl urea", 0.5, 0.5),
    ("chlorphenesin", 0.3, 0.3),
    ("sodium hydroxymethylglycinate", 0.5, 0.5),
    ("benzalkonium chloride", 0.1, 0.1),
    ("iodopropynyl butylcarbamate", 0.01, 0.02),
    ("ethyl lauroyl arginate hcl", 0.4, 0.4),
    ("citric acid and silver citrate", 0.2, 0.2),
]


@pytest.mark.parametrize(("limit", "leave_on", "rinse_off"), ANNEX_V)
def test_preservative_limits_are_those_of_annex_v(limit, leave_on, rinse_off):
    assert most(PRESERVATIVES, limit, "leave-on") == leave_on
    assert most(PRESERVATIVES, limit, "rinse-off") == rinse_off


# Sums over the 31 limits above, %: leave-on 13.35, rinse-off 16.413 (the published
# table has 34 rows, sums 15.05 and 20.113, because sodium benzoate, sodium salicylate,
# potassium sorbate and sodium dehydroacetate repeat the row of their acid, 2.2 and
# 4.2 %, and methyl- and ethylparaben share a row, 0.4 %).
@pytest.mark.parametrize(
    ("use", "total"),
    [
        ("leave-on", 15.05 - 0.5 - 0.5 - 0.6 - 0.6 + 0.4),
        ("rinse-off", 20.113 - 2.5 - 0.5 - 0.6 - 0.6 + 0.4),
    ],
)
def test_the_preservative_table_is_whole(use, total):
    figures = [
        float(row["max_percent"])
        for row in PRESERVATIVES
        if plain(row) and row["use"] in {use, "any"}
    ]
    assert len(figures) == len(ANNEX_V)
    assert sum(figures) == pytest.approx(total)
    assert {row["market"] for row in PRESERVATIVES} >= {"EU", "GB"}


# IUPAC abridged standard atomic weights.
ATOM = {
    "H": 1.008,
    "C": 12.011,
    "O": 15.999,
    "Na": 22.990,
    "K": 39.098,
    "Ca": 40.078,
}


def mass(**atoms):
    return sum(count * ATOM[atom] for atom, count in atoms.items())


BENZOIC = mass(C=7, H=6, O=2)
SORBIC = mass(C=6, H=8, O=2)
SALICYLIC = mass(C=7, H=6, O=3)
PROPIONIC = mass(C=3, H=6, O=2)
ACID_FACTORS = [
    ("benzoic acid", "sodium benzoate", BENZOIC, mass(C=7, H=5, O=2, Na=1)),
    (
        "benzoic acid, other salts and esters",
        "potassium benzoate",
        BENZOIC,
        mass(C=7, H=5, O=2, K=1),
    ),
    ("sorbic acid", "potassium sorbate", SORBIC, mass(C=6, H=7, O=2, K=1)),
    ("salicylic acid", "sodium salicylate", SALICYLIC, mass(C=7, H=5, O=3, Na=1)),
    ("propionic acid", "sodium propionate", PROPIONIC, mass(C=3, H=5, O=2, Na=1)),
    (
        "propionic acid",
        "calcium propionate",
        2 * PROPIONIC,
        mass(C=6, H=10, O=4, Ca=1),
    ),
    (
        "dehydroacetic acid",
        "sodium dehydroacetate",
        mass(C=8, H=8, O=4),
        mass(C=8, H=7, O=4, Na=1),
    ),
    ("formic acid", "sodium formate", mass(C=1, H=2, O=2), mass(C=1, H=1, O=2, Na=1)),
    # 4-hydroxybenzoic acid is an isomer of salicylic acid.
    ("methylparaben", "methylparaben", SALICYLIC, mass(C=8, H=8, O=3)),
    ("ethylparaben", "ethylparaben", SALICYLIC, mass(C=9, H=10, O=3)),
    (
        "propylparaben and butylparaben",
        "propylparaben",
        SALICYLIC,
        mass(C=10, H=12, O=3),
    ),
    (
        "propylparaben and butylparaben",
        "butylparaben",
        SALICYLIC,
        mass(C=11, H=14, O=3),
    ),
    (
        "vitamin a as retinol",
        "retinyl acetate",
        mass(C=20, H=30, O=1),
        mass(C=22, H=32, O=2),
    ),
    (
        "vitamin a as retinol",
        "retinyl palmitate",
        mass(C=20, H=30, O=1),
        mass(C=36, H=60, O=2),
    ),
    ("parabens, total", "methylparaben", SALICYLIC, mass(C=8, H=8, O=3)),
    ("parabens, total", "ethylparaben", SALICYLIC, mass(C=9, H=10, O=3)),
    ("parabens, total", "propylparaben", SALICYLIC, mass(C=10, H=12, O=3)),
    ("parabens, total", "butylparaben", SALICYLIC, mass(C=11, H=14, O=3)),
]


@pytest.mark.parametrize(("limit", "substance", "acid", "salt"), ACID_FACTORS)
def test_acid_factors_are_ratios_of_molar_masses(limit, substance, acid, salt):
    # Printed to four decimals.
    assert FACTOR[limit, substance] == pytest.approx(acid / salt, abs=6e-5)


def test_no_factor_differs_from_one_without_a_molar_mass_behind_it():
    derived = {(limit, substance) for limit, substance, _, _ in ACID_FACTORS}
    assert {pair for pair, factor in FACTOR.items() if factor != 1} == derived


# Worked values beside Annex V entries 1 and 4: % of the salt that reaches the limit.
@pytest.mark.parametrize(
    ("limit", "substance", "use", "salt"),
    [
        ("sorbic acid", "potassium sorbate", "leave-on", 0.80),
        ("benzoic acid", "sodium benzoate", "leave-on", 0.59),
        ("benzoic acid", "sodium benzoate", "rinse-off", 2.95),
        ("dehydroacetic acid", "sodium dehydroacetate", "leave-on", 0.68),
    ],
)
def test_a_limit_for_the_acid_allows_the_published_amount_of_salt(
    limit, substance, use, salt
):
    allowed = most(PRESERVATIVES, limit, use) / FACTOR[limit, substance]
    assert allowed == pytest.approx(salt, abs=0.005)


# Regulation (EC) 1223/2009, Annexes II and III, as amended; leave-on, rinse-off, %.
ANNEX_III = [
    ("methyl eugenol", 0.0002, 0.001),
    ("isoeugenol", 0.02, 0.02),
    ("hydroxycitronellal", 1.0, 1.0),
    ("methyl 2-octynoate", 0.01, 0.01),
    ("rose ketones", 0.02, 0.02),
    ("balsam of peru oil and extract", 0.4, 0.4),
    ("verbena absolute", 0.2, 0.2),
    ("verbena essential oil", 0, 0),
    ("3-propylidenephthalide", 0.01, 0.01),
    ("methyl salicylate", 0.06, 0.06),
    ("hexyl salicylate", 0.3, 0.5),
    ("musk xylene", 0.03, 0.03),
    ("musk ketone", 0.042, 0.042),
    ("safrole", 0.01, 0.01),
    ("laurus nobilis seed oil", 0, 0),
    ("hydroxyisohexyl 3-cyclohexene carboxaldehyde", 0, 0),
    ("butylphenyl methylpropional", 0, 0),
    ("isopropylparaben", 0, 0),
    ("isobutylparaben", 0, 0),
    ("phenylparaben", 0, 0),
    ("benzylparaben", 0, 0),
    ("pentylparaben", 0, 0),
    ("tagetes minuta and patula, oil and extract", 0.01, 0.1),  # 308, 309
    ("tagetes erecta oil and extract", 0, 0),  # Annex II/1383
    ("bht", 0.8, 0.8),  # 325
    ("salicylic acid, other than as preservative", 2.0, 2.0),  # 98
    ("vitamin a as retinol", 0.3, 0.3),  # Regulation (EU) 2024/996
    ("methyl n-methylanthranilate", 0.1, 0.2),  # 323
    ("kojic acid", 0, 0),  # 375, but for face and hands
    ("triphenyl phosphate", 0, 0),  # Annex II/1767
    ("acetylated vetiver oil", 0.1, 0.2),  # 382
    ("water-soluble zinc salts", 1, 1),  # 24
]


@pytest.mark.parametrize(("limit", "leave_on", "rinse_off"), ANNEX_III)
def test_restricted_substances_have_the_limits_of_the_annexes(
    limit, leave_on, rinse_off
):
    assert most(RESTRICTED, limit, "leave-on") == leave_on
    assert most(RESTRICTED, limit, "rinse-off") == rinse_off


# Beside the table above: what the EU limits for some kinds of product alone, plastic
# grains (below), and the trade figure for bergapten, leave-on only.
def test_no_restricted_substance_is_left_unpinned():
    pinned = {limit for limit, _, _ in ANNEX_III}
    named = {row["limit"] for row in RESTRICTED if row["market"] in {"EU", "any"}}
    assert named - pinned == {
        "citral",
        "benzyl salicylate",
        "aluminium, other than of clays and listed colours",
        "furocoumarins as bergapten",
        "plastic beads",
        "plastic glitter",
    }
    bergapten = most(RESTRICTED, "furocoumarins as bergapten", "leave-on")
    assert bergapten == pytest.approx(0.0015)


# Annex XVII to Regulation (EC) 1907/2006, entry 78: less than 0.01 %; grains that rub
# at once, glitter after years. SI 2017/1312 (sold from 19 June 2018), SOR/2017-111
# (from 1 July 2018) and Pub. L. 114-114: none in what is rinsed off.
@pytest.mark.parametrize(
    ("limit", "market", "use", "begins", "high"),
    [
        ("plastic beads", "EU", "any", "2023-10-17", "0.01"),
        ("plastic glitter", "EU", "rinse-off", "2027-10-17", "0.01"),
        ("plastic glitter", "EU", "leave-on", "2029-10-17", "0.01"),
        ("plastic beads", "GB", "rinse-off", "2018-06-19", "0"),
        ("plastic glitter", "GB", "rinse-off", "2018-06-19", "0"),
        ("plastic beads", "CA", "rinse-off", "2018-07-01", "0"),
        ("plastic glitter", "CA", "rinse-off", "2018-07-01", "0"),
        ("plastic beads", "US", "rinse-off", "2018-07-01", "0"),
    ],
)
def test_plastic_grains_are_limited_from_their_day(limit, market, use, begins, high):
    (row,) = [
        row
        for row in RESTRICTED
        if (row["limit"], row["market"], row["use"]) == (limit, market, use)
    ]
    assert (row["from"], row["max_percent"]) == (begins, high)


def test_every_limit_counts_some_substance_and_no_substance_counts_for_nothing():
    limits = {row["limit"] for row in PRESERVATIVES + RESTRICTED}
    assert {row["limit"] for row in SUBSTANCES} == limits


def test_every_part_of_a_preservative_is_limited_or_known_not_to_be_listed():
    ingredients = rows("materials/ingredients.csv")
    preservatives = {r["key"] for r in ingredients if r["category"] == "preservative"}
    parts = {
        row["constituent"] for row in CONSTITUENTS if row["ingredient"] in preservatives
    }
    # Neither is an entry of Annex V.
    not_listed = {"ethylhexylglycerin", "water"}
    assert parts - {row["substance"] for row in SUBSTANCES} == not_listed


# IFRA Standards, phototoxicity, and a safety handbook for tagetes: % leave-on.
@pytest.mark.parametrize(
    ("substance", "percent"),
    [
        ("expressed bergamot oil", 0.4),
        ("expressed lemon oil", 2.0),
        ("expressed bitter orange oil", 1.25),
        ("expressed lime oil", 0.7),
        ("expressed grapefruit oil", 4.0),
        ("angelica root oil", 0.8),
        ("rue oil", 0.15),
        ("cumin oil", 0.4),
        ("tagetes oil", 0.01),
    ],
)
def test_phototoxic_oils_have_the_published_leave_on_limits(substance, percent):
    (row,) = [row for row in SHARED if row["substance"] == substance]
    assert float(row["max_percent"]) == percent
    assert (row["market"], row["group"], row["use"]) == (
        "any",
        "phototoxic oils",
        "leave-on",
    )


def test_the_oils_that_warn_of_the_sun_are_those_the_phototoxic_sum_counts():
    counted = {row["substance"] for row in SHARED}
    held = {row["ingredient"] for row in CONSTITUENTS if row["constituent"] in counted}
    warned = {
        row["key"]
        for row in rows("materials/ingredients.csv")
        if "sun" in row["cautions"].split(";")
    }
    assert held == warned


# Annex III after Regulation (EU) 2023/1545: 24 names in force before and 57 added,
# 81 in all, each above 0.001 % leave-on and 0.01 % rinse-off; the entry numbers of
# the 81 add up to 19372.
def test_the_scent_allergens_are_the_eighty_one_label_names():
    names = {row["label_name"]: row for row in SCENTS if row["market"] == "EU"}
    added = [row for row in names.values() if row["last_day_placing"]]
    assert (len(names), len(added)) == (81, 57)
    entries = [int(r["entry"].removeprefix("Annex III/")) for r in names.values()]
    assert sum(entries) == pytest.approx(19372)
    for row in SCENTS:
        if row["market"] not in {"EU", "GB", "CA"}:
            continue
        assert float(row["leave_on_percent"]) == pytest.approx(0.001)
        assert float(row["rinse_off_percent"]) == pytest.approx(0.01)
    dates = {(r["last_day_placing"], r["last_day_supply"]) for r in names.values()}
    assert dates == {("", ""), ("2026-07-31", "2028-07-31")}


# Great Britain keeps the 24 names of before; Canada takes the EU's by reference
# (SOR/2024-63), the first 24 of them since 12 April 2026.
def test_gb_keeps_the_old_names_and_canada_takes_the_new_ones():
    named = {
        market: {r["label_name"]: r for r in SCENTS if r["market"] == market}
        for market in ("EU", "GB", "CA")
    }
    old = {name for name, row in named["EU"].items() if not row["last_day_placing"]}
    assert set(named["GB"]) == old
    assert set(named["CA"]) == set(named["EU"])
    first = {named["CA"][name]["last_day_placing"] for name in old}
    assert first == {"2026-04-11"}


@pytest.mark.parametrize(
    ("label_name", "substances"),
    [
        ("Citral", {"citral", "neral", "geranial"}),
        ("Pinene", {"pinene", "alpha-pinene", "beta-pinene"}),
        (
            "Terpineol",
            {"terpineol", "alpha-terpineol", "beta-terpineol", "gamma-terpineol"},
        ),
        ("Limonene", {"limonene"}),
    ],
)
def test_isomers_add_up_under_one_label_name(label_name, substances):
    found = {row["substance"] for row in SCENTS if row["label_name"] == label_name}
    assert found == substances


def test_no_substance_counts_toward_two_label_names_of_a_market():
    owners = {}
    for row in SCENTS:
        of = (row["market"], row["substance"])
        assert owners.setdefault(of, row["label_name"]) == row["label_name"]


# Of the 152 collected rows on essential oils, this many name a labelled allergen.
LABELLED_ROWS = 106


def test_the_labelled_constituents_of_the_collected_oils_are_all_recognised():
    known = {row["substance"] for row in SCENTS if row["market"] == "EU"}
    table = collected("constituents.csv", CONSTITUENTS)
    labelled = [row for row in table if row["constituent"] in known]
    assert len(labelled) == LABELLED_ROWS, FIX


# Whole-oil names of Annex III held by the oils of the catalogue.
@pytest.mark.parametrize(
    ("oil", "label_name"),
    [
        ("lavender_oil", "Lavandula Oil/Extract"),
        ("sweet_orange_oil", "Citrus Aurantium Peel Oil"),
        ("bitter_orange_oil", "Citrus Aurantium Peel Oil"),
        ("lemon_oil", "Citrus Limon Peel Oil"),
        ("lemongrass_oil", "Lemongrass Oil"),
        ("spearmint_oil", "Mentha Viridis Leaf Oil"),
        ("bergamot_oil", "Citrus Aurantium Bergamia Peel Oil"),
        ("bergamot_oil_fcf", "Citrus Aurantium Bergamia Peel Oil"),
        ("peppermint_oil", "Mentha Piperita Oil"),
        ("eucalyptus_oil", "Eucalyptus Globulus Oil"),
        ("cedarwood_oil_virginia", "Juniperus Virginiana Oil"),
        ("cedarwood_oil_atlas", "Cedrus Atlantica Oil/Extract"),
        ("patchouli_oil", "Pogostemon Cablin Oil"),
        ("ylang_ylang_oil", "Cananga Odorata Oil/Extract"),
        ("geranium_oil", "Pelargonium Graveolens Flower Oil"),
        ("clove_bud_oil", "Eugenia Caryophyllus Oil"),
        ("clove_leaf_oil", "Eugenia Caryophyllus Oil"),
    ],
)
def test_a_labelled_oil_holds_itself_whole_under_its_label_name(oil, label_name):
    (substance,) = {r["substance"] for r in SCENTS if r["label_name"] == label_name}
    (row,) = [
        row
        for row in CONSTITUENTS
        if row["ingredient"] == oil and row["constituent"] == substance
    ]
    assert float(row["value"]) == pytest.approx(100)


# WHO TRS 953 and TRS 1010, ICH Q1A(R2): long-term test conditions in degC.
@pytest.mark.parametrize(
    ("zone", "at"), [("I", 21), ("II", 25), ("III", 30), ("IVA", 30), ("IVB", 30)]
)
def test_climatic_zones_have_the_published_storage_temperatures(zone, at):
    (row,) = [row for row in CLIMATE if row["zone"] == zone]
    assert row["kind"] == "climatic zone"
    assert (float(row["low_degC"]), float(row["high_degC"])) == (at, at)


# The collected table of 20 temperatures, sums of the low and high ends in degC.
def test_the_climate_table_is_whole():
    assert (len(CLIMATE), len({row["zone"] for row in CLIMATE})) == (20, 20)
    assert sum(float(r["low_degC"]) for r in CLIMATE) == pytest.approx(677.5)
    assert sum(float(r["high_degC"]) for r in CLIMATE) == pytest.approx(729.2)
