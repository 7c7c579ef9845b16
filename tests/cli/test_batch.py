"""``optimiser batch`` from the maker's side."""

import csv
import io
import json

import pytest

BAR = "scenarios/massage_bar.toml"
SCRUB = "scenarios/foot_scrub_bar.toml"


def flat(text):
    return " ".join(text.split())


def test_a_sheet_weighs_in_order_with_boxes_lots_and_room(run, workspace):  # noqa: ARG001
    told = run("batch", SCRUB, "--mould", "scrub cube")
    assert told.code == 0
    table = told.out.partition("WEIGH\n")[2].partition("\nDO\n")[0]
    order = [
        "MELT", "sal butter", "stearic acid", "STIR IN", "fine sugar", "ADD, cooling",
        "peppermint oil", "all together",
    ]  # fmt: skip
    places = [table.index(each) for each in order]
    assert places == sorted(places)
    assert table.count("[ ]") == 15
    assert "E1" in table
    assert "______" in table
    text = flat(told.out)
    assert "pour." in text
    assert "Fill each cavity, about 31." in text
    assert "Stir in polysorbate 80 as it cools" in text


def test_json_adds_up_in_grams_and_ounces(run, workspace):  # noqa: ARG001
    data = json.loads(run("batch", BAR, "--units", 24, "--net", "60 g", "--json").out)
    grams = [each["grams"] for each in data["weigh"]]
    assert sum(grams) == pytest.approx(1514.3, abs=1e-9)
    assert data["asked_grams"] == pytest.approx(1514.226804)
    assert data["status"] == "answered"
    for each in data["weigh"]:
        assert each["ounces"] == pytest.approx(each["grams"] / 28.349523125)
        steps = each["grams"] / each["readability_grams"]
        assert steps == pytest.approx(round(steps), abs=1e-6)
        assert each["readability_grams"] == (0.1 if each["grams"] > 200 else 0.01)
    assert data["fill_grams"] == pytest.approx(61.2)


def test_the_table_has_a_line_for_each_weighing(run, workspace):
    assert run("batch", BAR, "--batch", "2kg", "--csv", "weigh.csv").code == 0
    text = (workspace / "weigh.csv").read_text(encoding="utf-8-sig")
    rows = list(csv.DictReader(io.StringIO(text)))
    assert sum(float(row["grams"]) for row in rows) == pytest.approx(2000.0)
    assert {row["stage"] for row in rows} == {"melt", "add"}
    assert {row["weighed_grams"] for row in rows} == {""}


def test_what_a_coarse_scale_cannot_keep_is_told_with_what_would(run, workspace):  # noqa: ARG001
    told = run("batch", SCRUB, "--batch", "100 g", "--readability", "1 g")
    assert told.code == 1
    text = flat(told.out)
    assert "On a scale of 1 g 3 rules cannot be kept in this batch:" in text
    assert "mixed tocopherols exactly 0.5 %: these come to 1 %" in text
    assert "Every rule would be kept with a scale that shows 0.1 g." in text
    again = run("batch", SCRUB, "--batch", "100 g", "--readability", "0.1 g")
    assert again.code == 0
    data = json.loads(
        run("batch", SCRUB, "--batch", "100g", "--readability", "1g", "--json").out
    )
    assert data["status"] == "missed"
    assert len(data["rules_missed"]) == 3


def test_several_lots_of_one_ingredient_are_taken_oldest_first(run, workspace):
    path = workspace / "catalogues/workshops/demo/stock.csv"
    head, *rows = path.read_text(encoding="utf-8").splitlines()
    rows = [row for row in rows if not row.startswith("beeswax")]
    rows += ["beeswax,NEW,2,kg,2029-01-01,", "beeswax,OLD,100,g,2028-01-01,"]
    path.write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    data = json.loads(run("batch", BAR, "--batch", "2kg", "--json").out)
    wax = next(each for each in data["weigh"] if each["name"] == "beeswax")
    assert [each["lot"] for each in wax["lots"]] == ["OLD", "NEW"]
    assert wax["lots"][0]["grams"] == pytest.approx(100.0)
    assert sum(x["grams"] for x in wax["lots"]) == pytest.approx(wax["grams"])
    rows = [row for row in rows if "NEW" not in row]
    path.write_text("\n".join([head, *rows]) + "\n", encoding="utf-8")
    text = flat(run("batch", BAR, "--batch", "2kg").out)
    short = wax["grams"] - 100.0
    assert f"Not enough on the shelf: beeswax ({short:.1f} g short)" in text


def test_a_unit_too_large_for_its_mould_is_told(run, workspace):  # noqa: ARG001
    asked = ("batch", BAR, "--mould", "round bar", "--net", "60 g", "--density", "0.9")
    told = flat(run(*asked).out)
    assert "holds 60 ml, about 54 g of this; 61.2 g would need 68 ml." in told
    assert "by your own 0.900 g/ml" in told


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--units", 4), "says nothing of what a unit weighs"),
        (("--mould", "rond bar"), "the nearest known name is round bar"),
        (("--density", "heavy"), "is no density"),
        (("--density", "0.95 g"), "is no density"),
        (("--readability", "2 kg"), "is no step of a scale"),
        (("--units", 4, "--net", "60"), 'write "60 g"'),
        (("--batch", "2 g", "--readability", "1 g"), "is less than a step of the"),
    ],
)
def test_what_cannot_be_is_told_with_what_would_fix_it(run, workspace, options, said):  # noqa: ARG001
    told = run("batch", BAR, *options)
    assert told.code == 1
    assert said in told.err
    assert "To fix:" in told.err


def test_a_workshop_without_a_scale_is_asked_for_it(run, workspace):
    path = workspace / "catalogues/workshops/demo/scale.toml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace('readability = "0.1 g"', ""), encoding="utf-8")
    told = run("batch", BAR)
    assert told.code == 1
    assert '[scale] readability = "0.1 g"' in told.err
    assert run("batch", BAR, "--readability", "0.1 g").code == 0


def test_rules_that_clash_are_told(run, workspace):
    told = run("batch", "scenarios/clash.toml", "--csv", "weigh.csv")
    assert told.code == 3
    assert not (workspace / "weigh.csv").exists()
