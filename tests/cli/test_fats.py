"""``optimiser fats``: numbers and a plot that fit, from a formula or a scenario."""

import json

import pytest

from optimiser.reading import shipped_folder

SCENARIOS = shipped_folder("scenarios")
FORMULA = "ingredient,percent\ncocoa butter,60\ncoconut oil,20\nbeeswax,5\n{},15\n"


@pytest.fixture
def formula(tmp_path):
    """Return a function that writes a formula with some last ingredient."""

    def write(last="sweet almond oil"):
        path = tmp_path / "bar.csv"
        path.write_text(FORMULA.format(last), encoding="utf-8")
        return path

    return write


@pytest.mark.parametrize("columns", [60, 80, 120])
def test_the_curve_fits_the_terminal(run, formula, monkeypatch, columns):
    monkeypatch.setenv("COLUMNS", str(columns))
    done = run("fats", formula())
    assert done.code == 0
    assert max(map(len, done.out.splitlines())) <= columns
    assert done.out.count(" +-") == 15  # 10, 12.5 ... 45 degrees


def test_the_curve_of_a_scenarios_answer_is_drawn(run):
    done = run("fats", SCENARIOS / "massage_bar_hot.toml", "--step", "5")
    assert done.code == 0
    assert done.out.startswith("Massage bar for a hot climate (demo)\n")
    assert "30 % of the fat at 20 °C" in done.out.splitlines()[2]
    assert "melted at 45.5 °C" in " ".join(done.out.split())
    assert "softens fastest from 25 to 30 °C" in " ".join(done.out.split())
    lines = [line for line in done.out.splitlines() if " +-" in line]
    assert [float(line.split()[0]) for line in lines] == [
        10,
        15,
        20,
        25,
        30,
        35,
        40,
        45,
    ]


def test_the_curve_as_json_falls_and_has_its_band(run, formula):
    done = run("fats", formula(), "--json", "--step", "1")
    told = json.loads(done.out)
    points = told["points"]
    assert [each["degC"] for each in points] == list(range(10, 46))
    solids = [each["all_solids_by_model"] for each in points]
    assert solids == sorted(solids, reverse=True)
    assert {each["doubt"] for each in points} == {8.0, 12.0}
    both = [each for each in points if each["straight_sum"] is not None]
    assert all(each["second_opinion"] < each["straight_sum"] + 0.5 for each in both)
    assert 45.0 > told["melted_at_degC"] > 30.0


def test_a_butter_that_is_not_known_gets_no_second_opinion(run, formula):
    done = run("fats", formula("murumuru butter"))
    assert done.code == 0
    assert "No second opinion: too little is known of murumuru butter." in done.out
    assert "Solid by straight sum: " in done.out
    assert "+-" not in done.out  # the doubt of a second opinion
    assert "o second opinion," not in done.out
    assert "o straight sum" in " ".join(done.out.split())


def test_a_scenario_that_clashes_says_why(run, tmp_path):
    (tmp_path / "clash.toml").write_text(
        f'extends = "{SCENARIOS / "massage_bar.toml"}"\n'
        '[bands]\n"hard butter" = { min = 90, max = 95 }\n',
        encoding="utf-8",
    )
    done = run("fats", tmp_path / "clash.toml")
    assert done.code == 3
    assert "No formula keeps every rule." in done.out
