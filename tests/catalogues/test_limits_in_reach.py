"""Every limit and duty can be reached by an ingredient, or says why none can."""

import csv
import pathlib

import pytest

from optimiser.domain.catalogue import Catalogue
from optimiser.explaining import check
from optimiser.reading.catalogue import read_catalogue
from optimiser.reading.folders import shipped_folder
from tests.rules import workbench as wb

SHIPPED: Catalogue = read_catalogue(shipped_folder("catalogues"), None)
TABLE = pathlib.Path(__file__).parent / "out_of_reach.csv"
with TABLE.open(encoding="utf-8", newline="") as file:
    REASONS = {row["substance"]: row["reason"] for row in csv.DictReader(file)}


def reach(factors):
    """What each ingredient by itself counts as, percent, by its highest contents."""
    found = {}
    for substance, factor in factors.items():
        for key, figure in SHIPPED.contents.get(substance, {}).items():
            found[key] = found.get(key, 0.0) + factor * figure.high
    return found


def out_of_reach():
    """The substances of limits that no ingredient of the catalogue can reach."""
    found = {}
    for limit in SHIPPED.substance_limits:
        if not any(most > limit.high for most in reach(limit.factors).values()):
            found |= dict.fromkeys(limit.factors, limit.name)
    for shared in SHIPPED.shared_limits:
        for substance, cap in shared.caps.items():
            if not any(most > cap for most in reach({substance: 1.0}).values()):
                found[substance] = shared.group
    return found


def duties_out_of_reach():
    """The substances of duties that no ingredient of the catalogue can reach."""
    return {
        duty.substance: duty.about
        for duty in SHIPPED.duties
        if duty.substance is not None
        and not any(most > duty.above for most in reach({duty.substance: 1.0}).values())
    }


@pytest.mark.parametrize("walked", [out_of_reach, duties_out_of_reach])
def test_every_limit_and_duty_is_reached_by_an_ingredient_or_says_why_by_none(walked):
    silent = {each: why for each, why in walked().items() if each not in REASONS}
    assert not silent


def test_no_reason_is_given_for_what_an_ingredient_holds_but_too_little_of_it():
    held = {each for each in REASONS if SHIPPED.contents.get(each)}
    assert held == {"pulegone"}
    assert duties_out_of_reach()["pulegone"] == "pulegone, pennyroyal oil"
    assert all(REASONS.values())


def test_the_limits_that_oils_of_the_catalogue_are_known_for_are_in_reach():
    in_reach = {
        limit.name
        for limit in SHIPPED.substance_limits
        if any(most > limit.high for most in reach(limit.factors).values())
    }
    assert in_reach >= {
        "methyl eugenol",
        "isoeugenol",
        "methyl salicylate",
        "furocoumarins as bergapten",
        "phenoxyethanol",
        "diazolidinyl urea",
        "iodopropynyl butylcarbamate",
        "safrole",
        "tagetes minuta and patula, oil and extract",
        "methyl n-methylanthranilate",
        "aluminium, other than of clays and listed colours",
    }


# Constituents that limits and cautions speak of: an oil, and the high end in percent
# by the source that the row names.
HELD = [
    ("bergamot_oil", "bergapten", 0.32),  # Mondello et al. 1993
    ("lime_oil", "bergapten", 0.33),
    ("lemon_oil", "bergapten", 0.035),
    ("bitter_orange_oil", "bergapten", 0.073),
    ("grapefruit_oil", "bergapten", 0.19),
    ("bergamot_oil_fcf", "bergapten", 0.0091),
    ("clove_bud_oil", "methyl eugenol", 0.13),  # EFSA 2023
    ("clove_leaf_oil", "methyl eugenol", 0.13),
    ("tea_tree_oil", "methyl eugenol", 0.0552),  # Raymond et al. 2017
    ("clove_bud_oil", "eugenol", 90),
    ("peppermint_oil", "menthol", 55),
    ("peppermint_oil", "pulegone", 4),
    ("eucalyptus_oil", "1,8-cineole", 95),
    ("rosemary_oil", "camphor", 21),
    ("lemon_oil", "geranial", 2.3),
    ("ylang_ylang_oil", "methyl salicylate", 2.8),
    ("ylang_ylang_oil", "benzyl salicylate", 12.9),
    ("lavender_oil", "coumarin", 0.1),
    ("geranium_oil", "citronellol", 43),
    ("nutmeg_oil", "safrole", 2.5),  # Ph. Eur.; EFSA 2023 found 2.3
    ("nutmeg_oil", "methyl eugenol", 0.33),  # EFSA 2023
    ("cinnamon_leaf_oil", "safrole", 3),  # Ph. Eur.
    ("basil_oil", "estragole", 87),  # ISO 11043
    ("tarragon_oil", "estragole", 82),  # ISO 10115
    ("fennel_oil", "estragole", 10),  # Ph. Eur.
    ("star_anise_oil", "estragole", 6),  # Ph. Eur.
    ("sage_oil", "thujone", 51.5),  # ISO 9909, both thujones
    ("sage_oil", "camphor", 24.5),
    ("wintergreen_oil", "methyl salicylate", 99.5),
    ("mandarin_oil", "methyl n-methylanthranilate", 0.6),  # Ph. Eur.
]


@pytest.mark.parametrize(("oil", "constituent", "high"), HELD)
def test_an_oil_holds_what_limits_speak_of_up_to_the_published_high_end(
    oil, constituent, high
):
    figure = SHIPPED.contents[constituent][oil]
    assert figure.high == pytest.approx(high)
    assert figure.sources


def broken(formula, **asked):
    scenario = wb.scenario(**asked)
    checked = check(formula, scenario, SHIPPED)
    return {
        line.rule.id: line.rule
        for line in checked.lines
        if line.slack is not None and line.slack < -1e-9
    }


# The least percent of each oil, leave-on, that holds so much of what is limited:
# safrole 0.01 of 2.5, methyl eugenol 0.0002 of 0.33, methyl salicylate 0.06 of 99.5.
@pytest.mark.parametrize(
    ("oil", "percent", "stopped"),
    [
        ("nutmeg_oil", 0.41, {"safrole", "methyl eugenol"}),
        ("nutmeg_oil", 0.3, {"methyl eugenol"}),
        ("nutmeg_oil", 0.0006, set()),
        ("cinnamon_leaf_oil", 0.34, {"safrole"}),
        ("wintergreen_oil", 0.07, {"methyl salicylate"}),
        ("wintergreen_oil", 0.06, set()),
        ("tagetes_oil", 0.02, {"tagetes minuta and patula, oil and extract"}),
        ("tagetes_oil", 0.009, set()),
    ],
)
@pytest.mark.parametrize("market", ["EU", "GB"])
def test_an_oil_is_stopped_where_what_it_holds_passes_its_limit(
    oil, percent, stopped, market
):
    found = broken({"cocoa_butter": 100.0 - percent, oil: percent}, markets=(market,))
    law = {rule.about.name for rule in found.values() if rule.owner == "law"}
    if market == "GB" and "methyl salicylate" in stopped:
        assert law >= stopped
    assert law == stopped


@pytest.mark.parametrize("oil", ["clove_bud_oil", "clove_leaf_oil"])
def test_three_percent_of_clove_oil_on_the_skin_is_stopped_by_law_and_by_habit(oil):
    found = broken({"cocoa_butter": 97.0, oil: 3.0}, markets=("EU",))
    law = [rule for rule in found.values() if rule.owner == "law"]
    assert [rule.about.name for rule in law] == ["methyl eugenol"]
    habit = [rule for rule in found.values() if rule.owner == "practice"]
    assert [rule.about.ingredient for rule in habit] == [oil]
    assert habit[0].limit == pytest.approx({"clove_bud_oil": 0.5}.get(oil, 0.6))


@pytest.mark.parametrize(
    ("oil", "percent", "stopped"),
    [
        ("bergamot_oil", 0.4, False),
        ("bergamot_oil", 0.5, True),
        ("lime_oil", 0.4, False),
        ("lime_oil", 0.5, True),
        ("bergamot_oil_fcf", 3.0, False),
    ],
)
def test_bergapten_in_what_stays_on_the_skin_is_a_habit_and_not_law(
    oil, percent, stopped
):
    found = broken({"cocoa_butter": 100.0 - percent, oil: percent}, markets=("EU",))
    told = [r for r in found.values() if "bergapten" in r.id]
    assert bool(told) == stopped
    assert all(rule.owner == "safety" and not rule.may_ease for rule in told)
    assert all("law" not in rule.id for rule in told)
