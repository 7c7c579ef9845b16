"""Entries of the law by name, and what they do to a product in hand."""

import csv
from datetime import date

import pytest

from optimiser.domain.law import holds, strictest
from optimiser.domain.scenario import Scenario
from optimiser.explaining import check
from optimiser.presenting.check import check_page
from optimiser.presenting.notes import duty_begun, duty_told, law_line
from optimiser.presenting.terminal import as_text
from optimiser.reading import read_catalogue
from optimiser.reading.folders import shipped_folder

SHIPPED = read_catalogue(shipped_folder("catalogues"), None)
LAW = shipped_folder("catalogues") / "markets"
AUTUMN = date(2026, 11, 26)


def asked(product, market="EU", use="leave-on", on=AUTUMN):
    return Scenario(
        title="Bar",
        file="",
        workshop="",
        use=use,
        markets=(market,),
        batch_kg=1.0,
        aims=(),
        product=product,
        on=on,
    )


def limit(name, product, market="EU", use="leave-on", on=AUTUMN):
    """The limit on a substance that counts for a product, percent; None if none."""
    scenario = asked(product, market, use, on)
    rows = strictest(each for each in SHIPPED.substance_limits if holds(each, scenario))
    found = [row.high for row in rows if row.name == name and row.market == market]
    return found[0] if found else None


SALICYLIC = "salicylic acid, other than as preservative"
TAGETES = "tagetes minuta and patula, oil and extract"
ENTRIES = [
    # Annex III/324, Regulations (EU) 2022/1531 and 2023/1545
    ("EU", "methyl salicylate", "lip balm", "leave-on", 0.03),
    ("EU", "methyl salicylate", "massage bar", "leave-on", 0.06),
    ("EU", "methyl salicylate", "face oil", "leave-on", 0.05),
    ("EU", "methyl salicylate", "eye balm", "leave-on", 0.002),
    ("EU", "methyl salicylate", "baby balm", "leave-on", 0),
    ("EU", "methyl salicylate", "children's balm", "leave-on", 0),
    ("EU", "methyl salicylate", "foot scrub bar", "rinse-off", 0.06),
    # Annex V/56
    ("EU", "iodopropynyl butylcarbamate", "lip balm", "leave-on", 0),
    ("EU", "iodopropynyl butylcarbamate", "body lotion", "leave-on", 0),
    ("EU", "iodopropynyl butylcarbamate", "deodorant", "leave-on", 0.0075),
    ("EU", "iodopropynyl butylcarbamate", "foot balm", "leave-on", 0.01),
    ("EU", "iodopropynyl butylcarbamate", "foot scrub", "rinse-off", 0.02),
    ("EU", "iodopropynyl butylcarbamate", "baby foot balm", "leave-on", 0),
    # Annex V/3 and Annex III/98, Regulations (EU) 2019/1966 and 2021/850
    ("EU", "salicylic acid", "baby balm", "leave-on", 0),
    ("EU", "salicylic acid", "foot balm", "leave-on", 0.5),
    ("EU", SALICYLIC, "body lotion", "leave-on", 0.5),
    ("EU", SALICYLIC, "lipstick", "leave-on", 0.5),
    ("EU", SALICYLIC, "foot balm", "leave-on", 2),
    ("EU", SALICYLIC, "foot scrub", "rinse-off", 2),
    ("EU", SALICYLIC, "shampoo bar", "rinse-off", 3),
    ("EU", SALICYLIC, "baby wash", "rinse-off", 0),
    # Annex V/12a, 58 and 59
    ("EU", "propylparaben and butylparaben", "nappy balm", "leave-on", 0),
    ("EU", "ethyl lauroyl arginate hcl", "lip balm", "leave-on", 0),
    ("EU", "citric acid and silver citrate", "eye balm", "leave-on", 0),
    # Annex III/380, Regulation (EU) 2026/78
    ("EU", "hexyl salicylate", "baby balm", "leave-on", 0.1),
    # Regulation (EU) 2024/996, from memory
    ("EU", "vitamin a as retinol", "body lotion", "leave-on", 0.05),
    ("EU", "vitamin a as retinol", "face oil", "leave-on", 0.3),
    # Annex III/375, Regulation (EU) 2024/996
    ("EU", "kojic acid", "hand balm", "leave-on", 1),
    ("EU", "kojic acid", "face scrub", "rinse-off", 1),
    ("EU", "kojic acid", "body lotion", "leave-on", 0),
    # Annex III/308 and 309, Annex II/1383, Regulation (EU) 2018/978
    ("EU", TAGETES, "massage bar", "leave-on", 0.01),
    ("EU", TAGETES, "shower bar", "rinse-off", 0.1),
    ("GB", TAGETES, "shower bar", "rinse-off", 0.1),
    ("EU", "tagetes erecta oil and extract", "shower bar", "rinse-off", 0),
    # Annex III/323, Regulation (EU) 2022/135, after GB had left
    ("EU", "methyl n-methylanthranilate", "massage bar", "leave-on", 0.1),
    ("EU", "methyl n-methylanthranilate", "shower bar", "rinse-off", 0.2),
    ("GB", "methyl n-methylanthranilate", "massage bar", "leave-on", None),
    # Annex V/56: rinse-off for under-3s but for bath, shower and shampoo
    ("EU", "iodopropynyl butylcarbamate", "baby face cleanser", "rinse-off", 0),
    ("EU", "iodopropynyl butylcarbamate", "baby shampoo", "rinse-off", 0.02),
    # SI 2025/413, Schedule; SI 2022/659
    ("GB", "methyl salicylate", "lip balm", "leave-on", 0.03),
    ("GB", "methyl salicylate", "massage bar", "leave-on", 0.06),
    ("GB", "methyl salicylate", "baby balm", "leave-on", 0.02),
    ("GB", "methyl salicylate", "eye balm", "leave-on", 0.002),
    ("GB", "zinc pyrithione", "shampoo", "rinse-off", 0),
    ("GB", SALICYLIC, "body lotion", "leave-on", 0.5),
    ("GB", "hexyl salicylate", "massage bar", "leave-on", None),
    # 21 CFR 700.11 to 700.19, 700.13 (eye area 65 ppm), 73.2725
    ("US", "bithionol", "massage bar", "leave-on", 0),
    ("US", "chloroform", "massage bar", "leave-on", 0),
    ("US", "mercury compounds", "eye balm", "leave-on", 0.0065),
    ("US", "mercury compounds", "massage bar", "leave-on", 0),
    ("US", "ultramarines", "lip balm", "leave-on", 0),
    ("US", "ultramarines", "eye balm", "leave-on", None),
    ("US", "methyl salicylate", "lip balm", "leave-on", None),
    # Cosmetic Ingredient Hotlist
    ("CA", "azelaic acid", "face oil", "leave-on", 14),
    ("CA", "salicylic acid", "foot balm", "leave-on", 2),
    ("CA", "retinal", "body lotion", "leave-on", 0.01),
    # Changes of December 2015 and August 2022, as restated
    ("CA", "mci/mi mixture", "massage bar", "leave-on", 0),
    ("CA", "mci/mi mixture", "shower bar", "rinse-off", 0.0015),
    ("CA", "ethylhexyl ethylhexanoate", "body lotion", "leave-on", 0.1),
    ("CA", "ethylhexyl ethylhexanoate", "foot balm", "leave-on", 0.5),
    ("CA", "ethylhexyl ethylhexanoate", "face oil", "leave-on", 0.6),
    # 21 CFR 250.250
    ("US", "hexachlorophene", "lip balm", "leave-on", 0),
]


@pytest.mark.parametrize(("market", "name", "product", "use", "percent"), ENTRIES)
def test_an_entry_limits_the_kinds_of_product_it_names(
    market, name, product, use, percent
):
    assert limit(name, product, market, use) == percent


def test_every_market_with_limits_has_an_entry_here():
    limited = {each.market for each in SHIPPED.substance_limits} - {"any"}
    assert limited == {market for market, *_ in ENTRIES}


ALUMINIUM = "aluminium, other than of clays and listed colours"
VETIVER = "acetylated vetiver oil"


# Regulation (EU) 2026/909, entries 24, 70, 75, 381 and 382 of Annex III and 1767 of
# Annex II: placing from 1 January 2027, supply until 1 July 2028.
@pytest.mark.parametrize(
    ("name", "product", "use", "percent"),
    [
        ("citral", "lip balm", "leave-on", 0.11),
        ("citral", "deodorant stick", "leave-on", 0.032),
        ("citral", "eye balm", "leave-on", 0.65),
        ("citral", "massage bar", "leave-on", 0.15),
        ("citral", "face oil", "leave-on", 0.15),
        ("citral", "baby balm", "leave-on", 0.15),
        ("citral", "hair oil", "leave-on", 1.2),
        ("citral", "shampoo bar", "rinse-off", 1.2),
        ("citral", "shower bar", "rinse-off", 1.2),
        ("benzyl salicylate", "massage bar", "leave-on", 0.7),
        ("benzyl salicylate", "foot balm", "leave-on", 0.5),
        ("benzyl salicylate", "lip balm", "leave-on", 0.5),
        ("benzyl salicylate", "face oil", "leave-on", 0.2),
        ("benzyl salicylate", "make-up remover", "rinse-off", 0.2),
        ("benzyl salicylate", "shower bar", "rinse-off", 1.3),
        ("benzyl salicylate", "bath melt", "rinse-off", 1.3),
        ("benzyl salicylate", "shampoo bar", "rinse-off", 0.5),
        ("benzyl salicylate", "foot scrub", "rinse-off", 0.5),
        (ALUMINIUM, "deodorant stick", "leave-on", 7.73),
        (ALUMINIUM, "lip balm", "leave-on", 14.62),
        (ALUMINIUM, "foot scrub", "rinse-off", 0.89),
        (ALUMINIUM, "face scrub", "rinse-off", 0.89),
        (ALUMINIUM, "shampoo bar", "rinse-off", 7.14),
        (ALUMINIUM, "hair wax", "leave-on", 6.7),
        (ALUMINIUM, "eye balm", "leave-on", 3.13),
        (ALUMINIUM, "face oil", "leave-on", 10.59),
        (ALUMINIUM, "hand balm", "leave-on", 0.86),
        (ALUMINIUM, "massage bar", "leave-on", 3.81),
        (VETIVER, "deodorant stick", "leave-on", 0.05),
        (VETIVER, "lip balm", "leave-on", 0.05),
        (VETIVER, "massage bar", "leave-on", 0.1),
        (VETIVER, "shower bar", "rinse-off", 0.2),
        ("water-soluble zinc salts", "massage bar", "leave-on", 1),
        ("triphenyl phosphate", "nail balm", "leave-on", 0),
    ],
)
def test_a_limit_that_begins_later_counts_from_its_day(name, product, use, percent):
    assert limit(name, product, use=use, on=date(2026, 12, 31)) is None
    assert limit(name, product, use=use, on=date(2027, 1, 1)) == percent
    supply = {x.scope.supply for x in SHIPPED.substance_limits if x.name == name}
    assert supply == {date(2028, 7, 1)}


# Muscovite KAl3Si3O10(OH)2: 3 x 26.982 of 398.31. Annex IV, entry 119 (kaolin and
# bentonite) is left out of entry 381.
def test_mica_counts_as_aluminium_and_kaolin_does_not():
    shimmer = {"shea_butter": 90.0, "mica": 10.0}
    clay = {"shea_butter": 90.0, "kaolin": 10.0}
    then = date(2027, 2, 1)
    held = SHIPPED.contents["aluminium"]["mica"].high
    assert held == pytest.approx(100 * 3 * 26.982 / 398.31, abs=0.01)
    broken, law, _ = line_of(shimmer, "hand balm", on=then)
    assert (broken, law.kept) == ({ALUMINIUM}, False)
    assert line_of(clay, "hand balm", on=then)[0] == set()
    assert line_of(shimmer, "lip balm", on=then)[0] == set()


@pytest.mark.parametrize(
    ("limit_name", "market", "read"),
    [
        ("citral", "EU", "secondary"),
        ("bht", "EU", "secondary"),
        ("vitamin a as retinol", "EU", "secondary"),
        ("isopropylparaben", "EU", "secondary"),
        ("isopropylparaben", "GB", "secondary"),
        ("mercury compounds", "US", "secondary"),
        ("ultramarines", "US", "retrieved"),
        ("plastic beads", "US", "secondary"),
        ("plastic beads", "EU", "secondary"),
        ("plastic beads", "GB", "secondary"),
        ("plastic glitter", "GB", "secondary"),
        ("plastic beads", "CA", "secondary"),
        ("mci/mi mixture", "CA", "secondary"),
    ],
)
def test_a_row_says_how_it_was_read(limit_name, market, read):
    rows = [x for x in SHIPPED.substance_limits if x.name == limit_name]
    assert {x.scope.read for x in rows if x.market == market} == {read}


# Annex III/98: what was read in the amending acts, and the share for other products
# in what restates them.
def test_salicylic_acid_says_by_kind_how_it_was_read():
    rows = [x for x in SHIPPED.substance_limits if x.name == SALICYLIC]
    graded = {(x.market, x.high): x.scope.read for x in rows}
    assert graded["EU", 2] == "secondary"
    assert graded["EU", 0.5] == graded["EU", 3] == "retrieved"
    assert graded["GB", 2] == graded["GB", 0.5] == "retrieved"
    assert graded["GB", 3] == graded["GB", 0] == "secondary"


# Poisons Standard and Hotlist: above these shares a warning is asked for, %.
@pytest.mark.parametrize(
    ("market", "substance", "percent"),
    [
        ("AU", "expressed bergamot oil", 0.4),
        ("AU", "expressed lemon oil", 0.05),
        ("AU", "expressed lime oil", 0.5),
        ("AU", "expressed bitter orange oil", 1.4),
        ("AU", "tea tree oil", 25),
        ("AU", "methyl salicylate", 5),
        ("AU", "camphor", 2.5),
        ("AU", "estragole", 5),  # fennel oil, new entry of March 2017
        ("AU", "pulegone", 4),
        ("AU", "thujone", 4),
        ("AU", "1,8-cineole", 25),
    ],
)
def test_a_warning_is_asked_for_above_its_share(market, substance, percent):
    (duty,) = [
        each
        for each in SHIPPED.duties
        if each.market == market and each.substance == substance
    ]
    assert (duty.kind, duty.above) == ("label", percent)


# Hotlist, August 2022, as restated: above 0.022 %, for products not in solid form.
def test_canada_asks_for_words_on_eucalyptus_only_where_it_is_not_solid():
    (duty,) = [
        x
        for x in SHIPPED.duties
        if x.substance == "eucalyptus globulus oil" and x.market == "CA"
    ]
    assert (duty.kind, duty.above, duty.words) == ("condition", 0.022, "")
    assert "a solid one needs neither" in duty.text


# Afssaps, August 2008: camphor, menthol and 1,8-cineole for under-3s and 3 to 6.
def test_the_french_agency_advises_on_terpenes_and_that_is_no_law():
    told = [each for each in SHIPPED.duties if each.source == "fr_afssaps_2008"]
    assert {each.substance for each in told} == {"camphor", "menthol", "1,8-cineole"}
    assert all("not law" in each.text and each.kind == "condition" for each in told)


def line_of(formula, product, market="EU", use="leave-on", on=AUTUMN):
    """What is broken of the law of a formula, and the law line of the market."""
    checked = check(formula, asked(product, market, use, on), SHIPPED)
    broken = {
        line.rule.about.name
        for line in checked.lines
        if line.rule.owner == "law" and line.slack is not None and line.slack < -1e-9
    }
    (law,) = checked.basis.law
    return broken, law, checked


# 1.5 % of ylang ylang oil with up to 2.8 % methyl salicylate: 0.042 %.
YLANG = {"cocoa_butter": 98.5, "ylang_ylang_oil": 1.5}


def test_a_lip_balm_is_stopped_where_a_massage_bar_is_not():
    broken, law, _ = line_of(YLANG, "lip balm")
    assert (broken, law.kept) == ({"methyl salicylate"}, False)
    broken, law, _ = line_of(YLANG, "massage bar")
    assert (broken, law.kept) == (set(), True)


# 1.9 % of it: 0.0532 %, over the 0.05 of a face product and under 0.06 elsewhere.
def test_a_face_oil_is_stopped_where_a_massage_bar_is_not():
    formula = {"cocoa_butter": 98.1, "ylang_ylang_oil": 1.9}
    assert line_of(formula, "face oil")[0] == {"methyl salicylate"}
    assert line_of(formula, "massage bar")[0] == set()


# Reference shares of 0.4 % bergamot and 2 % lemon oil: 0.2 / 0.4 + 1.2 / 2 = 1.1.
@pytest.mark.parametrize(
    ("bergamot", "lemon", "share", "use"),
    [
        (0.2, 1.2, 1.1, "leave-on"),
        (0.2, 0.8, 0.9, "leave-on"),
        (2, 2, None, "rinse-off"),
    ],
)
def test_phototoxic_oils_share_one_limit_on_what_stays_on(bergamot, lemon, share, use):
    formula = {
        "cocoa_butter": 100.0 - bergamot - lemon,
        "bergamot_oil": bergamot,
        "lemon_oil": lemon,
    }
    checked = check(formula, asked("massage bar", use=use), SHIPPED)
    shares = [x for x in checked.lines if x.rule.id == "share/phototoxic oils"]
    assert [x.value for x in shares] == (
        [] if share is None else [pytest.approx(share)]
    )
    assert all((x.slack < 0) == (share > 1) for x in shares)
    assert all(x.rule.owner == "safety" and not x.rule.may_ease for x in shares)
    assert all("a habit of the trade, not law" in x.rule.sentence for x in shares)


def not_known(formula, product="massage bar", market="EU"):
    _, _, checked = line_of(formula, product, market)
    return {x.limit.name: (x.oils, x.relative) for x in checked.basis.not_known}


def test_a_content_that_only_a_relative_tells_is_said_to_be_not_known():
    rosemary = {"cocoa_butter": 99.0, "rosemary_oil": 1.0}
    told = not_known(rosemary)
    assert told == {"methyl eugenol": (("rosemary oil",), "basil oil")}
    assert not_known(rosemary, market="US") == {}
    mandarin = {"cocoa_butter": 99.0, "mandarin_oil": 1.0}
    assert "furocoumarins as bergapten" in not_known(mandarin)


@pytest.mark.parametrize(
    "formula",
    [
        {"cocoa_butter": 99.0, "tea_tree_oil": 1.0},  # has a figure of its own
        {"cocoa_butter": 99.99995, "rosemary_oil": 0.00005},  # too little to matter
        {"cocoa_butter": 99.0, "menthol": 1.0},  # a substance by itself
        {"cocoa_butter": 99.0, "patchouli_oil": 1.0},  # no wood is known to hold any
        {"cocoa_butter": 100.0},
    ],
)
def test_nothing_is_said_to_be_not_known_where_it_is_or_could_not_matter(formula):
    assert "methyl eugenol" not in not_known(formula)


@pytest.mark.parametrize("product", ["baby balm", "kids' balm"])
def test_what_is_not_for_small_children_is_stopped(product):
    broken, _, _ = line_of(YLANG, product)
    assert "methyl salicylate" in broken


# 1 % lemon oil with up to 2.3 % geranial and more neral; 3 % of it on lips.
def test_a_rule_that_begins_within_a_year_is_told_beforehand_with_what_there_is():
    lemon = {"cocoa_butter": 97.0, "lemon_oil": 3.0}
    broken, law, _ = line_of(lemon, "lip balm")
    assert "citral" not in broken
    (coming,) = [each for each in law.coming if each.limit.name == "citral"]
    held = sum(
        3.0 * SHIPPED.contents[part]["lemon_oil"].high / 100
        for part in ("citral", "neral", "geranial")
        if "lemon_oil" in SHIPPED.contents.get(part, {})
    )
    assert coming.has == pytest.approx(held)
    assert (coming.limit.high, coming.limit.scope.begins) == (0.11, date(2027, 1, 1))
    assert coming.limit.scope.supply == date(2028, 7, 1)
    later, law, _ = line_of(lemon, "lip balm", on=date(2027, 2, 1))
    assert ("citral" in later) == (held > 0.11)
    assert not law.coming
    _, early, _ = line_of(lemon, "lip balm", on=date(2025, 6, 1))
    assert not early.coming


def names(market, on=AUTUMN):
    # 1 % lavender oil in a balm (worked example of the collected label rules)
    formula = {"cocoa_butter": 99.0, "lavender_oil": 1.0}
    _, _, checked = line_of(formula, "massage bar", market, on=on)
    return {each.name for each in checked.label_names}


def test_gb_names_the_old_scent_allergens_and_the_eu_the_new_ones_too():
    new = {"Linalyl Acetate", "Camphor", "Terpineol", "Lavandula Oil/Extract"}
    assert names("EU") >= {"Linalool", *new}
    assert "Linalool" in names("GB")
    assert not names("GB") & new
    assert names("CA") == names("EU")
    assert names("US") == names("AU") == set()


def test_a_name_is_asked_for_from_the_day_after_the_last_without_it():
    assert "Linalyl Acetate" not in names("EU", date(2026, 7, 31))
    assert "Linalyl Acetate" in names("EU", date(2026, 8, 1))


@pytest.mark.parametrize("market", ["EU", "GB", "US", "CA", "AU"])
def test_a_markets_limits_say_how_each_was_read(market):
    _, law, _ = line_of(YLANG, "massage bar", market)
    assert law.limits == sum(law.read.values()) > 0
    assert law.duties


@pytest.mark.parametrize(
    ("market", "gaps"),
    [
        ("CA", ("most of the Hotlist",)),
        ("AU", ("most of the Poisons Standard",)),
        ("EU", ()),
    ],
)
def test_a_market_of_which_little_is_here_says_so_in_its_line(market, gaps):
    _, law, _ = line_of(YLANG, "massage bar", market)
    assert law.gaps == gaps
    told = law_line(law, brief=True)
    assert told.endswith(f"NOT here: {gaps[0]})") if gaps else "NOT here" not in told


def test_no_row_claims_to_be_read_where_its_source_is_from_memory():
    recalled = {
        key for key, it in SHIPPED.sources.items() if it.reference.endswith("memory")
    }
    for name in ("preservatives", "restricted", "scent_allergens", "duties"):
        with (LAW / f"{name}.csv").open(encoding="utf-8", newline="") as file:
            for row in csv.DictReader(file):
                assert row["source"] not in recalled or row["read"] == "memory", row


def test_bergamot_over_its_share_asks_for_a_warning_in_australia():
    strong = {"cocoa_butter": 99.0, "bergamot_oil": 1.0}
    weak = {"cocoa_butter": 99.7, "bergamot_oil": 0.3}

    def told(formula):
        _, law, _ = line_of(formula, "massage bar", "AU")
        return {each.about for each in law.duties}

    assert told(strong) - told(weak) == {"bergamot oil, expressed"}


def test_tea_tree_oil_is_pending_in_the_eu_and_not_in_gb():
    balm = {"cocoa_butter": 99.0, "tea_tree_oil": 1.0}
    told = {}
    for market in ("EU", "GB"):
        _, law, _ = line_of(balm, "foot balm", market)
        told[market] = {d.kind: d.text for d in law.duties if "pending" in d.kind}
    assert told["EU"]["pending"].startswith("proposed as toxic")
    assert told["GB"]["none pending"].startswith("no classification")
    assert [len(each) for each in told.values()] == [1, 1]


def test_nothing_is_told_as_pending_where_nothing_is_proposed():
    rows = [x for x in SHIPPED.duties if "pending" in x.kind and "tea" in x.about]
    for told in (duty_told, duty_begun):
        heads = {each.market: told(each).partition(":")[0] for each in rows}
        assert heads == {"EU": "EU, pending, tea tree oil", "GB": "GB, tea tree oil"}


@pytest.mark.parametrize("market", ["EU", "GB"])
def test_a_short_line_of_law_tells_limits_that_were_not_read_in_the_text(market):
    _, law, _ = line_of({"cocoa_butter": 100.0}, "balm", market)
    for brief in (True, False):
        told = law_line(law, brief=brief, whole=False)
        assert f"{law.read['secondary']} second-hand" in told
        assert f"{law.read['memory']} from memory" in told


def test_words_of_the_law_call_nothing_safe():
    for duty in SHIPPED.duties:
        assert " safe " not in f" {duty.text} "
        assert "compliant" not in duty.text


def test_a_page_tells_at_once_what_is_passed_and_counts_what_is_kept_beforehand():
    page = check_page(line_of({"cocoa_butter": 97.0, "lemon_oil": 3.0}, "balm")[2])
    text = " ".join(as_text(page, 100).split())
    held = "citral at most 0.15 %; here up to 0.11 %"
    assert "; 1 more begins within a year and is kept." in text
    assert held not in text
    page = check_page(line_of({"cocoa_butter": 99.0, "lemongrass_oil": 1.0}, "balm")[2])
    text = " ".join(as_text(page, 100).split())
    over = (
        "EU from 2027-01-01: citral at most 0.15 %; here up to 0.85 %, which is OVER it"
    )
    assert over in text
    assert "is kept." not in text


# The US list of tree nuts lost coconut in January 2025 (guidance of the agency).
@pytest.mark.parametrize("market", ["US", "EU"])
def test_coconut_oil_is_on_no_list_and_was_on_the_american_one(market):
    checked = line_of({"coconut_oil": 100.0}, "lip balm", market)[2]
    text = " ".join(as_text(check_page(checked, full=True), 100).split())
    told = "no tree nut on any list here; the US list named it until January 2025"
    assert f"coconut oil: {told}" in text
