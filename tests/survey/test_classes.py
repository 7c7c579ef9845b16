"""What is made of a class of recipes stays what a maker would call that class.

Each class of the published recipes: its survey's scenario, four variants, the closest
formula without its main ingredient, and a version that keeps its shape at 30 deg C.
"""

from pathlib import Path

import pytest
from msgspec.structs import replace

from optimiser.domain.material import PARTS, Origin
from optimiser.domain.scenario import Window
from optimiser.explaining import Clash, formulate
from optimiser.presenting.survey.scenario import survey_scenario
from optimiser.reading import read_scenario
from optimiser.studies.substitute import kept_out, substitute
from optimiser.studies.survey import Asked, survey
from optimiser.studies.variants import variants

SCENARIOS = Path(__file__).resolve().parents[2] / "scenarios"
BUTTERS = ("hard butter", "soft butter")
LIPIDS = tuple(PARTS["lipids"])
# Percent of the product that makers of these have (common practice), and the least
# firmness of their lipids at 25 deg C.
HELD = {
    "lotion bar": (
        {("wax",): (15, 40), BUTTERS: (20, 70), ("liquid oil",): (5, 40)},
        50,
    ),
    "lip balm": (
        {("wax",): (12, 30), BUTTERS: (20, 50), ("liquid oil",): (30, 60)},
        40,
    ),
    "salve": ({("wax",): (8, 30), ("liquid oil",): (60, 92)}, 15),
    "balm": ({("wax",): (5, 40), LIPIDS: (90, 100)}, 15),
    "emulsified scrub": (
        {("exfoliant",): (30, 70), ("emulsifier",): (2, 15), LIPIDS: (25, 70)},
        0,
    ),
    "solid scrub bar": (
        {("exfoliant",): (10, 60), BUTTERS: (25, 80), ("emulsifier",): (1, 15)},
        30,
    ),
    "bath melt": ({BUTTERS: (60, 95), ("wax",): (0, 5)}, 25),
    "deodorant stick": ({("powder",): (15, 50), BUTTERS: (20, 70)}, 15),
}
# Where nothing else that the recipes name can do what goes, a rule that says so:
# without beeswax such a bar is soft, and nobody has so much salt or shea butter.
NO_OTHER = {
    "lotion bar": {"window/firmness/25 degC/lipids/min"},
    "emulsified scrub": {"limit/fine sea salt/max"},
    "deodorant stick": {"limit/refined shea butter/max"},
}


@pytest.fixture(scope="module")
def asked(written, catalogue, knowledge):
    """Return a function that gives the scenario of a class, as it is written."""

    def of(product_class):
        wanted = Asked(product_class, workshop="demo", markets=("EU",))
        found = survey(written, catalogue, knowledge, {}, wanted)
        text = survey_scenario(found, catalogue)
        return read_scenario(SCENARIOS / "of_a_class.toml", text=text)

    return of


def what_is_off(product_class, formula, catalogue):
    """Return what a maker of a class would not call so."""
    shares, _ = HELD[product_class]
    told = []
    for categories, (least, most) in shares.items():
        has = sum(
            percent
            for key, percent in formula.items()
            if catalogue.ingredients[key].category in categories
        )
        if not least - 0.05 <= has <= most + 0.05:
            told.append(f"{has:.1f} % of {' and '.join(categories)}")
    return told


def firmness(lines):
    return next(
        (x.value for x in lines if (x.property, x.at, x.over) == FIRM and x.value), 0.0
    )


FIRM = ("firmness", 25.0, "lipids")


@pytest.mark.parametrize("product_class", HELD)
def test_answer_variants_and_substitutes_stay_what_makers_call_the_class(
    product_class, asked
):
    scenario, catalogue = asked(product_class)
    least = HELD[product_class][1]
    answer = formulate(scenario, catalogue)
    assert what_is_off(product_class, scenario.base, catalogue) == []
    assert answer.status == "answered"

    found = variants(scenario, catalogue, 3, seconds=6.0)
    assert found.variants
    for each in found.variants:
        made = each.formula
        assert what_is_off(product_class, made.amounts, catalogue) == []
        assert firmness(made.properties) >= least

    main = max(scenario.base, key=scenario.base.get)
    other = substitute(scenario, catalogue, [main], runners_up=0)
    if isinstance(other, Clash):
        rules = {rule.id for rule in other.rules}
        assert NO_OTHER[product_class] <= rules
        assert kept_out(scenario, catalogue, [main])  # and it is said what would do
    else:
        assert product_class not in NO_OTHER
        assert main not in other.formula.amounts
        assert what_is_off(product_class, other.formula.amounts, catalogue) == []


@pytest.mark.parametrize("product_class", [x for x in HELD if HELD[x][1]])
def test_a_version_for_hot_rooms_is_still_of_the_class(product_class, asked):
    scenario, catalogue = asked(product_class)
    origin = Origin("hot.toml", field="windows")
    hot = Window("firmness", 30.0, None, "lipids", 20.0, None, None, origin)
    answer = formulate(replace(scenario, windows=(*scenario.windows, hot)), catalogue)
    assert answer.status == "answered"
    used = {each.ingredient: each.percent for each in answer.formula}
    assert what_is_off(product_class, used, catalogue) == []
