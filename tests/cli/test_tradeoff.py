"""``optimiser tradeoff`` from the maker's side."""

import json

SCENARIO = "scenarios/massage_bar.toml"


def test_what_each_step_needs_is_one_sentence(run, workspace):  # noqa: ARG001
    told = run("tradeoff", SCENARIO)
    assert told.code == 0
    assert "5 % cheaper for 5.83 points of change; the next 5 % needs 10.4" in told.out
    assert "The elbow is at E" in told.out


def test_a_point_is_written_and_keeps_the_rules(run, workspace):
    told = run("tradeoff", SCENARIO, "--write", "12.5", "point.csv", "--json")
    assert json.loads(told.out)["chosen"]["change"]["by_ingredient"] <= 12.5 + 1e-6
    assert "point.csv: written." in told.err
    assert run("check", workspace / "point.csv", SCENARIO).code == 0


def test_the_curve_is_written_as_a_table(run, workspace):
    run("tradeoff", SCENARIO, "--between", "cost", "firmness", "--csv", "curve.csv")
    head = (workspace / "curve.csv").read_text(encoding="utf-8-sig").splitlines()[0]
    assert head.startswith('point,"firmness at 25 °C, points","cost, EUR/kg",')


def test_a_wrong_name_is_told(run, workspace):  # noqa: ARG001
    told = run("tradeoff", SCENARIO, "--between", "cost", "chnge")
    assert told.code == 1
    assert "the nearest known name is change" in told.err
