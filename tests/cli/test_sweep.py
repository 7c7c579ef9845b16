"""``optimiser sweep`` from the maker's side."""

import csv
import io
import json

import pytest

GRID = "scenarios/grids/cocoa_price.toml"


def rows(text):
    return list(csv.DictReader(io.StringIO(text)))


def test_a_grid_is_one_table(run, workspace):  # noqa: ARG001
    told = run("sweep", GRID)
    assert told.code == 0
    table = rows(told.out)
    assert len(table) == 30
    assert {row["limits.beeswax.max"] for row in table} == {"8", "10", "12"}
    assert told.err.startswith("30 of 30 cases answered")


def test_a_row_is_what_formulate_says(run, workspace):  # noqa: ARG001
    alone = json.loads(run("formulate", "scenarios/massage_bar.toml", "--json").out)
    table = rows(run("sweep", "scenarios/massage_bar.toml").out)
    assert float(table[0]["cost, EUR/kg"]) == pytest.approx(alone["cost_per_kg"])


def test_the_tall_table_has_a_row_an_ingredient(run, workspace):  # noqa: ARG001
    table = rows(run("sweep", "scenarios/grids/prices_by_month.toml", "--tall").out)
    assert {row["case"] for row in table} == set("123456")
    first = [float(row["percent"]) for row in table if row["case"] == "1"]
    assert sum(first) == pytest.approx(100.0)


def test_a_file_is_written_and_processes_give_the_same(run, workspace):
    run("sweep", GRID, "--to", "one.csv")
    told = run("sweep", GRID, "--to", "two.csv", "--processes", 2)
    assert told.out == ""
    one, two = ((workspace / n).read_text("utf-8-sig") for n in ("one.csv", "two.csv"))
    assert one == two


def test_json_holds_every_case(run, workspace):  # noqa: ARG001
    data = json.loads(run("sweep", "scenarios/massage_bar.toml", "--json").out)
    assert (data["status"], len(data["cases"])) == ("answered", 1)


def test_nothing_but_clashes_has_its_exit_code(run, workspace):  # noqa: ARG001
    assert run("sweep", "scenarios/clash.toml").code == 3


def test_a_price_of_nothing_known_is_told(run, workspace):
    (workspace / "scenarios" / "g.toml").write_text(
        'scenarios = ["bar.toml"]\n[prices]\n"coco buter" = [1]\n'
    )
    told = run("sweep", "scenarios/g.toml")
    assert told.code == 1
    assert "g.toml, key prices.coco buter: 'coco buter' is no ingredient" in told.err


def test_a_value_that_a_scenario_cannot_take_is_told(run, workspace):
    (workspace / "scenarios" / "g.toml").write_text(
        'scenarios = ["bar.toml"]\n[over]\nuse = ["leave-on", "eat-it"]\n'
    )
    told = run("sweep", "scenarios/g.toml")
    assert told.code == 1
    assert "'eat-it'" in told.err


def test_parquet_is_written_where_it_can_be(run, workspace):
    pandas = pytest.importorskip("pandas")
    told = run("sweep", GRID, "--to", "cases.parquet")
    try:
        import pyarrow  # noqa: F401, PLC0415
    except ImportError:
        assert told.code == 1
        assert "formulation-optimiser[parquet]" in told.err
        return
    assert len(pandas.read_parquet(workspace / "cases.parquet")) == 30


def test_dask_that_is_not_there_is_told(run, workspace):  # noqa: ARG001
    try:
        import distributed  # noqa: F401, PLC0415
    except ImportError:
        told = run("sweep", GRID, "--dask", "tcp://localhost:1")
        assert told.code == 1
        assert "formulation-optimiser[dask]" in told.err
