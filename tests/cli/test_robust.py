"""``optimiser robust`` from the maker's side."""

import json

SCENARIO = "scenarios/massage_bar.toml"


def test_how_often_and_at_what_extra_cost_is_told(run, workspace):  # noqa: ARG001
    told = run("robust", SCENARIO, "--draws", 2000)
    assert told.code == 0
    off = "each weighing is off by up to 0.1 g (0.01 g up to 200 g) and each figure"
    assert off in " ".join(told.out.split())
    head = told.out.partition("\n\n")[0].splitlines()  # with the law in some lines
    (first,) = [line for line in head if line.startswith("Every rule is kept in ")]
    assert " % of 2000 tries." in first
    assert "Not counted: the doubt of the second opinion itself, 8 points" in " ".join(
        head
    )
    assert "extra cost" in told.out
    assert "No formula can be prepared for more than about 4.4." in told.out
    for word in ("premium", "draws", "in spec", "at their worst at once"):
        assert word not in told.out


def test_the_formula_judged_is_the_one_that_formulate_shows(run, workspace):  # noqa: ARG001
    told = run("robust", SCENARIO, "--draws", 100, "--budget", 1)
    assert "the formula in steps of 0.5 %, as formulate shows it" in " ".join(
        told.out.split()
    )
    asked = ("robust", SCENARIO, "--draws", 100, "--budget", 1, "--json")
    data = json.loads(run(*asked).out)
    shown = json.loads(run("formulate", SCENARIO, "--json").out)
    percent = {each["ingredient"]: each["percent"] for each in shown["formula"]}
    judged = {each["ingredient"]: each["percent"] for each in data["plain"]["formula"]}
    assert judged == percent
    surer = [each["percent"] for each in data["budgets"][0]["formula"]["formula"]]
    assert all(abs(10.0 * each - round(10.0 * each)) < 1e-6 for each in surer)


def test_json_and_csv_hold_every_rule(run, workspace):
    told = run(
        "robust", SCENARIO, "--draws", 500, "--budget", 1, "--weighing", "1 g",
        "--no-figures", "--json", "--csv", "kept.csv",
    )  # fmt: skip
    data = json.loads(told.out)
    assert data["doubt"] == {
        "prices_percent": 10.0, "weighing_kg": 0.001, "figures": False,
    }  # fmt: skip
    lines = (workspace / "kept.csv").read_text(encoding="utf-8-sig").splitlines()
    assert len(lines) == 1 + 2 * len(data["plain"]["rules"])


# The wax is cheapest at its least, 2 % of 1 kg, and at most 8 %: on the fine scale.
def test_a_small_line_is_off_by_the_step_of_the_scale_that_bears_it(run, workspace):
    scale = workspace / "catalogues/workshops/demo/scale.toml"
    text = '[scale]\nreadability = "3 g"\n'
    fine = '[fine_scale]\nreadability = "0.01 g"\nmost = "200 g"\n'
    kept = []
    for each in (text, text + fine):
        scale.write_text(each, encoding="utf-8")
        asked = ("robust", "scenarios/bar.toml", "--draws", 400, "--budget", 1)
        data = json.loads(run(*asked, "--json").out)
        rows = data["budgets"][0]["formula"]["formula"]
        (wax,) = [x["percent"] for x in rows if x["ingredient"] == "beeswax"]
        rules = {x["sentence"]: x["kept"] for x in data["plain"]["rules"]}
        kept.append((rules["wax at least 2 %"], wax))
    (coarse, held_back), (finely, not_held_back) = kept
    assert coarse < 0.9
    assert finely == 1.0
    assert held_back > 2.2 > not_held_back
    assert data["doubt"]["fine_weighing_kg"] == 1e-5
    assert data["doubt"]["fine_most_kg"] == 0.2


def test_what_makes_no_sense_is_told(run, workspace):  # noqa: ARG001
    told = run("robust", SCENARIO, "--prices", 200, "--weighing", "1 kg")
    assert told.code == 1
    assert "option --prices: '200' is no move of a price" in told.err


def test_a_clash_has_its_own_exit_code(run, workspace):  # noqa: ARG001
    assert run("robust", "scenarios/clash.toml").code == 3


def test_a_scale_too_coarse_and_a_seed_below_zero_are_told(run, workspace):  # noqa: ARG001
    told = run("robust", SCENARIO, "--weighing", "1 kg")
    assert told.code == 1
    assert "'1000 g' is more than a tenth of the batch of 2 kg" in told.err
    told = run("robust", SCENARIO, "--seed", "-1")
    assert told.code == 1
    assert told.err.startswith("option --seed: '-1' is no start of draws.")
