"""A property is one row of one table: every layer takes it from there."""

import pytest

from optimiser.domain.properties import PROPERTIES, Property
from optimiser.explaining import check, formulate
from optimiser.presenting import answer_data, as_json, report
from optimiser.presenting.studies.words import axis_words
from optimiser.reading import read_scenario
from optimiser.studies.tradeoff import tradeoff

ROWS = """\
cocoa_butter,sheen,40 degC,60,55,65,GU,,,measured,book,
jojoba_oil,sheen,40 degC,20,18,22,GU,,,measured,book,"""
# Beeswax has no sheen here: over the lipids the scenario could not be judged.
SCENARIO = """\
title = "Sheen"
workshop = "demo"
use = "leave-on"

[base]
"cocoa butter" = 50
"jojoba oil" = 40
"beeswax" = 10

[bands]
"hard butter" = { min = 10, max = 80 }

[limits]
"beeswax" = { min = 10, max = 10 }
"""
WINDOW = '[[windows]]\nproperty = "sheen"\nat = "40 degC"\nmax = 40\n'


@pytest.fixture
def shining(desk, monkeypatch):
    """A desk whose program knows sheen by its one row, and its catalogue figures."""
    row = Property(
        "sheen",
        "GU",
        at=True,
        over="fats",
        most=100.0,
        looked_at=40.0,
        reported_at=(40.0,),
    )
    monkeypatch.setitem(PROPERTIES, "sheen", row)
    desk.add("materials/properties.csv", ROWS)
    return desk


def read(desk, text=""):
    return read_scenario(desk.write("bar.toml", f"{SCENARIO}\n{text}"))


@pytest.mark.parametrize(
    ("over", "part"),
    [
        ("", "fats"),
        ('over = "fats"\n', "fats"),
        ('over = "liquid oil"\n', "liquid oil"),
    ],
)
def test_a_window_is_over_the_part_of_its_property_unless_it_names_one(
    shining, over, part
):
    scenario, catalogue = read(shining, WINDOW + over)
    assert scenario.windows[0].over == part
    answer = formulate(scenario, catalogue)
    rule = next(line for line in answer.rules if line.rule.kind == "window")
    assert rule.rule.id == f"window/sheen/40 degC/{part}/max"
    assert rule.rule.sentence == f"sheen at 40 °C over the {part} at most 40 GU"
    # 60 c + 20 j over c + j = 90: the most of the cheap butter is 45 %.
    if part == "fats":
        cocoa = next(x for x in answer.formula if x.ingredient == "cocoa_butter")
        assert cocoa.percent == pytest.approx(45.0)
        assert rule.value == pytest.approx(40.0)


def test_a_formula_is_checked_against_its_window(shining):
    scenario, catalogue = read(shining, WINDOW)
    checked = check(scenario.base, scenario, catalogue)
    broken = [line for line in checked.lines if line.rule.kind == "window"]
    # 60 * 50 + 20 * 40 over 90
    assert broken[0].value == pytest.approx(3800 / 90)
    assert checked.status == "broken"
    assert checked.missing == ()


def test_it_is_reported_where_nobody_asks_at_its_temperature_and_over_its_part(shining):
    answer = formulate(*read(shining))
    (line,) = (each for each in answer.properties if each.property == "sheen")
    assert (line.at, line.over, line.unit) == (40.0, "fats", "GU")
    assert "sheen at 40 °C, fats" in report(answer, 80)
    told = as_json(answer_data(answer))
    assert '"property": "sheen"' in told


def test_it_is_an_axis_of_a_trade_off_at_its_own_temperature(shining):
    found = tradeoff(*read(shining), ("cost", "less sheen"))
    assert axis_words(found.across) == "sheen at 40 °C"
    assert (found.across.over, found.across.unit) == ("fats", "GU")
    # From 80 % of the butter (60 * 80 + 20 * 10 over 90) to 10 %.
    ends = sorted((found.points[0].across, found.points[-1].across))
    assert ends == pytest.approx([2200 / 90, 5000 / 90])


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("20,18,22,GU", "20,18,22,%", "'%' is not the unit of sheen"),
        ("20,18,22", "20,18,122", "'122' is more than 100"),
        ("20,18,22", "20,-1,22", "'-1' is negative"),
    ],
)
def test_its_rows_are_checked_against_its_unit_and_bounds(shining, old, new, said):
    shining.add("materials/properties.csv", "")
    path = shining.folder / "catalogues/materials/properties.csv"
    path.write_text(path.read_text(encoding="utf-8").replace(old, new))
    assert said in shining.catalogue_said()


def test_a_limit_beyond_its_bounds_is_told(shining):
    said = shining.said(f"{SCENARIO}\n{WINDOW.replace('max = 40', 'max = 450')}")
    assert "'450' is more than 100" in said


def test_without_its_row_it_mixes_by_mass_over_the_product(desk):
    desk.add("materials/properties.csv", ROWS)
    scenario, _ = read(desk, f'{WINDOW}over = "fats"\n')
    assert scenario.windows[0].over == "fats"
    scenario, _ = read(desk, WINDOW)
    assert scenario.windows[0].over == "product"
