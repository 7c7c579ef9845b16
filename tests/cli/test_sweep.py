"""``optimiser sweep`` from the maker's side."""

import csv
import io
import json
import os
import re
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

GRID = "scenarios/grids/cocoa_price.toml"


def rows(text):
    return list(csv.DictReader(io.StringIO(text)))


def test_a_grid_is_one_table(run, workspace):  # noqa: ARG001
    told = run("sweep", GRID, "--to", "-")
    assert told.code == 0
    table = rows(told.out)
    assert len(table) == 30
    assert {row["limits.beeswax.max"] for row in table} == {"8", "10", "12"}
    assert told.err.startswith("30 of 30 cases answered")


def test_a_screen_shows_the_first_cases_and_what_changes(run, workspace):
    told = run("sweep", GRID)
    assert (told.code, told.err) == (0, "")
    lines = told.out.splitlines()
    assert "30 of 30 cases answered; 14.97 to 20.34 EUR/kg." in lines
    cases = [line for line in lines if re.match(r" +\d+  massage_bar", line)]
    assert len(cases) == 12
    # The case, the scenario, the cap on beeswax, the price of cocoa butter, the cost.
    assert cases[1].split()[:6] == ["2", "massage_bar", "8", "20", "15.58", "59.7"]
    assert cases[1].endswith("in: sal butter")
    assert (
        "18 more cases: --full. Every figure of every case: --to cases.csv." in told.out
    )
    full = run("sweep", GRID, "--full").out
    assert len(re.findall(r"^ +\d+  massage_bar", full, flags=re.MULTILINE)) == 30
    assert not (workspace / "-").exists()


def test_a_row_is_what_formulate_says(run, workspace):  # noqa: ARG001
    alone = json.loads(run("formulate", "scenarios/massage_bar.toml", "--json").out)
    table = rows(run("sweep", "scenarios/massage_bar.toml", "--to", "-").out)
    # A sweep is of amounts in no steps.
    assert float(table[0]["cost, EUR/kg"]) == pytest.approx(
        alone["steps"]["without"]["cost_per_kg"]
    )


def test_the_tall_table_has_a_row_an_ingredient(run, workspace):  # noqa: ARG001
    months = "scenarios/grids/prices_by_month.toml"
    table = rows(run("sweep", months, "--tall", "--to", "-").out)
    assert {row["case"] for row in table} == set("123456")
    first = [float(row["percent"]) for row in table if row["case"] == "1"]
    assert sum(first) == pytest.approx(100.0)
    told = run("sweep", months, "--tall")
    assert told.code == 2
    assert "name a file with --to" in " ".join(told.err.split())


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


def test_one_ingredient_by_two_names_is_told(run, workspace):
    text = "scenarios = ['bar.toml']\n[prices]\nbeeswax = [8]\n'yellow beeswax' = [9]\n"
    (workspace / "scenarios" / "g.toml").write_text(text, encoding="utf-8")
    told = run("sweep", "scenarios/g.toml")
    assert told.code == 1
    assert "is the same ingredient as beeswax, whose price varies too" in told.err


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
        assert "pip install '.[parquet]'" in told.err
        return
    assert len(pandas.read_parquet(workspace / "cases.parquet")) == 30


def test_dask_that_is_not_there_is_told(run, workspace, monkeypatch):  # noqa: ARG001
    monkeypatch.setitem(sys.modules, "distributed", None)
    told = run("sweep", GRID, "--dask", "tcp://localhost:1")
    assert told.code == 1
    assert "pip install '.[dask]'" in told.err


def test_the_number_of_processes_is_at_least_one(run, workspace):  # noqa: ARG001
    for number in (0, -2):
        assert run("sweep", GRID, "--processes", number).code == 2


def test_a_table_of_other_cases_is_replaced(run, workspace):
    assert run("sweep", "scenarios/bar.toml", "--to", "cases.csv").code == 0
    before = (workspace / "cases.csv").read_text("utf-8-sig").splitlines()[0]
    assert run("sweep", GRID, "--to", "cases.csv").code == 0
    assert run("sweep", GRID, "--to", "cases.csv", "--tall").code == 0
    after = (workspace / "cases.csv").read_text("utf-8-sig").splitlines()[0]
    assert before.startswith("case,scenario,status,")
    assert after.startswith("case,scenario,limits.beeswax.max,")


@pytest.mark.parametrize("name", ["mine.csv", "mine.parquet"])
def test_a_file_of_something_else_is_refused_before_solving(
    run, workspace, name, monkeypatch
):
    monkeypatch.setattr("optimiser.studies.sweep.sweep", None)
    for held in ("case,ingredient,price_per_kg\n", "case,scenario,mine\n", "\n"):
        (workspace / name).write_text(held, encoding="utf-8")
        told = run("sweep", GRID, "--to", name)
        assert (told.code, told.out) == (1, "")
        assert f"{name}: is there already and was written by something else" in told.err
        assert (workspace / name).read_text(encoding="utf-8") == held


# The command line, with a file written once the first case is done.
# What a shell starts in the background does not hear Ctrl-C: these runs always do.
RUN = """\
import signal
from pathlib import Path
from optimiser.cli import main
from optimiser.cli.studying import Bar

signal.signal(signal.SIGINT, signal.default_int_handler)

def told(bar, done, of, tell=Bar.__call__):
    Path("begun").touch()
    tell(bar, done, of)

if __name__ == "__main__":
    Bar.__call__ = told
    main()
"""


def interrupted(folder, *arguments):
    """Return exit code, output and messages of a run ended by Ctrl-C."""
    root = Path(__file__).resolve().parents[2]
    (folder / "run.py").write_text(RUN, encoding="utf-8")
    process = subprocess.Popen(
        [sys.executable, "run.py", *arguments],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(root)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    while not (folder / "begun").exists():
        assert process.poll() is None, process.communicate()
        time.sleep(0.02)
    os.killpg(process.pid, signal.SIGINT)  # as a terminal does
    try:
        out, err = process.communicate(timeout=600)
    finally:
        process.kill()
    return process.returncode, out, err


@pytest.mark.skipif(sys.platform == "win32", reason="groups of processes")
@pytest.mark.parametrize("processes", ["1", "2"])
def test_ctrl_c_ends_a_sweep_soon(workspace, processes):
    prices = "\n".join(
        f'"{name}" = {list(range(10, 40))}'
        for name in ("cocoa butter", "beeswax", "sunflower oil")
    )
    text = f"""scenarios = ["bar.toml"]
[over]
"aim.order" = [["count", "cost"], ["cost", "change"]]
[prices]
{prices}
"""
    (workspace / "scenarios" / "g.toml").write_text(text, encoding="utf-8")
    code, out, err = interrupted(
        workspace, "sweep", "scenarios/g.toml", "--processes", processes
    )
    assert code == 1, err
    assert len(out.splitlines()) < 50_000
    assert "of 54000 cases answered" in err
    assert "; stopped after" in err
    assert len(err.splitlines()) == 1  # neither warning nor traceback
