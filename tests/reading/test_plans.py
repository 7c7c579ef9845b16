"""Plans and suppliers: what is read, and every problem told at once."""

import shutil
from datetime import date
from pathlib import Path

import pytest

from optimiser.errors import InputError
from optimiser.reading.plans import read_plan

ROOT = Path(__file__).resolve().parents[2]

BAR = '[[batches]]\nscenario = "massage_bar.toml"\n'


@pytest.fixture
def workspace(tmp_path):
    """Return a folder with the shipped catalogues and scenarios."""
    for each in ("catalogues", "scenarios"):
        shutil.copytree(ROOT / each, tmp_path / each)
    return tmp_path


@pytest.fixture
def written(workspace):
    """Return a function that writes a plan and reads it."""

    def write(text, name="scenarios/plan.toml"):
        (workspace / name).write_text(text, encoding="utf-8")
        return read_plan(workspace / name)

    return write


def wrong(written, text):
    with pytest.raises(InputError) as told:
        written(text)
    return [
        (each.field, each.found, each.wrong.partition(";")[0])
        for each in told.value.problems
    ], told.value


def test_a_plan_is_read_with_batches_of_one_scenario_as_one_product(written):
    found = written(
        'title = "Fair"\ntoday = 2026-11-16\nreformulate = true\nwithin = 20\n'
        + BAR
        + 'units = 24\nnet = "60 g"\noverfill = 2\nloss = 3\ndate = 2026-11-20\n'
        + BAR
        + 'size = "1 kg"\ncount = 2\nwithin = 5\n'
        + '[[batches]]\nscenario = "lip_balm.toml"\nreformulate = false\n'
    )
    bar, balm = found.products
    assert (found.title, found.day) == ("Fair", date(2026, 11, 16))
    assert [round(each.kg, 4) for each in bar.batches] == [1.5142, 1.0, 1.0]
    assert [each.day.day for each in bar.batches] == [20, 16, 16]
    assert (bar.moves, bar.within, bar.units) == (True, 5.0, None)
    assert (balm.moves, balm.within, balm.kg) == (False, 20.0, 0.5)


def test_a_day_named_in_the_plan_counts_for_the_shelf(written):
    plain = BAR + "date = 2027-03-01\n"
    early = written("today = 2026-11-16\n" + plain).catalogue.stock
    late = written("today = 2027-03-01\n" + plain).catalogue.stock
    assert {each.lot for each in early} - {each.lot for each in late} == {"A3", "C2"}


def test_what_is_lost_and_filled_over_is_the_workshops_where_nobody_says(written):
    found = written(BAR + 'units = 24\nnet = "60 g"\n')
    assert found.products[0].kg == pytest.approx(24 * 0.06 * 1.02 / 0.97)
    found = written(BAR + 'units = 24\nnet = "60 g"\nloss = 0\noverfill = 0\n')
    assert found.products[0].kg == pytest.approx(24 * 0.06)


def test_every_problem_of_a_plan_is_told_at_once(written):
    problems, error = wrong(
        written,
        "today = 2026-11-16\nreformulat = true\nwithin = 120\n"
        + BAR
        + 'units = 24\ndate = 2026-11-01\nsize = "2 kg"\n'
        + BAR
        + 'net = "60"\nunits = 2.5\nloss = 95\n'
        + '[[batches]]\nscenario = "lip_balmm.toml"\nreformulate = "yes"\n'
        + 'within = "far"\n'
        + "[[batches]]\n",
    )
    assert problems == [
        ("reformulat", "reformulat", "is not a known key of a plan"),
        ("within", "120", "is out of range"),
        ("batches.3.scenario", "lip_balmm.toml", "is not there"),
        ("batches.4.scenario", None, "is missing"),
        ("batches.1.date", "2026-11-01", "is before 2026-11-16, the day of the plan"),
        ("batches.1.net", None, "is missing beside the other"),
        ("batches.1.size", None, "stands beside units"),
        ("batches.2.units", "2.5", "is not a whole number"),
        ("batches.2.loss", "95", "is out of range"),
        ("batches.2.net", "60", "is not a number, a space and a unit"),
        ("batches.3.reformulate", "yes", "is neither true nor false"),
        ("batches.3.within", "far", "is not a number"),
    ]
    assert all(each.fix and each.file for each in error.problems)


def test_a_plan_without_batches_or_of_two_workshops_is_told(written, workspace):
    problems, _ = wrong(written, 'title = "Nothing"\n')
    assert problems == [("batches", None, "is missing")]
    problems, _ = wrong(written, BAR * 201)
    assert problems == [("batches", None, "holds 201 batches, more than 200")]
    shop = workspace / "catalogues" / "workshops"
    (shop / "other").mkdir()
    for each in (shop / "demo").iterdir():
        (shop / "other" / each.name).write_bytes(each.read_bytes())
    other = 'extends = "lip_balm.toml"\nworkshop = "other"\n'
    (workspace / "scenarios" / "mine.toml").write_text(other, encoding="utf-8")
    problems, _ = wrong(written, BAR + '[[batches]]\nscenario = "mine.toml"\n')
    (only,) = problems
    assert only[2].startswith("mixes workshops: mine.toml is of other")


def test_problems_of_the_scenarios_are_told_with_those_of_the_plan(written, workspace):
    bad = 'extends = "lip_balm.toml"\n[limits]\nbeeswaxx = { max = 3 }\n'
    (workspace / "scenarios" / "bad.toml").write_text(bad, encoding="utf-8")
    text = 'within = -1\n[[batches]]\nscenario = "bad.toml"\n'
    problems, _ = wrong(written, text)
    assert [field for field, _, _ in problems] == ["within", "limits.beeswaxx"]


def test_the_same_file_by_another_way_is_the_same_product(written):
    text = BAR + '[[batches]]\nscenario = "../scenarios/massage_bar.toml"\n'
    assert len(written(text).products) == 1


def shop(workspace, suppliers, row):
    folder = workspace / "catalogues" / "workshops" / "demo"
    if suppliers is not None:
        (folder / "suppliers.csv").write_text(suppliers, encoding="utf-8")
    head = "ingredient,pack,unit,price,freight,supplier,keeps_months\n"
    (folder / "prices.csv").write_text(head + row + "\n", encoding="utf-8")


SUPPLIERS = "supplier,freight,free_from,minimum\nNorth,6,90,25\nSouth,,,\n"


def test_suppliers_and_how_long_packs_keep_are_read(written, workspace):
    shop(workspace, SUPPLIERS, "shea_butter,1,kg,14,0,North,24")
    catalogue = written(BAR).catalogue
    north, south = catalogue.suppliers.values()
    assert (north.freight, north.free_from, north.minimum) == (6.0, 90.0, 25.0)
    assert (south.freight, south.free_from, south.minimum) == (0.0, None, 0.0)
    (pack,) = catalogue.prices["shea_butter"]
    assert (pack.supplier, pack.keeps_months, pack.paid) == ("North", 24.0, 14.0)


def test_every_problem_of_suppliers_and_their_packs_is_told(written, workspace):
    suppliers = SUPPLIERS + "North,1,,\nWest,-1,,\n,2,,\nEast,,50,\n"
    shop(workspace, suppliers, "shea_butter,1,kg,14,0,Nort,2.5")
    problems, _ = wrong(written, BAR)
    assert problems == [
        ("supplier", "North", "is in row 2 already"),
        ("freight", "-1", "is negative"),
        ("supplier", None, "is blank"),
        ("free_from", "50", "frees an order of a freight that is not told"),
        ("keeps_months", "2.5", "is no whole number of months"),
        ("supplier", "Nort", "is no supplier of suppliers.csv"),
    ]


def test_without_a_table_of_suppliers_any_name_will_do(written, workspace):
    shop(workspace, None, "shea_butter,1,kg,14,0,the market,")
    catalogue = written(BAR).catalogue
    assert catalogue.suppliers == {}
    assert catalogue.prices["shea_butter"][0].supplier == "the market"
