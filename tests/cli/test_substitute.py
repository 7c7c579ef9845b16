"""``optimiser substitute`` from the maker's side."""

import csv
import json
from pathlib import Path

import pytest


def test_a_swap_is_told_with_its_reason(run, workspace):  # noqa: ARG001
    swap = ("substitute", "scenarios/massage_bar.toml", "--without", "almond oil")
    told = run(*swap)
    assert told.code == 0
    first = " ".join(told.out.splitlines()[:7])
    assert "27.0 % sweet almond oil went to rapeseed oil" in first
    assert "Materials cost 17.41 EUR per kg, 2.11 less than the base" in first
    for head in ("FORMULA NEXT TO THE BASE", "NEXT CLOSEST", "TAKE CARE"):
        assert f"\n{head}\n" in told.out
    assert "CAUTIONS" not in told.out
    told = run(*swap, "--full")
    for head in ("WHY", "LABEL ORDER", "NEXT CLOSEST", "SIDE BY SIDE", "CAUTIONS"):
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


@pytest.mark.usefixtures("workspace")
def test_several_that_must_go_may_stand_in_one_text(run):
    bar = "scenarios/massage_bar.toml"
    one = run("substitute", bar, "--without", "almond oil; cetyl alcohol", "--json")
    two = ("--without", "almond oil", "--without", "cetyl alcohol")
    assert one.code == 0
    assert json.loads(one.out)["without"] == ["sweet almond oil", "cetyl alcohol"]
    assert one.out == run("substitute", bar, *two, "--json").out
    done = run("substitute", bar, "--without", "almond oil, beeswaxx")
    assert done.code == 1
    assert "'beeswaxx' is no ingredient, category or allergen" in done.err


@pytest.mark.usefixtures("workspace")
def test_a_line_that_does_not_move_moves_by_nothing_in_a_table(run):
    bar = "scenarios/massage_bar.toml"
    run("substitute", bar, "--without", "almond oil", "--csv", "out.csv")
    with Path("out.csv").open(encoding="utf-8-sig") as file:
        moves = {row["ingredient"]: row["move"] for row in csv.DictReader(file)}
    assert moves["sweet_almond_oil"] == "-27"
    assert set(moves.values()) <= {"-27", "0", "27"}
