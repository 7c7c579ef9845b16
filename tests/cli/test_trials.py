"""``optimiser trials`` as a maker runs it."""

import csv
import json

import pytest

BAR = "scenarios/massage_bar.toml"


def filled(path, verdicts):
    """Fill in the verdicts of a table as a maker would."""
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    column = rows[0].index("verdict")
    for row, verdict in zip(rows[1:], verdicts, strict=True):
        row[column] = verdict
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(rows)


def test_the_table_is_filled_in_and_calibrated_on(run, workspace):
    told = run("trials", BAR, "--bars", 3, "--write", "mine.csv")
    assert told.code == 0
    assert told.err == "mine.csv: written.\n"
    assert f"optimiser calibrate mine.csv {BAR}" in " ".join(told.out.split())
    told = run("calibrate", "mine.csv", BAR)
    assert told.code == 1
    assert told.err == (
        "mine.csv, column verdict, rows 2, 3 and 4: is blank, and nothing else was"
        " observed.\n  To fix: write a verdict, a drop_point or a penetration.\n"
    )
    filled(workspace / "mine.csv", ["too soft", "right", "too hard"])
    told = run("calibrate", "mine.csv", BAR, "--json")
    assert told.code == 0
    assert json.loads(told.out)["support"]["observations"] == 3


FIRM = """property = "firmness"
at       = "25 degC"
over     = "lipids"
min      = "as the base"
"""
WARM = """property = "solid fat"
at       = "30 degC"
over     = "lipids"
min      = 28
"""


def test_a_bar_without_wax_asks_for_its_drop_point(run, workspace):
    scrub = "scenarios/foot_scrub_bar.toml"
    text = (workspace / scrub).read_text(encoding="utf-8")
    assert FIRM in text  # no window on firmness, so nothing to be felt
    (workspace / scrub).write_text(text.replace(FIRM, WARM), encoding="utf-8")
    assert run("trials", scrub, "--bars", 2, "--write", "drops.csv").code == 0
    text = (workspace / "drops.csv").read_text(encoding="utf-8")
    assert text.count("write a drop_point, expected near") == 2
    with (workspace / "drops.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    for row in rows:
        row["drop_point"] = "37 degC"
    with (workspace / "drops.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    told = run("calibrate", "drops.csv", scrub, "--json")
    assert json.loads(told.out)["support"]["observations"] == 2


def test_a_table_with_verdicts_is_never_written_over(run, workspace):
    (workspace / "mine.csv").write_text("trial,room\na,25 degC\n", encoding="utf-8")
    told = run("trials", BAR, "--write", "mine.csv")
    assert told.code == 1
    assert "what is filled in would be lost" in told.err
    assert (workspace / "mine.csv").read_text("utf-8") == "trial,room\na,25 degC\n"


@pytest.mark.usefixtures("workspace")
def test_the_same_seed_says_the_same_and_json_holds_all_of_it(run):
    told = run("trials", BAR, "--bars", 2, "--seed", 3, "--json")
    assert run("trials", BAR, "--bars", 2, "--seed", 3, "--json").out == told.out
    data = json.loads(told.out)
    assert data["status"] == "answered"
    assert [each["name"] for each in data["bars"]] == ["bar 1", "bar 2"]
    for each in data["bars"]:
        assert sum(x["percent"] for x in each["formula"]) == pytest.approx(100.0)
        assert sum(x["chance"] for x in each["verdicts"]) == pytest.approx(1.0)
    first = data["windows"][0]
    assert first["what"] == "firmness"
    assert first["after"] < first["random"] < first["before"]
    assert data["cost"]["after"] < data["cost"]["before"]


@pytest.mark.usefixtures("workspace")
def test_no_bars_is_no_answer(run):
    told = run("trials", BAR, "--bars", 0)
    assert told.code == 1
    assert "ask for 1 to 12" in told.err


@pytest.mark.usefixtures("workspace")
def test_a_clash_exits_three(run):
    assert run("trials", "scenarios/clash.toml").code == 3
