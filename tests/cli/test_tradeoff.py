"""``optimiser tradeoff`` from the maker's side."""

import csv
import io
import json

import pytest

from optimiser.reading import read_scenario
from optimiser.studies.tradeoff import curve

pytestmark = pytest.mark.usefixtures("asked_once")
SCENARIO, SMALL = "scenarios/massage_bar.toml", "scenarios/bar.toml"
SCENTED = """\
extends = "bar.toml"
[base]
"sunflower oil" = 30
"lavender oil" = 1
[pins]
"lavender oil" = 1
"""


def test_what_each_step_needs_is_one_sentence(run, workspace):  # noqa: ARG001
    told = run("tradeoff", SCENARIO)
    assert told.code == 0
    first = " ".join(" ".join(told.out.splitlines()[:7]).split())
    assert "5 % cheaper if 7.23 % of the formula is different from the base;" in first
    assert "the next 5 % needs 10.9 and the next 14." in first
    assert "The bargain turns at K (36.17 % different)" in first
    assert "The formula at K, %: cocoa butter 30.0," in " ".join(told.out.split())
    full = run("tradeoff", SCENARIO, "--full").out
    assert "15 more points are left out here" in told.out
    assert "left out here" not in full
    assert "COST AS IT FALLS" in full


def test_the_turn_is_written_by_either_of_its_names(run, workspace):
    told = run("tradeoff", SMALL, "--write", "turn", "turn.csv").out
    letter = told.partition("The bargain turns at ")[2][0]
    for name in ("elbow", letter):
        assert run("tradeoff", SMALL, "--write", name, f"{name}.csv").code == 0
    files = [workspace / f"{name}.csv" for name in ("turn", "elbow", letter)]
    assert len({file.read_bytes() for file in files}) == 1


def test_a_point_is_written_and_keeps_the_rules(run, workspace):
    told = run("tradeoff", SMALL, "--write", "5", "point.csv", "--json")
    assert json.loads(told.out)["chosen"]["change"]["by_ingredient"] <= 5 + 1e-6
    assert "point.csv: written." in told.err
    assert run("check", workspace / "point.csv", SMALL).code == 0


def test_the_curve_is_written_as_a_table(run, workspace):
    run("tradeoff", SMALL, "--between", "cost", "firmness", "--csv", "curve.csv")
    head = (workspace / "curve.csv").read_text(encoding="utf-8-sig").splitlines()[0]
    assert head.startswith('point,firmness at 25 °C,"cost, EUR/kg",')


def test_a_wrong_name_is_told(run, workspace):  # noqa: ARG001
    told = run("tradeoff", SCENARIO, "--between", "cost", "chnge")
    assert told.code == 1
    assert "the nearest known names are change, kind change" in told.err


@pytest.mark.parametrize("value", ["nan", "inf", "-inf", "1e300", "-5"])
def test_a_number_off_the_curve_is_told(run, workspace, value):
    told = run("tradeoff", "scenarios/bar.toml", "--write", value, "bar.csv")
    assert told.code == 1
    assert f"option --write: '{value}' is no point of the curve" in told.err
    assert not (workspace / "bar.csv").exists()


def test_a_temperature_of_no_kitchen_is_told(run, workspace):  # noqa: ARG001
    for degrees in ("900", "-51", "9" * 400):
        told = run(
            "tradeoff", SCENARIO, "--between", f"solid fat at {degrees} degC", "cost"
        )
        assert told.code == 1
        assert "name one from -50 to 300 degC" in told.err


def test_a_curve_of_another_scenario_is_replaced(run, workspace):
    (workspace / "scenarios" / "scented.toml").write_text(SCENTED, encoding="utf-8")
    scented = "scenarios/scented.toml"
    for scenario in (scented, "scenarios/bar.toml", scented):
        assert run("tradeoff", scenario, "--csv", "curve.csv").code == 0
    head = (workspace / "curve.csv").read_text(encoding="utf-8-sig").splitlines()[0]
    assert "lavender oil" in head


def test_a_file_of_something_else_is_refused_before_solving(
    run, workspace, monkeypatch
):
    monkeypatch.setattr("optimiser.studies.tradeoff.tradeoff", None)
    for option in (("--csv",), ("--write", "elbow")):
        (workspace / "mine.csv").write_text("point,mine\n", encoding="utf-8")
        told = run("tradeoff", SCENARIO, *option, "mine.csv")
        assert (told.code, told.out) == (1, "")
        assert "mine.csv: is there already and was written by something" in told.err


def test_a_point_is_written_as_a_scenario_where_the_file_is_one(run, workspace):
    done = run("tradeoff", SMALL, "--write", "elbow", "scenarios/point.toml")
    assert done.err == "scenarios/point.toml: written.\n"
    text = (workspace / "scenarios" / "point.toml").read_text(encoding="utf-8")
    first = text.splitlines()[0]
    assert first.startswith("# A point of a trade-off: its formula as the base")
    aims, own = (
        [aim.name for aim in read_scenario(workspace / file)[0].aims]
        for file in ("scenarios/point.toml", SMALL)
    )
    assert aims == ["change", *(aim for aim in own if aim != "change")]
    assert len(aims) > 1
    table = run("tradeoff", SMALL, "--write", "elbow", "point.csv", "--json")
    assert table.code == 0
    rows = csv.DictReader(io.StringIO((workspace / "point.csv").read_text("utf-8-sig")))
    wanted = {row["ingredient"]: float(row["percent"]) for row in rows}
    told = json.loads(run("formulate", "scenarios/point.toml", "--json").out)
    found = {x["ingredient"]: x["percent"] for x in told["formula"] if x["percent"]}
    assert found == pytest.approx(wanted, abs=0.01)
    again = run("tradeoff", SMALL, "--write", "A", "scenarios/point.toml")
    assert again.code == 0  # its first line tells what it is, so it is written over


def test_a_point_is_not_written_over_another_scenario(run, workspace):
    before = (workspace / "scenarios" / "clash.toml").read_text(encoding="utf-8")
    done = run("tradeoff", SMALL, "--write", "elbow", "scenarios/clash.toml")
    assert done.code == 1
    assert "was written by something else" in done.err
    assert (workspace / "scenarios" / "clash.toml").read_text("utf-8") == before


def test_a_curve_that_the_keyboard_ends_is_shown_and_written(
    run, workspace, monkeypatch
):
    asked, solve = [], curve._Asked.solve

    def until(self, value):
        asked.append(value)
        if len(asked) > 2:
            raise KeyboardInterrupt
        return solve(self, value)

    monkeypatch.setattr(curve._Asked, "solve", until)
    done = run("tradeoff", SMALL, "--between", "cost", "count", "--csv", "curve.csv")
    assert (done.code, len(asked)) == (1, 3)
    assert "Stopped: these points are found" in done.out
    written = (workspace / "curve.csv").read_text(encoding="utf-8-sig")
    assert [row["point"] for row in csv.DictReader(io.StringIO(written))] == ["A"]
