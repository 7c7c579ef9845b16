"""How much is made, said on the command line."""

import json

import pytest

THEME = 'title = "More wax"\n[bands]\n"wax" = { min = 5 }\n'
FORMULA = (
    "ingredient,percent\n"
    "cocoa butter,45\nrefined shea butter,20\nbeeswax,4\nsunflower oil,31\n"
)
SCENARIO = "scenarios/bar.toml"


@pytest.mark.parametrize(("batch", "kg"), [("5kg", 5), ("5 kg", 5), ("500 g", 0.5)])
@pytest.mark.usefixtures("workspace")
def test_formulate_weighs_the_batch_that_is_asked_for(run, batch, kg):
    told = json.loads(run("formulate", SCENARIO, "--batch", batch, "--json").out)
    grams = sum(each["grams"] for each in told["formula"])
    assert grams == pytest.approx(1000 * kg)


def test_check_weighs_it_with_a_scenario_and_without(run, workspace):
    (workspace / "f.csv").write_text(FORMULA, encoding="utf-8")
    for more in ([SCENARIO], ["--market", "EU", "--use", "leave-on"]):
        told = json.loads(run("check", "f.csv", *more, "--batch", "3kg", "--json").out)
        assert told["batch_kg"] == 3.0


@pytest.mark.usefixtures("workspace")
def test_substitute_and_variants_weigh_it(run):
    done = run("substitute", SCENARIO, "--without", "sunflower oil", "--batch", "5kg",
               "--with", "olive oil")  # fmt: skip
    assert done.code == 0
    assert "batch 5 kg" in done.out
    assert "batch 5 kg" in run("variants", SCENARIO, "--batch", "5kg").out


def test_themes_weigh_it(run, workspace):
    (workspace / "wax.toml").write_text(THEME, encoding="utf-8")
    done = run("variants", SCENARIO, "--theme", "wax.toml", "--batch", "7 kg")
    assert "batch 7 kg" in done.out


def test_pour_takes_it_for_a_scenario_and_says_that_a_file_needs_none(run, workspace):
    (workspace / "f.csv").write_text(FORMULA, encoding="utf-8")
    assert run("pour", SCENARIO, "--batch", "5kg").code == 0
    done = run("pour", "f.csv", "--batch", "5kg")
    assert done.code == 0
    assert "nothing here depends on how much is made" in done.err


@pytest.mark.parametrize(
    ("batch", "said"),
    [
        ("5", 'write "5 kg"'),
        ("0 kg", "is no amount to make"),
        ("0.1 g", "is less than 1 g"),
        ("some", "option --batch: 'some'"),
    ],
)
@pytest.mark.usefixtures("workspace")
def test_what_is_no_batch_is_told(run, batch, said):
    done = run("formulate", SCENARIO, "--batch", batch)
    assert (done.code, done.out) == (1, "")
    assert said in done.err
