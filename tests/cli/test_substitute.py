"""``optimiser substitute`` from the maker's side."""

import json

import pytest


def test_a_swap_is_told_with_its_reason(run, workspace):  # noqa: ARG001
    swap = ("substitute", "scenarios/massage_bar.toml", "--without", "almond oil")
    told = run(*swap)
    assert told.code == 0
    first = " ".join(told.out.splitlines()[:7])
    assert "27.0 % sweet almond oil went to rapeseed oil" in first
    assert "Materials cost 17.41 EUR per kg, 2.11 less than the base" in first
    for head in ("FORMULA NEXT TO THE BASE", "RUNNERS-UP", "TAKE CARE"):
        assert f"\n{head}\n" in told.out
    assert "CAUTIONS" not in told.out
    told = run(*swap, "--full")
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
