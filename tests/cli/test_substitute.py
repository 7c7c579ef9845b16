"""``optimiser substitute`` from the maker's side."""

import json

import pytest


def test_a_swap_is_told_with_its_reason(run, workspace):  # noqa: ARG001
    told = run("substitute", "scenarios/massage_bar.toml", "--without", "almond oil")
    assert told.code == 0
    assert "27.0 points of sweet almond oil went to rapeseed oil" in told.out
    for head in ("WHY", "LABEL ORDER", "RUNNERS-UP", "SIDE BY SIDE", "CAUTIONS"):
        assert f"\n{head}\n" in told.out


def test_json_and_csv_hold_the_same_formula(run, workspace):
    csv = workspace / "swap.csv"
    told = run(
        "substitute", "scenarios/massage_bar.toml", "--without", "almond oil",
        "--json", "--csv", csv,
    )  # fmt: skip
    data = json.loads(told.out)
    lines = csv.read_text(encoding="utf-8-sig").splitlines()
    assert len(lines) == 1 + len(data["formula"]["formula"])
    assert data["change"]["by_ingredient"] == pytest.approx(27.0)
    assert told.err.endswith("swap.csv: written.\n")


def test_a_clash_has_its_own_exit_code(run, workspace):  # noqa: ARG001
    told = run("substitute", "scenarios/massage_bar.toml", "--without", "wax")
    assert told.code == 3
    assert "RULES THAT CANNOT ALL HOLD" in told.out


def test_a_wrong_name_is_told(run, workspace):  # noqa: ARG001
    told = run("substitute", "scenarios/massage_bar.toml", "--without", "almondy")
    assert told.code == 1
    assert "To fix:" in told.err


def test_the_scenario_is_never_written_over(run, workspace):
    file = workspace / "scenarios" / "massage_bar.toml"
    told = run("substitute", file, "--without", "wax", "--csv", file)
    assert told.code == 1
    assert "would be written over" in told.err
